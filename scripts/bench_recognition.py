"""Bench of recognition, whole path: detection of speech, engine, meaning, decision; several engines in one run.

Every clip is put into a pause of 0.6 s before and 1.2 s after it. Accepted-wrong: the product would act on, or read
back, something else than was said. Latency: from the last 20 ms of the clip within 30 dB of its loudest, to the report.
Computing is counted in processor time of one thread, so that other programs on the machine do not count.

A manifest is a CSV file with the columns path, spoken, speaker, sample_rate; paths are relative to it. An empty
"spoken" is noise; "<other>" and words outside the grammar are speech that must not be taken. With --join N, clips of
one speaker are joined to readings of N words with gaps of 50 to 150 ms, each clip at least once; "digits" then takes
readings of at most N digits, as a step does that knows its range.

An engine "neural:FOLDER" is the neural engine with the weights of that folder, to compare trained weights with the
installed ones in one run; "both:FOLDER" lets them search and the installed default ones judge. Their decisions are
those fitted for "neural" and "neural-both"; `fit_acceptance.py` fits them anew.

Use: python scripts/bench_recognition.py --manifest CSV --grammar NAME_OR_FILE [--join 3] [--snr 10] [--json]
"""

import argparse
import json
import multiprocessing
import resource
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench_counts import Report, table
from bench_sounds import in_room, joined, play, read_manifest, single
from bench_tasks import ENGINES, GRAMMARS, OTHER, recognizer_for, task_for

from handsfree.errors import HandsfreeError


def run_engine(engine_id: str, options: argparse.Namespace) -> dict[str, object]:
    """Play every item to one engine."""
    task = task_for(options.grammar, options.join)
    rows = [row for row in read_manifest(options.manifest) if options.only in row["path"]]
    if options.limit is not None:
        chosen = np.random.default_rng(options.seed).permutation(len(rows))[: options.limit]
        rows = [rows[index] for index in sorted(chosen)]
    items = (
        joined(rows, options.join, options.seed, trim=options.trim, even=options.even, gaps=not options.slow)
        if options.join
        else single(rows)
    )
    recognizer = recognizer_for(engine_id, task)
    task.attend(recognizer)
    report = Report()
    for number, item in enumerate(items):
        signal, end_s = in_room(item, options.snr, options.noise, options.seed + number)
        report.add(task, item, play(recognizer, signal), end_s)
    # Linux counts in KiB, macOS in bytes.
    unit = 1024 if sys.platform != "darwin" else 1
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 1e6
    return report.as_json(peak_mb)


def main() -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--manifest", type=Path, required=True)
    parser.add_argument("--grammar", required=True, help=f"one of {', '.join(GRAMMARS)}, or a JSGF file")
    parser.add_argument("--engine", nargs="+", action="extend", help=f"default: {' '.join(ENGINES)}; also vosk")
    parser.add_argument("--snr", type=float, help="level of the speech over the noise, dB")
    parser.add_argument("--noise", default="pink", help="white, pink, babble or a sound file; needs --snr")
    parser.add_argument("--join", type=int, help="join so many clips of one speaker")
    parser.add_argument("--trim", action="store_true", help="with --join: cut the silence around each clip first")
    parser.add_argument("--even", action="store_true", help="with --join: bring all clips to one level")
    parser.add_argument("--slow", action="store_true", help="with --join: whole clips with no gap added: slow speech")
    parser.add_argument("--only", default="", help="only rows whose path contains this")
    parser.add_argument("--limit", type=int, help="only so many rows, drawn at random")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()
    engines: dict[str, dict[str, object]] = {}
    # A process of its own for each engine: peak memory is counted by process.
    context = multiprocessing.get_context("spawn")
    for engine_id in options.engine or ENGINES:
        with context.Pool(1) as pool:
            try:
                engines[engine_id] = pool.apply(run_engine, (engine_id, options))
            except HandsfreeError as error:
                print(f"{engine_id}: {error}", file=sys.stderr)
                return error.exit_code
    if options.json:
        print(json.dumps({"engines": engines}, indent=1))
    else:
        print(f"{options.manifest.name}, grammar {options.grammar}, join {options.join}, "
              f"noise {options.noise if options.snr is not None else 'none'} {options.snr or ''}, seed {options.seed}; "
              f"noise and {OTHER} count as false accepts; 95 % intervals after Wilson")  # fmt: skip
        for engine_id, data in engines.items():
            print("\n".join(table(engine_id, data)))
    return 0


if __name__ == "__main__":
    sys.exit(main())

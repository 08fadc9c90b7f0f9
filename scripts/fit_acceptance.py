"""Fits the decision accept / ask / ignore on recordings: `collect` listens and keeps evidence, `fit` makes weights.

`collect` plays recordings of real people (rows of a manifest, as for `bench_recognition.py`) and sentences of all
bundled procedures in synthetic voices (as in `bench_domain.py`) through the whole recogniser and keeps, for every
utterance in which words were heard, the evidence and whether the meaning was right. Speech outside the grammar that
was heard as something in it counts as wrong. `fit` finds the weights of the two logistic curves of
`understanding.acceptance` (none negative, small ones preferred): "inside" on everything, "which" on what was in the
grammar. It tests them on speakers that they have not seen (all of one speaker left out at a time, small speakers put
together), prints what each least probability would accept, and writes the engine's tables of `acceptance.toml`.

After new weights of a recogniser are installed, or a search was changed: collect again, fit again, run the benches.
People whose recordings the tuned weights were trained on are left out. `fit --engine` takes the name that the engine
gives itself in what it heard: "neural" for the base alone, "neural-tuned", "neural-both" for two, "neural-three" for
the default where all weights are installed.
`collect --engine neural:FOLDER` listens with weights that are not installed; fit them as the engine "neural".

Use: python scripts/fit_acceptance.py collect --speech FOLDER --out evidence.csv [--engine ID] [--part 0/2]
     python scripts/fit_acceptance.py fit evidence.csv [MORE.csv ...] [--engine ID] [--write]
"""

import argparse
import csv
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import bench_domain
from bench_sounds import Item, in_room, joined, play, read_manifest, single
from bench_stop import LINES
from bench_tasks import OTHER, Task, is_question, recognizer_for, task_for
from intervals import share

from handsfree.clock import SystemClock
from handsfree.definition.loader import bundled_procedures
from handsfree.model.hypotheses import Evidence
from handsfree.recognition.port import Recognizer
from handsfree.understanding.acceptance import INSIDE, WHICH, features, kind_of

COLUMNS = (
    "source", "speaker", "kind", "inside", "right", "words", "average_logprob", "free_gap", "margin", "speech_s",
    "signal_to_noise_db", "second_free_gap", "second_end_gap", "third_margin", "third_gap", "third_end_gap", "engine",
    "spoken",
)  # fmt: skip
OPTIONAL = COLUMNS[COLUMNS.index("signal_to_noise_db") : COLUMNS.index("engine")]
SEED = 7
GROUPS = 8
RIDGE = 1.0
SYNTHETIC_WEIGHT = 0.5
TRAINED_ON = Path(__file__).with_name("train") / "real_clips.csv"
TOML = Path(__file__).resolve().parents[1] / "handsfree" / "understanding" / "acceptance.toml"
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Source:
    """Recordings of one kind.

    Attributes:
        part: Rows of the manifest whose path holds this.
        grammar: See `bench_recognition.py`.
        join: Clips joined to a reading, or None.
        snr_db: Level over the noise, or None for no noise.
        share: Share of the items taken, drawn at random.
        noise: "pink" or "babble".
        trim: With `join`: silence cut and all clips at one level.
    """

    part: str
    grammar: str
    join: int | None = None
    snr_db: float | None = None
    share: float = 1.0
    noise: str = "pink"
    trim: bool = False

    @property
    def name(self) -> str:
        """As it stands in a file of evidence."""
        noise = f" {self.noise} {self.snr_db}" if self.snr_db is not None else ""
        return f"real {self.part} {self.grammar}{noise}"


SOURCES = (
    Source("digits/", "digits", 3),
    Source("digits/", "digits", 3, 10.0),
    Source("digits/", "digits", 3, 10.0, 0.5, "babble"),
    Source("commands/train/", "digits", 3, trim=True),
    Source("commands/train/", "digits", 3, 10.0, 0.4, trim=True),
    Source("commands/train/", "digits", 3, 10.0, 0.4, "babble", trim=True),
    Source("singles/iitg/", "digits", 3, share=0.6),
    Source("words30/", "digits"),
    Source("digits/", "digits", 4, 5.0, 0.5),
    Source("digits/", "reading", 2, share=0.25),
    Source("digits/", "reading", 2, 10.0, 0.5),
    Source("words/", "words"),
    Source("words/", "words", None, 10.0),
    Source("words/", "words", None, 10.0, 0.5, "babble"),
    Source("words/", "control"),
    Source("words/", "control", None, 10.0, 0.5),
    Source("words30/", "control"),
    Source("words/", "commands"),
    Source("words/", "commands", None, 10.0, 0.5),
    Source("words30/", "commands"),
    Source("words30/", "reading"),
    Source("words30/", "identifier"),
    Source("nato/", "identifier"),
    Source("nato/", "identifier", 3),
    Source("nato/", "identifier", 4, 10.0),
    Source("nato/", "identifier", 2, 5.0),
)
MANIFESTS = ("manifest.csv", "commands/manifest.csv", "singles/manifest.csv")
DOMAIN_UTTERANCES = 330
"""Of each bundled procedure, over all rooms."""
FOREIGN_UTTERANCES = 90
"""Pieces of everyday talk of 1 to 8 words, said in the steps of each procedure, where none of them may be taken."""


def collect(options: argparse.Namespace) -> int:
    """Listen to everything and write one line for each utterance in which words were heard."""
    with TRAINED_ON.open(encoding="utf-8", newline="") as file:
        known = {row["speaker"] for row in csv.DictReader(file) if row["use"] != "held back"}
    rows = [row for name in MANIFESTS for row in read_manifest(options.speech / name) if row["speaker"] not in known]
    first, parts = (int(number) for number in options.part.split("/"))
    part = slice(first, None, parts)
    with options.out.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(COLUMNS)
        for source in SOURCES:
            writer.writerows(_real(source, rows, options.engine, part))
            file.flush()
        for procedure in bundled_procedures():
            writer.writerows(_synthetic(procedure, options.engine, part))
            writer.writerows(_foreign(procedure, options.engine, part))
            file.flush()
    return 0


def items_of(source: Source, rows: list[dict[str, str]]) -> list[tuple[int, Item]]:
    """What is played of a source, each with its number, which draws its noise."""
    chosen = [row for row in rows if f"/{source.part}" in row["path"]]
    if source.part.startswith("commands/"):
        chosen = [row for row in chosen if row["spoken"] in bench_domain.DIGITS]
    items = joined(chosen, source.join, SEED, trim=source.trim, even=source.trim) if source.join else single(chosen)
    order = np.random.default_rng(SEED).permutation(len(items))[: round(source.share * len(items))]
    return [(index, items[index]) for index in sorted(int(place) for place in order)]


def _real(source: Source, rows: list[dict[str, str]], engine: str, part: slice) -> Iterator[list[object]]:
    task = task_for(source.grammar, source.join)
    recognizer = recognizer_for(engine, task)
    task.attend(recognizer)
    for index, item in items_of(source, rows)[part]:
        sound, _ = in_room(item, source.snr_db, source.noise, SEED + index)
        for line in _heard(recognizer, task, item, sound):
            yield [source.name, item.speaker, *line]


def _synthetic(procedure: str, engine: str, part: slice) -> Iterator[list[object]]:
    utterances = bench_domain.plan(procedure, bench_domain.ROOMS, DOMAIN_UTTERANCES, SEED)
    recognizer: Recognizer | None = None
    for utterance in utterances[part]:
        task = Task(utterance.hearing.graph, utterance.hearing.wanted)
        recognizer = recognizer or recognizer_for(engine, task)
        task.attend(recognizer)
        item, sound, _ = bench_domain.sound_of(utterance)
        for line in _heard(recognizer, task, item, sound):
            yield [f"synthetic {utterance.room}", item.speaker, *line]


def _foreign(procedure: str, engine: str, part: slice) -> Iterator[list[object]]:
    random = np.random.default_rng(SEED)
    rooms = ("clean", "pink 20", "reverb")
    recognizer: Recognizer | None = None
    pieces: list[bench_domain.Utterance] = []
    for utterance in bench_domain.plan(procedure, rooms, FOREIGN_UTTERANCES, SEED + 1):
        line = LINES[int(random.integers(len(LINES)))].split()
        first = int(random.integers(len(line)))
        pieces.append(replace(utterance, words=" ".join(line[first : first + int(random.integers(1, 9))])))
    for said in pieces[part]:
        task = Task(said.hearing.graph, said.hearing.wanted)
        recognizer = recognizer or recognizer_for(engine, task)
        task.attend(recognizer)
        item, sound, _ = bench_domain.sound_of(said)
        for line_ in _heard(recognizer, task, replace(item, spoken=OTHER), sound):
            yield [f"synthetic other {said.room}", item.speaker, *line_]


def _heard(recognizer: Recognizer, task: Task, item: Item, sound: Floats) -> Iterator[list[object]]:
    expected = task.expected(item.spoken) if item.spoken not in ("", OTHER) else None
    for hypothesis, _, _ in play(recognizer, sound).hypotheses:
        command, evidence = task.command(hypothesis), hypothesis.evidence
        # What is asked about whatever the score needs no decision.
        if command is None or evidence is None or is_question(command):
            continue
        numbers = (evidence.average_logprob, evidence.free_gap, evidence.margin, evidence.speech_s)
        labels = [kind_of(command), int(expected is not None), int(command == expected), hypothesis.text]
        rest = (getattr(evidence, name) for name in OPTIONAL)
        known = [*(f"{number:.4f}" for number in numbers), *("" if number is None else number for number in rest)]
        yield [*labels, *known, hypothesis.engine, item.spoken]


@dataclass(frozen=True)
class Data:
    """What was collected, one row an utterance."""

    inputs: dict[str, Floats]
    inside: Floats
    right: Floats
    weight: Floats
    kinds: NDArray[np.str_]
    speakers: NDArray[np.str_]
    sources: NDArray[np.str_]


def read(paths: list[Path], engine: str) -> Data:
    """Read what one engine heard from files of evidence."""
    rows: list[dict[str, str]] = []
    for path in paths:
        with path.open(encoding="utf-8", newline="") as file:
            rows += [row for row in csv.DictReader(file) if row["engine"] == engine]
    if not rows:
        raise SystemExit(f"nothing that {engine} heard is in these files")
    made = []
    for row in rows:
        rest = (row[name] for name in OPTIONAL)
        evidence = Evidence(
            float(row["average_logprob"]), float(row["free_gap"]), float(row["margin"]), float(row["speech_s"]),
            *(float(number) if number else None for number in rest),
        )  # fmt: skip
        made.append(features(row["words"].split(), evidence))
    real = np.array([row["source"].startswith("real") for row in rows])
    return Data(
        {name: np.array([found[name] for found in made]) for name in dict.fromkeys((*INSIDE, *WHICH))},
        np.array([float(row["inside"]) for row in rows]),
        np.array([float(row["right"]) for row in rows]),
        np.where(real, 1.0, SYNTHETIC_WEIGHT),
        np.array([row["kind"] for row in rows]),
        np.array([row["speaker"] for row in rows]),
        np.array([row["source"] for row in rows]),
    )


def inputs_of(data: Data, names: tuple[str, ...]) -> Floats:
    """Features by name, (utterances, names)."""
    return np.column_stack([data.inputs[name] for name in names])


def given(data: Data, names: tuple[str, ...]) -> tuple[str, ...]:
    """Those of the features that the engine gives at all."""
    return tuple(name for name in names if np.ptp(data.inputs[name]) > 0)


def fit(data: Data, chosen: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """Bias and weights of both curves: "inside" on all chosen rows, "which" on those in the grammar."""
    known = chosen & (data.inside > 0)
    inside, which = (inputs_of(data, given(data, names)) for names in (INSIDE, WHICH))
    return (
        _logistic(inside[chosen], data.inside[chosen], data.weight[chosen]),
        _logistic(which[known], data.right[known], data.weight[known]),
    )


def _logistic(features_: Floats, right: Floats, weight: Floats) -> Floats:
    """Projected Newton steps on the penalised likelihood; no weight but the bias is negative."""
    inputs = np.column_stack([np.ones(len(features_)), features_])
    penalty = np.diag([0.0, *[RIDGE] * features_.shape[1]])
    found = np.zeros(inputs.shape[1])
    for _ in range(200):
        guess = 1 / (1 + np.exp(-np.clip(inputs @ found, -30, 30)))
        slope = inputs.T @ (weight * (right - guess)) - penalty @ found
        curve = (inputs * (weight * guess * (1 - guess))[:, None]).T @ inputs + penalty + 1e-6 * np.eye(len(found))
        # A weight at its bound that would go below it stays there.
        free = (found > 0) | (slope > 0)
        free[0] = True
        step = np.zeros(len(found))
        step[free] = np.linalg.solve(curve[np.ix_(free, free)], slope[free])
        following = found + step
        following[1:] = np.maximum(following[1:], 0.0)
        if np.abs(following - found).max() < 1e-6:
            return following
        found = following
    return found


def held_out(data: Data) -> Floats:
    """Probability of each row by weights that have not seen its speaker."""
    names, counts = np.unique(data.speakers, return_counts=True)
    large = [name for name, count in zip(names, counts, strict=True) if count >= 60]
    small = [name for name in names if name not in large]
    order = np.random.default_rng(SEED).permutation(len(small))
    folds = [{name} for name in large] + [{small[i] for i in order[start::GROUPS]} for start in range(GROUPS)]
    inside_inputs, which_inputs = (inputs_of(data, given(data, names)) for names in (INSIDE, WHICH))
    probability = np.zeros(len(data.right))
    for fold in folds:
        inside = np.isin(data.speakers, list(fold))
        if inside.any():
            first, second = fit(data, ~inside)
            probability[inside] = _curve(first, inside_inputs[inside]) * _curve(second, which_inputs[inside])
    return probability


def _curve(weights: Floats, inputs: Floats) -> Floats:
    result: Floats = 1 / (1 + np.exp(-np.clip(weights[0] + inputs @ weights[1:], -30, 30)))
    return result


def report(data: Data, probability: Floats) -> None:
    """What each least probability accepts, on speakers that were not seen."""
    clipped = np.clip(probability, 1e-9, 1 - 1e-9)
    loss = -np.mean(data.right * np.log(clipped) + (1 - data.right) * np.log(1 - clipped))
    print(f"held-out log loss {loss:.4f}, of the base rate {_entropy(data.right.mean()):.4f}")
    for kind in ("reading", "answer", "navigation", "stop"):
        for group in ("real", "synthetic"):
            inside = (data.kinds == kind) & np.char.startswith(data.sources, group)
            if not inside.any():
                continue
            right, likely = data.right[inside], probability[inside]
            print(f"{kind}, {group}: {len(right)} heard, {int(right.sum())} right")
            for least in (0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95):
                taken = likely >= least
                print(f"  p >= {least:.2f}: right {share(int(right[taken].sum()), int(right.sum()))}, "
                      f"wrong {int((1 - right[taken]).sum())}")  # fmt: skip
    print("calibration, probability: share right (n)")
    for low, high in zip(np.arange(0, 1, 0.1), np.arange(0.1, 1.01, 0.1), strict=True):
        inside = (probability >= low) & (probability < high)
        if inside.any():
            print(f"  {low:.1f}-{high:.1f}: {data.right[inside].mean():.2f} ({int(inside.sum())})")


def _entropy(share_right: float) -> float:
    return float(-(share_right * np.log(share_right) + (1 - share_right) * np.log(1 - share_right)))


def tables_of(engine: str, weights: tuple[Floats, Floats], data: Data) -> str:
    """The engine's tables of `acceptance.toml`."""
    real = np.char.startswith(data.sources, "real")
    people, voices = len(np.unique(data.speakers[real])), len(np.unique(data.speakers[~real]))
    lines = [
        f"# {engine}: fitted {SystemClock().wall().date().isoformat()} by scripts/fit_acceptance.py, seed {SEED}, "
        f"ridge {RIDGE}, on {int(real.sum())} utterances of",
        f"# {people} real people (FSDD, Speech Commands v0.01 and v0.02, a spelling alphabet) and, at weight "
        f"{SYNTHETIC_WEIGHT}, {int((~real).sum())} of",
        f"# {voices} synthetic voices; {int(data.right.sum())} of all were right, {int(data.inside.sum())} in the "
        "grammar.",
    ]
    for name, inputs, found in zip(("inside", "which"), (INSIDE, WHICH), weights, strict=True):
        lines += [f"[engine.{engine}.{name}]", f"bias = {found[0]:.4f}"]
        used = given(data, inputs)
        lines += [f"{feature} = {weight:.4f}" for feature, weight in zip(used, found[1:], strict=True)]
    return "\n".join(lines) + "\n"


def write(engine: str, tables: str) -> None:
    """Put the engine's tables into `acceptance.toml` in place of the old ones."""
    text = TOML.read_text(encoding="utf-8")
    name = re.escape(engine)
    kept = re.sub(rf"(?:# {name}: [^\n]*\n(?:#[^\n]*\n)*)?\[engine\.{name}\.\w+\]\n(?:\w[^\n]*\n)*", "", text)
    TOML.write_text(kept.rstrip("\n") + "\n\n" + tables, encoding="utf-8")


def main() -> int:
    """Collect or fit."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    commands = parser.add_subparsers(dest="command", required=True)
    collecting = commands.add_parser("collect")
    collecting.add_argument("--speech", type=Path, required=True, help="folder of recordings with manifest.csv")
    collecting.add_argument("--out", type=Path, required=True)
    collecting.add_argument("--engine", default="neural")
    collecting.add_argument(
        "--part", default="0/1", help="only every so-manieth utterance, for several processes: 0/2, 1/2"
    )
    fitting = commands.add_parser("fit")
    fitting.add_argument("evidence", type=Path, nargs="+")
    fitting.add_argument("--engine", default="neural-both")
    fitting.add_argument("--write", action="store_true", help="write the weights into acceptance.toml")
    options = parser.parse_args()
    if options.command == "collect":
        return collect(options)
    data = read(options.evidence, options.engine)
    report(data, held_out(data))
    tables = tables_of(options.engine, fit(data, np.ones(len(data.right), dtype=bool)), data)
    print(tables)
    if options.write:
        write(options.engine, tables)
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""What the tool says in a scripted visit: each sentence by its code, how often, and how many seconds of its voice.

The script is typed, so nobody is misheard; seconds are those of the voice, rendered. The texts of a code can be listed.

Use: python scripts/bench_sentences.py [SCRIPT] [--voice NAME] [--rate WPM] [--list CODE]
"""

import argparse
import sys
import tempfile
from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from rich.console import Console

from handsfree.application.rehearsed_visit import RehearsalOptions, rehearse_visit
from handsfree.application.replaying import session_of
from handsfree.model.effects import Say
from handsfree.record.verify import verify
from handsfree.report.procedure_at_hand import procedure_of
from handsfree.voice.choose import choose_synthesizer
from handsfree.voice.port import Synthesizer


def prompts_of(folder: Path) -> Iterator[tuple[str, str]]:
    """Codes and words of every prompt of a record, as its events bring them about again."""
    record = verify(folder).record
    if record is None:
        sys.exit(f"{folder}: no record that can be read")
    bundle = procedure_of(record)
    if bundle is None:
        sys.exit(f"{folder}: the procedure of the record is not at hand")
    session = session_of(bundle, record.header)
    for event in record.events:
        for effect in session.handle(event):
            if isinstance(effect, Say):
                yield "+".join(effect.codes), effect.text


def seconds_of(voice: Synthesizer, text: str) -> float:
    """How long the voice takes."""
    return voice.render(text).duration_s


def main() -> None:
    """Play the script and print a table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("script", nargs="?", type=Path, default=Path("scripts/scenarios/ulnar-narrated.yaml"))
    parser.add_argument("--voice", default="neural")
    parser.add_argument("--rate", type=int, default=150, help="words a minute")
    parser.add_argument("--list", help="list the texts of this code, or of all, longest first")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        asked = RehearsalOptions(
            script=options.script,
            folder=Path(folder) / "record",
            wall=datetime(2026, 11, 29, 9, tzinfo=UTC),
            typed=True,
        )
        result = rehearse_visit(asked, Console(quiet=True))
        prompts = [*prompts_of(asked.folder)]
    voice = choose_synthesizer(options.voice, rate_wpm=options.rate)
    spent_s: dict[str, float] = defaultdict(float)
    times: Counter[str] = Counter()
    texts: dict[str, list[tuple[float, str]]] = defaultdict(list)
    for code, text in prompts:
        seconds = seconds_of(voice, text)
        spent_s[code] += seconds
        times[code] += 1
        texts[code].append((seconds, text))
    sys.stdout.write(f"{result.utterances} utterances; {sum(times.values())} prompts, {sum(spent_s.values()):.0f} s\n")
    for code, seconds in sorted(spent_s.items(), key=lambda one: -one[1]):
        sys.stdout.write(f"{seconds:7.1f} s {times[code]:4d}  {code}\n")
    listed = [one for code, found in texts.items() if options.list in {code, "all"} for one in found]
    for seconds, text in sorted(listed, reverse=True):
        sys.stdout.write(f"  {seconds:5.1f} s  {text}\n")


if __name__ == "__main__":
    main()

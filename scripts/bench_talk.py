"""Bench of talk that is not for the tool: how much of it a narrated visit takes.

Every line of `talk_sentences.py` is spoken in a room to a narrated session of the fitting, at its largest phase,
through the product's own ears. Counted is what is taken (values put to the record's read-backs, and commands), what is
asked about, and which stop words are heard. Synthetic voices.

Use: python scripts/bench_talk.py [--snr 25] [--limit N] [--json]
"""

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench_cries import said_by
from bench_sounds import Item, in_room
from talk_sentences import NEAR, TALK

from handsfree.audio.resample import to_pcm
from handsfree.clock import ManualClock
from handsfree.definition.loader import load_bundle
from handsfree.model.audio import BLOCK_SAMPLES, SAMPLE_RATE_HZ, AudioBlock
from handsfree.model.commands import ControlCommand, GiveValues
from handsfree.model.effects import Append, Earcon, Priority
from handsfree.model.events import CommandDoubted, CommandSpoken, SessionEvent
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.working import Working
from handsfree.recognition.choose import make_recognizer
from handsfree.runner.offline_run import Ears
from handsfree.runner.session_runner import SessionRunner
from handsfree.session.session import Session
from handsfree.session.snapshot import Snapshot

AFTER_S = 2.0
SIDES = "order right, consent right, image right, patient right, mark right"


@dataclass
class TalkWitness:
    """Stands in for the record and for what people hear: keeps what was taken and asked about."""

    taken: list[str] = field(default_factory=list)
    commands: list[str] = field(default_factory=list)
    doubted: list[str] = field(default_factory=list)

    def append(self, event: SessionEvent | None, facts: Sequence[Append]) -> None:  # noqa: ARG002 - see `Journals`
        """See `Journals.append`."""
        if isinstance(event, CommandDoubted):
            self.doubted.append(event.heard.text)
        elif isinstance(event, CommandSpoken) and isinstance(event.command, GiveValues):
            self.taken.append(event.heard.text)
        elif isinstance(event, CommandSpoken) and isinstance(event.command, ControlCommand):
            self.commands.append(event.heard.text)

    def say(self, text: str, priority: Priority, heard_out: int = 0) -> None:
        """See `Outputs.say`."""

    def earcon(self, earcon: Earcon) -> None:
        """See `Outputs.earcon`."""

    def heard(self, hypothesis: Hypothesis | None, outcome: str, probability: float) -> None:
        """See `Outputs.heard`."""

    def show(self, snapshot: Snapshot) -> None:
        """See `Outputs.show`."""


@dataclass(frozen=True)
class Speaker:
    """Who speaks. See `VoiceChoice`."""

    engine: str
    voice: str
    rate: float = 1.0


def main() -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--snr", type=float, default=25.0, help="level of the speech over pink noise, dB")
    parser.add_argument("--limit", type=int, help="only so many lines, evenly drawn; those with near words always")
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()
    every = len(TALK) // options.limit if options.limit else 1
    lines = (*TALK[:: max(1, every)], *NEAR)
    speakers = (Speaker("neural", ""), Speaker("espeak-ng", "en-us+f3"))
    clock, witness = ManualClock(datetime(2026, 11, 29, 9, tzinfo=UTC)), TalkWitness()
    session = Session(load_bundle("ulnar-splint-fitting"), working=Working.NARRATED, going_on=True)
    runner = SessionRunner(session, witness, witness, clock)
    runner.start("talk", (), practice=True)
    for line in ("practice session", SIDES, "affirmative"):
        runner.type(line)
    witness.commands.clear()
    witness.taken.clear()
    ears = Ears(runner, make_recognizer(None))
    for number, line in enumerate(lines):
        sound, _ = in_room(Item(said_by(speakers[number % 2], line), line, ""), options.snr, "pink", number)
        rest, _ = in_room(Item(np.zeros(int(AFTER_S * SAMPLE_RATE_HZ)), "", ""), None, "pink", number)
        pcm = to_pcm(np.concatenate([sound, rest]).astype(np.float32))
        begun_s = clock.monotonic_s()
        for start in range(0, len(pcm) - 2 * BLOCK_SAMPLES + 1, 2 * BLOCK_SAMPLES):
            block = AudioBlock(pcm[start : start + 2 * BLOCK_SAMPLES], begun_s + start / 2 / SAMPLE_RATE_HZ)
            clock.sleep_until(block.end_s)
            ears.feed(block)
        if session.snapshot.mode == "doubting":
            runner.type("negative")  # whoever is asked says that it was not for the tool
        if session.snapshot.mode in {"paused", "override_role"}:
            runner.type("resume" if session.snapshot.mode == "paused" else "negative")
    found = {
        "lines": len(lines),
        "words": sum(len(line.split()) for line in lines),
        "taken": witness.taken,
        "commands": witness.commands,
        "asked_about": witness.doubted,
    }
    if options.json:
        sys.stdout.write(json.dumps(found, indent=1) + "\n")
    else:
        for name, value in found.items():
            sys.stdout.write(f"{name}: {value}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())

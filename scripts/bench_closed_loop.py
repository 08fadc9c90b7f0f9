"""Bench of whole readings, as a visit takes them: heard, asked about, read back, said again, until one is on record.

Every reading is three digits from clips of one person, joined as they are said at a natural pace, or slowly (--slow).
The product's own session asks for it, hears it through the product's own ears, and the person answers: "negative" to a
read-back or a question that is not what was said, "affirmative" to one that is; nothing taken is said again, each time
with other clips where there are any, other gaps, a pace and pitch up to 7 % off and a level up to 3 dB off, because
nobody says a thing twice alike. Only "affirmative" and "negative" are not sound, because nobody recorded them: they are
taken as heard. A reading that needs more than `MOST` utterances is given up, and counted so.

A wrong read-back ends in the record only if the person lets it pass. How often that is, is no figure of this program:
the share is stated for people who never do, and for one in a hundred and one in twenty. Those two are the orders of
Swain and Guttmann, Handbook of Human Reliability Analysis, NUREG/CR-1278, table 20-22, for checking with active
participation and for one-of-a-kind checking with alerting factors (from memory).

The same is stated for the other way of confirming, by going on: what was heard well is said back with the next
question and stands unless somebody objects. Then nobody is asked, and more pass: one in twenty to one in five are the
orders of the same table for checking without being asked (from memory). Numbers are never confirmed so by the program;
findings are. `--words` has people answer from a list, each with one word.

Use: python scripts/bench_closed_loop.py --manifest CSV [--only valid/] [--snr 10] [--slow] [--words] [--limit N]
"""

import argparse
import json
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench_sounds import Item, clips_of, in_room, read_manifest
from intervals import share

from handsfree.audio.resample import to_pcm
from handsfree.clock import ManualClock
from handsfree.definition.loader import Bundle, load_bundle
from handsfree.errors import HandsfreeError
from handsfree.model.audio import BLOCK_SAMPLES, SAMPLE_RATE_HZ, AudioBlock
from handsfree.model.commands import GiveValues
from handsfree.model.effects import Append, Earcon, Priority
from handsfree.model.events import CommandDoubted, SessionEvent
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.reading_facts import ReadingConfirmed, ReadingProposed
from handsfree.model.readings import Exact, Option, SpokenValue, value_text
from handsfree.recognition.choose import make_recognizer
from handsfree.recognition.port import Recognizer
from handsfree.runner.offline_run import Ears
from handsfree.runner.session_runner import SessionRunner
from handsfree.session.may_stand import LEAST
from handsfree.session.session import Session
from handsfree.session.snapshot import Snapshot
from handsfree.simulation.mixing import Signal

DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
COUNT = 3
MOST = 6
THINKING_S = 2.0
"""What a person waits after an answer of the tool before they speak again."""
LET_PASS = (0.0, 0.01, 0.05)
LET_STAND = (0.05, 0.1, 0.2)
"""Shares of wrong values that pass where nobody is asked whether they are right."""
WORDS = ("down", "go", "up")
"""Answers that people of the recordings said and that are no commands of the tool."""
HEAD = """\
form: 1
id: readings
title: Invented readings
version: "1.0.0"
language: en-US
approved_by: null
sources: {{common: "common practice, no source"}}
cautions: [The product's own instructions come first.]
roles: {{nurse: [ward nurse]}}
skip_reasons: {{declined: [patient declined]}}
override_reasons: {{reviewed: [reviewed by the senior]}}
kind_from: session_kind.kind
steps:
  - id: session_kind
    kind: choose
    phase: before
    prompt: Live or practice session?
    hard: true
    source: common
    fields:
      - {{id: kind, label: kind, options: {{live: [live session], practice: [practice session]}}}}
{steps}"""
STEP = """\
  - id: reading_{number}
    kind: measure
    phase: before
    prompt: Reading?
    hard: true
    source: common
    fields:
      - {{id: value, label: reading, number: {{unit: mm, low: {low}, high: 999, decimals: 0, range_source: common}}}}
"""
WORD_STEP = """\
  - id: reading_{number}
    kind: finding
    phase: before
    prompt: Which one?
    hard: true
    source: common
    read_back: confirm
    fields:
      - {{id: value, label: reading, options: {{down: [down], go: [go], up: [up]}}}}
"""


@dataclass
class Witness:
    """Stands in for the record and for what a person hears and sees: keeps what was proposed, doubted and confirmed."""

    offered: SpokenValue | None = None
    stands: bool = False
    confirmed: SpokenValue | None = None

    def append(self, event: SessionEvent | None, facts: Sequence[Append]) -> None:
        """See `Journals.append`."""
        if isinstance(event, CommandDoubted) and isinstance(event.command, GiveValues):
            self.offered, self.stands = event.command.values[0].value, False
        for fact in (one.fact for one in facts):
            match fact:
                case ReadingProposed(value=value, heard=heard, asked=asked):
                    self.offered, self.stands = value, heard.probability >= LEAST and not asked
                case ReadingConfirmed(value=value):
                    self.confirmed = value
                case _:
                    pass

    def say(self, text: str, priority: Priority, heard_out: int = 0) -> None:
        """See `Outputs.say`."""

    def earcon(self, earcon: Earcon) -> None:
        """See `Outputs.earcon`."""

    def heard(self, hypothesis: Hypothesis | None, outcome: str, probability: float) -> None:
        """See `Outputs.heard`."""

    def show(self, snapshot: Snapshot) -> None:
        """See `Outputs.show`."""


@dataclass
class Outcome:
    """What came of one reading.

    Attributes:
        speaker: Who.
        said: The value.
        utterances: How often it was said.
        wrong_offers: How often something else was read back or asked about.
        wrong_that_stand: How many of those were heard well enough to stand unless somebody objects.
        recorded: What is on record; None where it was given up.
    """

    speaker: str
    said: str
    utterances: int = 0
    wrong_offers: int = 0
    wrong_that_stand: int = 0
    recorded: str | None = None


@dataclass
class Person:
    """One speaker: says readings from their own clips.

    Attributes:
        speaker: Who.
        clips: Sound of each digit, at least one.
    """

    speaker: str
    clips: dict[int, list[Signal]] = field(default_factory=dict)

    def say(self, digits: Sequence[int], random: np.random.Generator, *, slow: bool) -> Signal:
        """A reading, each digit from a clip drawn anew."""
        parts: list[Signal] = []
        for digit in digits:
            own = self.clips[digit]
            parts += [own[int(random.integers(len(own)))]]
            parts += [np.zeros(0 if slow else int(random.uniform(0.05, 0.15) * SAMPLE_RATE_HZ))]
        return _once_more(np.concatenate(parts[:-1]), random)


def _once_more(signal: Signal, random: np.random.Generator) -> Signal:
    """As the same person says it another time."""
    faster = random.uniform(0.93, 1.07)
    places = np.arange(0, len(signal) - 1, faster)
    louder: Signal = np.interp(places, np.arange(len(signal)), signal) * 10 ** (random.uniform(-3, 3) / 20)
    return louder


class Visit:
    """A session of as many readings as are asked for, with ears, in a room.

    Args:
        bundle: The readings.
        recognizer: The ears; they are used again by the next visit.
        options: Of the command line.
        seed: Of the room.
    """

    def __init__(self, bundle: Bundle, recognizer: Recognizer, options: argparse.Namespace, seed: int) -> None:
        self._clock = ManualClock(datetime(2026, 11, 29, 9, tzinfo=UTC))
        self.witness = Witness()
        self._runner = SessionRunner(Session(bundle), self.witness, self.witness, self._clock)
        self._runner.start("readings", (), practice=True)
        self._runner.type("practice session")
        recognizer.reset()
        self._ears = Ears(self._runner, recognizer)
        self._options = options
        self._seed = seed

    def take(self, person: Person, digits: Sequence[int], random: np.random.Generator) -> Outcome:
        """Say one reading until it is on record, or `MOST` times."""
        said = WORDS[digits[0]] if self._options.words else "".join(map(str, digits))
        outcome = Outcome(person.speaker, said)
        self.witness.confirmed = None
        while self.witness.confirmed is None and outcome.utterances < MOST:
            self.witness.offered = None
            outcome.utterances += 1
            self._hear(person.say(digits, random, slow=self._options.slow), outcome)
            self._answer(outcome)
        if self.witness.confirmed is not None:
            outcome.recorded = value_text(self.witness.confirmed)
        return outcome

    def _answer(self, outcome: Outcome) -> None:
        """Say whether what is asked or read back is what was said; a doubt that is affirmed is read back then."""
        while self._runner.session.snapshot.mode in ("doubting", "reading_back"):
            offered = self.witness.offered
            right = isinstance(offered, Exact | Option) and value_text(offered) == outcome.said
            outcome.wrong_offers += not right
            outcome.wrong_that_stand += not right and self.witness.stands
            self._runner.type("affirmative" if right else "negative")
            self._hear(np.zeros(int(THINKING_S * SAMPLE_RATE_HZ)), outcome)

    def _hear(self, signal: Signal, outcome: Outcome) -> None:
        self._seed += 1
        said = Item(signal, "a reading" if signal.any() else "", outcome.speaker)
        sound, _ = in_room(said, self._options.snr, self._options.noise, self._seed)
        # Silence of the room, for as long as a person waits to see whether they were heard.
        rest, _ = in_room(Item(np.zeros(int(THINKING_S * SAMPLE_RATE_HZ)), "", ""), None, "pink", self._seed)
        pcm = to_pcm(np.concatenate([sound, rest]).astype(np.float32))
        begun_s = self._clock.monotonic_s()
        for start in range(0, len(pcm) - 2 * BLOCK_SAMPLES + 1, 2 * BLOCK_SAMPLES):
            block = AudioBlock(pcm[start : start + 2 * BLOCK_SAMPLES], begun_s + start / 2 / SAMPLE_RATE_HZ)
            self._clock.sleep_until(block.end_s)
            self._ears.feed(block)


def people_of(options: argparse.Namespace) -> list[Person]:
    """Everybody in the manifest with at least `COUNT` digits."""
    people: dict[str, Person] = {}
    spoken = WORDS if options.words else DIGITS
    rows = [row for row in read_manifest(options.manifest) if options.only in row["path"] and row["spoken"] in spoken]
    for row in rows:
        person = people.setdefault(row["speaker"], Person(row["speaker"]))
        sound = clips_of([row], trim=not options.slow, even=True)[0]
        person.clips.setdefault(spoken.index(row["spoken"]), []).append(sound)
    able = [person for person in people.values() if len(person.clips) >= (1 if options.words else COUNT)]
    return sorted(able, key=lambda person: person.speaker)


def digits_of(person: Person, random: np.random.Generator) -> list[int]:
    """A reading of digits that the person has clips of; none begins with zero, as no figure does."""
    first = [digit for digit in sorted(person.clips) if digit]
    return [int(random.choice(first)), *(int(digit) for digit in random.choice(sorted(person.clips), COUNT - 1))]


def run(options: argparse.Namespace) -> list[Outcome]:
    """Have everybody say their readings."""
    random = np.random.default_rng(options.seed)
    people = people_of(options)
    if options.limit is not None:
        people = [people[int(index)] for index in sorted(random.permutation(len(people))[: options.limit])]
    recognizer = make_recognizer(options.engine)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "readings.yaml"
        step = WORD_STEP if options.words else STEP
        steps = "".join(step.format(number=number + 1, low=options.low) for number in range(options.readings))
        path.write_text(HEAD.format(steps=steps), encoding="utf-8")
        bundle = load_bundle(str(path))
    outcomes: list[Outcome] = []
    for number, person in enumerate(people):
        visit = Visit(bundle, recognizer, options, options.seed + 1000 * number)
        for _ in range(options.readings):
            said = [int(random.choice(sorted(person.clips)))] if options.words else digits_of(person, random)
            outcome = visit.take(person, said, random)
            outcomes.append(outcome)
            if outcome.recorded is None:
                break  # a person would type it; the next steps wait behind it
    return outcomes


def figures(outcomes: Sequence[Outcome]) -> dict[str, object]:
    """Sums of all readings; the share that ends wrong is expected over who lets a wrong read-back pass."""
    n = len(outcomes)
    taken = [outcome for outcome in outcomes if outcome.recorded is not None]
    return {
        "readings": n,
        "people": len({outcome.speaker for outcome in outcomes}),
        "on_record": len(taken),
        "recorded_wrong_though_checked": sum(outcome.recorded != outcome.said for outcome in taken),
        "first_time": sum(outcome.utterances == 1 for outcome in taken),
        "with_a_wrong_read_back": sum(outcome.wrong_offers > 0 for outcome in outcomes),
        "utterances_each": sum(outcome.utterances for outcome in outcomes) / max(1, n),
        "ends_wrong": {
            str(passed): sum(1 - (1 - passed) ** outcome.wrong_offers for outcome in outcomes) / max(1, n)
            for passed in LET_PASS
        },
        "wrong_that_would_stand": sum(outcome.wrong_that_stand > 0 for outcome in outcomes),
        "ends_wrong_by_going_on": {
            str(passed): sum(
                1 - (1 - passed) ** one.wrong_that_stand * (1 - 0.01) ** (one.wrong_offers - one.wrong_that_stand)
                for one in outcomes
            )
            / max(1, n)
            for passed in LET_STAND
        },
    }


def main() -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--manifest", type=Path, required=True)
    parser.add_argument("--only", default="", help="only rows whose path contains this")
    parser.add_argument("--engine", help="as of the product")
    parser.add_argument("--snr", type=float, help="level of the speech over the noise, dB")
    parser.add_argument("--noise", default="pink", help="white, pink, babble or a sound file; needs --snr")
    parser.add_argument("--slow", action="store_true", help="whole clips of a second, with their silence")
    parser.add_argument("--words", action="store_true", help="answers from a list instead of readings")
    parser.add_argument("--low", type=int, default=0, help="least value permitted; 100 makes the step know the count")
    parser.add_argument("--readings", type=int, default=4, help="of each person")
    parser.add_argument("--limit", type=int, help="only so many people, drawn at random")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()
    try:
        found = figures(run(options))
    except HandsfreeError as error:
        print(f"bench_closed_loop: {error}", file=sys.stderr)
        return error.exit_code
    if options.json:
        print(json.dumps(found, indent=1))
        return 0
    n = int(str(found["readings"]))
    what = "answers of one word" if options.words else f"readings of {COUNT} digits"
    print(f"{options.manifest.name} {options.only}, {found['people']} people, {n} {what}, "
          f"noise {options.noise if options.snr is not None else 'none'} {options.snr or ''}, "
          f"{'slow' if options.slow else 'natural pace'}, from {options.low}, seed {options.seed}")  # fmt: skip
    counted = ("on_record", "first_time", "with_a_wrong_read_back", "recorded_wrong_though_checked")
    for name in (*counted, "wrong_that_would_stand"):
        print(f"  {name.replace('_', ' ')}: {share(int(str(found[name])), n)}")
    print(f"  utterances each: {found['utterances_each']:.2f}")
    print(f"  ends wrong, by the share of wrong read-backs that people let pass: {found['ends_wrong']}")
    print(f"  the same by going on, one in a hundred of what is asked about: {found['ends_wrong_by_going_on']}")
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""Bench of the words of a procedure: every sentence class, in every test voice of this machine, in several rooms.

Each different step of the procedure is listened to as its session would; what may be answered there is spoken by the
synthetic voices (espeak-ng, flite, festival, the neural voice, as far as installed), put into a room, and played
through the whole recogniser: detection of speech, engine, meaning, decision. Rooms: clean, reverb (RT60 of 0.4 s), and
noise of three kinds at 20, 10 and 5 dB. Readings are drawn at random within the range of their field.

Synthetic voices are no people: these figures are for coverage of words, not for accuracy with anybody. Counts and 95 %
intervals are those of `bench_recognition.py`. Without --limit the bench takes hours; a limit draws utterances evenly
over the rooms, so that a few hundred take some minutes. The same seed draws the same utterances. What each engine took
for something else is listed, and what the first engine understood and another did not.

Use: python scripts/bench_domain.py [--procedure ID] [--engine ID ...] [--room NAME ...] [--limit N] [--seed N] [--json]
"""

import argparse
import json
import random
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench_counts import Report, Tally, table
from bench_sounds import Item, in_room, play
from bench_tasks import Task, recognizer_for

from handsfree.authoring.sample_phrases import phrases_of
from handsfree.authoring.step_contexts import Hearing, hearings
from handsfree.definition.loader import load_bundle
from handsfree.errors import HandsfreeError, UsageError
from handsfree.model.commands import STOP_CONTROLS, DateSlot, IdentifierSlot, NumberSlot, Slot
from handsfree.recognition.port import Recognizer
from handsfree.simulation.mixing import Signal, active_level, reverberate, signal_of
from handsfree.simulation.voices import available_voices, render
from handsfree.understanding.graphs import match

NOISES = ("white", "pink", "babble")
LEVELS_DB = (20, 10, 5)
ROOMS = ("clean", "reverb", *(f"{kind} {level}" for level in LEVELS_DB for kind in NOISES))
RT60_S = 0.4
LEVEL = 0.1
READINGS_A_FIELD = 6
DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
WORD_FOR_SLOT = {NumberSlot: "number", IdentifierSlot: "code", DateSlot: "date"}


@dataclass(frozen=True)
class Voice:
    """A speaker, for `practice.voices.render`."""

    engine: str
    voice: str
    rate: float = 1.0


@dataclass(frozen=True)
class Utterance:
    """A sentence in a step, as one voice says it in one room.

    Attributes:
        hearing: The step.
        words: What is said.
        sentence_class: stop, command, option, number, code or date.
        voice: Who says it.
        room: One of `ROOMS`.
        seed: Of the noise and the echo.
    """

    hearing: Hearing
    words: str
    sentence_class: str
    voice: Voice
    room: str
    seed: int


def sentences(hearing: Hearing, rng: random.Random) -> Iterator[tuple[str, str]]:
    """What may be said in a step, each with its class: the phrases that authors are shown, and readings."""
    slots = {slot.slot: slot for slot in hearing.wanted.slots}
    for phrase in phrases_of(hearing):
        if phrase.field is None:
            yield phrase.words, "stop" if phrase.control in STOP_CONTROLS else "command"
        else:
            yield phrase.words, WORD_FOR_SLOT.get(type(slots[phrase.field]), "option")
    for slot in slots.values():
        if isinstance(slot, NumberSlot):
            for _ in range(READINGS_A_FIELD):
                words = _reading(slot, hearing.wanted.slots, rng)
                if match(hearing.graph, words.split()) is not None:
                    yield words, "number"


def _reading(slot: NumberSlot, slots: Sequence[Slot], rng: random.Random) -> str:
    """A value of the field, said digit by digit, with what must or may be said before it."""
    low, high = int(slot.low * 10), int(slot.high * 10)
    value = Decimal(rng.randint(max(0, low), high)) / 10
    text = f"{value:.1f}" if slot.decimals else str(int(value))
    words = ["point" if sign == "." else DIGITS[int(sign)] for sign in text]
    several = len(slots) > 1
    label = slot.labels[0].split() if slot.labels and (several or rng.random() < 0.5) else []
    side = [slot.sides[0].value] if slot.sides and rng.random() < 0.5 else []
    return " ".join([*label, *side, *words])


def plan(procedure: str, rooms: Sequence[str], limit: int | None, seed: int) -> list[Utterance]:
    """All utterances, or `limit` of them, as many in each room.

    Raises:
        ProcedureFileError: The procedure has faults.
        UsageError: No voice is installed.
    """
    bundle = load_bundle(procedure)
    voices = [Voice(engine, name) for engine, name in available_voices()]
    if not voices:
        raise UsageError("no voice is installed to speak with (install espeak-ng, or the speech parts of this package)")
    rng = random.Random(seed)  # noqa: S311 - a draw that can be repeated, no secret
    steps: dict[str, Hearing] = {}
    for hearing in hearings(bundle.plan, bundle.device, bundle.light):
        steps.setdefault(hearing.graph.key, hearing)
    said: dict[tuple[str, str], tuple[Hearing, str, str]] = {}
    for key, hearing in steps.items():
        for words, kind in sentences(hearing, rng):
            # A command is the same in every step, so each is tried in one step drawn at random and not in all.
            name = words if kind in ("stop", "command") else f"{key} {words}"
            if (name, kind) not in said or rng.random() < 0.2:
                said[name, kind] = (hearing, words, kind)
    everything = list(said.values())
    chosen: list[Utterance] = []
    for number, room in enumerate(rooms):
        pairs = [(one, voice) for one in everything for voice in voices]
        rng.shuffle(pairs)
        kept = pairs if limit is None else pairs[: limit // len(rooms) + (number < limit % len(rooms))]
        chosen += [Utterance(*one, voice, room, seed + at) for at, (one, voice) in enumerate(kept)]
    # Steps one after the other: their grammars are compiled once.
    return sorted(chosen, key=lambda one: (one.hearing.graph.key, one.words, one.voice.engine, one.voice.voice))


@lru_cache(maxsize=256)
def _spoken(voice: Voice, words: str) -> Signal:
    signal = signal_of(render(voice, words))
    return signal * (LEVEL / max(active_level(signal), 1e-9))


def sound_of(utterance: Utterance) -> tuple[Item, Signal, float]:
    """The item, its sound in the room with a pause before and after, and when speech in it ends, seconds."""
    signal = _spoken(utterance.voice, utterance.words)
    speaker = f"{utterance.voice.engine} {utterance.voice.voice}".strip()
    item = Item(signal, utterance.words, speaker, utterance.room)
    if utterance.room == "reverb":
        echoed = reverberate(signal, RT60_S, utterance.seed)
        in_echo, _ = in_room(Item(echoed, utterance.words, speaker), None, "pink", utterance.seed)
        return item, in_echo, in_room(item, None, "pink", utterance.seed)[1]
    kind, _, level = utterance.room.partition(" ")
    sound, end_s = in_room(item, float(level) if level else None, kind, utterance.seed)
    return item, sound, end_s


@dataclass(frozen=True)
class Result:
    """What came of one utterance.

    Attributes:
        line: Room, voice, what was said and what was heard.
        understood: The meaning was right, whether it was sure enough or not.
        taken_wrong: Something else was taken for what was said.
    """

    line: str
    understood: bool
    taken_wrong: bool


def run(recognizer: Recognizer, utterances: Sequence[Utterance]) -> tuple[dict[str, Report], list[Result]]:
    """Play all of them; reports in all and by sentence class, and what came of each utterance."""
    reports: dict[str, Report] = {"all": Report()}
    results: list[Result] = []
    listening: str | None = None
    for utterance in utterances:
        hearing = utterance.hearing
        if listening != hearing.graph.key:
            Task(hearing.graph, hearing.wanted).attend(recognizer)
            listening = hearing.graph.key
        item, sound, end_s = sound_of(utterance)
        heard, task = play(recognizer, sound), Task(hearing.graph, hearing.wanted)
        for name in ("all", utterance.sentence_class):
            reports.setdefault(name, Report()).add(task, item, heard, end_s)
        counted = Tally()
        counted.add(task, item, heard, end_s)
        words = " / ".join(hypothesis.text for hypothesis, _, _ in heard.hypotheses if hypothesis.words) or "nothing"
        line = f"{utterance.room}, {item.speaker}: {utterance.words!r} heard as {words!r}"
        results.append(Result(line, bool(counted.top1_right), bool(counted.accepted_wrong)))
    return reports, results


def lists(results: Sequence[Result], of_first: Sequence[Result]) -> dict[str, list[str]]:
    """What one engine took wrong, and what the first engine understood and this one did not."""
    return {
        "taken_wrong": [result.line for result in results if result.taken_wrong],
        "lost": [
            result.line
            for result, first in zip(results, of_first, strict=True)
            if first.understood and not result.understood
        ],
    }


def main() -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--procedure", default="ulnar-splint-fitting", help="a bundled identifier or a file")
    parser.add_argument("--engine", nargs="+", action="extend", help="default: neural")
    parser.add_argument("--room", nargs="+", action="extend", choices=ROOMS, help="default: all")
    parser.add_argument("--limit", type=int, help="only so many utterances, drawn at random")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()
    if options.limit is not None and options.limit < 1:
        parser.error("--limit is the number of utterances, at least 1")
    result: dict[str, dict[str, object]] = {}
    of_first: list[Result] = []
    try:
        utterances = plan(options.procedure, options.room or ROOMS, options.limit, options.seed)
        for engine_id in options.engine or ["neural"]:
            task = Task(utterances[0].hearing.graph, utterances[0].hearing.wanted)
            reports, results = run(recognizer_for(engine_id, task), utterances)
            of_first = of_first or results
            data = reports.pop("all").as_json()
            data["per_class"] = {name: vars(report.total) for name, report in sorted(reports.items())}
            result[engine_id] = data | lists(results, of_first)
    except HandsfreeError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    if options.json:
        print(json.dumps({"engines": result}, indent=1))
        return 0
    print(f"{options.procedure}, {len(utterances)} utterances of synthetic voices, seed {options.seed}; "
          "95 % intervals after Wilson")  # fmt: skip
    for engine_id, data in result.items():
        print("\n".join(table(engine_id, data)))
        for kind, title in (("taken_wrong", "taken wrong"), ("lost", "understood by the first engine and not by this")):
            found = data[kind]
            if isinstance(found, list):
                print(f"  {title}: {len(found)}", *(f"    {line}" for line in found), sep="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())

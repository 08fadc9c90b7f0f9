"""Bench of cries: how often a cry of heat or pain ends the light, how soon, and how often other talk does.

Three sets of forty cries (`cry_sentences.py`) are spoken by ten test voices, each over the lamp's own beeps, in quiet
and in pink noise at 10 dB: what a session listens for while lit, what rules were set on, and what is held out, whose
misses are counted and not shown. Reaction: from the end of the word that says it to the report; the wait for the
decision and the processor time of that report (threads added, so that other work on the machine counts for little) are
printed apart too. A word inside a sentence is timed by the length of the words up to it. False stops: talk that rules
were set on, talk that is held out, in quiet and at 10 dB, and, where the folder is there, recordings of other words by
real people, counted by the hour of sound.

Use: python scripts/bench_cries.py [--speech FOLDER] [--only NAME ...] [--limit N] [--reveal] [--json]
"""

import argparse
import json
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench_sounds import EVEN_LEVEL, FLOOR, Item, in_room, noise_of, play, read_manifest, single, speech_end_s
from cry_sentences import HELD_OUT, LISTENED_FOR, OTHER_TALK, TALK, WORKED_ON
from intervals import poisson, wilson

from handsfree.errors import HandsfreeError
from handsfree.model.commands import Control, ControlCommand, Wanted
from handsfree.model.hypotheses import Hypothesis
from handsfree.recognition.choose import make_recognizer
from handsfree.recognition.port import Recognizer
from handsfree.session.listening_context import HEARD, warmth_slot
from handsfree.session.modes import Mode
from handsfree.simulation.mixing import Signal, active_level, signal_of
from handsfree.simulation.script import LampSpec
from handsfree.simulation.simulated_lamp import Lamp
from handsfree.simulation.voices import available_voices, render
from handsfree.understanding.acceptance import probability_right
from handsfree.understanding.heat_words import may_be_cry, means_stop
from handsfree.understanding.interpreter import interpret
from handsfree.understanding.listening_graph import graph_for

SETS = {"listened for": LISTENED_FOR, "worked on": WORKED_ON, "held out": HELD_OUT}
PIECES = {"talk": TALK, "held-out talk": OTHER_TALK}
ROOMS: dict[str, float | None] = {"quiet": None, "10 dB": 10.0}
CRIES = 40
"""Of each set; one of twenty sentences is spoken by two voices."""
TAKES = 2
"""How often each piece of talk is spoken, by different voices."""
VOICES = 10
LAMP = LampSpec(frequency_hz=2700, every_s=1.0)
LIT = Wanted(HEARD[Mode.LIT], (warmth_slot(),))
"""What a session listens for while lit."""


class _Speaker:
    def __init__(self, engine: str, voice: str) -> None:
        self.engine, self.voice, self.rate = engine, voice, 1.0


def ends_light(hypothesis: Hypothesis) -> bool:
    """Whether it ends the run, as `SessionRunner.hear` decides."""
    return may_be_cry(hypothesis) or means_stop(hypothesis, interpret(hypothesis, LIT), LIT)


def sets_hold(hypothesis: Hypothesis) -> bool:
    """Whether it sets a hold without being asked about."""
    command = interpret(hypothesis, LIT)
    heat = isinstance(command, ControlCommand) and command.control in {Control.HOT, Control.PAIN}
    return heat and means_stop(hypothesis, command, LIT)


def voices() -> list[_Speaker]:
    """Ten voices, spread over all that this machine has."""
    found = available_voices()
    chosen = [found[number * len(found) // VOICES] for number in range(min(VOICES, len(found)))]
    return [_Speaker(*one) for one in chosen]


def said_by(speaker: _Speaker, text: str) -> Signal:
    """A sentence at an even level."""
    sound = signal_of(render(speaker, text))
    return EVEN_LEVEL * sound / max(active_level(sound), 1e-9)


def beside_lamp(sound: Signal) -> Signal:
    """With the beeps of a lamp that was switched on just before."""
    lamp = Lamp(LAMP)
    lamp.said("light on", -0.5, -0.3)
    return sound + lamp.sound(0.0, len(sound))


def spoken_cries(sentences: tuple[str, ...], limit: int | None) -> list[tuple[str, str, _Speaker]]:
    """Words up to the one that says it, the rest, and who speaks."""
    speakers, count = voices(), len(sentences)
    planned = [(sentences[n % count], speakers[(n + n // count * 5) % len(speakers)]) for n in range(CRIES)]
    return [(marked.partition("|")[0], marked.partition("|")[2], speaker) for marked, speaker in planned[:limit]]


def cries(
    recognizer: Recognizer, sentences: tuple[str, ...], snr_db: float | None, limit: int | None
) -> dict[str, object]:
    """Play cries; how many end the light, and when."""
    waits: list[tuple[float, float]] = []
    missed: list[str] = []
    plan = spoken_cries(sentences, limit)
    for number, (telling, rest, speaker) in enumerate(plan):
        spoken = said_by(speaker, f"{telling}{rest}.")
        word_end_s = speech_end_s(said_by(speaker, f"{telling}.")) if rest else speech_end_s(spoken)
        sound, end_s = in_room(Item(spoken, telling, speaker.voice), snr_db, "pink", number)
        end_s += word_end_s - speech_end_s(spoken)
        heard = play(recognizer, beside_lamp(sound)).hypotheses
        ended = [(1000 * (at_s - end_s), 1000 * spent_s) for one, at_s, spent_s in heard if ends_light(one)]
        waits += ended[:1]
        written = "; ".join(f"{one.text or '-'} {probability_right(one):.3f} / {one.free_text}" for one, _, _ in heard)
        missed += [] if ended else [f"{telling}{rest} ({speaker.engine} {speaker.voice}): {written or 'nothing'}"]
    low, high = wilson(len(waits), len(plan))
    parts = {
        "reaction_ms": [wait + spent for wait, spent in waits],
        "decision_ms": [wait for wait, _ in waits],
        "computing_ms": [spent for _, spent in waits],
    }
    return {"n": len(plan), "ended": len(waits), "interval": [round(low, 3), round(high, 3)],
            **{name: spread(values) for name, values in parts.items()}, "missed": missed}  # fmt: skip


def spread(values: list[float]) -> dict[str, int] | None:
    """Median and 90th percentile, whole milliseconds."""
    if not values:
        return None
    return {name: round(float(np.percentile(values, at))) for name, at in (("median", 50), ("p90", 90))}


def false_stops(recognizer: Recognizer, sounds: list[tuple[str, Signal]]) -> dict[str, object]:
    """Play what is no cry and no stop word."""
    found: list[str] = []
    holds, sound_s = 0, 0.0
    for text, sound in sounds:
        heard = play(recognizer, beside_lamp(sound))
        found += [
            f"{text}: {one.text} {probability_right(one):.3f} / {one.free_text}"
            for one, _, _ in heard.hypotheses
            if ends_light(one)
        ]
        holds += sum(sets_hold(one) for one, _, _ in heard.hypotheses)
        sound_s += heard.sound_s
    hours = sound_s / 3600
    low, high = poisson(len(found))
    rates = {"per_hour": round(len(found) / hours, 1), "interval": [round(low / hours, 1), round(high / hours, 1)]}
    return {
        "pieces": len(sounds),
        "hours": round(hours, 4),
        "false_stops": len(found),
        "holds": holds,
        **rates,
        "which": found[:20],
    }


def talk(lines: tuple[str, ...], snr_db: float | None, limit: int | None, seed: int) -> list[tuple[str, Signal]]:
    """Each line by different voices, with pauses of half a second to two seconds."""
    random = np.random.default_rng(seed)
    speakers = voices()
    made: list[tuple[str, Signal]] = []
    for number, line in enumerate((lines * TAKES)[:limit]):
        said = said_by(speakers[(number + number // len(lines) * 5) % len(speakers)], line)
        pauses = random.uniform(0.5, 2.0, 2)
        padded = np.concatenate([np.zeros(int(pauses[0] * 16000)), said, np.zeros(int(pauses[1] * 16000))])
        padded += random.normal(0, FLOOR, len(padded))
        if snr_db is not None:
            padded += EVEN_LEVEL * 10 ** (-snr_db / 20) * noise_of("pink", len(padded), number)
        made.append((line, padded))
    return made


def recordings(folder: Path, limit: int | None, seed: int) -> list[tuple[str, Signal]]:
    """Recordings of real people who say neither a stop word nor a word of heat."""
    rows = [row for row in read_manifest(folder / "manifest.csv") if row["spoken"] not in ("", "stop")]
    order = np.random.default_rng(seed).permutation(len(rows))[:limit]
    chosen = [rows[int(index)] for index in order]
    return [(item.spoken, in_room(item, None, "pink", number)[0]) for number, item in enumerate(single(chosen))]


def measure(recognizer: Recognizer, options: argparse.Namespace) -> Iterator[tuple[str, dict[str, object]]]:
    """Name and figures of each part."""
    for room, level in ROOMS.items():
        for name, sentences in SETS.items():
            if not options.only or name in options.only:
                figures = cries(recognizer, sentences, level, options.limit)
                yield f"{name}, {room}", figures if name != "held out" or options.reveal else hidden(figures)
        for name, lines in PIECES.items():
            if not options.only or name in options.only:
                figures = false_stops(recognizer, talk(lines, level, options.limit, options.seed))
                yield f"{name}, {room}", figures if name == "talk" or options.reveal else hidden(figures)
    if options.speech is not None and (not options.only or "recordings" in options.only):
        real = recordings(options.speech, options.clips, options.seed)
        yield "recordings", false_stops(recognizer, real)


def hidden(figures: dict[str, object]) -> dict[str, object]:
    """Without what was missed: whoever reads it can set rules on it."""
    return {name: value for name, value in figures.items() if name not in ("missed", "which")}


def main() -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--speech", type=Path, help="folder of recordings with manifest.csv")
    parser.add_argument("--clips", type=int, default=200, help="only so many of them")
    parser.add_argument("--only", nargs="+", choices=[*SETS, *PIECES, "recordings"], help="only these parts")
    parser.add_argument("--limit", type=int, help="only so many cries of a set, and pieces of talk")
    parser.add_argument("--reveal", action="store_true", help="show what was missed of the held-out parts too")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()
    try:
        recognizer = make_recognizer()
        recognizer.listen_for(graph_for(LIT))
        result: dict[str, object] = {"voices": [f"{one.engine} {one.voice}".strip() for one in voices()]}
        for name, figures in measure(recognizer, options):
            result[name] = figures
            if not options.json:
                print(f"{name}: {json.dumps(figures)}", flush=True)
    except HandsfreeError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    if options.json:
        print(json.dumps(result, indent=1))
    return 0


if __name__ == "__main__":
    sys.exit(main())

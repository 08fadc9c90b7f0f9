"""Bench of cries: how often a cry of heat or pain ends the light, how soon, and how often other talk does.

Forty cries are spoken by ten test voices, each over the lamp's own beeps, in quiet and in pink noise at 10 dB. The
sentences are what a session listens for while lit, and as many that it does not list. Reaction: from the end of the
word that says it to the report, with the processor time of that report (threads added, so that other work on the
machine counts for nothing); a word inside a sentence is timed by the length of the words up to it. False stops:
sentences of the trade in synthetic voices and, where the folder is there, recordings of other words by real people,
counted by the hour of sound.

Use: python scripts/bench_cries.py [--speech FOLDER] [--minutes M] [--limit N] [--json]
"""

import argparse
import json
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench_sounds import EVEN_LEVEL, Item, in_room, play, read_manifest, single, speech_end_s
from bench_stop import LINES
from intervals import wilson

from handsfree.errors import HandsfreeError
from handsfree.model.commands import STOP_CONTROLS, ControlCommand, OptionPhrases, OptionSlot, Wanted
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.light import Warmth
from handsfree.recognition.choose import make_recognizer
from handsfree.recognition.port import Recognizer
from handsfree.session.listening_context import HEARD, WARMTH_SLOT
from handsfree.session.modes import Mode
from handsfree.simulation.mixing import Signal, active_level, signal_of
from handsfree.simulation.script import LampSpec
from handsfree.simulation.simulated_lamp import Lamp
from handsfree.simulation.voices import available_voices, render
from handsfree.understanding.acceptance import DecisionOutcome, decide
from handsfree.understanding.heat_words import may_be_cry
from handsfree.understanding.interpreter import interpret
from handsfree.understanding.listening_graph import graph_for

CRIES = (
    "Ouch, it is getting really hot|",
    "That burns|",
    "It hurts|",
    "Take it off|",
    "Ouch|",
    "It's hot|",
    "That's too hot|",
    "It is burning|",
    "Ow, that hurts|",
    "It's really painful|",
    "My hand is burning|",
    "Oh, that is far too hot| for me",
    "That hurts| a lot",
    "I feel a burning| pain",
    "It stings|",
    "Hey, this one really hurts|",
    "The splint is getting very hot| now",
    "Please take it away, it burns|",
    "It's burning| my finger",
    "There is pain| in my wrist",
)
"""What people say; the bar stands after the word that says it. The first ten are listened for, the others are not."""
TALK = (
    *LINES,
    "The wrist part comes next, keep your fingers still for me.",
    "We will check the strap in a moment, and then you can rest your arm.",
    "Hold the lamp a little lower, about five centimetres away.",
    "How long have you been waiting outside, half an hour or so?",
    "You may feel some warmth, please tell me at once.",
    "The next patient is already here, ask her to take a seat.",
    "Move it slowly along the edge, that looks even now.",
    "Did you bring the letter from the hospital with you?",
)
"""What else is said while the light is on."""
VOICES = 10
LAMP = LampSpec(frequency_hz=2700, every_s=1.0)
LIT = Wanted(
    HEARD[Mode.LIT],
    (OptionSlot(WARMTH_SLOT, (), tuple(OptionPhrases(one, (one,)) for one in Warmth), allow_absent=False),),
)
"""What a session listens for while lit."""


class _Speaker:
    def __init__(self, engine: str, voice: str) -> None:
        self.engine, self.voice, self.rate = engine, voice, 1.0


def ends_light(hypothesis: Hypothesis) -> bool:
    """Whether it ends the run, as `SessionRunner.hear` decides."""
    command = interpret(hypothesis, LIT)
    if not isinstance(command, ControlCommand) or command.control not in STOP_CONTROLS:
        return may_be_cry(hypothesis)
    return decide(hypothesis, command, LIT).outcome is not DecisionOutcome.IGNORE or may_be_cry(hypothesis)


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


def cries(recognizer: Recognizer, snr_db: float | None, limit: int | None) -> dict[str, object]:
    """Play the cries; how many end the light, and when."""
    speakers = voices()
    waits: list[float] = []
    missed: list[str] = []
    plan = [(CRIES[n % len(CRIES)], speakers[(n + n // len(CRIES) * 5) % len(speakers)]) for n in range(2 * len(CRIES))]
    for number, (marked, speaker) in enumerate(plan[:limit]):
        telling, _, rest = marked.partition("|")
        spoken = said_by(speaker, f"{telling}{rest}.")
        word_end_s = speech_end_s(said_by(speaker, f"{telling}.")) if rest else speech_end_s(spoken)
        sound, end_s = in_room(Item(spoken, telling, speaker.voice), snr_db, "pink", number)
        end_s += word_end_s - speech_end_s(spoken)
        ended = [
            at_s + spent_s for one, at_s, spent_s in play(recognizer, beside_lamp(sound)).hypotheses if ends_light(one)
        ]
        waits += [1000 * (ended[0] - end_s)] if ended else []
        missed += [] if ended else [f"{telling}{rest} ({speaker.engine} {speaker.voice})"]
    count = len(plan[:limit])
    low, high = wilson(count - len(missed), count)
    spread = (
        {name: round(float(np.percentile(waits, at))) for name, at in (("median", 50), ("p90", 90))} if waits else None
    )
    return {"n": count, "ended": count - len(missed), "interval": [round(low, 3), round(high, 3)],
            "reaction_ms": spread, "missed": missed}  # fmt: skip


def false_stops(recognizer: Recognizer, sounds: list[tuple[str, Signal]]) -> dict[str, object]:
    """Play what is no cry and no stop word."""
    found: list[str] = []
    sound_s = 0.0
    for text, sound in sounds:
        heard = play(recognizer, beside_lamp(sound))
        found += [f"{text}: {one.text} / {one.free_text}" for one, _, _ in heard.hypotheses if ends_light(one)]
        sound_s += heard.sound_s
    hours = sound_s / 3600
    per_hour = round(len(found) / hours, 1) if hours else None
    return {"pieces": len(sounds), "hours": round(hours, 3), "false_stops": len(found), "per_hour": per_hour,
            "which": found[:20]}  # fmt: skip


def talk(minutes: float, seed: int) -> list[tuple[str, Signal]]:
    """Sentences of the trade and of everyday, with pauses of half a second to two seconds."""
    random = np.random.default_rng(seed)
    speakers = voices()
    made: list[tuple[str, Signal]] = []
    total_s = 0.0
    while speakers and total_s < 60 * minutes:
        line = TALK[int(random.integers(len(TALK)))]
        said = said_by(speakers[int(random.integers(len(speakers)))], line)
        pauses = random.uniform(0.5, 2.0, 2)
        padded = np.concatenate([np.zeros(int(pauses[0] * 16000)), said, np.zeros(int(pauses[1] * 16000))])
        made.append((line, padded + random.normal(0, 8 / 32768, len(padded))))
        total_s += len(padded) / 16000
    return made


def recordings(folder: Path | None, limit: int | None, seed: int) -> list[tuple[str, Signal]]:
    """Recordings of real people who say neither a stop word nor a word of heat."""
    if folder is None or not (folder / "manifest.csv").is_file():
        return []
    rows = [row for row in read_manifest(folder / "manifest.csv") if row["spoken"] not in ("", "stop")]
    order = np.random.default_rng(seed).permutation(len(rows))[:limit]
    chosen = [rows[int(index)] for index in order]
    return [(item.spoken, in_room(item, None, "pink", number)[0]) for number, item in enumerate(single(chosen))]


def main() -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--speech", type=Path, help="folder of recordings with manifest.csv")
    parser.add_argument("--minutes", type=float, default=8.0, help="talk of synthetic voices")
    parser.add_argument("--limit", type=int, help="only so many cries, and clips of real people")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()
    try:
        recognizer = make_recognizer()
        recognizer.listen_for(graph_for(LIT))
        real = recordings(options.speech, options.limit or 200, options.seed)
        result = {
            "voices": [f"{one.engine} {one.voice}".strip() for one in voices()],
            "cries": {
                name: cries(recognizer, level, options.limit) for name, level in (("quiet", None), ("10 dB", 10.0))
            },
            "talk": false_stops(recognizer, talk(options.minutes, options.seed)),
            "recordings": false_stops(recognizer, real) if real else "no folder of recordings",
        }
    except HandsfreeError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    if options.json:
        print(json.dumps(result, indent=1))
    else:
        for name, figures in result.items():
            print(f"{name}: {json.dumps(figures)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""Bench of stop words: how soon "stop" acts, how often it is missed, and how often other speech stops the work.

Real recordings of "stop" from a manifest are played into a session's own grammar, clean and in noise at 20 and 10 dB.
Reaction: from the last 20 ms of the clip within 30 dB of its loudest, to the report, with the computing of that report.
False stops: other words of the manifest, clip by clip, and running speech of synthetic voices, counted by the hour of
sound that was played. A stop word inside what is said ("it hurts") is left out of the running speech.

Use: python scripts/bench_stop.py --manifest CSV [--engine ID] [--limit N] [--minutes M] [--json]
"""

import argparse
import json
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench_sounds import Item, in_room, play, read_manifest, single
from bench_tasks import Task, recognizer_for
from intervals import share, wilson

from handsfree.errors import HandsfreeError
from handsfree.model.commands import STOP_CONTROLS, Control, ControlCommand, OptionPhrases, OptionSlot, Wanted
from handsfree.model.hypotheses import Hypothesis
from handsfree.recognition.port import Recognizer
from handsfree.simulation.mixing import BABBLE_LINES, Signal, active_level, signal_of
from handsfree.simulation.voices import available_voices, render
from handsfree.understanding.acceptance import DecisionOutcome
from handsfree.understanding.listening_graph import graph_for

LINES = (
    *BABBLE_LINES,
    "I think the second one fits better, but let us look at it again in a moment.",
    "Could you turn the screen a little, the sun is right in my eyes.",
    "The strap on the left is new, the other one has been here for a year.",
    "We have a meeting at four, and I have not read any of the papers yet.",
    "My brother drove up from the coast, it took him seven hours with the traffic.",
    "Put the box on the shelf next to the sink, and wipe the table when you are done.",
)
STEP = Wanted(
    frozenset({Control.AFFIRM, Control.NEGATE, Control.NEXT_STEP, Control.WAIT, Control.SAY_AGAIN, Control.HELP}),
    (OptionSlot("state", ("state",), (OptionPhrases("intact", ("intact",)), OptionPhrases("reduced", ("reduced",)))),),
)
"""A step as a session has them: some commands and an answer; stop words are in every step."""


def stops(task: Task, found: list[Hypothesis]) -> int:
    """How many of the utterances would stop the work."""
    count = 0
    for hypothesis in found:
        command = task.command(hypothesis)
        if isinstance(command, ControlCommand) and command.control in STOP_CONTROLS:
            count += task.outcome(hypothesis, command) is DecisionOutcome.ACCEPT
    return count


def reaction(recognizer: Recognizer, task: Task, items: list[Item], snr_db: float | None) -> dict[str, object]:
    """Play "stop"; when it acted."""
    waits: list[float] = []
    missed = 0
    for number, item in enumerate(items):
        sound, end_s = in_room(item, snr_db, "pink", number)
        acted = [at_s + spent_s for found, at_s, spent_s in play(recognizer, sound).hypotheses if stops(task, [found])]
        missed += not acted
        waits += [1000 * (acted[0] - end_s)] if acted else []
    spread = {name: round(float(np.percentile(waits, at)), 1) for name, at in (("median", 50), ("p95", 95))}
    return {"n": len(items), "missed": missed, "reaction_ms": spread if waits else None}


def false_stops(recognizer: Recognizer, task: Task, sounds: list[Signal]) -> dict[str, object]:
    """Play what is no stop word."""
    found, sound_s = 0, 0.0
    for sound in sounds:
        heard = play(recognizer, sound)
        found += stops(task, [hypothesis for hypothesis, _, _ in heard.hypotheses])
        sound_s += heard.sound_s
    low, high = wilson(found, max(len(sounds), found))
    hours = sound_s / 3600
    return {"pieces": len(sounds), "false_stops": found, "hours": round(hours, 4),
            "per_hour": round(found / hours, 2) if hours else None,
            "share_interval": [round(low, 4), round(high, 4)]}  # fmt: skip


def running_speech(minutes: float, seed: int) -> list[Signal]:
    """Sentences of everyday talk in synthetic voices, with pauses of half a second to two seconds."""
    random = np.random.default_rng(seed)
    voices = available_voices()
    made: list[Signal] = []
    total_s = 0.0
    while voices and total_s < 60 * minutes:
        engine, name = voices[int(random.integers(len(voices)))]
        line = LINES[int(random.integers(len(LINES)))]
        said = signal_of(render(_Speaker(engine, name), line))
        said = 0.1 * said / max(active_level(said), 1e-9)
        pauses = random.uniform(0.5, 2.0, 2)
        padded = np.concatenate([np.zeros(int(pauses[0] * 16000)), said, np.zeros(int(pauses[1] * 16000))])
        made.append(padded + random.normal(0, 8 / 32768, len(padded)))
        total_s += len(padded) / 16000
    return made


class _Speaker:
    def __init__(self, engine: str, voice: str) -> None:
        self.engine, self.voice, self.rate = engine, voice, 1.0


def main() -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--manifest", type=Path, required=True)
    parser.add_argument("--engine", default="neural")
    parser.add_argument("--limit", type=int, help="only so many clips of other words")
    parser.add_argument("--minutes", type=float, default=10.0, help="running speech of synthetic voices")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()
    task = Task(graph_for(STEP), STEP)
    try:
        rows = read_manifest(options.manifest)
        recognizer = recognizer_for(options.engine, task)
    except HandsfreeError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    task.attend(recognizer)
    spoken = single([row for row in rows if row["spoken"] == "stop"])
    others = [row for row in rows if row["spoken"] not in ("", "stop") and row["path"].count("digits/") == 0]
    order = np.random.default_rng(options.seed).permutation(len(others))[: options.limit]
    clips = [in_room(item, None, "pink", n)[0] for n, item in enumerate(single([others[int(i)] for i in order]))]
    result = {
        "stop": {
            name: reaction(recognizer, task, spoken, level)
            for name, level in (("clean", None), ("20 dB", 20.0), ("10 dB", 10.0))
        },
        "other_words": false_stops(recognizer, task, clips),
        "running_speech": false_stops(recognizer, task, running_speech(options.minutes, options.seed)),
    }
    if options.json:
        print(json.dumps(result, indent=1))
        return 0
    for name, one in result["stop"].items():
        print(f"stop, {name:6} missed {share(one['missed'], one['n'])}, reaction {one['reaction_ms']} ms")
    for name in ("other_words", "running_speech"):
        one = result[name]
        print(f"{name.replace('_', ' ')}: {one['false_stops']} false stops in {one['pieces']} pieces, "
              f"{one['hours']} h, {one['per_hour']} an hour")  # fmt: skip
    return 0


if __name__ == "__main__":
    sys.exit(main())

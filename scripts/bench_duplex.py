"""Bench of speech over the tool's own voice: the live pipeline in a simulated room, in counted time.

    scripts/bench_duplex.py answers [--near 10] [--each 12]   answers begun over a prompt, beside the same in quiet
    scripts/bench_duplex.py stops                             50 stop words over prompts, full and half duplex
    scripts/bench_duplex.py cost [--limit 30]                 processor and latency, full beside half, in turns
    scripts/bench_duplex.py own                               every prompt of a fitting, as loud as can be
    scripts/bench_duplex.py troubles                          drifting clocks, a delay that jumps, a clipping microphone
    scripts/bench_duplex.py fitting SCRIPT --way half|full|impatient|hasty   a whole visit, and what it costs

Mixer, gate, canceller, detector, recogniser and session are those of a visit; the sound card is not there: the echo is
what the mixer was asked for, through a room of an exponential tail. All people are synthetic voices.
"""

import argparse
import json
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from io import StringIO
from pathlib import Path

import numpy as np
from duplex_trials import (
    OPTIONS,
    PATIENCE,
    PEOPLE,
    QUESTIONS,
    START,
    TOOL,
    Trial,
    at_level,
    counted,
    spread,
    taken,
    told,
)
from rich.console import Console

from handsfree.application.opening import kept_open, open_session
from handsfree.audio.echo_canceller import EchoCanceller
from handsfree.clock import ManualClock
from handsfree.definition.loader import load_bundle
from handsfree.display import ConversationView
from handsfree.model.events import CommandDoubted, CommandSpoken, SpeechRejected
from handsfree.model.facts import PromptCutShort
from handsfree.model.working import Working
from handsfree.recognition.choose import make_recognizer
from handsfree.recognition.endpoint_settings import EndpointSettings
from handsfree.recognition.port import Recognizer
from handsfree.recognition.speech_nearby import SpeechNearby
from handsfree.runner import SessionRunner
from handsfree.runner.listening_thread import TalkedOver, UtteranceHeard
from handsfree.runner.live_session import Inbox, Live
from handsfree.runner.talk_watch import Canceller
from handsfree.simulation.duplex_scene import DuplexScene, HeardOutputs
from handsfree.simulation.echo_room import EchoPath, EchoRoom
from handsfree.simulation.mixing import active_level, signal_of
from handsfree.simulation.rehearsal import Rehearsal
from handsfree.simulation.script import load_script
from handsfree.simulation.simulated_lamp import Lamp
from handsfree.simulation.voices import render
from handsfree.voice.choose import choose_synthesizer

EARLY_SILENCE_S = 0.26
"""As a live session has it."""
STOPS = ("stop", "hot", "pain", "light off", "it hurts")


def answers(arguments: argparse.Namespace, recognizer: Recognizer) -> dict[str, object]:
    """Answers begun over a prompt; the same words in quiet are what they are held against."""
    path = EchoPath(gain_db=-6.0, tail_s=arguments.tail)
    prompts = [render(TOOL, text) for text in QUESTIONS]
    quiet_right = over_right = both = cut = 0
    wrong: list[str] = []
    misses: list[str] = []
    silent: list[float] = []
    random = np.random.default_rng(arguments.seed)
    cases = [(who, word) for who in PEOPLE for word in OPTIONS][: arguments.limit]
    trial = Trial(recognizer, path, full=not arguments.half)
    trial.warm_up(prompts)
    for number, (who, word) in enumerate(cases):
        prompt = prompts[number % len(prompts)]
        level = active_level(signal_of(prompt)) * 10 ** ((path.gain_db + arguments.near) / 20)
        words = at_level(who, word, level)
        trial.listen(1.0)
        in_quiet = taken(trial.say(words)[1])
        before = len(trial.messages)
        trial.play(prompt)
        trial.listen(float(random.uniform(0.7, prompt.duration_s - 1.2)))
        silent_s, heard = trial.say(words)
        while trial.room.speaking:
            trial.listen(0.1)
        found = taken(heard)
        quiet_right += in_quiet == [word]
        over_right += found == [word]
        both += found == [word] == in_quiet
        wrong += [f"{who.voice}: {word} -> {other}" for other in found if other != word]
        misses += [f"{who.voice}: {word} -> {told(heard)}"] * (in_quiet == [word] != found)
        if any(isinstance(one, TalkedOver) for one in trial.messages[before:]):
            cut += 1
            silent += [silent_s] if silent_s is not None else []
    return {
        "way": "half" if arguments.half else "full",
        "answer_over_echo_db": arguments.near,
        "echo_tail_s": path.tail_s,
        "understood_in_quiet": counted(quiet_right, len(cases)),
        "understood_over_a_prompt": counted(over_right, len(cases)),
        "of_those_understood_in_quiet": counted(both, quiet_right),
        "taken_wrong": wrong,
        "prompts_broken_off": counted(cut, len(cases)),
        "first_sound_to_silence_at_the_loudspeaker": spread(silent),
        "missed": misses,
    }


def stops(arguments: argparse.Namespace, recognizer: Recognizer) -> dict[str, object]:
    """Stop words over prompts that may be broken off, and over such that must be heard out."""
    path = EchoPath(gain_db=-6.0, tail_s=arguments.tail)
    prompts = [render(TOOL, text) for text in QUESTIONS]
    found: dict[str, object] = {"word_over_echo_db": arguments.near, "echo_tail_s": path.tail_s}
    cases = [(who, word) for who in PEOPLE for word in STOPS]
    cases = (cases + cases)[:50]
    for name, full, heard_out in (("full", True, False), ("full, heard out", True, True), ("half", False, False)):
        hits, missed, random = 0, [], np.random.default_rng(arguments.seed)
        trial = Trial(recognizer, path, full=full)
        trial.warm_up(prompts)
        for number, (who, word) in enumerate(cases):
            prompt = prompts[number % len(prompts)]
            level = active_level(signal_of(prompt)) * 10 ** ((path.gain_db + arguments.near) / 20)
            while trial.room.speaking:
                trial.listen(0.1)
            trial.listen(1.0)
            trial.play(prompt, heard_out=heard_out)
            trial.listen(float(random.uniform(0.3, prompt.duration_s - 1.2)))
            heard = trial.say(at_level(who, word, level))[1]
            hit = "stop" in taken(heard)
            hits += hit
            missed += [] if hit else [f"{who.voice}: {word} -> {told(heard)}"]
        found[name] = {"taken": counted(hits, len(cases)), "missed": missed}
    return found


def cost(arguments: argparse.Namespace, recognizers: Callable[[], Recognizer]) -> dict[str, object]:
    """What listening costs in full duplex beside half: the same prompts, and answers after their end, in turns."""
    path = EchoPath(gain_db=-6.0, tail_s=arguments.tail)
    prompts = [render(TOOL, text) for text in QUESTIONS]
    trials = {name: Trial(recognizers(), path, full=name == "full") for name in ("full", "half")}
    found: dict[str, list[tuple[float, float]]] = {name: [] for name in trials}
    cases = [(who, word) for word in OPTIONS for who in PEOPLE][: arguments.limit or 30]
    for trial in trials.values():
        trial.warm_up(prompts)
        trial.busy_s = 0.0
    begun_s = {name: trial.room.now_s for name, trial in trials.items()}
    for number, (who, word) in enumerate(cases):
        prompt = prompts[number % len(prompts)]
        words = at_level(who, word, active_level(signal_of(prompt)) * 10 ** ((path.gain_db + arguments.near) / 20))
        for name, trial in trials.items():
            trial.play(prompt)
            while trial.room.speaking:
                trial.listen(0.1)
            trial.listen(0.8)
            answered = trial.answered_s(words)
            found[name] += [answered] if answered is not None else []
            trial.listen(0.5)
    return {
        name: {
            "processor_share": round(trial.busy_s / (trial.room.now_s - begun_s[name]), 3),
            "minutes": round((trial.room.now_s - begun_s[name]) / 60, 1),
            "word_ends_to_heard_by_counted_time": spread([waited_s for waited_s, _ in found[name]]),
            "processor_for_it_in_the_last_block": spread([computed_s for _, computed_s in found[name]]),
        }
        for name, trial in trials.items()
    }


def prompts_of(script: Path) -> list[str]:
    """Everything that the tool says in a visit that is typed by the script, in order."""
    from handsfree.application.rehearsed_visit import RehearsalOptions, rehearse_visit

    text = StringIO()
    with tempfile.TemporaryDirectory() as folder:
        asked = RehearsalOptions(script=script, folder=Path(folder) / "record", wall=START, typed=True)
        rehearse_visit(asked, Console(file=text, width=10_000))
    lines = [line.partition("tool")[2].strip() for line in text.getvalue().splitlines() if " tool " in line]
    return [line for line in lines if line]


def own(arguments: argparse.Namespace, recognizer: Recognizer) -> dict[str, object]:
    """All prompts of a fitting through a loudspeaker that distorts, in an echoing room, up to full scale."""
    path = EchoPath(gain_db=6.0, tail_s=0.4, delay_s=0.18, drive=2.0)
    said = prompts_of(arguments.script)[: arguments.limit]
    result: dict[str, object] = {"prompts": len(said), "gain_db": path.gain_db, "tail_s": path.tail_s}
    for name, full in (("full", True), ("half", False)):
        trial = Trial(recognizer, path, full=full)
        for text in said:
            trial.play(render(TOOL, text))
            while trial.room.speaking:
                trial.listen(0.1)
            trial.listen(0.8)
        heard = [one for one in trial.messages if isinstance(one, UtteranceHeard)]
        result[name] = {
            "minutes": round(trial.room.now_s / 60, 1),
            "peak_at_microphone": round(trial.room.loudest, 2),
            "prompts_broken_off": sum(isinstance(one, TalkedOver) for one in trial.messages),
            "paused": trial.room.pauses,
            "heard": [one.hypothesis.text for one in heard],
            "taken": taken(heard),
            "processor_share": round(trial.busy_s / trial.room.now_s, 3),
        }
    return result


def troubles(arguments: argparse.Namespace, recognizer: Recognizer) -> dict[str, object]:
    """What may go wrong on the way from loudspeaker to microphone."""
    prompts = [render(TOOL, text) for text in QUESTIONS]
    usual = EchoPath(gain_db=-6.0, tail_s=arguments.tail)
    ways = {
        "usual": (usual, usual),
        "clocks 50 ppm apart": (replace(usual, drift_ppm=50.0), replace(usual, drift_ppm=50.0)),
        "clocks 50 ppm apart, the other way": (replace(usual, drift_ppm=-50.0), replace(usual, drift_ppm=-50.0)),
        "delay jumps by 80 ms": (usual, replace(usual, delay_s=0.2)),
        "loudspeaker turned up 12 dB": (usual, replace(usual, gain_db=6.0)),
        "microphone clips": (replace(usual, gain_db=16.0), replace(usual, gain_db=16.0)),
    }
    found: dict[str, object] = {}
    for name, (before, after) in ways.items():
        own_taken, own_heard, cut, right = [], 0, 0, 0
        cases = [(who, word) for who in PEOPLE[:4] for word in OPTIONS[:3]]
        trial = Trial(recognizer, before, full=True)
        trial.warm_up(prompts * arguments.rounds)
        trial.room.path = after
        at = len(trial.messages)
        for _ in range(2):
            for prompt in prompts:
                trial.play(prompt)
                trial.listen(prompt.duration_s + 0.8)
        mine = [one for one in trial.messages[at:] if isinstance(one, UtteranceHeard)]
        own_heard, own_taken = len(mine), taken(mine)
        cut = sum(isinstance(one, TalkedOver) for one in trial.messages)
        for number, (who, word) in enumerate(cases):
            prompt = prompts[number % 3]
            level = min(0.1, active_level(signal_of(prompt)) * 10 ** ((min(after.gain_db, 0.0) + 10) / 20))
            trial.play(prompt)
            trial.listen(1.0)
            right += taken(trial.say(at_level(who, word, level))[1]) == [word]
            trial.listen(1.0)
        found[name] = {
            "own_voice_heard": own_heard,
            "own_voice_taken": own_taken,
            "broken_off_by_own_voice": cut,
            "answers_right": counted(right, len(cases)),
            "minutes_before": round(sum(prompt.duration_s + 0.8 for prompt in prompts) * arguments.rounds / 60, 1),
        }
    return found


def fitting(arguments: argparse.Namespace, recognizer: Recognizer) -> dict[str, object]:
    """A whole visit through the live pipeline."""
    scenario = load_script(arguments.script)
    bundle = load_bundle(scenario.procedure)
    clock = ManualClock(START)
    voice = choose_synthesizer(scenario.tool_voice or "neural")
    echo_db = 20 * np.log10(0.1 / active_level(signal_of(voice.render(QUESTIONS[0])))) - arguments.near
    room = EchoRoom(clock, EchoPath(gain_db=echo_db, tail_s=arguments.tail))
    console = Console(file=(arguments.log.open("w") if arguments.log else StringIO()), width=200)
    outputs = HeardOutputs(room, voice, ConversationView(console), clock)
    full = arguments.way != "half"
    trouble, result = "", None
    with tempfile.TemporaryDirectory() as folder:
        runner, journal = open_session(
            bundle, Path(folder) / "record", clock, outputs, practice=True, engine="neural", keep_clips=False,
            expert=arguments.expert, working=Working(scenario.working), going_on=True, kind=SessionRunner,
        )  # fmt: skip
        canceller = Canceller(EchoCanceller(room.played), SpeechNearby()) if full else None
        inbox = Inbox()
        live = Live(runner, outputs.live, outputs.view, room, lambda: recognizer, clock, inbox, canceller=canceller)
        lamp = Lamp(scenario.lamp) if scenario.lamp is not None else None
        scene = DuplexScene(runner, live, inbox, outputs, clock, room, scenario.voices, PATIENCE[arguments.way], lamp)
        events: list[object] = []
        facts: list[object] = []
        note = runner.note
        runner.note = lambda fact: (facts.append(fact), note(fact))[1]  # type: ignore[method-assign]
        dispatch = runner.dispatch
        runner.dispatch = lambda event: (events.append(event), dispatch(event))[1]  # type: ignore[method-assign]
        begun_s, busy_s = time.perf_counter(), time.process_time()
        with kept_open(runner, journal):
            try:
                result = Rehearsal(scenario, scene).run()
            except Exception as error:  # noqa: BLE001 - what was measured until then counts all the same
                trouble = f"{type(error).__name__}: {error}"
        busy_s = time.process_time() - busy_s
        elapsed_s = time.perf_counter() - begun_s
    heard = [one for one in events if isinstance(one, CommandSpoken | CommandDoubted | SpeechRejected) and one.heard]
    own_voice = [
        one.heard.text
        for one in heard
        if not any(
            said.from_s - 0.3 < one.heard.spoken_to_s and said.to_s + 1.5 > one.heard.spoken_from_s
            for said in scene.spoken
        )
    ]
    cut = sum(isinstance(one, PromptCutShort) for one in facts)
    late = [
        one.at_s - one.heard.spoken_to_s
        for one in heard
        if isinstance(one, CommandSpoken) and one.at_s >= one.heard.spoken_to_s
    ]
    return {
        "script": str(arguments.script),
        "way": arguments.way,
        "outcome": runner.outcome,
        "trouble": trouble,
        "minutes": round(clock.monotonic_s() / 60, 2),
        "tool_spoke_minutes": round(room.spoken_s / 60, 2),
        "prompts_broken_off": cut,
        "paused": room.pauses,
        "utterances": scene.utterances,
        "repeats": result.repeats if result is not None else None,
        "not_taken": sum(isinstance(one, SpeechRejected) for one in heard),
        "doubted": sum(isinstance(one, CommandDoubted) for one in heard),
        "taken_while_nobody_spoke": own_voice,
        "word_to_decision_without_computing": spread(late),
        "processor_s_a_minute": round(busy_s / (clock.monotonic_s() / 60), 1),
        "computed_in_minutes": round(elapsed_s / 60, 1),
    }


def main() -> None:
    """Run one bench; print JSON."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("bench", choices=("answers", "stops", "cost", "own", "troubles", "fitting"))
    parser.add_argument("script", type=Path, nargs="?", default=Path("scripts/scenarios/ulnar-narrated.yaml"))
    parser.add_argument("--near", type=float, default=10.0, help="people over the echo at the microphone, dB")
    parser.add_argument("--tail", type=float, default=0.12, help="echo of the room, seconds to fall by 60 dB")
    parser.add_argument("--half", action="store_true", help="answers without the canceller")
    parser.add_argument("--limit", type=int, help="only so many cases")
    parser.add_argument("--rounds", type=int, default=4, help="how often prompts are played before trouble")
    parser.add_argument("--way", choices=tuple(PATIENCE), default="full")
    parser.add_argument("--expert", action="store_true", help="short prompts")
    parser.add_argument("--log", type=Path, help="keep the conversation here")
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    benches = {"answers": answers, "stops": stops, "own": own, "troubles": troubles, "fitting": fitting}
    settings = EndpointSettings(early_silence_s=EARLY_SILENCE_S)
    if arguments.bench == "cost":
        print(json.dumps(cost(arguments, lambda: make_recognizer(None, settings)), indent=2))
    else:
        print(json.dumps(benches[arguments.bench](arguments, make_recognizer(None, settings)), indent=2))


if __name__ == "__main__":
    main()

"""Bench of the live path on the virtual sound card: the real command, real streams, the real recogniser.

    scripts/bench_live.py start              from the command to the first words of the tool
    scripts/bench_live.py quiet --minutes 1  processor time while it listens to a quiet room; memory; lost sound
    scripts/bench_live.py stop --times 12    a stop word said over a prompt: how soon it is silent, how many are taken
    scripts/bench_live.py check              delay and echo, as soundcheck measures them
    scripts/bench_live.py visit scripts/scenarios/light-output-check.yaml [--expert] [--self-heard] [--noise 30]
    scripts/bench_live.py visit scripts/scenarios/ulnar-narrated.yaml --expert --self-heard --duplex full
        --voice system --way full|impatient   a narrated fitting, waiting for each prompt or not

All people here are synthetic voices. `visit` is in real time: a guided fitting takes about half an hour.
"""

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
from contextlib import ExitStack, contextmanager
from itertools import pairwise
from pathlib import Path
from typing import Any

import live_screen
from duplex_trials import PATIENCE
from live_card import CLOCK, Listener
from live_rig import PROGRAM, LiveRoom, Shadow, Tool, room, spoken_in

from handsfree.model.events import CommandDoubted, CommandSpoken, SpeechRejected
from handsfree.model.facts import DeviceLost, PromptCutShort, SoundOverflowed
from handsfree.model.working import Working
from handsfree.simulation.mixing import SimulatedRoom, samples_of, signal_of
from handsfree.simulation.rehearsal import Rehearsal
from handsfree.simulation.script import VoiceSpec, load_script
from handsfree.simulation.voices import render
from handsfree.voice.choose import choose_synthesizer

PERSON_AT_MICROPHONE = 200
"""Peak of 16 bits from which the microphone hears a person."""
LONGEST_ANSWER_S = 5.0


def spread(values: list[float]) -> dict[str, float | int]:
    """Median, 95th percentile and count, in whole milliseconds."""
    if not values:
        return {"n": 0}
    ordered = sorted(values)
    high = ordered[min(len(ordered) - 1, round(0.95 * (len(ordered) - 1)))]
    return {"median_ms": round(1000 * statistics.median(ordered)), "p95_ms": round(1000 * high), "n": len(ordered)}


def answers(scene: LiveRoom, tool_ear: Listener, person_ear: Listener) -> list[float]:
    """For each answered utterance: from its last sound at the microphone to the first one at the loudspeaker."""
    found = []
    for spoken in scene.spoken:
        sounded_s = tool_ear.first_after(spoken.to_s)
        if sounded_s is None or sounded_s - spoken.to_s > LONGEST_ANSWER_S:
            continue
        ended_s = person_ear.last_before(sounded_s - 0.05)
        if ended_s is not None and ended_s > spoken.from_s:
            found.append(sounded_s - ended_s)
    return found


def self_triggered(scene: LiveRoom, shadow: Shadow) -> list[str]:
    """What the tool took for speech while nobody spoke."""
    found = []
    for event in shadow.events:
        if not isinstance(event, CommandSpoken | CommandDoubted | SpeechRejected) or event.heard is None:
            continue
        from_s, to_s = spoken_in(event)
        if not any(spoken.from_s - 0.2 < to_s and spoken.to_s + 1.5 > from_s for spoken in scene.spoken):
            kind = type(event).__name__
            found.append(f"{kind} {event.heard.text!r} at {event.heard.spoken_from_s:.1f} s")
    return found


def losses(shadow: Shadow) -> dict[str, int]:
    """Lost sound, lost devices and cut prompts of the record."""
    overflows = sum(fact.count for fact in shadow.facts if isinstance(fact, SoundOverflowed))
    lost = sum(isinstance(fact, DeviceLost) for fact in shadow.facts)
    cut = [fact for fact in shadow.facts if isinstance(fact, PromptCutShort)]
    return {"overflows": overflows, "devices_lost": lost, "prompts_cut_by_voice": len(cut)}


def options(arguments: argparse.Namespace, folder: Path) -> tuple[str, ...]:
    """Voice of the tool, and whether speech over it is understood."""
    config = folder / "config.toml"
    config.write_text(f'[listening]\nduplex = "{arguments.duplex}"\n')
    return "--voice", arguments.voice, "--config", str(config)


@contextmanager
def burners(count: int) -> Any:  # noqa: ANN401
    """Processes that keep a core busy each."""
    running = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(count)]
    try:
        yield
    finally:
        for process in running:
            process.kill()
            process.wait()


def visit(arguments: argparse.Namespace, folder: Path) -> dict[str, object]:
    """A scripted visit."""
    scenario = load_script(arguments.script)
    with (
        room(folder / "card", self_heard=arguments.self_heard) as (card, mouth, tool_ear),
        burners(arguments.burners),
        ExitStack() as opened,
    ):
        page = None
        person_ear = Listener(card, "mic_feed.monitor", PERSON_AT_MICROPHONE)
        record = arguments.record or folder / "record"
        wording = ("--expert",) if arguments.expert else ("--novice",)
        asked = (*options(arguments, folder), *wording, "--working", scenario.working)
        program, pictures = PROGRAM, folder / "pictures"
        if arguments.screen:
            program, asked = (str(Path(live_screen.__file__)), str(pictures)), (*asked, "--screen", "--no-browser")
        tool = Tool(card, record, scenario.procedure, *asked, program=program)
        shadow = Shadow(record, scenario.procedure, expert=arguments.expert, working=Working(scenario.working))
        noise = SimulatedRoom("pink", arguments.noise, scenario.seed) if arguments.noise is not None else None
        patience = PATIENCE[arguments.way] if arguments.way else None
        voice = choose_synthesizer(arguments.voice) if patience else None
        scene = LiveRoom(
            scenario.voices, shadow, mouth, tool_ear, noise,
            limit_s=60 * arguments.limit, patience=patience, voice=voice,
        )  # fmt: skip
        trouble, repeats = "", None
        at_start = tool.memory_mb(), tool.cpu_s(), CLOCK.monotonic_s()
        try:
            # While the light is on, words must not wait for their voice.
            for line in (*scenario.lines, *scenario.whenever):
                scene.speech(line.who, line.say)
            scene.wait_until_asked()
            if arguments.screen:
                page = opened.enter_context(live_screen.browser(screen_address(tool)))
            at_start = tool.memory_mb(), tool.cpu_s(), CLOCK.monotonic_s()
            repeats = Rehearsal(scenario, scene, real_time=True).run().repeats
        except Exception as error:  # noqa: BLE001 - what was measured until then counts all the same
            trouble = f"{type(error).__name__}: {error}"
        shown = page.evaluate("() => window.shown") if page is not None else {}
        alive = tool.process.poll() is None
        now = (tool.memory_mb(), tool.cpu_s(), CLOCK.monotonic_s()) if alive else at_start
        status = tool.close(10)
        shadow.look()
        person_ear.close()
        drawn = live_screen.account(live_screen.Timed.read(pictures), shown) if shown else None
    seconds = max(now[2] - at_start[2], 1e-9)
    return {
        "script": str(arguments.script),
        "self_heard": arguments.self_heard,
        "expert": arguments.expert,
        "noise_snr_db": arguments.noise,
        "burners": arguments.burners,
        "outcome": shadow.outcome,
        "trouble": trouble,
        "exit_status": status,
        "duplex": arguments.duplex,
        "way": arguments.way,
        "minutes": round(scene.now_s / 60, 2),
        "minutes_from_first_question": round(seconds / 60, 2),
        "utterances": scene.utterances,
        "repeats": repeats,
        "not_taken": sum(isinstance(event, SpeechRejected) for event in shadow.events),
        "doubted": sum(isinstance(event, CommandDoubted) for event in shadow.events),
        "self_triggered": self_triggered(scene, shadow),
        **losses(shadow),
        "mouth_to_earcon": spread(answers(scene, tool_ear, person_ear)),
        "memory_mb": [round(at_start[0]), round(now[0])],
        "cpu_percent_of_a_core": round(100 * (now[1] - at_start[1]) / seconds, 1),
        "event_to_pixels": drawn,
        "last_lines": tool.lines[-3:],
    }


def screen_address(tool: Tool) -> str:
    """Where the tool shows its screen; it says so before its first question."""
    return next(line.partition("screen: ")[2] for line in tool.trouble if line.startswith("screen: "))


def quiet(arguments: argparse.Namespace, folder: Path) -> dict[str, object]:
    """A tool that listens to a room in which nobody speaks."""
    with room(folder / "card") as (card, mouth, tool_ear):
        tool = Tool(card, folder / "record", "light-output-check", *options(arguments, folder))
        shadow = Shadow(folder / "record", "light-output-check")
        scene = LiveRoom(
            {}, shadow, mouth, tool_ear, SimulatedRoom("pink", arguments.noise, 1) if arguments.noise else None
        )
        scene.wait_until_asked()
        scene.listen_s(3.0)
        before = tool.cpu_s(), tool.memory_mb(), CLOCK.monotonic_s()
        scene.listen_s(60 * arguments.minutes)
        after = tool.cpu_s(), tool.memory_mb(), CLOCK.monotonic_s()
        shadow.look()
        tool.close()
    return {
        "minutes": arguments.minutes,
        "cpu_percent_of_a_core": round(100 * (after[0] - before[0]) / (after[2] - before[2]), 1),
        "memory_mb": [round(before[1]), round(after[1])],
        "events": [type(event).__name__ for event in shadow.events[1:]],
        **losses(shadow),
    }


def start(arguments: argparse.Namespace, folder: Path) -> dict[str, object]:
    """From the command to its first words."""
    found, busy = [], []
    with room(folder / "card") as (card, _, tool_ear):
        for number in range(arguments.times):
            tool = Tool(card, folder / f"record-{number}", "light-output-check", "--voice", arguments.voice)
            while tool_ear.first_after(tool.started_s) is None and tool.process.poll() is None:
                CLOCK.sleep_until(CLOCK.monotonic_s() + 0.01)
            busy.append(tool.cpu_s())
            found.append((tool_ear.first_after(tool.started_s) or float("nan")) - tool.started_s)
            tool.close()
            CLOCK.sleep_until(CLOCK.monotonic_s() + 1.0)
    return {"command_to_first_words": spread(found), "processor_s_until_then": [round(value, 2) for value in busy]}


STOP_VOICES = (
    VoiceSpec(engine="neural"),
    VoiceSpec(engine="espeak-ng", voice="en-us"),
    VoiceSpec(engine="espeak-ng", voice="en-us+f3"),
    VoiceSpec(engine="espeak-ng", voice="en-us+m3"),
)
STOP_WORDS = ("stop", "hot", "pain")


def check(arguments: argparse.Namespace, folder: Path) -> dict[str, object]:  # noqa: ARG001 - as the other benches
    """The echo check of `soundcheck`, through real streams."""
    with room(folder / "card", self_heard=True) as (card, _, _):
        os.environ.update(card.environment)
        from handsfree.application.echo_check import check_echo
        from handsfree.audio.audio_link import AudioLink

        with AudioLink(CLOCK) as sound:
            found = check_echo(sound)
    return {**found.data, "line": found.line}


def stop(arguments: argparse.Namespace, folder: Path) -> dict[str, object]:
    """Stop words said over a prompt, loudspeaker heard 10 dB softer."""
    to_silence, to_answer, taken = [], [], 0
    with room(folder / "card", self_heard=True) as (card, mouth, tool_ear):
        person_ear = Listener(card, "mic_feed.monitor", 4_000)
        tool = Tool(card, folder / "record", "light-output-check", *options(arguments, folder))
        shadow = Shadow(folder / "record", "light-output-check")
        scene = LiveRoom({"person": STOP_VOICES[0]}, shadow, mouth, tool_ear)
        scene.wait_until_asked()
        scene.speak("person", "practice session")
        for number in range(arguments.times):
            scene.listen_until_quiet()
            if number:
                scene.speak("person", "resume")
                scene.listen_until_quiet()
            scene.speak("person", "status report")
            begun_s = CLOCK.monotonic_s()
            scene.listen_s(0.8)
            voice = STOP_VOICES[number % len(STOP_VOICES)]
            word = samples_of(signal_of(render(voice, STOP_WORDS[number % len(STOP_WORDS)])))
            before = len(shadow.events)
            scene.utter(word)
            scene.listen_s(2.0)
            said_s = person_ear.first_after(scene.spoken[-1].from_s)
            ended_s = person_ear.last_before(scene.spoken[-1].to_s + 0.5)
            loud = [at_s for at_s in tool_ear.loud_s if at_s > begun_s]
            pause = next(
                (one for one, two in pairwise(loud) if two - one > 0.12 and one > (said_s or 0)),
                None,
            )
            if said_s is not None and pause is not None:
                to_silence.append(pause - said_s)
                if ended_s is not None:
                    to_answer.append(next(at_s for at_s in loud if at_s > pause + 0.1) - ended_s)
            events = shadow.events[before:]
            hit = any(isinstance(event, CommandSpoken | CommandDoubted) for event in events)
            taken += hit
            if not hit:
                scene.listen_until_quiet()
                scene.speak("person", "stop")
        person_ear.close()
        tool.close()
    return {
        "said": arguments.times,
        "taken": taken,
        "prompts_cut": losses(shadow)["prompts_cut_by_voice"],
        "word_begins_to_prompt_silent": spread(to_silence),
        "word_ends_to_answer": spread(to_answer),
    }


def main() -> None:
    """Run one bench; print JSON."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("bench", choices=("start", "quiet", "stop", "check", "visit"))
    parser.add_argument("script", type=Path, nargs="?")
    parser.add_argument("--minutes", type=float, default=30.0)
    parser.add_argument("--times", type=int, default=5)
    parser.add_argument("--voice", default="neural", help="the tool's voice")
    parser.add_argument("--self-heard", action="store_true")
    parser.add_argument("--duplex", choices=("half", "full"), default="half", help="speech over the tool's voice")
    parser.add_argument("--expert", action="store_true", help="short prompts in a visit")
    parser.add_argument("--way", choices=tuple(PATIENCE), help="how long people wait in a visit")
    parser.add_argument("--noise", type=float, help="speech over pink noise, dB")
    parser.add_argument("--screen", action="store_true", help="a visit with the screen for the room in a browser")
    parser.add_argument("--burners", type=int, default=0)
    parser.add_argument("--limit", type=float, default=60.0, help="a visit is broken off after so many minutes")
    parser.add_argument("--record", type=Path, help="keep the record of a visit here")
    arguments = parser.parse_args()
    if arguments.bench == "visit" and arguments.script is None:
        parser.error("visit needs a script")
    bench = {"start": start, "quiet": quiet, "stop": stop, "check": check, "visit": visit}[arguments.bench]
    with tempfile.TemporaryDirectory(prefix="handsfree-") as folder:
        print(json.dumps(bench(arguments, Path(folder)), indent=2))


if __name__ == "__main__":
    main()

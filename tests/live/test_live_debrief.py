"""The spoken debriefing on a sound card made of software: heard whole, and ended by a stop word and by Ctrl-C.

Common practice, no source. The person who says "stop" is a synthetic voice, 10 dB over what the microphone hears of the
loudspeaker.
"""

import signal
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from threading import Thread
from typing import Any

import pytest
from live_files import need_rig

pytest.importorskip("numpy")
pytest.importorskip("soundfile")

from rich.console import Console

from handsfree.clock import SystemClock
from handsfree.practice.aloud import BREATH_S
from handsfree.practice.points_form import load_points
from handsfree.practice.practised_visit import SoundOptions, practise_scripted
from handsfree.practice.scenario_loader import load_scenario
from handsfree.practice.scoring import score
from handsfree.practice.spoken_debrief import spoken_debrief
from handsfree.record.verify import verify
from handsfree.simulation.script import VoiceSpec

pytestmark = [pytest.mark.sound, pytest.mark.live]
CLOCK = SystemClock()
PATIENCE_S = 120.0
PAUSE_S = BREATH_S * 0.8
"""A silence from which on it lies between two sentences; commas are shorter."""


@pytest.fixture(scope="module")
def practised(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A record of which three sentences are said."""
    folder = tmp_path_factory.mktemp("practice") / "record"
    start = datetime(2026, 11, 25, 9, tzinfo=UTC)
    case = load_scenario("low-battery")
    practise_scripted(case, folder, None, "hasty", start, Console(quiet=True), SoundOptions(), typed=True)
    record = verify(folder).record
    assert record is not None
    assert len(spoken_debrief(score(record, load_points()), load_points())) == 3
    return folder


def _as_in_a_terminal() -> None:
    """Ctrl-C reaches the program, also where these tests run in the background, which ignores it."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@contextmanager
def told(card: Any, record: Path) -> Iterator[subprocess.Popen[str]]:
    with subprocess.Popen(
        [sys.executable, "-m", "handsfree", "debrief", str(record), "--aloud"],
        env=card.environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        preexec_fn=_as_in_a_terminal,
    ) as program:
        try:
            yield program
        finally:
            program.kill()


def wait_for(happened: Callable[[], object], what: str) -> None:
    until_s = CLOCK.monotonic_s() + PATIENCE_S
    while not happened():
        assert CLOCK.monotonic_s() < until_s, f"{what} did not come"
        CLOCK.sleep_until(CLOCK.monotonic_s() + 0.02)


def spans(loud_s: Sequence[float]) -> list[tuple[float, float]]:
    """From when to when something was heard, silences within a sentence left out."""
    found: list[tuple[float, float]] = []
    for at_s in loud_s:
        if found and at_s - found[-1][1] < PAUSE_S:
            found[-1] = found[-1][0], at_s
        else:
            found.append((at_s, at_s))
    return found


def test_it_is_heard_whole(tmp_path: Path, practised: Path) -> None:
    need_rig()
    from live_rig import room

    with room(tmp_path / "card", self_heard=True) as (card, _, listener), told(card, practised) as program:
        out, _ = program.communicate(timeout=PATIENCE_S)
        heard = spans(list(listener.loud_s))
    assert program.returncode == 0
    assert "not said to its end" not in out
    # Three sentences, some of them of several; none of them torn, and none said twice.
    assert len(heard) >= 3, heard
    assert 8.0 < heard[-1][1] - heard[0][0] < 40.0, heard


@pytest.mark.parametrize("how", ["stop word", "Ctrl-C"])
def test_it_ends_when_it_is_asked_to(tmp_path: Path, practised: Path, how: str) -> None:
    need_rig()
    from live_card import pipe
    from live_rig import room

    from handsfree.simulation.mixing import samples_of, signal_of
    from handsfree.simulation.voices import render

    word = samples_of(signal_of(render(VoiceSpec.model_validate({"engine": "neural"}), "stop")))
    with room(tmp_path / "card", self_heard=True) as (card, mouth, listener), told(card, practised) as program:
        out: list[str] = []
        reader = Thread(target=lambda: out.extend(pipe(program.stdout)), daemon=True)
        reader.start()
        wait_for(lambda: listener.loud_s, "its first sound")
        wait_for(lambda: any("a stop word ends it" in line for line in out), "that it listens")
        if how == "Ctrl-C":
            program.send_signal(signal.SIGINT)
        else:
            # A voice over the tool's own is told by level, which 2 s of that are needed to learn. A busy machine may
            # lose a word, as a room may: whoever is not obeyed says it again.
            CLOCK.sleep_until(CLOCK.monotonic_s() + 3.0)
            for _ in range(3):
                mouth.say(word)
                with suppress(subprocess.TimeoutExpired):
                    program.wait(2.5)
                    break
        program.wait(PATIENCE_S)
        reader.join(PATIENCE_S)
    assert program.returncode == 0, out
    assert "not said to its end; it stands above\n" in out, out

"""Microphone and loudspeaker through PortAudio, ALSA and PulseAudio on a sound card made of software.

Each test runs its own process, because PortAudio reads the list of devices once.
"""

import json
import subprocess
import sys
from collections.abc import Callable

import pytest

Start = Callable[..., dict[str, str]]

LISTEN = """
import json, math, subprocess, sys, wave
import numpy as np
from handsfree.audio.microphone import Microphone
from handsfree.clock import SystemClock
rate = 16000
tone = (8000 * np.sin(2 * math.pi * 1000 * np.arange(rate) / rate)).astype("<i2")
path = sys.argv[1]
with wave.open(path, "wb") as file:
    file.setnchannels(1); file.setsampwidth(2); file.setframerate(rate); file.writeframes(tone.tobytes())
starts, heard, player = [], [], None
with Microphone(SystemClock()) as microphone:
    for block in microphone:
        starts.append(block.start_s)
        heard.append(np.frombuffer(block.pcm, "<i2").astype(float))
        if len(heard) == 10:
            player = subprocess.Popen(["paplay", "--device=mic_feed", path])
        if len(heard) == 125:
            break
player.wait()
sound = np.concatenate(heard)
loud = np.abs(sound) > 2000
spectrum = np.abs(np.fft.rfft(sound))
print(json.dumps({
    "pitch": float(np.argmax(spectrum) * rate / len(sound)),
    "peak": float(np.abs(sound).max()),
    "span": float(np.flatnonzero(loud)[-1] - np.flatnonzero(loud)[0]) / rate if loud.any() else 0,
    "steps": [min(np.diff(starts)), max(np.diff(starts))],
    "overflows": microphone.overflows,
}))
"""

SELF_HEARD = """
import json
import numpy as np
from handsfree.audio.earcons import render_earcon
from handsfree.audio.half_duplex_gate import HalfDuplexGate
from handsfree.audio.loudspeaker import Loudspeaker
from handsfree.audio.microphone import Microphone
from handsfree.clock import SystemClock
from handsfree.model.audio import Speech
from handsfree.model.effects import Priority
rate = 24000
tone = (8000 * np.sin(2 * np.pi * 700 * np.arange(rate) / rate)).astype("<i2").tobytes()
clock = SystemClock()
raw, gated, sent_s, stopped_s, heard_s, silent_s = [], [], None, None, None, None
with Loudspeaker(clock) as loudspeaker, Microphone(clock) as microphone:
    gate = HalfDuplexGate(loudspeaker.sounded)
    for number, block in enumerate(microphone):
        raw.append(block)
        gated += [float(np.abs(np.frombuffer(part.pcm, "<i2").astype(float)).max()) for part in gate.take(block)]
        if number == 25:
            loudspeaker.play(Speech(tone * 5, rate), Priority.PROMPT)
            sent_s = clock.monotonic_s()
        if number == 60:
            busy_before = loudspeaker.busy
            loudspeaker.stop()
            stopped_s = clock.monotonic_s()
        if number == 125:
            break
    busy_after = loudspeaker.busy
levels = [(block, float(np.abs(np.frombuffer(block.pcm, "<i2").astype(float)).max())) for block in raw]
loud = [block for block, level in levels if level > 1000]
print(json.dumps({
    "raw_peak": max(level for _, level in levels),
    "gated_peak": max(gated),
    "to_sound_s": loud[0].end_s - sent_s,
    "to_silence_s": loud[-1].end_s - stopped_s,
    "silenced_s": gate.silenced_s,
    "busy": [busy_before, busy_after],
    "last_gated_open": not loudspeaker.sounded(raw[-1].start_s - 0.35, raw[-1].end_s),
}))
"""

STALL = """
import os, signal, sys
from handsfree.audio.microphone import Microphone
from handsfree.clock import SystemClock
from handsfree.errors import AudioDeviceError
with Microphone(SystemClock()) as microphone:
    try:
        for number, block in enumerate(microphone):
            if number == 10:
                os.kill(int(sys.argv[1]), signal.SIGSTOP)
    except AudioDeviceError as error:
        print(error)
    finally:
        os.kill(int(sys.argv[1]), signal.SIGCONT)
"""


def run(code: str, environment: dict[str, str], *arguments: str) -> str:
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments],
        env=environment,
        capture_output=True,
        text=True,
        timeout=40,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2_000:]
    return done.stdout


def test_what_is_played_to_the_microphone_is_heard_whole(soundcard: Start, tmp_path) -> None:
    heard = json.loads(run(LISTEN, soundcard(), str(tmp_path / "tone.wav")))
    assert heard["pitch"] == pytest.approx(1000, abs=3)
    assert heard["peak"] == pytest.approx(8000, rel=0.05)
    assert heard["span"] == pytest.approx(1.0, abs=0.05)
    assert heard["overflows"] == 0
    assert heard["steps"][0] > 0


def test_the_gate_keeps_the_tools_own_sound_out_and_stop_is_quick(soundcard: Start) -> None:
    heard = json.loads(run(SELF_HEARD, soundcard("--self-heard")))
    # 8000 played, 10 dB softer on its way into the microphone.
    assert heard["raw_peak"] == pytest.approx(8000 * 10**-0.5, rel=0.1)
    assert heard["gated_peak"] < 50
    assert heard["to_sound_s"] < 0.5
    assert heard["to_silence_s"] < 0.5
    assert 0.5 < heard["silenced_s"] < 2.0
    assert heard["busy"] == [True, False]
    assert heard["last_gated_open"]


def test_a_microphone_that_goes_quiet_is_noticed(soundcard: Start) -> None:
    environment = soundcard()
    answer = subprocess.run(["pactl", "info"], env=environment, capture_output=True, text=True, check=True).stdout
    assert "Server Name: pulseaudio" in answer
    said = run(STALL, environment, environment["SOUNDCARD_PID"])
    assert "no frames for 500 ms from the default microphone" in said

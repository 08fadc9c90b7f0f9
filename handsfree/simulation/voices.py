"""Voices for the scripted people of a rehearsal: other engines and speakers than the tool's own.

espeak-ng (GPL-3), flite and festival (both BSD-like) are programs of the system, run as such and optional.
"""

import shutil
import subprocess
import wave
from functools import cache
from pathlib import Path
from typing import Protocol

from handsfree.errors import VoiceError
from handsfree.model.audio import Speech
from handsfree.scratch_folders import scratch_folder
from handsfree.voice.neural_voice import NeuralVoice
from handsfree.voice.rendering_environment import without_sound_server

TIMEOUT_S = 60
ESPEAK_WPM = 175
"""espeak-ng's own rate; rates are factors on it."""
ESPEAK_VOICES = ("en-us", "en-us+f3", "en-us+f4", "en-us+m3", "en-us+m7", "en-gb", "en-gb-x-rp", "en-gb-scotland")
"""espeak-ng 1.51 takes a speaker (+f3) with en-us but passes over it without a word with en-gb."""
FLITE_VOICES = ("slt", "rms", "awb", "kal16")
FESTIVAL_VOICES = {"kal": "kal_diphone", "slt": "cmu_us_slt_arctic_hts"}
PACKAGES = {
    "espeak-ng": "sudo apt-get install espeak-ng",
    "flite": "sudo apt-get install flite",
    "festival": "sudo apt-get install festival festvox-kallpc16k festvox-us-slt-hts",
}
PROGRAMS = {"espeak-ng": "espeak-ng", "flite": "flite", "festival": "text2wave"}


class VoiceChoice(Protocol):
    """A voice of a scripted person; `simulation.script.VoiceSpec` is one.

    Attributes:
        engine: "espeak-ng", "flite", "festival" or "neural".
        voice: The engine's own voice name; empty for its first.
        rate: Speed relative to the engine's own, 0.5 … 2.
    """

    @property
    def engine(self) -> str:
        """See above."""

    @property
    def voice(self) -> str:
        """See above."""

    @property
    def rate(self) -> float:
        """See above."""


def available_voices() -> tuple[tuple[str, str], ...]:
    """Engine and voice name of every voice that can be rendered on this machine."""
    found: list[tuple[str, str]] = []
    if shutil.which("espeak-ng"):
        found += [("espeak-ng", voice) for voice in ESPEAK_VOICES]
    if shutil.which("flite"):
        found += [("flite", voice) for voice in FLITE_VOICES if voice in _flite_voices()]
    if shutil.which("text2wave"):
        found += [("festival", voice) for voice in FESTIVAL_VOICES if _has_festival(FESTIVAL_VOICES[voice])]
    try:
        _neural()
    except VoiceError:
        return tuple(found)
    return (*found, ("neural", ""))


def render(voice: VoiceChoice, text: str) -> Speech:
    """Speak a text in a person's voice; the same text gives the same sound.

    Raises:
        VoiceError: The program or the voice is missing (says which package has it), or it failed.
    """
    return _render(voice.engine, voice.voice, voice.rate, text)


@cache
def _neural() -> NeuralVoice:
    return NeuralVoice()


def _render(engine: str, voice: str, rate: float, text: str) -> Speech:
    if engine == "neural":
        if voice:
            raise VoiceError(f"the neural engine has one voice (leave the name {voice!r} out)")
        return _neural().render_at(text, rate)
    if engine not in PROGRAMS:
        raise VoiceError(f"there is no engine {engine!r} (there are: {', '.join(PROGRAMS)}, neural)")
    if shutil.which(PROGRAMS[engine]) is None:
        raise VoiceError(f"{engine} is not installed ({PACKAGES[engine]})")
    with scratch_folder() as folder:
        path = folder / "speech.wav"
        if engine == "espeak-ng":
            command = _espeak_command(voice, rate, path)
        elif engine == "flite":
            command = _flite_command(voice, rate, path)
        else:
            command = _festival_command(voice, rate, path)
        if engine == "flite":
            script = folder / "text"
            script.write_text(text, encoding="utf-8")
            command += ["-f", str(script)]
        return _run(engine, command, text, path)


def _run(engine: str, command: list[str], text: str, path: Path) -> Speech:
    try:
        subprocess.run(
            command,
            input=text.encode(),
            capture_output=True,
            timeout=TIMEOUT_S,
            check=True,
            env=without_sound_server(),
        )
        with wave.open(str(path), "rb") as file:
            frames = file.getnframes()
            if frames == 0 or file.getnchannels() != 1 or file.getsampwidth() != 2:
                raise VoiceError(f"{engine} gave no 16-bit mono sound for {text!r}")
            return Speech(file.readframes(frames), file.getframerate())
    except subprocess.TimeoutExpired as error:
        raise VoiceError(f"{engine} gave nothing within {TIMEOUT_S} s for {text!r}") from error
    except subprocess.CalledProcessError as error:
        reason = (error.stderr.decode(errors="replace").strip().splitlines() or ["no reason given"])[-1]
        raise VoiceError(f"{engine} failed on {text!r}: {reason}") from error
    except (OSError, wave.Error, EOFError) as error:
        raise VoiceError(f"{engine} wrote no sound for {text!r}") from error


def _espeak_command(voice: str, rate: float, path: Path) -> list[str]:
    speed = str(round(ESPEAK_WPM * rate))
    return ["espeak-ng", "-v", voice or ESPEAK_VOICES[0], "-s", speed, "-w", str(path), "--stdin"]


def _flite_command(voice: str, rate: float, path: Path) -> list[str]:
    chosen = voice or FLITE_VOICES[0]
    if chosen not in _flite_voices():
        # flite would speak in another voice without a word.
        raise VoiceError(f"flite has no voice {chosen!r} (it has: {', '.join(sorted(_flite_voices()))})")
    return ["flite", "-voice", chosen, "--setf", f"duration_stretch={1 / rate:.3f}", "-o", str(path)]


def _festival_command(voice: str, rate: float, path: Path) -> list[str]:
    chosen = voice or next(iter(FESTIVAL_VOICES))
    if chosen not in FESTIVAL_VOICES:
        raise VoiceError(f"festival has no voice {chosen!r} here (there are: {', '.join(FESTIVAL_VOICES)})")
    return [
        "text2wave",
        "-eval",
        f"(voice_{FESTIVAL_VOICES[chosen]})",
        "-eval",
        f"(Parameter.set 'Duration_Stretch {1 / rate:.3f})",
        "-o",
        str(path),
    ]


@cache
def _flite_voices() -> frozenset[str]:
    done = subprocess.run(["flite", "-lv"], capture_output=True, timeout=TIMEOUT_S, check=False)  # noqa: S607
    return frozenset(done.stdout.decode(errors="replace").partition(":")[2].split())


def _has_festival(voice: str) -> bool:
    return any(Path("/usr/share/festival/voices").glob(f"*/{voice}"))

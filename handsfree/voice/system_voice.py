"""The voice of the operating system through pyttsx3, rendered to a file in a process of its own.

pyttsx3 is never let play: on Linux it returns before the sound is heard and cannot be stopped, it prints to standard
output, and an engine in use again after a save overwrites the file. A short-lived process with its output held avoids
all of that, and a hung speech engine ends with it.
"""

import json
import subprocess
import sys
import wave
from importlib.metadata import PackageNotFoundError, version

from handsfree.errors import VoiceError
from handsfree.model.audio import Speech
from handsfree.scratch_folders import scratch_folder
from handsfree.voice.prompt_rate import PROMPT_WPM, paced
from handsfree.voice.rendering_environment import without_sound_server

TIMEOUT_S = 30
TRIES = 6
"""A guard: before the worker saw to it that the rate is in use, it was lost in up to 24 of 200 renderings."""
RATE_LOST = 75
"""Exit status of the worker when the engine spoke at another rate than it was told."""
INSTALL = "pip install pyttsx3, and on Linux: sudo apt-get install espeak-ng"


class SystemVoice:
    """See `Synthesizer`.

    Args:
        rate_wpm: Words a minute of a sentence without a number.

    Raises:
        VoiceError: pyttsx3 or the engine behind it is missing.
    """

    def __init__(self, rate_wpm: int = PROMPT_WPM) -> None:
        self._rate_wpm = rate_wpm
        try:
            self._name = f"pyttsx3 {version('pyttsx3')}"
        except PackageNotFoundError as error:
            raise VoiceError(f"the system voice is not installed ({INSTALL})") from error
        self.render("Ready.")

    @property
    def name(self) -> str:
        """See `Synthesizer.name`."""
        return self._name

    def render(self, text: str) -> Speech:
        """See `Synthesizer.render`."""
        parts = [_render_one(sentence, rate_wpm) for sentence, rate_wpm in paced(text, self._rate_wpm)]
        if not parts:
            return Speech(b"", 22_050)
        return Speech(b"".join(part.pcm for part in parts), parts[0].sample_rate_hz)


def _work(job: str) -> None:
    """Let the worker render, again where it says that the rate was lost."""
    for left in reversed(range(TRIES)):
        try:
            subprocess.run(
                [sys.executable, "-m", "handsfree.voice.system_worker"],
                input=job.encode(),
                capture_output=True,
                timeout=TIMEOUT_S,
                check=True,
                env=without_sound_server(),
            )
        except subprocess.CalledProcessError as error:
            if error.returncode != RATE_LOST or not left:
                raise
        else:
            return


def _render_one(text: str, rate_wpm: int) -> Speech:
    with scratch_folder() as folder:
        path = folder / "speech.wav"
        job = json.dumps({"text": text, "rate_wpm": rate_wpm, "path": str(path)})
        try:
            _work(job)
            with wave.open(str(path), "rb") as file:
                if file.getnchannels() != 1 or file.getsampwidth() != 2 or file.getnframes() == 0:
                    raise VoiceError("the system voice gave no 16-bit mono sound")
                return Speech(file.readframes(file.getnframes()), file.getframerate())
        except subprocess.TimeoutExpired as error:
            raise VoiceError(f"the system voice gave nothing within {TIMEOUT_S} s") from error
        except subprocess.CalledProcessError as error:
            reason = (error.stderr.decode(errors="replace").strip().splitlines() or ["no reason given"])[-1]
            raise VoiceError(f"the system voice failed: {reason} ({INSTALL})") from error
        except (OSError, wave.Error, EOFError) as error:
            raise VoiceError(f"the system voice wrote no sound file ({INSTALL})") from error

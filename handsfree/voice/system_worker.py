"""The process behind `SystemVoice`: one text, one file, then it ends."""

import ctypes
import json
import sys
import threading

import pyttsx3

from handsfree.clock import SystemClock

PATIENCE_S = 25.0
SETTLING_S = 5.0
_STEP_S = 0.02
RATE_LOST = 75
"""Exit status: try again."""


def _rate_in_use() -> int:
    """Words a minute at which espeak-ng speaks now.

    On Linux pyttsx3 leaves out the second argument of `espeak_GetParameter` (speak_lib.h of espeak-ng: 1 for the
    current value, 0 for the default), so that it tells one or the other by chance: the library is asked itself.
    """
    from pyttsx3.drivers import _espeak

    ask = _espeak.dll.espeak_GetParameter
    ask.argtypes = [ctypes.c_int, ctypes.c_int]
    ask.restype = ctypes.c_int
    return int(ask(_espeak.RATE, 1))


def _settle(rate_wpm: int) -> None:
    """Set the rate until espeak-ng has it.

    It takes parameters in a thread of its own. On a busy machine the 200 words a minute that pyttsx3 asks for as it
    begins were seen to be in use still when the text was spoken, and what was set meanwhile to be lost.
    """
    from pyttsx3.drivers import _espeak

    clock = SystemClock()
    until_s = clock.monotonic_s() + SETTLING_S
    while _rate_in_use() != rate_wpm and clock.monotonic_s() < until_s:
        _espeak.SetParameter(_espeak.RATE, rate_wpm, 0)
        clock.sleep_until(clock.monotonic_s() + _STEP_S)


def main() -> None:
    """Take {"text", "rate_wpm", "path"} on standard input and write a WAV file to the path."""
    job = json.load(sys.stdin)
    engine = pyttsx3.init()
    for voice in engine.getProperty("voices"):
        if voice.id.lower().endswith("en-us"):
            engine.setProperty("voice", voice.id)
            break
    engine.setProperty("rate", job["rate_wpm"])
    if sys.platform == "linux":
        _settle(job["rate_wpm"])
    finished = threading.Event()
    engine.connect("finished-utterance", lambda **_: finished.set())
    engine.save_to_file(job["text"], job["path"])
    engine.runAndWait()
    # On Linux runAndWait returns while espeak-ng still renders in a thread of its own; a long text would be lost.
    if sys.platform == "linux":
        finished.wait(PATIENCE_S)
    spoken = _rate_in_use() if sys.platform == "linux" else int(engine.getProperty("rate"))
    if spoken != job["rate_wpm"]:
        sys.stderr.write(f"it spoke {spoken} words a minute instead of {job['rate_wpm']}")
        sys.exit(RATE_LOST)


if __name__ == "__main__":
    main()

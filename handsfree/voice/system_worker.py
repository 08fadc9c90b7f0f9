"""The process behind `SystemVoice`: one text, one file, then it ends."""

import ctypes
import json
import sys
import threading

import pyttsx3

PATIENCE_S = 25.0
RATE_LOST = 75
"""Exit status: try again."""


def _rate(engine: pyttsx3.Engine) -> int:
    """Words a minute that the engine really spoke at.

    On Linux pyttsx3 leaves out the second argument of `espeak_GetParameter` (speak_lib.h of espeak-ng: 1 for the
    current value, 0 for the default), so that it tells one or the other by chance: the library is asked itself.
    """
    if sys.platform != "linux":
        return int(engine.getProperty("rate"))
    from pyttsx3.drivers import _espeak

    ask = _espeak.dll.espeak_GetParameter
    ask.argtypes = [ctypes.c_int, ctypes.c_int]
    ask.restype = ctypes.c_int
    return int(ask(_espeak.RATE, 1))


def main() -> None:
    """Take {"text", "rate_wpm", "path"} on standard input and write a WAV file to the path."""
    job = json.load(sys.stdin)
    engine = pyttsx3.init()
    for voice in engine.getProperty("voices"):
        if voice.id.lower().endswith("en-us"):
            engine.setProperty("voice", voice.id)
            break
    engine.setProperty("rate", job["rate_wpm"])
    finished = threading.Event()
    engine.connect("finished-utterance", lambda **_: finished.set())
    engine.save_to_file(job["text"], job["path"])
    engine.runAndWait()
    # On Linux runAndWait returns while espeak-ng still renders in a thread of its own; a long text would be lost.
    if sys.platform == "linux":
        finished.wait(PATIENCE_S)
    # On a busy machine the rate was seen to be lost, and the text spoken at the engine's own.
    spoken = _rate(engine)
    if spoken != job["rate_wpm"]:
        sys.stderr.write(f"it spoke {spoken} words a minute instead of {job['rate_wpm']}")
        sys.exit(RATE_LOST)


if __name__ == "__main__":
    main()

"""The process behind `SystemVoice`: one text, one file, then it ends."""

import json
import sys
import threading

import pyttsx3

PATIENCE_S = 25.0
RATE_LOST = 75
"""Exit status: try again."""


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
    if engine.getProperty("rate") != job["rate_wpm"]:
        sys.exit(RATE_LOST)


if __name__ == "__main__":
    main()

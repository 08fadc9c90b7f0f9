"""What the environment of a program that renders speech to a file is."""

import os

NO_SOUND_SERVER = {"PULSE_SERVER": "unix:/dev/null"}
"""A place where no server listens, for the client library of PulseAudio (its manual, "Clients")."""


def without_sound_server() -> dict[str, str]:
    """The environment of this process, but without a way to a sound server.

    espeak-ng, by itself and behind pyttsx3, connects to the sound server also where it only writes a file. That may
    start a server, look up the host of one, and leave a folder in the user's configuration, all for nothing.
    """
    return os.environ | NO_SOUND_SERVER

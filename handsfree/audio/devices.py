"""The one door to PortAudio: found late, so that files, pipes and typed lines work without it."""

from types import ModuleType
from typing import Literal

from handsfree.errors import AudioDeviceError

Kind = Literal["input", "output"]
INSTALL = "pip install sounddevice, and on Linux: sudo apt-get install libportaudio2 libasound2-plugins"


def portaudio() -> ModuleType:
    """The sounddevice module.

    Raises:
        AudioDeviceError: It or the PortAudio library is missing; says what to install.
    """
    try:
        import sounddevice
    except (ImportError, OSError) as error:
        raise AudioDeviceError(f"no sound devices can be used: {error} ({INSTALL})") from error
    module: ModuleType = sounddevice
    return module


def device_names(kind: Kind) -> tuple[str, ...]:
    """Names of the devices that can record ("input") or play ("output").

    The list is that of the moment when PortAudio was first used in this process.
    """
    channels = f"max_{kind}_channels"
    return tuple(str(device["name"]) for device in portaudio().query_devices() if device[channels] > 0)


def find_device(kind: Kind, name: str | None) -> int | None:
    """Index of a device by its name or a part of it that no other device has; None for the system's default.

    Raises:
        AudioDeviceError: No device or several have that name, or there is none at all.
    """
    sounddevice = portaudio()
    names = device_names(kind)
    what = "microphone" if kind == "input" else "loudspeaker"
    if not names:
        raise AudioDeviceError(f"this machine has no {what} (plug one in and start again)")
    if name is None:
        return None
    found = [
        index
        for index, device in enumerate(sounddevice.query_devices())
        if device[f"max_{kind}_channels"] > 0 and name.lower() in str(device["name"]).lower()
    ]
    exact = [index for index in found if str(sounddevice.query_devices(index)["name"]).lower() == name.lower()]
    chosen = exact or found
    if len(chosen) == 1:
        return chosen[0]
    fault = "no" if not chosen else "more than one"
    raise AudioDeviceError(f"{fault} {what} is named {name!r} (there are: {', '.join(names)})")

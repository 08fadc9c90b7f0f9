"""The one door to PortAudio: found late, so that files, pipes and typed lines work without it."""

from dataclasses import dataclass
from types import ModuleType
from typing import Any, Literal

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


@dataclass(frozen=True, slots=True)
class Device:
    """A sound device.

    Attributes:
        name: What to choose it by; a part that no other device has is enough.
        interface: The interface of the operating system that it was found through.
        inputs: Channels that it records.
        outputs: Channels that it plays.
        rate_hz: Its usual samples a second.
        default_input: Whether it is the system's microphone.
        default_output: Whether it is the system's loudspeaker.
    """

    name: str
    interface: str
    inputs: int
    outputs: int
    rate_hz: float
    default_input: bool
    default_output: bool


def list_devices() -> tuple[Device, ...]:
    """Every sound device, as the list stood when it was last read.

    Raises:
        AudioDeviceError: PortAudio is missing.
    """
    sounddevice = portaudio()
    interfaces = sounddevice.query_hostapis()
    defaults = sounddevice.default.device
    usual = tuple(
        _default(sounddevice, kind) if number < 0 else number
        for number, kind in zip(defaults, ("input", "output"), strict=True)
    )
    return tuple(
        Device(
            name=str(entry["name"]),
            interface=str(interfaces[entry["hostapi"]]["name"]),
            inputs=int(entry["max_input_channels"]),
            outputs=int(entry["max_output_channels"]),
            rate_hz=float(entry["default_samplerate"]),
            default_input=index == usual[0],
            default_output=index == usual[1],
        )
        for index, entry in enumerate(sounddevice.query_devices())
    )


def _default(sounddevice: ModuleType, kind: str) -> int:
    try:
        return int(sounddevice.query_devices(None, kind)["index"])
    except (sounddevice.PortAudioError, ValueError):
        return -1


def refresh_devices() -> None:
    """Read the list of devices again. Every stream must be closed before.

    PortAudio reads it once, when it starts; starting it again is the only way to see a device that came later.
    """
    sounddevice = portaudio()
    sounddevice._terminate()
    sounddevice._initialize()


def start_stream(stream: Any, label: str) -> None:  # noqa: ANN401
    """Start a stream of sounddevice.

    Raises:
        AudioDeviceError: The device refuses; the stream is closed.
    """
    try:
        stream.start()
    except portaudio().PortAudioError as error:
        stream.close()
        raise AudioDeviceError(f"{label} cannot be started: {error}") from error


def device_names(kind: Kind) -> tuple[str, ...]:
    """Names of the devices that can record ("input") or play ("output").

    The list is that of the moment when PortAudio was first used in this process.
    """
    channels = f"max_{kind}_channels"
    return tuple(str(device["name"]) for device in portaudio().query_devices() if device[channels] > 0)


def name_of(kind: Kind, name: str | None) -> str:
    """The whole name of the device that `find_device` finds; "" where it has none.

    Raises:
        AudioDeviceError: As `find_device`.
    """
    sounddevice = portaudio()
    try:
        return str(sounddevice.query_devices(find_device(kind, name), kind)["name"])
    except (sounddevice.PortAudioError, ValueError):
        return ""


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

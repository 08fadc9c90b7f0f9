"""Sound devices, and what a microphone takes of the room."""

from dataclasses import asdict

from handsfree.application.sound_levels import Levels
from handsfree.audio.devices import list_devices, portaudio
from handsfree.audio.microphone import Microphone
from handsfree.clock import Clock
from handsfree.model.effects import Json


def devices() -> dict[str, Json]:
    """The sound library and every device that it finds.

    Raises:
        AudioDeviceError: The library is missing.
    """
    library = portaudio().get_portaudio_version()[1]
    return {"library": str(library), "devices": [asdict(device) for device in list_devices()]}


def room(seconds: float, clock: Clock, microphone: str | None) -> dict[str, Json]:
    """Levels at a microphone; the sound itself is kept nowhere.

    Args:
        seconds: How long to listen.
        clock: Session time.
        microphone: Name or a part of it, or None for the system's default.

    Returns:
        Levels in dB below full scale; the floor is the median block, the active level that of what is within 30 dB of
        the loudest.

    Raises:
        AudioDeviceError: The microphone is missing or is lost.
    """
    levels = Levels()
    with Microphone(clock, microphone) as source:
        began_s: float | None = None
        ended_s = 0.0
        for block in levels.passing(iter(source)):
            began_s = block.start_s if began_s is None else began_s
            ended_s = block.end_s
            if ended_s - began_s >= seconds:
                break
        overflows = source.overflows
    floor_dbfs = levels.measured().floor_dbfs
    levels.spoken(began_s or 0.0, ended_s)
    active = levels.measured()
    return {
        "seconds": round(ended_s - (began_s or 0.0), 3),
        "floor_dbfs": floor_dbfs,
        "active_dbfs": active.speech_dbfs,
        "clipped_share": active.clipped_share,
        "overflows": overflows,
    }

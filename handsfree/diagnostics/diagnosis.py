"""The whole diagnosis: what was found, part by part, each with its fault where it cannot be found."""

from dataclasses import dataclass
from pathlib import Path

from handsfree.clock import Clock
from handsfree.diagnostics import disk, installation
from handsfree.diagnostics.faults import guarded
from handsfree.model.effects import Json
from handsfree.stamps import stamp

FORM = 1


@dataclass(frozen=True, kw_only=True)
class DiagnosisOptions:
    """What is asked for.

    Attributes:
        config_file: Configuration file, or None for the usual one.
        usual_config: The usual one of this user, which need not be there.
        listen_s: How long to listen to the room, or None for not at all.
        microphone: Name or a part of it, or None for the configured one.
    """

    config_file: Path | None
    usual_config: Path
    listen_s: float | None = None
    microphone: str | None = None


def diagnose(asked: DiagnosisOptions, clock: Clock) -> dict[str, Json]:
    """Look at everything. Nothing of a visit is read, nothing is sent, and no sound is kept.

    Args:
        asked: What is asked for.
        clock: Stamps the diagnosis and times the self-test.

    Returns:
        JSON-ready parts. A part that cannot be found has a "fault".
    """
    config, settings = installation.settings(asked.config_file, asked.usual_config)
    engine, voice = config.listening.engine, config.voice.name
    found: dict[str, Json] = {
        "form": FORM,
        "made": stamp(clock.wall()),
        "program": installation.program(),
        "python": installation.python(),
        "system": guarded(installation.system),
        "libraries": guarded(installation.libraries),
        "settings": settings,
        "weights": guarded(installation.weights),
        "disk": guarded(lambda: disk.syncing(config.records.place, clock)),
        "sound": guarded(_devices),
        "recognition": guarded(
            lambda: _recognition(
                engine.value if engine is not None else None, voice.value if voice is not None else None, clock
            )
        ),
    }
    listen_s = asked.listen_s
    if listen_s is not None:
        microphone = asked.microphone or config.devices.microphone
        found["room"] = guarded(lambda: _room(listen_s, clock, microphone))
    return found


# What needs the speech packages is imported when it is looked at: that they are missing is a finding like any other.
def _devices() -> dict[str, Json]:
    from handsfree.diagnostics.sound import devices

    return devices()


def _recognition(engine: str | None, voice: str | None, clock: Clock) -> dict[str, Json]:
    from handsfree.diagnostics.self_test import recognition

    return recognition(engine, voice, clock)


def _room(seconds: float, clock: Clock, microphone: str | None) -> dict[str, Json]:
    from handsfree.diagnostics.sound import room

    return room(seconds, clock, microphone)

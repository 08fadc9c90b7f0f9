"""Facts about sound devices."""

from dataclasses import dataclass
from typing import Literal

from handsfree.model.fact_base import Fact

SoundDevice = Literal["microphone", "loudspeaker"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceLost(Fact):
    """A sound device went away."""

    what: SoundDevice
    kind: Literal["device_lost"] = "device_lost"


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceReturned(Fact):
    """A sound device is back."""

    what: SoundDevice
    kind: Literal["device_returned"] = "device_returned"


@dataclass(frozen=True, slots=True, kw_only=True)
class PromptCutShort(Fact):
    """Somebody cut a prompt short.

    Attributes:
        by: How.
        at_s: Session time, seconds.
    """

    by: Literal["voice", "key"]
    at_s: float
    kind: Literal["prompt_cut_short"] = "prompt_cut_short"


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundOverflowed(Fact):
    """Sound was lost because the machine was too slow to take it.

    Attributes:
        count: How often.
        at_s: Session time, seconds.
    """

    count: int
    at_s: float
    kind: Literal["sound_overflowed"] = "sound_overflowed"


@dataclass(frozen=True, slots=True, kw_only=True)
class DiskFoundSlow(Fact):
    """The record had to wait for its disk, and answers came late. Kept once from one start of the program to its end.

    Attributes:
        waited_s: How long something had waited to be written by then, seconds.
        at_s: Session time, seconds.
    """

    waited_s: float
    at_s: float
    kind: Literal["disk_found_slow"] = "disk_found_slow"

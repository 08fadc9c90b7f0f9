"""What keeps a visit from being closed as completed."""

from dataclasses import dataclass
from typing import Literal

from handsfree.model.reasons import Grounds, Reason


@dataclass(frozen=True, slots=True)
class OpenHold(Reason):
    """A hold that nobody lifted."""

    grounds: Grounds
    type: Literal["open_hold"] = "open_hold"


@dataclass(frozen=True, slots=True)
class OpenReading(Reason):
    """A reading of a hard step without a value that nobody answered for."""

    stage: str
    field: str
    type: Literal["open_reading"] = "open_reading"


@dataclass(frozen=True, slots=True)
class OpenStep(Reason):
    """A step that was not done."""

    stage: str
    type: Literal["open_step"] = "open_step"


@dataclass(frozen=True, slots=True)
class OpenZone(Reason):
    """A zone that is short of light."""

    zone: str
    label: str
    type: Literal["open_zone"] = "open_zone"


@dataclass(frozen=True, slots=True)
class OpenLateQuestion(Reason):
    """The late question about heat was not answered."""

    type: Literal["open_late_question"] = "open_late_question"


@dataclass(frozen=True, slots=True)
class OpenLightOff(Reason):
    """Light that a cry, a stop word or a break ended, of which nobody has said that it is off."""

    type: Literal["open_light_off_unconfirmed"] = "open_light_off_unconfirmed"


@dataclass(frozen=True, slots=True)
class OpenTimer(Reason):
    """A timer that had not run out. It keeps nobody in the visit; it is told at its end.

    Attributes:
        label: What it is called.
    """

    label: str
    type: Literal["open_timer"] = "open_timer"


OpenItem = OpenLightOff | OpenHold | OpenReading | OpenStep | OpenZone | OpenLateQuestion | OpenTimer
"""What keeps a visit from being closed as completed."""

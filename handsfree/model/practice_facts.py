"""Facts of practice: what was to happen and what did."""

from dataclasses import dataclass
from typing import Any, Literal

from handsfree.model.fact_base import Fact


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticePlanned(Fact):
    """What was to happen in a practice session.

    Attributes:
        plan: The plan, in the form of `handsfree.practice.practice_plan`.
    """

    plan: dict[str, Any]
    kind: Literal["practice_planned"] = "practice_planned"


@dataclass(frozen=True, slots=True, kw_only=True)
class ScenarioEventHappened(Fact):
    """An event of the scenario took place.

    Attributes:
        event: Its identifier.
        happening: Its kind.
        who: Who spoke, or None.
        say: The words, or None.
        at_s: Session time when it began.
        to_s: Session time when its words ended.
        cued: Whether a trainer set it off.
        again: How often it had been said before.
    """

    event: str
    happening: str
    who: str | None
    say: str | None
    at_s: float
    to_s: float
    cued: bool
    again: int
    kind: Literal["scenario_event_happened"] = "scenario_event_happened"


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeAttempted(Fact):
    """A command that is watched for in practice was said where it is not legal.

    Attributes:
        control: Which.
        at_s: Session time when it was said.
        stage: Where.
    """

    control: str
    at_s: float
    stage: str
    kind: Literal["practice_attempted"] = "practice_attempted"

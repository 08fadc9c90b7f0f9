"""Readings as facts: everything that the record keeps of a value."""

from typing import TypedDict

from handsfree.definition.form import StepField
from handsfree.definition.plan import Stage
from handsfree.model.facts import KeptValue, Phase, Utterance
from handsfree.model.readings import (
    Absent,
    Between,
    Beyond,
    Exact,
    Option,
    Side,
    SpelledText,
    SpokenDate,
    SpokenValue,
    Timing,
)
from handsfree.model.reasons import Grounds, Severity
from handsfree.session.state import TakenValue
from handsfree.session.visit import name_of, side_of


class Stated(TypedDict):
    """The members of a `StatedReading`."""

    stage: str
    step: str
    phase: Phase
    field: str
    label: str
    side: Side | None
    timing: Timing | None
    value: KeptValue
    unit: str | None
    severity: Severity
    grounds: Grounds | None
    asked: bool
    heard: Utterance


def stated(stage: Stage, field: StepField, taken: TakenValue, injured: Side | None) -> Stated:
    """A value with everything that is known of it."""
    return Stated(
        stage=name_of(stage, injured),
        step=stage.step.id,
        phase=stage.step.phase,
        field=field.id,
        label=field.label,
        side=side_of(stage, injured),
        timing=stage.step.timing,
        value=kept(taken.value),
        unit=field.number.unit if field.number is not None else None,
        severity=taken.severity,
        grounds=taken.grounds,
        asked=taken.asked,
        heard=taken.heard,
    )


def kept(value: SpokenValue) -> KeptValue:
    """A value that may stand in the record.

    Raises:
        TypeError: It is none: it should have been refused before.
    """
    if isinstance(value, Exact | Between | Beyond | Absent | Option | SpelledText | SpokenDate):
        return value
    raise TypeError(f"{type(value).__name__} is no value to be kept")

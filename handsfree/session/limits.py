"""Classes of values: what is flagged, what sets the red latch, what stops. Pure; limits come from files only."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import IntEnum
from types import MappingProxyType

from handsfree.definition.form import StepField
from handsfree.definition.profile_form import Band
from handsfree.definition.verbalization import number
from handsfree.model.readings import Absent, Between, Beyond, Exact, Option, SpelledText, SpokenDate, SpokenValue, plain


class Severity(IntEnum):
    """How a value is classed; the higher, the graver. NONE says only that nothing in the file flags it."""

    NONE = 0
    AMBER = 1
    STOP = 2
    RED = 3


NOTHING_RECALLED: Mapping[str, str] = MappingProxyType({})
BY_NAME = {"amber": Severity.AMBER, "stop": Severity.STOP, "red": Severity.RED}


@dataclass(frozen=True, slots=True)
class Judgement:
    """The gravest class of a value, and why.

    Attributes:
        grade: The class.
        reason: Words fit to be spoken; empty for NONE.
    """

    grade: Severity = Severity.NONE
    reason: str = ""


def judge(
    field: StepField,
    value: SpokenValue,
    *,
    baseline: SpokenValue | None = None,
    sides: tuple[SpokenValue, SpokenValue] | None = None,
    band: Band | None = None,
    today: str = "",
    recalled: Mapping[str, str] = NOTHING_RECALLED,
) -> Judgement:
    """Class one value.

    Args:
        field: What was asked.
        value: What was said.
        baseline: Value of the same field and side before, where the file compares them; None if there is none.
        sides: Values of the injured and of the other side, where the file compares them and both are known.
        band: Band of the device profile, where the file names one.
        today: Local date, ISO 8601, for dates that must not lie before it.
        recalled: Codes of a local recall list, as in `SpelledText.bare`, and why each is on it.
    """
    own = _by_itself(field, value, band, today)
    found = [*own, *_against(field, value, baseline), *_between(field, sides)]
    if isinstance(value, SpelledText) and value.bare in recalled:
        why = recalled[value.bare]
        found.append(Judgement(Severity.STOP, f"{field.label} is on the recall list{': ' + why if why else ''}"))
    gravest = max(found, key=lambda judgement: judgement.grade, default=Judgement())
    alike = field.sides.alike if field.sides is not None else None
    known = sides is not None and not any(isinstance(side, Absent) for side in sides)
    if alike is not None and sides is not None and known and own and _by_itself(field, sides[0], band, today):
        return Judgement(gravest.grade, f"{gravest.reason}, as on the other side: {alike}")
    return gravest


def _by_itself(field: StepField, value: SpokenValue, band: Band | None, today: str) -> list[Judgement]:
    match value:
        case Absent():
            return [Judgement(Severity.AMBER, f"{field.label} has no value")]
        case Option(value=chosen):
            for name, group in (("red", field.red), ("stop", field.stop), ("amber", field.amber)):
                if chosen in group:
                    return [Judgement(BY_NAME[name], f"{field.label} {(field.options or {})[chosen][0]}")]
            return []
        case SpokenDate(value=day):
            limited = field.date is not None and field.date.not_before == "today" and today
            if limited and day < date.fromisoformat(today):
                return [Judgement(Severity.STOP, f"{field.label} lies before today")]
            return []
        case _:
            return [*_over_limit(field, value), *_outside(field, value, band)]


def _ends(value: SpokenValue) -> tuple[Decimal, Decimal] | None:
    """Smallest and largest number that the words allow; the limit itself for "less than"."""
    match value:
        case Exact(value=amount):
            return amount, amount
        case Between(low=low, high=high):
            return low, high
        case Beyond(limit=limit):
            return limit, limit
        case _:
            return None


def _over_limit(field: StepField, value: SpokenValue) -> list[Judgement]:
    limits, ends = field.number, _ends(value)
    if limits is None or ends is None:
        return []
    low, high = ends
    beyond = value.comparator if isinstance(value, Beyond) else ""
    grade = BY_NAME[limits.flag_class]
    found = []
    if limits.flag_above is not None and (high > limits.flag_above or beyond == ">"):
        found.append(Judgement(grade, f"{field.label} is over {number(limits.flag_above)}"))
    if limits.flag_below is not None and (low < limits.flag_below or beyond == "<"):
        found.append(Judgement(grade, f"{field.label} is under {number(limits.flag_below)}"))
    return found


def _outside(field: StepField, value: SpokenValue, band: Band | None) -> list[Judgement]:
    ends = _ends(value)
    if band is None or ends is None:
        return []
    low, high = ends
    if low < band.low or high > band.high:
        return [Judgement(Severity.STOP, f"{field.label} is outside {number(band.low)} to {number(band.high)}")]
    if low < band.confirm_from or high > band.confirm_to:
        planned = f"{number(band.confirm_from)} to {number(band.confirm_to)}"
        return [Judgement(Severity.AMBER, f"{field.label} is not within {planned}")]
    return []


def _against(field: StepField, value: SpokenValue, baseline: SpokenValue | None) -> list[Judgement]:
    rule = field.compare
    if rule is None or baseline is None:
        return []
    found = []
    if rule.worse is not None and isinstance(value, Option) and isinstance(baseline, Option):
        scale = field.scale
        both = value.value in scale and baseline.value in scale
        if both and scale.index(value.value) > scale.index(baseline.value):
            found.append(Judgement(BY_NAME[rule.worse], f"{field.label} is worse than before"))
    now, before = _ends(value), _ends(baseline)
    if rule.rise is not None and rule.class_ is not None and now is not None and before is not None:
        rise = now[1] - before[0]
        if rise >= rule.rise:
            found.append(Judgement(BY_NAME[rule.class_], f"{field.label} rose by {number(Decimal(plain(rise)))}"))
    return found


def _between(field: StepField, sides: tuple[SpokenValue, SpokenValue] | None) -> list[Judgement]:
    rule = field.sides
    if rule is None or sides is None:
        return []
    found, (injured, other), scale = [], sides, field.scale
    if rule.worse is not None and isinstance(injured, Option) and isinstance(other, Option):
        both = injured.value in scale and other.value in scale
        if both and scale.index(injured.value) > scale.index(other.value):
            found.append(Judgement(BY_NAME[rule.worse], f"{field.label} is worse than on the other side"))
    one, two = _ends(injured), _ends(other)
    if rule.differ is not None and rule.class_ is not None and one is not None and two is not None:
        # The farthest that two ranges can lie apart.
        apart = max(abs(one[1] - two[0]), abs(two[1] - one[0]))
        if apart >= rule.differ:
            reason = f"{field.label} differs by {number(Decimal(plain(apart)))} between the sides"
            found.append(Judgement(BY_NAME[rule.class_], reason))
    return found

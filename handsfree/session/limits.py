"""Limits: a value and what it is held against in, its severity and why out. Pure; limits come from files only."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal

from handsfree.definition.form import StepField
from handsfree.definition.profile_form import Band
from handsfree.model.readings import Absent, Between, Beyond, Exact, Option, SpelledText, SpokenDate, SpokenValue
from handsfree.model.reasons import (
    BeforeToday,
    FlaggedAnswer,
    Ground,
    Grounds,
    NoValue,
    OffPlan,
    OutsideBand,
    OverLimit,
    Recalled,
    RoseBy,
    SaidAndRefused,
    Severity,
    SidesDiffer,
    UnderLimit,
    WorseThanBefore,
    WorseThanOtherSide,
)
from handsfree.session.visit import NOTHING_RECALLED


@dataclass(frozen=True, slots=True)
class Classification:
    """The gravest class of a value, and why.

    Attributes:
        severity: The class.
        grounds: Why; None where nothing flags it.
    """

    severity: Severity = Severity.NONE
    grounds: Grounds | None = None


@dataclass(frozen=True, slots=True)
class HeldAgainst:
    """What a value is held against.

    Attributes:
        baseline: Value of the same field and side before, where the file compares them.
        sides: Values of the injured and of the other side, where the file compares them and both are known.
        band: Band of the device profile, where the file names one.
        today: Local date, ISO 8601, for dates that must not lie before it; "" where unknown.
        recalled: Codes of a local recall list, as in `SpelledText.bare`, and why each is on it.
        repeated: Whether the value was taken once more because the first one was flagged.
        which: Of a step that is repeated, which one it is of, as it is called aloud; "" of others.
    """

    baseline: SpokenValue | None = None
    sides: tuple[SpokenValue, SpokenValue] | None = None
    band: Band | None = None
    today: str = ""
    recalled: Mapping[str, str] = field(default_factory=lambda: NOTHING_RECALLED)
    repeated: bool = False
    which: str = ""


NOTHING = HeldAgainst()
_Found = tuple[Severity, Ground]


def judge(field: StepField, value: SpokenValue, against: HeldAgainst = NOTHING) -> Classification:
    """Class one value: the gravest of everything that flags it."""
    own = _by_itself(field, value, against.band, against.today)
    found = [*own, *_against_baseline(field, value, against.baseline), *_between_sides(field, against.sides)]
    if isinstance(value, SpelledText) and field.names_product and value.bare in against.recalled:
        found.append((Severity.STOP, Recalled(field.label, against.recalled[value.bare])))
    if not found:
        return Classification()
    severity, ground = max(found, key=lambda one: one[0].rank)
    grounds = Grounds(ground, alike=_alike(field, own, against), which=against.which)
    if field.again is not None and against.repeated and severity is Severity.AMBER and not isinstance(value, Absent):
        return Classification(Severity(field.again.class_), replace(grounds, repeated=True))
    return Classification(severity, grounds)


def _alike(field: StepField, own: Sequence[_Found], against: HeldAgainst) -> str:
    """What to look at because both sides are flagged by their own limits; "" where they are not."""
    alike = field.sides.alike if field.sides is not None else None
    if alike is None or against.sides is None or not own:
        return ""
    known = not any(isinstance(side, Absent) for side in against.sides)
    return alike if known and _by_itself(field, against.sides[0], against.band, against.today) else ""


def _by_itself(field: StepField, value: SpokenValue, band: Band | None, today: str) -> list[_Found]:
    match value:
        case Absent(said=Decimal() as refused):
            return [(_gravity_of_refused(field, refused), SaidAndRefused(field.label, refused))]
        case Absent():
            return [(Severity.AMBER, NoValue(field.label))]
        case Option(value=chosen):
            for severity, group in (
                (Severity.RED, field.red),
                (Severity.STOP, field.stop),
                (Severity.AMBER, field.amber),
            ):
                if chosen in group:
                    return [(severity, _flagged(field, chosen))]
            return []
        case SpokenDate(value=day):
            limited = field.date is not None and field.date.not_before == "today" and today
            if limited and day < date.fromisoformat(today):
                return [(Severity.STOP, BeforeToday(field.label))]
            return []
        case _:
            return [*_over_limit(field, value), *_outside(field, value, band)]


def _gravity_of_refused(field: StepField, refused: Decimal) -> Severity:
    """How a gap counts that a number left which cannot be: it stops where the number itself would have held the visit.

    It is no value, so that a red limit does not make it red: another answer lifts it.
    """
    limits = field.number
    held = limits is not None and any(
        limit.class_ != "amber" and limit.is_passed(refused, refused) for limit in limits.limits
    )
    return Severity.STOP if held or (limits is not None and limits.band is not None) else Severity.AMBER


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


def _over_limit(field: StepField, value: SpokenValue) -> list[_Found]:
    limits, ends = field.number, _ends(value)
    if limits is None or ends is None:
        return []
    low, high = ends
    beyond = value.comparator if isinstance(value, Beyond) else ""
    return [
        (Severity(limit.class_), (OverLimit if limit.above else UnderLimit)(field.label, limit.bound))
        for limit in limits.limits
        if limit.is_passed(low, high) or beyond == (">" if limit.above else "<")
    ]


def _outside(field: StepField, value: SpokenValue, band: Band | None) -> list[_Found]:
    ends = _ends(value)
    if band is None or ends is None:
        return []
    low, high = ends
    if low < band.low or high > band.high:
        return [(Severity.STOP, OutsideBand(field.label, band.low, band.high))]
    if low < band.confirm_from or high > band.confirm_to:
        return [(Severity.AMBER, OffPlan(field.label, band.confirm_from, band.confirm_to))]
    return []


def _against_baseline(field: StepField, value: SpokenValue, baseline: SpokenValue | None) -> list[_Found]:
    rule = field.compare
    if rule is None or baseline is None:
        return []
    found: list[_Found] = []
    if rule.worse is not None and _is_worse(field, value, baseline):
        found.append((Severity(rule.worse), WorseThanBefore(field.label)))
    now, before = _ends(value), _ends(baseline)
    if rule.rise is not None and rule.class_ is not None and now is not None and before is not None:
        rise = now[1] - before[0]
        if rise >= rule.rise:
            found.append((Severity(rule.class_), RoseBy(field.label, rise)))
    return found


def _between_sides(field: StepField, sides: tuple[SpokenValue, SpokenValue] | None) -> list[_Found]:
    rule = field.sides
    if rule is None or sides is None:
        return []
    found: list[_Found] = []
    injured, other = sides
    if rule.worse is not None and _is_worse(field, injured, other):
        found.append((Severity(rule.worse), WorseThanOtherSide(field.label)))
    one, two = _ends(injured), _ends(other)
    if rule.differ is not None and rule.class_ is not None and one is not None and two is not None:
        # The farthest that two ranges can lie apart.
        apart = max(abs(one[1] - two[0]), abs(two[1] - one[0]))
        if apart >= rule.differ:
            found.append((Severity(rule.class_), SidesDiffer(field.label, apart)))
    return found


def _is_worse(field: StepField, value: SpokenValue, than: SpokenValue) -> bool:
    """Whether an answer stands further down the scale than another."""
    if not isinstance(value, Option) or not isinstance(than, Option):
        return False
    scale = field.scale
    return value.value in scale and than.value in scale and scale.index(value.value) > scale.index(than.value)


def _flagged(field: StepField, chosen: str) -> FlaggedAnswer:
    """An answer that the file flags, in the file's own words for it."""
    return FlaggedAnswer(field.label, chosen, (field.options or {})[chosen][0], field.told.get(chosen, ""))


def apart(values: Sequence[SpokenValue]) -> Decimal | None:
    """How far two measurements of one thing lie apart; None where they are not two numbers."""
    amounts = [value.value for value in values if isinstance(value, Exact)]
    return abs(amounts[0] - amounts[1]) if len(amounts) == 2 else None

"""How a whole question may be answered, every field of it: for help, and for who was not understood twice."""

from handsfree.definition.field_form import StepField
from handsfree.session.listening_context import hint
from handsfree.session.modes import Mode
from handsfree.session.narrated_listening import earlier
from handsfree.session.prompts.hints import (
    AnyHint,
    Hint,
    OrCorrection,
    PartAll,
    PartBoth,
    PartCode,
    PartDay,
    PartDigits,
    PartMonth,
    PartOneOf,
    SayEach,
)
from handsfree.session.state import SessionState
from handsfree.session.visit import Visit
from handsfree.understanding.phrase_book import SIDES

_Part = PartOneOf | PartDigits | PartCode | PartDay | PartMonth | PartAll | PartBoth


def example(visit: Visit, state: SessionState) -> AnyHint:
    """The words of the question that is open, every field of it, and that what was recorded before may be corrected."""
    asked = _question(visit, state)
    return OrCorrection(asked) if asked is not Hint.NOTHING and earlier(visit, state) is not None else asked


def _question(visit: Visit, state: SessionState) -> AnyHint:
    """The words of the question that is open, every field of it; the hint where it has one field, or none."""
    step = visit.plan.stage(state.place).step
    missing = [field for field in step.fields if field.id not in state.pending]
    if state.modes.top is not Mode.ASKING or state.reviewing or state.unsided or len(missing) < 2:
        return hint(visit, state)
    parts: list[_Part] = []
    for field in missing:
        part = _part(field)
        before = parts[-1] if parts else None
        if isinstance(part, PartOneOf) and isinstance(before, PartOneOf) and before.answers == part.answers:
            parts[-1] = PartOneOf((*before.labels, *part.labels), part.answers)
        elif isinstance(part, PartDigits) and isinstance(before, PartDigits):
            parts[-1] = PartDigits((*before.labels, *part.labels))
        else:
            parts.append(part)
    first = parts[0]
    # One answer for all is never shown for sides: whoever does not know would take the one that is named.
    alike = len(parts) == 1 and len(missing) == len(step.fields)
    if alike and isinstance(first, PartOneOf) and not SIDES.issuperset(first.answers):
        answer = first.answers[0]
        parts.append(PartBoth(answer) if len(missing) == 2 else PartAll(len(missing), answer))
    return SayEach(tuple(parts))


def _part(field: StepField) -> _Part:
    if field.number is not None:
        return PartDigits((field.label,))
    if field.identifier is not None:
        return PartCode((field.label,))
    if field.date is not None:
        return (PartMonth if field.date.month_only else PartDay)((field.label,))
    return PartOneOf((field.label,), tuple(phrases[0] for phrases in (field.options or {}).values()))

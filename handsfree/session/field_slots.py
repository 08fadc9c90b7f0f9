"""A field of a step as a slot: what is listened for to answer it. Pure."""

from datetime import date

from handsfree.definition.form import StepField
from handsfree.definition.plan import Stage
from handsfree.definition.value_checking import days_of
from handsfree.definition.verbalization import cardinal
from handsfree.model.commands import DateSlot, IdentifierSlot, NumberSlot, OptionPhrases, OptionSlot, Slot
from handsfree.session.state import SessionState
from handsfree.session.visit import side_of


def mate_slot_name(mate: Stage, field: StepField) -> str:
    """What a value of another stage is called while one asks: "step.field", of a repeated step "step@3.field"."""
    return f"{mate.id if mate.number else mate.step.id}.{field.id}"


def number_words(stage: Stage) -> str:
    """What one of a repeated step is called aloud: "wheel bolt seven"; "" for others."""
    return f"{stage.step.repeat.name} {cardinal(stage.number)}" if stage.step.repeat is not None else ""


def slot_of(stage: Stage, field: StepField, state: SessionState) -> Slot:
    """What answers a field of a stage, by its own name."""
    labels = (field.label, *field.also)
    if stage.number and len(stage.step.fields) == 1:
        here = state.place == stage.id
        labels = (*(labels if here else ()), number_words(stage))
    side = side_of(stage, state.side)
    sides = (side,) if side is not None else ()
    absent = stage.step.timing is not None
    if field.number is not None:
        return NumberSlot(
            field.id,
            labels,
            field.number.unit,
            field.number.low,
            field.number.high,
            field.number.decimals,
            sides,
            digit_by_digit=field.id in state.digit_by_digit,
            allow_absent=absent,
            allow_fractions=field.number.fractions,
            spoken_unit=field.number.spoken or "",
        )
    if field.identifier is not None:
        return IdentifierSlot(field.id, labels, field.identifier.max_length)
    if field.date is not None:
        today = date.fromisoformat(state.today) if state.today else None
        return DateSlot(field.id, labels, field.date.month_only, today, days_of(field.date, today)[1])
    options = tuple(OptionPhrases(value, phrases) for value, phrases in (field.options or {}).items())
    return OptionSlot(field.id, labels, options, sides, absent)

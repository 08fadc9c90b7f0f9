"""What a session is ready to hear, by mode and stage. Nothing else is listened for."""

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal

from handsfree.definition.form import Phrases, StepField
from handsfree.definition.plan import Mode, mates_of
from handsfree.model.commands import (
    Control,
    DateSlot,
    IdentifierSlot,
    NumberSlot,
    OptionPhrases,
    OptionSlot,
    Slot,
    Wanted,
)
from handsfree.session.event_context import Turn
from handsfree.session.light import NO_LIGHT_YET, WARMTH_SLOT, WHILE_LIT, ZONE_SLOT
from handsfree.session.stops import REASON_SLOT, ROLE_SLOT, SCORE_SLOT
from handsfree.session.zones import zones_of_stage

_ALWAYS = frozenset({Control.SAY_AGAIN, Control.STATUS, Control.HELP})
_IDLE = _ALWAYS | {Control.WAIT, Control.TAKE_NOTE}
_ANSWER = frozenset({Control.AFFIRM, Control.NEGATE})


def wanted(turn: Turn) -> Wanted:
    """What may be said now."""
    ready = _by_mode(turn)
    if turn.mode in NO_LIGHT_YET and turn.stage.step.kind == "expose":
        return replace(ready, controls=ready.controls | {Control.LIGHT_ON})
    return ready


def _by_mode(turn: Turn) -> Wanted:
    match turn.mode:
        case Mode.ASKING:
            return _asking(turn)
        case Mode.READING_BACK:
            controls = _IDLE | _ANSWER | {Control.CORRECTION}
            return Wanted(controls, hint="say affirmative, or negative")
        case Mode.DOUBTING:
            return Wanted(_ANSWER | _ALWAYS, hint="say affirmative, or negative")
        case Mode.RECONFIRM:
            return Wanted(_IDLE | {Control.AFFIRM}, hint="say affirmative when the position was checked")
        case Mode.LIT:
            return Wanted(WHILE_LIT | {Control.NEXT_STEP, Control.WAIT}, (_warmth(),), hint="say light off")
        case Mode.WARMTH | Mode.LATE_HEAT:
            return _asking_warmth(turn)
        case Mode.PAUSED:
            controls = _ALWAYS | {Control.RESUME, Control.OVERRIDE, Control.TAKE_NOTE}
            return Wanted(controls, hint="say resume, or override to end")
        case Mode.NOTING:
            return Wanted(frozenset({Control.END_NOTE}), dictation=True, hint="say end note when done")
        case Mode.LATCHED:
            return Wanted(_latched_controls(turn), hint="say override")
        case Mode.OVERRIDE_ROLE:
            return _choosing(ROLE_SLOT, "role", turn.procedure.roles)
        case Mode.OVERRIDE_REASON:
            return _choosing(REASON_SLOT, "reason", turn.procedure.override_reasons)
        case Mode.SKIP_REASON:
            return _choosing(REASON_SLOT, "reason", turn.procedure.skip_reasons)
        case Mode.OVERRIDE_CONFIRM:
            return Wanted(_ANSWER | _ALWAYS, hint="say affirmative, or negative")
        case Mode.OPEN_ITEMS:
            controls = _IDLE | {Control.OVERRIDE, Control.PREVIOUS_STEP, Control.NEXT_STEP}
            return Wanted(controls, hint="say override, or previous step")
        case Mode.CLOSED:
            return Wanted()


def _latched_controls(turn: Turn) -> frozenset[Control]:
    controls = _IDLE | {Control.OVERRIDE, Control.CORRECTION}
    return controls if turn.red else controls | {Control.PREVIOUS_STEP}


def _asking(turn: Turn) -> Wanted:
    stage = turn.stage
    controls = set(_IDLE | {Control.PREVIOUS_STEP, Control.NEXT_STEP, Control.CORRECTION})
    if turn.state.latches:
        controls.add(Control.OVERRIDE)
    if turn.state.reviewing and stage.step.kind != "expose":
        return Wanted(frozenset(controls), hint="say next step, or correction")
    slots: tuple[Slot, ...] = ()
    hint = "say next step"
    match stage.step.kind:
        case "confirm" | "teach":
            controls |= _ANSWER
            hint = "say affirmative, or negative"
        case "tell":
            controls |= {Control.AFFIRM}
        case "expose":
            controls |= {Control.LIGHT_ON, Control.STRAP_OFF, Control.STRAP_ON}
            slots = _zone_slots(turn)
            hint = "say light on"
        case _:
            missing = [field for field in stage.step.fields if field.id not in turn.state.pending]
            slots = (*(_slot(turn, field) for field in missing), *_slots_of_mates(turn))
            hint = _hint(missing)
    if not stage.step.hard and stage.step.kind != "expose":
        controls.add(Control.SKIP)
    return Wanted(frozenset(controls), slots, hint=hint)


def _slots_of_mates(turn: Turn) -> tuple[Slot, ...]:
    """What other steps of the same group still want, each as "step.field"."""
    return tuple(
        replace(_slot(turn, field), slot=f"{mate.step.id}.{field.id}")
        for mate in mates_of(turn.plan, turn.stage)
        if mate.id not in turn.state.done
        for field in mate.step.fields
        if field.id not in turn.state.scanned.get(mate.id, {})
    )


def _zone_slots(turn: Turn) -> tuple[Slot, ...]:
    """Naming a zone chooses it: for extra light where a zone is still soft."""
    ids = zones_of_stage(turn, turn.stage)
    if turn.ledger is None or len(ids) < 2:
        return ()
    names = {zone.id: (zone.label,) for zone in turn.ledger.zones if zone.id in ids}
    return (_choice(ZONE_SLOT, "zone", names),)


def _warmth() -> OptionSlot:
    """The answers that let the work go on; "hot" and "painful" are stop words."""
    return _choice(WARMTH_SLOT, "", {"cool": ("cool",), "warm": ("warm",)})


def _asking_warmth(turn: Turn) -> Wanted:
    if not turn.guidance.patient_reports_heat:
        return Wanted(_IDLE, (_warmth(),), hint="say cool, warm or hot")
    return Wanted(_IDLE, (_warmth(), _pain_score()), hint="say cool, warm, hot or painful")


def _pain_score() -> NumberSlot:
    """The numeric rating scale of pain by heat; its label must be said, because "pain" alone is a stop word."""
    return NumberSlot(SCORE_SLOT, ("score",), "{score}", Decimal(0), Decimal(10), allow_absent=False)


def _choice(slot: str, label: str, options: Mapping[str, Phrases]) -> OptionSlot:
    phrases = tuple(OptionPhrases(value, words) for value, words in options.items())
    return OptionSlot(slot, (label,) if label else (), phrases, allow_absent=False)


def _choosing(slot: str, label: str, options: Mapping[str, Phrases]) -> Wanted:
    words = ", ".join(phrases[0] for phrases in options.values())
    return Wanted(
        _ALWAYS | {Control.NEGATE, Control.CORRECTION}, (_choice(slot, label, options),), hint=f"say one of: {words}"
    )


def _slot(turn: Turn, field: StepField) -> Slot:
    labels = (field.label,)
    side = turn.side_of(turn.stage)
    sides = (side,) if side is not None else ()
    absent = turn.stage.step.timing is not None
    if field.number is not None:
        return NumberSlot(
            field.id,
            labels,
            field.number.unit,
            field.number.low,
            field.number.high,
            field.number.decimals,
            sides,
            digit_by_digit=field.id in turn.state.digit_by_digit,
            allow_absent=absent,
            allow_fractions=field.number.fractions,
        )
    if field.identifier is not None:
        return IdentifierSlot(field.id, labels, field.identifier.max_length)
    if field.date is not None:
        return DateSlot(field.id, labels, field.date.month_only)
    options = tuple(OptionPhrases(value, phrases) for value, phrases in (field.options or {}).items())
    return OptionSlot(field.id, labels, options, sides, absent)


def _hint(fields: list[StepField]) -> str:
    """What to say, in one line."""
    if not fields:
        return ""
    field = fields[0]
    label = f"{field.label}, then " if len(fields) > 1 else ""
    others = f"; then {', '.join(other.label for other in fields[1:])}" if len(fields) > 1 else ""
    return _how(field, label) + others


def _how(field: StepField, label: str) -> str:
    if field.number is not None:
        return f"say {label}the digits one by one"
    if field.identifier is not None:
        return f"say {label}the code in alphabet words and digits"
    if field.date is not None:
        return f"say {label}{'month and year' if field.date.month_only else 'day, month, year'}"
    return f"say {label}{' or '.join(phrases[0] for phrases in (field.options or {}).values())}"

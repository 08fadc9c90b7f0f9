"""What a session is ready to hear, by mode and stage. Nothing else is listened for."""

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal

from handsfree.definition.form import Phrases, StepField
from handsfree.definition.plan import Stage
from handsfree.model.baseline import BaselineAnswer
from handsfree.model.commands import (
    Control,
    GiveValues,
    IdentifierSlot,
    NumberSlot,
    OptionPhrases,
    OptionSlot,
    Slot,
    Wanted,
)
from handsfree.model.light import Warmth
from handsfree.model.refusals import Refusal, RefusalCode
from handsfree.session.baseline_fit import asked_about
from handsfree.session.both_sides import slots_of_both_sides
from handsfree.session.field_slots import mate_slot_name, slot_of
from handsfree.session.group_read_back import read_together
from handsfree.session.heat_report import asked_in_pause, heat_is_reported
from handsfree.session.lift_rules import longest_code, may_answer
from handsfree.session.light_permission import WHILE_LIT, why_not
from handsfree.session.modes import Mode
from handsfree.session.named_steps import places
from handsfree.session.narrated_listening import earlier, may_narrate, narrated_slots, narration
from handsfree.session.navigation import asked_for, open_mates
from handsfree.session.own_words import asks_yes_or_no, own_words, said_when_done
from handsfree.session.prompts.fixed import WayOn
from handsfree.session.prompts.hints import (
    AnyHint,
    Hint,
    SayCode,
    SayDay,
    SayDigits,
    SayFromList,
    SayMonth,
    SayOneOf,
    SayThen,
    SayWays,
)
from handsfree.session.prompts.wording import Wording
from handsfree.session.stages import is_computed, lights
from handsfree.session.state import SessionState, answered_first
from handsfree.session.urgency import cry_counts
from handsfree.session.visit import Visit
from handsfree.session.ways import may_give_more_light, may_leave_zone, stage_to_correct, ways_from
from handsfree.session.zones import zones_of

WARMTH_SLOT = "warmth"
ZONE_SLOT = "zone"
ROLE_SLOT = "role"
REASON_SLOT = "reason"
SCORE_SLOT = "pain_score"
CODE_SLOT = "code"
MORE_LIGHT_SLOT = "more_light"
BASELINE_SLOT = "baseline"
_BASELINE_WORDS: Mapping[str, Phrases] = {
    BaselineAnswer.MEANT: ("compare anyway",),
    BaselineAnswer.LEFT_OUT: ("leave it out",),
}
"""Whole sentences that nobody says by the way: a bare "affirmative" would be too easily said here."""
_IT_IS = ("", "it's ", "it is ")
_WARMTH_WORDS: Mapping[str, Phrases] = {
    Warmth.COOL: tuple(f"{it_is}{how}cool" for it_is in _IT_IS for how in ("", "quite ", "nice and ")),
    Warmth.WARM: tuple(
        f"{it_is}{how}warm"
        for it_is in _IT_IS
        for how in ("", "a bit ", "a little ", "a little bit ", "just a bit ", "slightly ", "just ", "getting ")
    ),
}
"""How a patient says it. What says more than warm is no answer here: it may be a cry."""
_ALWAYS = frozenset({Control.SAY_AGAIN, Control.STATUS, Control.HELP})
_ENDING = _ALWAYS | {Control.END_VISIT}
"""Nobody is kept in a visit: heard wherever no light may be on and no doubt or note is open."""
_TOLD = _ENDING | {Control.MISSING}
"""Where a question or a hold waits, and where no cry counts: what is still missing may be asked by the way."""
_IDLE = _ENDING | {Control.WAIT, Control.TAKE_NOTE, Control.NARRATE, Control.GUIDE}
_ANSWER = frozenset({Control.AFFIRM, Control.NEGATE})
_BACK = frozenset({Control.NEGATE, Control.CORRECTION})

HEARD: Mapping[Mode, frozenset[Control]] = {
    Mode.ASKING: _IDLE | {Control.PREVIOUS_STEP, Control.NEXT_STEP, Control.CORRECTION},
    Mode.READING_BACK: _IDLE | _TOLD | _ANSWER | {Control.CORRECTION},
    Mode.CHECKING: _IDLE | _TOLD | _ANSWER | {Control.CORRECTION},
    Mode.DOUBTING: _ANSWER | _ALWAYS,
    Mode.RECONFIRM: _IDLE | {Control.AFFIRM},
    Mode.LIT: WHILE_LIT | {Control.NEXT_STEP, Control.WAIT},
    Mode.CRIED: _ALWAYS | _ANSWER,
    Mode.STRAY: _ALWAYS | {Control.NEGATE},
    Mode.WARMTH: _IDLE,
    Mode.LATE_HEAT: _IDLE,
    Mode.PAUSED: _ENDING | {Control.RESUME, Control.OVERRIDE, Control.TAKE_NOTE},
    Mode.NOTING: frozenset({Control.END_NOTE}),
    Mode.HELD: _IDLE | _TOLD | {Control.OVERRIDE, Control.CORRECTION},
    Mode.OVERRIDE_ROLE: _TOLD | _BACK,
    Mode.OVERRIDE_REASON: _TOLD | _BACK,
    Mode.OVERRIDE_CODE: _TOLD | _BACK,
    Mode.OVERRIDE_CONFIRM: _ANSWER | _TOLD,
    Mode.MISHEARD: _ANSWER | _TOLD,
    Mode.SKIP_REASON: _TOLD | _BACK,
    Mode.OPEN_ITEMS: _IDLE | {Control.OVERRIDE, Control.CORRECTION, Control.PREVIOUS_STEP, Control.NEXT_STEP},
    Mode.CLOSED: frozenset(),
}
"""What may always be said in a mode. The stop words may be said in all of them but the last."""


def wanted(visit: Visit, state: SessionState, wording: Wording) -> Wanted:
    """What may be said now."""
    return Wanted(
        controls(visit, state),
        slots(visit, state),
        dictation=state.modes.top is Mode.NOTING,
        hint=wording.hint(hint(visit, state)),
        going_on=going_on(visit, state),
        narration=narration(visit, state) if may_narrate(visit, state) else None,
        yes_or_no=asks_yes_or_no(visit, state),
        own_words=own_words(visit, state),
        done=said_when_done(visit, state),
        again=(*said_again(visit, state), *_by_number(visit, state)),
        overriding=_overriding(visit, state),
        correcting=WayOn.CORRECTION in _ways(visit, state),
        places=places(visit.plan, state) if state.modes.top is Mode.ASKING and not cry_counts(state) else None,
        in_part=_reads_back_in_part(visit, state),
        earlier=earlier(visit, state),
    )


def _reads_back_in_part(visit: Visit, state: SessionState) -> bool:
    """Whether a value is read back whose question is not answered in full: one that holds the visit."""
    stage = visit.plan.stage(state.place)
    said = {*state.answers.get(stage.id, {}), *state.unconfirmed}
    return state.modes.top is Mode.READING_BACK and any(field.id not in said for field in stage.step.fields)


def _ways(visit: Visit, state: SessionState) -> tuple[WayOn, ...]:
    """The ways on from what holds the visit; none where nothing does."""
    return ways_from(visit, state, answered_first(state.holds)) if state.modes.top is Mode.HELD else ()


def _overriding(visit: Visit, state: SessionState) -> tuple[OptionSlot, ...]:
    """Who answers for what holds the visit, and why."""
    if WayOn.OVERRIDE not in _ways(visit, state) or cry_counts(state):
        return ()
    procedure = visit.procedure
    return _choice(ROLE_SLOT, "role", procedure.roles), _choice(REASON_SLOT, "reason", procedure.override_reasons)


def said_again(visit: Visit, state: SessionState) -> tuple[Slot, ...]:
    """Values of the stage that were said and may be said again with their labels, in whole or in part.

    While the visit stands still they are heard too, to be answered with the reason why they do not count now.
    """
    stage, mode = visit.plan.stage(state.place), state.modes.top
    if mode is Mode.HELD:
        stage = stage_to_correct(visit.plan, state) or stage
    if stage.step.kind == "expose" or state.reviewing or cry_counts(state):
        return ()
    match mode:
        case Mode.ASKING:
            names = set(state.unconfirmed)
        case Mode.READING_BACK | Mode.HELD | Mode.PAUSED:
            names = {field.id for field in stage.step.fields}
        case _:
            return ()
    own = tuple(slot_of(stage, field, state) for field in stage.step.fields if field.id in names)
    if mode is not Mode.READING_BACK:
        return own
    together = read_together(visit.plan, stage, state)
    mates = (mate for mate in together if mate is not stage)
    return slots_of_both_sides(stage, together, state) or own + tuple(
        replace(slot_of(mate, field, state), slot=f"{mate.step.id}.{field.id}")
        for mate in mates
        for field in mate.step.fields
    )


def _by_number(visit: Visit, state: SessionState) -> tuple[Slot, ...]:
    """The other times of a repeated step, each only with its name and number: the one that is asked for needs none."""
    stage = visit.plan.stage(state.place)
    if not stage.number or state.modes.top is not Mode.ASKING or state.reviewing or cry_counts(state):
        return ()
    return tuple(
        replace(slot_of(mate, field, state), slot=mate_slot_name(mate, field))
        for mate in open_mates(visit.plan, stage, state)
        for field in mate.step.fields
    )


def controls(visit: Visit, state: SessionState) -> frozenset[Control]:
    """Commands that are legal now, besides the stop words: those of the mode, and those of the stage in it."""
    stage, mode = visit.plan.stage(state.place), state.modes.top
    found = HEARD[mode]
    if mode is not Mode.CLOSED and state.ledger is not None and lights(visit.plan):
        # Wherever it is said: nobody would know of its seconds otherwise.
        found |= {Control.LIGHT_ON}
    if state.was_said_back and not state.unconfirmed:
        found |= _ANSWER
    if cry_counts(state):
        found = (found - {Control.MISSING}) | {Control.CRY}
    if mode is Mode.HELD and (not state.red or is_computed(visit.plan.stage(answered_first(state.holds).stage_id))):
        found |= {Control.PREVIOUS_STEP}
    if mode in {Mode.ASKING, Mode.HELD} and may_leave_zone(stage, state):
        found |= {Control.LEAVE_ZONE}
    return found | _of_stage(stage, state) if mode is Mode.ASKING else found


def _of_stage(stage: Stage, state: SessionState) -> frozenset[Control]:
    """What a stage adds while it asks."""
    found: set[Control] = {Control.OVERRIDE} if state.holds else set()
    if state.reviewing and stage.step.kind != "expose":
        return frozenset(found)
    if stage.step.kind != "expose":
        found.add(Control.MISSING)
    if state.narrated and not state.asked and stage.step.kind != "expose":
        return frozenset(found)
    match stage.step.kind:
        case "confirm" | "teach":
            found |= _ANSWER
        case "tell":
            found.add(Control.AFFIRM)
        case "expose":
            found |= {Control.STRAP_OFF, Control.STRAP_ON}
    if not stage.step.hard and stage.step.kind != "expose":
        found.add(Control.SKIP)
    if stage.number:
        found.add(Control.LAST)
    return frozenset(found)


def slots(visit: Visit, state: SessionState) -> tuple[Slot, ...]:
    """Values that are asked for now."""
    procedure = visit.procedure
    if may_narrate(visit, state):
        return narrated_slots(visit, state)
    match state.modes.top:
        case Mode.ASKING:
            return _asked(visit, state)
        case Mode.HELD if asked_about(state) is not None:
            return (_choice(BASELINE_SLOT, "", _BASELINE_WORDS),)
        case Mode.LIT:
            return (warmth_slot(),)
        case Mode.PAUSED if not asked_in_pause(state):
            return ()
        case Mode.WARMTH | Mode.LATE_HEAT | Mode.PAUSED:
            return (warmth_slot(), _pain_score()) if heat_is_reported(visit.plan, state) else (warmth_slot(),)
        case Mode.OVERRIDE_ROLE:
            return (_choice(ROLE_SLOT, "role", procedure.roles),)
        case Mode.OVERRIDE_REASON:
            return (_choice(REASON_SLOT, "reason", procedure.override_reasons),)
        case Mode.OVERRIDE_CODE:
            return (IdentifierSlot(CODE_SLOT, ("code",), longest_code(visit.plan)),)
        case Mode.HELD:
            return _more_light(visit, state)
        case Mode.SKIP_REASON:
            return (_choice(REASON_SLOT, "reason", procedure.skip_reasons),)
        case _:
            return ()


def going_on(visit: Visit, state: SessionState) -> tuple[Slot, ...]:
    """What was said and is not confirmed: a pause may have parted it from the rest."""
    if state.narrated:
        return ()
    *_, below, mode = (Mode.CLOSED, *state.modes.all)
    stage = visit.plan.stage(state.place)
    in_doubt = mode is Mode.DOUBTING and state.doubt is not None and isinstance(state.doubt.command, GiveValues)
    if (below if in_doubt else mode) not in {Mode.ASKING, Mode.READING_BACK} or stage.step.kind == "expose":
        return ()
    said = tuple(slot_of(stage, field, state) for field in stage.step.fields if field.id in state.unconfirmed)
    return (*said, *_asked(visit, state)) if in_doubt and below is Mode.ASKING else said


def hint(visit: Visit, state: SessionState) -> AnyHint:
    """What to say now, in one line."""
    procedure = visit.procedure
    match state.modes.top:
        case Mode.ASKING:
            return _hint_of_stage(visit, state)
        case Mode.HELD:
            return SayWays(_ways(visit, state))
        case Mode.WARMTH | Mode.LATE_HEAT:
            return Hint.WARMTH if heat_is_reported(visit.plan, state) else Hint.WARMTH_BY_TOUCH
        case Mode.OVERRIDE_ROLE | Mode.OVERRIDE_REASON:
            return SayFromList(may_answer(visit.plan, state))
        case Mode.SKIP_REASON:
            return SayFromList(tuple(phrases[0] for phrases in procedure.skip_reasons.values()))
        case Mode.OPEN_ITEMS if state.off_owed is not None:
            return Hint.LIGHT_OFF
        case Mode.PAUSED if asked_in_pause(state):
            return Hint.WARMTH_RESUME_OR_END
        case mode:
            return _HINTS[mode]


_HINTS: Mapping[Mode, Hint] = {
    Mode.READING_BACK: Hint.AFFIRM_OR_NEGATE,
    Mode.CHECKING: Hint.AFFIRM_OR_NEGATE,
    Mode.DOUBTING: Hint.AFFIRM_OR_NEGATE,
    Mode.OVERRIDE_CONFIRM: Hint.AFFIRM_OR_NEGATE,
    Mode.OVERRIDE_CODE: Hint.CODE_OR_CANCEL,
    Mode.MISHEARD: Hint.AFFIRM_OR_NEGATE,
    Mode.RECONFIRM: Hint.AFFIRM_POSITION,
    Mode.LIT: Hint.LIGHT_OFF,
    Mode.CRIED: Hint.AFFIRM_OR_NEGATE,
    Mode.STRAY: Hint.LIGHT_OFF_OR_NONE,
    Mode.PAUSED: Hint.RESUME_OR_END,
    Mode.NOTING: Hint.END_NOTE,
    Mode.OPEN_ITEMS: Hint.OVERRIDE_OR_BACK,
    Mode.CLOSED: Hint.NOTHING,
}


def _asked(visit: Visit, state: SessionState) -> tuple[Slot, ...]:
    """What the stage wants, and what other stages of its group still want, each as "step.field"."""
    stage = visit.plan.stage(state.place)
    if stage.step.kind == "expose":
        return _zone_slots(stage, state)
    if state.reviewing:
        return ()
    found = [slot_of(stage, field, state) for field in stage.step.fields if field.id not in state.pending]
    for mate in open_mates(visit.plan, stage, state):
        found += [
            replace(slot_of(stage, field, state), slot=mate_slot_name(mate, field))
            for field in mate.step.fields
            if not mate.number and field.id not in state.ahead.get(mate.id, {})
        ]
    return tuple(found)


def _zone_slots(stage: Stage, state: SessionState) -> tuple[Slot, ...]:
    """Naming a zone chooses it: for extra light where a zone is still soft."""
    ids = zones_of(stage, state.ledger)
    if state.ledger is None or len(ids) < 2:
        return ()
    names = {zone.id: (zone.label,) for zone in state.ledger.zones if zone.id in ids}
    return (_choice(ZONE_SLOT, "zone", names),)


def _more_light(visit: Visit, state: SessionState) -> tuple[Slot, ...]:
    """Zones that may get more light from a hold."""
    ledger = state.ledger
    if ledger is None or not may_give_more_light(visit.plan, state, answered_first(state.holds)):
        return ()
    return (_choice(MORE_LIGHT_SLOT, "more light", {zone.id: (zone.label,) for zone in ledger.zones}),)


def warmth_slot() -> OptionSlot:
    """The answers that let the work go on; "hot" and "painful" are stop words, "too warm" may be a cry."""
    return _choice(WARMTH_SLOT, "", _WARMTH_WORDS)


def _pain_score() -> NumberSlot:
    """The numeric rating scale of pain by heat; its label must be said, because "pain" alone is a stop word."""
    return NumberSlot(SCORE_SLOT, ("score",), "{score}", Decimal(0), Decimal(10), allow_absent=False)


def _choice(slot: str, label: str, options: Mapping[str, Phrases]) -> OptionSlot:
    phrases = tuple(OptionPhrases(value, words) for value, words in options.items())
    return OptionSlot(slot, (label,) if label else (), phrases, allow_absent=False)


def _hint_of_stage(visit: Visit, state: SessionState) -> AnyHint:
    stage = visit.plan.stage(state.place)
    if state.reviewing and stage.step.kind != "expose":
        return Hint.NEXT_STEP_OR_CORRECTION
    if state.unsided:
        return Hint.LEFT_OR_RIGHT
    if state.narrated and not state.asked and stage.step.kind != "expose":
        return Hint.NARRATE
    match stage.step.kind:
        case "confirm" | "teach":
            return Hint.AFFIRM_OR_NEGATE
        case "tell":
            return Hint.NEXT_STEP
        case "expose":
            shaded = why_not(visit.plan, state) == Refusal(RefusalCode.STRAP_OFF_FIRST)
            return Hint.STRAP_OFF_THEN_LIGHT if shaded else Hint.LIGHT_ON
    missing = asked_for(visit.plan, stage, state)
    if not missing:
        return Hint.NOTHING
    if len(missing) == 1:
        # Of several, the others are not asked for any more: which one it is must be said.
        return _how(missing[0], f"{missing[0].label}, then " if len(stage.step.fields) > 1 else "")
    return SayThen(_how(missing[0], f"{missing[0].label}, then "), tuple(field.label for field in missing[1:]))


def _how(field: StepField, label: str) -> SayDigits | SayCode | SayMonth | SayDay | SayOneOf:
    if field.number is not None:
        return SayDigits(label)
    if field.identifier is not None:
        return SayCode(label)
    if field.date is not None:
        return SayMonth(label) if field.date.month_only else SayDay(label)
    return SayOneOf(label, tuple(phrases[0] for phrases in (field.options or {}).values()))

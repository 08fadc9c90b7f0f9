"""What is listened for in a narrated visit: every item of the phase, told apart by label, topic and side. Pure."""

from collections.abc import Iterable
from dataclasses import replace

from handsfree.definition.form import StepField
from handsfree.definition.plan import Stage
from handsfree.model.commands import (
    Control,
    Earlier,
    GiveValues,
    Narration,
    NumberSlot,
    OptionPhrases,
    OptionSlot,
    Slot,
)
from handsfree.session.field_slots import slot_of
from handsfree.session.modes import Mode
from handsfree.session.section import in_reach, missing_fields
from handsfree.session.state import Said, SessionState
from handsfree.session.urgency import cry_counts
from handsfree.session.visit import Visit, side_of

_NARRATED_IN = frozenset({Mode.ASKING, Mode.READING_BACK, Mode.CHECKING})

_BY_THE_WAY = frozenset({Control.SAY_AGAIN, Control.HELP, Control.STATUS, Control.MISSING})
"""What may be asked while a question waits for its answer."""


def gives_up_side(said: Said | None, state: SessionState) -> bool:
    """Whether words leave the question "left or right" behind, so that a side alone answers it no more."""
    control = said.control if said is not None else None
    return control is not None and control not in _BY_THE_WAY and state.modes.top is not Mode.DOUBTING


def may_narrate(visit: Visit, state: SessionState) -> bool:
    """Whether whatever belongs to the phase may be said now, in any order."""
    modes = state.modes.all
    mode = modes[-2] if modes[-1] is Mode.DOUBTING and _doubts_values(state) else modes[-1]
    guided = mode is Mode.READING_BACK and not state.breath
    if not state.narrated or mode not in _NARRATED_IN or guided or state.reviewing:
        return False
    stage = visit.plan.stage(state.place)
    # One of many is asked for: its number stands in the question, so it is answered there alone.
    return stage.step.kind != "expose" and not (stage.number and state.asked)


def _doubts_values(state: SessionState) -> bool:
    return state.doubt is not None and isinstance(state.doubt.command, GiveValues)


def narration(visit: Visit, state: SessionState) -> Narration:
    """How items of the phase are told apart now."""
    place, reach = visit.plan.stage(state.place), in_reach(visit, state)
    last = [stage for stage in reach if stage.id == state.spoken_of]
    here = place if state.asked or not last else last[0]
    open_ = tuple(
        (f"{stage.step.id}.{field.id}", side_of(stage, state.side))
        for stage in reach
        for field in missing_fields(stage, state)
    )
    missing = [field.id for field in missing_fields(place, state)] if state.asked else []
    alone = len(missing) == 1 and place.step.fields and not state.unsided
    asked = f"{place.step.id}.{missing[0]}" if alone else ""
    return Narration(_topics(reach), here.step.id, side_of(here, state.side), asked, open_, state.unsided)


def _topics(reach: Iterable[Stage]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Of each step of several fields that has one, its topic words."""
    found = {one.step.id: (one.step.topic,) for one in reach if one.step.topic and len(one.step.fields) > 1}
    return tuple(found.items())


def _labels(stage: Stage, field: StepField) -> tuple[str, ...]:
    """What a field is called; where it is the only one of its step, what that is about as well."""
    topic = (stage.step.topic,) if stage.step.topic and len(stage.step.fields) == 1 else ()
    return tuple(dict.fromkeys((field.label, *field.also, *topic)))


def narrated_slots(visit: Visit, state: SessionState) -> tuple[Slot, ...]:
    """Every field of the phase as "step.field", both sides in one; and steps that are reported, as "step."."""
    found: dict[str, Slot] = {}
    for stage in in_reach(visit, state):
        step, side = stage.step, side_of(stage, state.side)
        if step.reported:
            found[f"{step.id}."] = OptionSlot(
                f"{step.id}.", (), (OptionPhrases("done", step.reported),), allow_absent=False
            )
        for field in step.fields:
            name = f"{step.id}.{field.id}"
            slot = replace(slot_of(stage, field, state), slot=name, labels=_labels(stage, field))
            if isinstance(slot, NumberSlot | OptionSlot) and side is not None:
                earlier = found.get(name)
                sides = earlier.sides if isinstance(earlier, NumberSlot | OptionSlot) else ()
                slot = replace(slot, sides=(*sides, side))
            found[name] = slot
    return tuple(found.values())


def earlier(visit: Visit, state: SessionState) -> Earlier | None:
    """What of the phase may be corrected by its label while the tool leads and asks for something else.

    All of the phase is listened for, so that what is listened for stays the same from question to question; what has
    no value yet is refused as such. None where nothing has one, or part of an answer was just said: that comes first.
    """
    begun = bool(state.unconfirmed or state.ahead)
    if state.narrated or state.modes.top is not Mode.ASKING or state.reviewing or begun or cry_counts(state):
        return None
    reach = in_reach(visit, state)
    if not any(stage.id in state.answers for stage in reach if stage.id != state.place):
        return None
    slots = tuple(slot for slot in narrated_slots(visit, state) if slot.labels)
    last = next((stage for stage in reach if stage.id == state.last_answered), None)
    here, side = (last.step.id, side_of(last, state.side)) if last is not None else ("", None)
    return Earlier(slots, Narration(_topics(reach), here, side))

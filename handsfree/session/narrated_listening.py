"""What is listened for in a narrated visit: every item of the phase, told apart by label, topic and side. Pure."""

from dataclasses import replace

from handsfree.definition.form import StepField
from handsfree.definition.plan import Stage
from handsfree.model.commands import GiveValues, Narration, NumberSlot, OptionPhrases, OptionSlot, Slot
from handsfree.session.field_slots import slot_of
from handsfree.session.modes import Mode
from handsfree.session.section import in_reach, missing_fields
from handsfree.session.state import SessionState
from handsfree.session.visit import Visit, side_of

_NARRATED_IN = frozenset({Mode.ASKING, Mode.READING_BACK, Mode.CHECKING})


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
    place = visit.plan.stage(state.place)
    last = [stage for stage in in_reach(visit, state) if stage.id == state.spoken_of]
    here = place if state.asked or not last else last[0]
    topics = {
        stage.step.id: (stage.step.topic,)
        for stage in in_reach(visit, state)
        if stage.step.topic and len(stage.step.fields) > 1
    }
    open_ = tuple(
        (f"{stage.step.id}.{field.id}", side_of(stage, state.side))
        for stage in in_reach(visit, state)
        for field in missing_fields(stage, state)
    )
    missing = [field.id for field in missing_fields(place, state)] if state.asked else []
    asked = f"{place.step.id}.{missing[0]}" if len(missing) == 1 and place.step.fields else ""
    return Narration(tuple(topics.items()), here.step.id, side_of(here, state.side), asked, open_)


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

"""What was said of both hands, as it is read back once, and what is listened for to say some of it anew."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from handsfree.definition.field_form import StepField
from handsfree.definition.plan import SideRole, Stage
from handsfree.definition.profile_form import Band
from handsfree.definition.verbalization import group_words, value_words
from handsfree.model.commands import NumberSlot, OptionSlot
from handsfree.model.readings import SpokenValue
from handsfree.session.field_slots import slot_of
from handsfree.session.group_read_back import has_both_sides, values_of
from handsfree.session.state import SessionState, TakenValue
from handsfree.session.visit import Visit, side_of

_Values = list[tuple[StepField, SpokenValue, Band | None]]


def words_of_both_sides(visit: Visit, state: SessionState, together: Sequence[Stage]) -> str:
    """What is the same is said for both, the rest hand by hand: "Both sides: pulse present. Right: refill one".

    Args:
        visit: What is fixed.
        state: The session.
        together: The stages of one hand, then those of the other, each in the order of the file.
    """
    by_step: dict[str, dict[SideRole | None, Stage]] = {}
    for stage in together:
        by_step.setdefault(stage.step.id, {})[stage.role] = stage
    both: list[str] = []
    apart: dict[SideRole | None, list[str]] = {role: [] for role in SideRole}
    for stages in by_step.values():
        taken = {role: values_of(stage, state) for role, stage in stages.items()}
        alike: _Values = []
        others: dict[SideRole | None, _Values] = {role: [] for role in stages}
        for field in next(iter(stages.values())).step.fields:
            said = {role: values[field.id] for role, values in taken.items() if field.id in values}
            band = visit.band_of(field)
            if len(said) > 1 and _are_alike(field, said, band):
                alike.append((field, next(iter(said.values())).value, band))
            else:
                for role, one in said.items():
                    others[role].append((field, one.value, band))
        # "All three intact" is clear only of a step that is said in whole.
        short = visit.is_short(narrated=state.narrated)
        named = bool(alike) and any(others.values())
        both += [group_words(alike, short=short, named=named)] if alike else []
        for role, values in others.items():
            apart[role] += [group_words(values, short=short, named=named)] if values else []
    parts = [f"Both sides: {'; '.join(both)}"] if both else []
    for role, words in apart.items():
        side = side_of(next((stage for stage in together if stage.role is role), together[0]), state.side)
        parts += [f"{side.value.capitalize()}: {'; '.join(words)}"] if words and side is not None else []
    return ". ".join(parts)


def slots_of_both_sides(
    stage: Stage, together: Sequence[Stage], state: SessionState
) -> tuple[NumberSlot | OptionSlot, ...]:
    """Each value that is read back, once, with either side; none where only one hand is read back.

    Args:
        stage: Where the visit stands; its own values have the plain name of their field.
        together: What is read back.
        state: The session.
    """
    if not has_both_sides(together):
        return ()
    sides = tuple(dict.fromkeys(side for one in together if (side := side_of(one, state.side)) is not None))
    found: list[NumberSlot | OptionSlot] = []
    for step in {one.step.id: one for one in together}.values():
        for field in step.step.fields:
            slot, own = slot_of(step, field, state), step.step.id == stage.step.id
            if isinstance(slot, NumberSlot | OptionSlot):
                found.append(replace(slot, slot=field.id if own else f"{step.step.id}.{field.id}", sides=sides))
    return tuple(found)


def _are_alike(field: StepField, said: Mapping[SideRole | None, TakenValue], band: Band | None) -> bool:
    return len({value_words(field, one.value, band) for one in said.values()}) == 1

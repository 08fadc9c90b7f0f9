"""What of a visit may be said in any order: the stages of one phase between its gates and its light. Pure."""

from collections.abc import Iterator
from dataclasses import dataclass

from handsfree.definition.form import StepField
from handsfree.definition.plan import Plan, Stage
from handsfree.session.field_slots import number_words
from handsfree.session.stages import applies, is_computed
from handsfree.session.state import SessionState
from handsfree.session.visit import Visit, name_of, side_of


@dataclass(frozen=True, slots=True)
class Missing:
    """Something that is open.

    Attributes:
        name: Its stage, or "stage.field".
        words: What it is called aloud.
    """

    name: str
    words: str


def section_of(plan: Plan, place: str) -> tuple[Stage, ...]:
    """The stages around a stage that lie in its phase with no light between; none around a stage of light."""
    at = plan.index(place)
    phase = plan.phases[place]

    def belongs(stage: Stage) -> bool:
        return plan.phases[stage.id] is phase and stage.step.kind != "expose"

    if not belongs(plan.stages[at]):
        return ()
    first = last = at
    while first > 0 and belongs(plan.stages[first - 1]):
        first -= 1
    while last + 1 < len(plan.stages) and belongs(plan.stages[last + 1]):
        last += 1
    return plan.stages[first : last + 1]


def _is_said(stage: Stage) -> bool:
    """Whether people say what there is to say of a stage: what is computed follows, what is repeated is asked."""
    return bool(stage.step.fields or stage.step.reported) and not is_computed(stage) and not stage.number


def in_reach(visit: Visit, state: SessionState) -> tuple[Stage, ...]:
    """The stages whose values, or whose being done, may be narrated now."""
    return tuple(
        stage
        for stage in section_of(visit.plan, state.place)
        if applies(stage, state) and _is_said(stage) and (stage.role is None or state.side is not None)
    )


def open_in_section(plan: Plan, state: SessionState) -> tuple[Stage, ...]:
    """The stages of the section that are not done."""
    stages = section_of(plan, state.place)
    return tuple(
        stage for stage in stages if stage.id not in state.done and applies(stage, state) and not is_computed(stage)
    )


def to_be_narrated(plan: Plan, state: SessionState, place: str) -> tuple[Stage, ...]:
    """Open stages around one that may be narrated; the others, such as what is taught, are asked after them."""
    return tuple(
        stage
        for stage in section_of(plan, place)
        if stage.id not in state.done and applies(stage, state) and _is_said(stage)
    )


def must_be_asked(plan: Plan, state: SessionState, stage: Stage) -> bool:
    """Whether what a stage wants cannot be narrated, or is all that its phase has."""
    return stage not in to_be_narrated(plan, state, stage.id) or len(section_of(plan, stage.id)) <= 1


def missing_fields(stage: Stage, state: SessionState) -> Iterator[StepField]:
    """Fields of a stage that have no value yet: confirmed, standing, read back, or waiting for another."""
    said = {
        **state.breath.get(stage.id, {}),
        **state.ahead.get(stage.id, {}),
        **(state.unconfirmed if stage.id == state.place and not state.reviewing else {}),
    }
    known = {
        **state.answers.get(stage.id, {}),
        **state.waiting.get(stage.id, {}),
        **said,
    }
    if stage.id in state.corrected or state.held_at(stage.id):
        known = {**state.waiting.get(stage.id, {}), **said}
    again = {name.rpartition(".")[2] for name in state.again if name.rpartition(".")[0] == stage.id}
    yield from (field for field in stage.step.fields if field.id not in known or field.id in again)


def missing(visit: Visit, state: SessionState) -> tuple[Missing, ...]:
    """What is open in the section: stages of which nothing is known, and fields of the others."""
    found: list[Missing] = []
    for stage in open_in_section(visit.plan, state):
        side = side_of(stage, state.side)
        lead = f"{side.value} " if side is not None else ""
        name = name_of(stage, state.side)
        topic = number_words(stage) or lead + (stage.step.topic or visit.plan.names.stage(stage.step.id))
        fields = tuple(missing_fields(stage, state))
        if not fields and stage.id not in state.corrected and (stage.step.fields or stage.id in state.breath):
            continue  # said, and read back just now
        if not fields or len(fields) == len(stage.step.fields):
            found.append(Missing(name, topic))
        else:
            found += [Missing(f"{name}.{field.id}", f"{topic} {field.label}") for field in fields]
    return tuple(found)

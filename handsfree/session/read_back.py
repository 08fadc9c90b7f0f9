"""Read-back: which values must be read back and confirmed before they are kept, and how they are said."""

from collections.abc import Container, Mapping, Sequence
from math import inf

from handsfree.definition.form import Step, StepField
from handsfree.definition.plan import Plan, Stage
from handsfree.definition.profile_form import Band
from handsfree.definition.verbalization import group_words, value_words
from handsfree.model.facts import ReadingConfirmed
from handsfree.model.readings import SpokenValue, value_text
from handsfree.model.reasons import Severity
from handsfree.session.both_sides import words_of_both_sides
from handsfree.session.field_slots import number_words
from handsfree.session.group_read_back import has_both_sides, read_together, values_of
from handsfree.session.prompts.sentence_codes import Prompt, ReadBack
from handsfree.session.state import SessionState, TakenValue
from handsfree.session.visit import Visit, side_of


def must_be_confirmed(step: Step) -> bool:
    """Whether values wait for "affirmative"; else they are kept at once and echoed.

    Values said before their question always wait (`after_handler`): they were heard unasked.

    Args:
        step: Its file says so by `read_back`; without it numbers, sides, codes, dates and groups wait.
    """
    if step.read_back is not None:
        return step.read_back != "echo"
    return len(step.fields) > 1 or any(
        field.options is None or set(field.options) <= {"left", "right"} for field in step.fields
    )


def read_back(visit: Visit, state: SessionState) -> Prompt:
    """All unconfirmed values of the stage and of those read back with it, in another form, with "correct?"."""
    stage = visit.plan.stage(state.place)
    together = read_together(visit.plan, stage, state)
    if has_both_sides(together):
        return Prompt((ReadBack(words_of_both_sides(visit, state, together)),))
    parts: list[str] = []
    for one in together:
        taken = values_of(one, state)
        values = [
            (field, taken[field.id].value, visit.band_of(field)) for field in one.step.fields if field.id in taken
        ]
        parts += [group_words(values, short=visit.is_short(narrated=state.narrated))] if values else []
    return Prompt((ReadBack(on_side(stage, state) + "; ".join(parts)),))


def on_side(stage: Stage, state: SessionState) -> str:
    """The side of a stage, or its number, as it begins a sentence; "" where it has none."""
    if stage.number:
        return f"{number_words(stage).capitalize()}: "
    side = side_of(stage, state.side)
    return f"{side.value.capitalize()}: " if side is not None else ""


def standing_words(visit: Visit, state: SessionState) -> str:
    """Everything that stands, as it is said back: by step and side, in the order of the file."""
    stated = _standing(state)
    reported = {name.rpartition(".")[0] for name in state.standing if name.endswith(".")}
    return _said_by_stage(visit, state, stated, reported)


def _standing(state: SessionState) -> dict[str, TakenValue]:
    return {
        name: TakenValue(fact.value, fact.heard)
        for name, fact in state.standing.items()
        if isinstance(fact, ReadingConfirmed)
    }


def read_back_breath(visit: Visit, state: SessionState, *, since_s: float = -inf) -> Prompt:
    """What of a narrated visit waits to be affirmed, in one sentence.

    Args:
        visit: What is fixed.
        state: The session.
        since_s: Only what was said from this session time on: the rest was read back before, and nobody objected to it.
    """
    at_gate = state.standing if state.gate_told and since_s == -inf else {}
    stated = _standing(state) if at_gate else {}
    stated |= {
        f"{stage}.{name}": taken
        for stage, values in state.breath.items()
        for name, taken in values.items()
        if taken.heard.spoken_from_s >= since_s
    }
    told = {*stated, *at_gate}
    reported = {name.rpartition(".")[0] for name in told if name.endswith(".")}
    return Prompt((ReadBack(_said_by_stage(visit, state, stated, reported)),))


def _said_by_stage(
    visit: Visit, state: SessionState, stated: Mapping[str, TakenValue], reported: Container[str]
) -> str:
    """Values by "stage.field" as they are said back.

    What has a side, or labels that other steps of its phase have too, is said with what it is about; of everything else
    what has the same answer is named together. A step that stands with one answer to all its fields is said as one. Of
    a step of which nothing is flagged that alone is said, in place of each answer that it leaves no choice of.
    """
    short = bool(visit.expert) or state.narrated
    plain: list[tuple[StepField, SpokenValue, Band | None]] = []
    done: list[str] = []
    led: dict[tuple[str, str], list[str]] = {}
    alike: dict[str, list[str]] = {}
    unflagged: list[str] = []
    for stage in visit.plan.stages:
        done += [stage.step.reported[0]] if stage.id in reported else []
        values = [
            (field, stated[f"{stage.id}.{field.id}"].value, visit.band_of(field))
            for field in stage.step.fields
            if f"{stage.id}.{field.id}" in stated
        ]
        side = side_of(stage, state.side)
        name = " ".join([*([side.value] if side is not None else []), stage.step.topic or ""])
        said = [one for one in values if not _goes_without_saying(stage, state, one[0], one[1])]
        if len(said) < len(values):
            unflagged.append(name)
            values = said
        answer = _one_answer(stage, state, values)
        if answer:
            alike.setdefault(answer, []).append(name)
            continue
        topic = _topic_of(visit.plan, stage) if state.narrated and values else ""
        if side is None and not topic:
            plain += values
        elif values:
            words = group_words(values, short=short, named=state.narrated)
            led.setdefault((topic, words), []).append(side.value if side is not None else "")
    parts = [group_words(plain, short=short, named=state.narrated)] if plain else []
    parts += [f"{_with_both_sides(names)} all {answer}" for answer, names in alike.items()]
    parts += [f"nothing flagged in {_with_both_sides(unflagged)}"] if unflagged else []
    for (topic, words), sides in led.items():
        side_words = "both sides" if len(sides) > 1 else sides[0]
        parts.append(f"{' '.join(part for part in (side_words, topic) if part)}: {words}")
    return "; ".join([*parts, *done])


def _goes_without_saying(stage: Stage, state: SessionState, field: StepField, value: SpokenValue) -> bool:
    """Whether a finding that stands is told by saying that nothing of its step is flagged.

    So it is where its file flags every other answer of it, and nothing of the step is flagged: then there is no other.
    """
    name, step = f"{stage.id}.{field.id}", stage.step
    if not state.narrated or step.topic is None or name not in state.standing or stage.id not in state.done:
        return False
    if stage.id in state.breath:
        return False  # what is read back now may be flagged
    clear = set(field.options or {}) - {*field.amber, *field.stop, *field.red}
    taken = state.answers[stage.id].values()
    return {value_text(value)} == clear and all(one.severity is Severity.NONE for one in taken)


def _one_answer(stage: Stage, state: SessionState, values: Sequence[tuple[StepField, SpokenValue, Band | None]]) -> str:
    """The answer that stands for every field of a step of several, in a narrated visit; "" where there is none such."""
    step = stage.step
    names = {f"{stage.id}.{field.id}" for field in step.fields}
    if not state.narrated or step.topic is None or len(values) < 2 or not names <= state.standing.keys():
        return ""
    if any(field.id in state.breath.get(stage.id, {}) for field in step.fields):
        return ""
    said = {value_words(field, value) for field, value, _ in values}
    return said.pop() if len(said) == 1 else ""


def _with_both_sides(names: Sequence[str]) -> str:
    """Steps one after the other; those that are named for the right and the left are named once, last, for both."""
    left = {name.removeprefix("left ") for name in names if name.startswith("left ")}
    both = [name.removeprefix("right ") for name in names if name.startswith("right ")]
    both = [name for name in both if name in left]
    one = [name for name in names if name.removeprefix("left ").removeprefix("right ") not in both]
    return ", and ".join([*([_listed(one)] if one else []), *([f"both sides {_listed(both)}"] if both else [])])


def _listed(names: Sequence[str]) -> str:
    return f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else names[0]


def _topic_of(plan: Plan, stage: Stage) -> str:
    """What a step is about, where one of its labels alone would not tell, or it is done for each side; else ""."""
    own = {field.label for field in stage.step.fields}
    phase = plan.phases[stage.id]
    others = {
        field.label
        for other in plan.stages
        if other.step is not stage.step and plan.phases[other.id] is phase
        for field in other.step.fields
    }
    if own == {stage.step.topic}:
        return ""
    return (stage.step.topic or "") if stage.role is not None or own & others else ""

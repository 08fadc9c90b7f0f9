"""Read-back: which values must be read back and confirmed before they are kept, and how they are said."""

from handsfree.definition.form import Step
from handsfree.definition.plan import Stage
from handsfree.definition.verbalization import group_words
from handsfree.session.prompts.sentence_codes import Prompt, ReadBack
from handsfree.session.state import SessionState
from handsfree.session.visit import Visit, side_of


def must_be_confirmed(step: Step) -> bool:
    """Whether values wait for "affirmative"; else they are kept at once and echoed.

    Values said before their question always wait (`after_handler`): they were heard unasked.

    Args:
        step: Its file says so by `read_back`; without it numbers, sides, codes, dates and groups wait.
    """
    if step.read_back is not None:
        return step.read_back == "confirm"
    return len(step.fields) > 1 or any(
        field.options is None or set(field.options) <= {"left", "right"} for field in step.fields
    )


def read_back(visit: Visit, state: SessionState) -> Prompt:
    """All unconfirmed values of the stage in another form, and whether they are right."""
    stage = visit.plan.stage(state.place)
    unconfirmed = state.unconfirmed
    values = [
        (field, state.pending[field.id].value, visit.band_of(field))
        for field in stage.step.fields
        if field.id in unconfirmed
    ]
    return Prompt((ReadBack(on_side(stage, state) + group_words(values, short=visit.expert)),))


def on_side(stage: Stage, state: SessionState) -> str:
    """The side of a stage as it begins a sentence; "" where it has none."""
    side = side_of(stage, state.side)
    return f"{side.value.capitalize()}: " if side is not None else ""


def standing_words(visit: Visit, state: SessionState) -> str:
    """Everything that stands, as it is said back: by step and side, in the order of the file."""
    parts: list[str] = []
    for stage in visit.plan.stages:
        values = [
            (field, state.standing[f"{stage.id}.{field.id}"].value, visit.band_of(field))
            for field in stage.step.fields
            if f"{stage.id}.{field.id}" in state.standing
        ]
        if values:
            side = side_of(stage, state.side)
            parts.append((f"{side.value}, " if side is not None else "") + group_words(values))
    return "; ".join(parts)

"""Read-back: which values must be read back and confirmed before they are kept, and how they are said."""

from handsfree.definition.form import Step
from handsfree.definition.plan import Stage
from handsfree.definition.verbalization import group_words
from handsfree.session.group_read_back import read_together, values_of
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
        return step.read_back != "echo"
    return len(step.fields) > 1 or any(
        field.options is None or set(field.options) <= {"left", "right"} for field in step.fields
    )


def read_back(visit: Visit, state: SessionState) -> Prompt:
    """All unconfirmed values of the stage and of those read back with it, in another form, with "correct?"."""
    stage = visit.plan.stage(state.place)
    parts: list[str] = []
    for one in read_together(visit.plan, stage, state):
        taken = values_of(one, state)
        values = [
            (field, taken[field.id].value, visit.band_of(field)) for field in one.step.fields if field.id in taken
        ]
        parts += [group_words(values, short=visit.expert)] if values else []
    return Prompt((ReadBack(on_side(stage, state) + "; ".join(parts)),))


def on_side(stage: Stage, state: SessionState) -> str:
    """The side of a stage as it begins a sentence; "" where it has none."""
    side = side_of(stage, state.side)
    return f"{side.value.capitalize()}: " if side is not None else ""

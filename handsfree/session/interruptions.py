"""What is shared by everything that interrupts: the note that is broken off, and the way back."""

from handsfree.model.facts import AnyFact, NoteTaken
from handsfree.session.context import EventContext, Then
from handsfree.session.modes import Mode
from handsfree.session.state import SessionState


def coming_back(now: EventContext) -> Then:
    """What follows when an interruption ends: the question again, or on, where its stage was done meanwhile."""
    state = now.state
    done = now.mode is Mode.ASKING and now.stage.id in state.done and not state.reviewing
    return Then.GO_ON if done else Then.ASK


def note_facts(state: SessionState, stage_name: str, *, broken_off: bool) -> list[AnyFact]:
    """The note so far, unverified until a person has read it; it is taken out of the state."""
    text = " ".join(state.note)
    state.note.clear()
    if not text:
        return []
    state.notes += 1
    return [NoteTaken(text=text, verified=False, broken_off=broken_off, stage=stage_name)]

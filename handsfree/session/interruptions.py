"""What is shared by everything that interrupts: what it breaks off, and the way back."""

from handsfree.model.effects import Priority
from handsfree.model.facts import AnyFact, NoteTaken
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.light_off_owed import owe_off
from handsfree.session.modes import DROPPED_BY_A_STOP, Mode
from handsfree.session.navigation import resting
from handsfree.session.prompts.sentence_codes import CutWhileLit, Prompt
from handsfree.session.state import SessionState
from handsfree.session.zones import label_of, run_facts


def coming_back(now: EventContext) -> Then:
    """What follows when an interruption ends: the question again, or on, where its stage was done meanwhile."""
    state = now.state
    done = now.mode is Mode.ASKING and now.stage.id in state.done and not state.reviewing
    return Then.GO_ON if done else Then.ASK


def break_off(now: EventContext) -> list[AnyFact]:
    """Break off whatever heat, pain or a stop word breaks off; what that puts on record."""
    state = now.state
    facts = note_facts(state, now.stage_name, broken_off=True) if Mode.NOTING in state.modes.all else []
    state.doubt = state.override = state.misheard = state.cried = None
    state.acted_upon = True
    broke_off = now.mode in DROPPED_BY_A_STOP
    state.modes.drop(DROPPED_BY_A_STOP)
    if broke_off and now.mode is Mode.ASKING:
        state.modes.rest(resting(state))
    return facts


def pause_stopped(now: EventContext, *, zone: bool) -> None:
    """Pause after a stop, once all is broken off; after light on a zone warmth is asked."""
    if zone and now.mode is Mode.ASKING:
        # Whatever the file asks after a zone: nobody knows yet why it was stopped.
        now.state.modes.push(Mode.WARMTH)
        now.state.warmth_asked_s = now.state.now_s
    now.state.modes.push(Mode.PAUSED)
    now.state.stopped = True


def note_facts(state: SessionState, stage_name: str, *, broken_off: bool) -> list[AnyFact]:
    """The note so far, unverified until a person has read it; it is taken out of the state."""
    text = " ".join(state.note)
    state.note.clear()
    if not text:
        return []
    state.notes += 1
    return [NoteTaken(text=text, verified=False, broken_off=broken_off, stage=stage_name)]


def cut_light(now: EventContext, reply: Reply) -> bool:
    """The program ended, or went deaf, in the middle: a lit zone counts up to the last sign of life.

    Returns:
        Whether a run was cut.
    """
    ledger = now.state.ledger
    if ledger is None or not ledger.is_lit:
        return False
    outcome = ledger.interrupt()
    assert outcome.run is not None  # noqa: S101 - it was lit
    cut = run_facts(ledger, outcome.run, None)
    owe_off(now.state, cut)
    reply.facts += cut
    reply.talk.append(Prompt((CutWhileLit(label_of(ledger, outcome.zone_id)),), Priority.ATTENTION))
    now.state.modes.drop(frozenset({Mode.LIT}))
    return True

"""How a visit goes on after the program had ended."""

from dataclasses import replace

from handsfree.definition.verbalization import duration_words, spelled
from handsfree.model.effects import Priority
from handsfree.model.events import SessionInterrupted
from handsfree.model.facts import StatusTold, VisitContinued
from handsfree.session.context import EventContext, Reply
from handsfree.session.deadlines import light_in_doubt
from handsfree.session.interruptions import coming_back, cut_light, note_facts
from handsfree.session.modes import RESTING, Mode
from handsfree.session.prompts.fixed import Fixed
from handsfree.session.prompts.sentence_codes import (
    AnySentence,
    GoesOnAfter,
    RecordedLast,
    ReferenceIs,
    SideIs,
    SizeChosenIs,
)
from handsfree.session.questions import keep_for_repeat, recorded_words, status
from handsfree.session.stages import stages_done
from handsfree.session.stray_light import leave_doubt


def go_on_after_break(now: EventContext) -> Reply:
    """Go on after the program had ended: say what is known, ask again for what cannot be carried over."""
    event, state = now.event, now.state
    assert isinstance(event, SessionInterrupted)  # noqa: S101 - dispatch calls it for these
    reply = Reply([VisitContinued(gap_s=round(event.gap_s, 3), stage=now.stage_name)])
    if now.mode is Mode.NOTING:
        reply.facts += note_facts(state, now.stage_name, broken_off=True)
    # Session time stands still while the program is gone; time between two steps does not.
    state.done_s = {stage_id: done_s - event.gap_s for stage_id, done_s in state.done_s.items()}
    state.timers = {name: replace(one, due_s=one.due_s - event.gap_s) for name, one in state.timers.items()}
    state.pending.clear()
    keep_for_repeat(now.stage, state)
    state.ahead.clear()
    state.breath.clear()
    state.waiting.clear()
    state.unsided = ()
    # Whoever comes back may be another person, who has said no number yet.
    state.refused.clear()
    state.gate_told = False
    in_doubt = light_in_doubt(state)
    state.override = state.misheard = None
    state.doubt = state.doubt if in_doubt else None
    state.acted_upon = True
    was_paused = Mode.PAUSED in state.modes.all
    at_rest = set(state.modes.all) <= RESTING | {Mode.PAUSED}
    was_cut = cut_light(now, reply)
    _come_to_rest(now, at_rest=at_rest, was_cut=was_cut)
    if was_paused:
        # A pause outlasts the break, and what is to be checked after one comes when it ends.
        state.modes.push(Mode.PAUSED)
    if in_doubt:
        leave_doubt(now, reply)
    elif state.stray is not None:
        # Nobody has said yet what became of that light: the break says it as little.
        state.modes.push(Mode.STRAY)
    elif state.cried is not None:
        # As little does it say whether that was heat or pain.
        state.modes.push(Mode.CRIED)
        state.cried = replace(state.cried, asked_s=state.now_s)
    reply.say(*_known(now, event.gap_s), priority=Priority.INFORMATION)
    reply.facts.append(StatusTold(stages_done=stages_done(now.visit.plan, state)[0]))
    reply.talk.append(status(now.visit, state))
    reply.then = coming_back(now)
    return reply


def _come_to_rest(now: EventContext, *, at_rest: bool, was_cut: bool) -> None:
    """Where the visit rests after a break: held, at a check of the position where there was light, or as it was."""
    state = now.state
    mode = state.modes.resting
    if was_cut or mode is Mode.RECONFIRM:
        state.modes.rest(Mode.RECONFIRM)
        return
    if mode is Mode.ASKING:
        here = state.red or state.held_at(now.stage.id)
        if here or (state.holds and not at_rest):
            mode = Mode.HELD
        elif state.ledger is not None and state.ledger.runs:
            mode = Mode.RECONFIRM
    state.modes.rest(mode)


def _known(now: EventContext, gap_s: float) -> tuple[AnySentence, ...]:
    """What a resumed session knows, so that whoever goes on can object: kind, side, size, what was recorded last."""
    state = now.state
    known: list[AnySentence] = [GoesOnAfter(duration_words(gap_s))]
    if state.practice:
        known.append(Fixed.PRACTICE)
    if state.patient_reference:
        known.append(ReferenceIs(spelled(state.patient_reference)))
    if state.side is not None:
        known.append(SideIs(state.side.value))
    if state.size is not None:
        known.append(SizeChosenIs(state.size))
    if state.last_answered is not None and state.answers.get(state.last_answered):
        last = now.visit.plan.stage(state.last_answered)
        known.append(RecordedLast(recorded_words(now.visit, now.wording, last, state)))
    return tuple(known)

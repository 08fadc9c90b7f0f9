"""After a handler: limits judge what is new, holds follow, light follows, and navigation says where the visit stands.

This is the one place that moves a visit on. It knows no command.
"""

from collections.abc import Container, Mapping
from dataclasses import replace

from handsfree.definition.plan import Plan, Stage, VisitPhase
from handsfree.model.effects import Close, Earcon, Priority
from handsfree.model.facts import CloseRefused, Outcome, StageExposed, StepEntered, StepReviewed, VisitClosed, ZoneSum
from handsfree.session.computing import compute
from handsfree.session.confirmed_values import judge_compared_again, keep_values
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.group_read_back import is_whole, next_of_group
from handsfree.session.kept_together import keep_together
from handsfree.session.may_stand import all_may_stand
from handsfree.session.modes import Mode
from handsfree.session.narrated_keeping import settle_breath
from handsfree.session.navigation import Position, asked_at_early_end, blocking_items, open_items, position
from handsfree.session.phase_gates import PhaseMachine
from handsfree.session.prompts.fixed import Fixed
from handsfree.session.prompts.hold_sentences import WasMisheard, WasNowIs
from handsfree.session.prompts.sentence_codes import OneQuestionLeft, Prompt, StillOpen, ZoneAgain, ZoneIs
from handsfree.session.questions import (
    again,
    before_closing,
    held,
    keep_for_repeat,
    keep_partly_told,
    question,
    review,
    what_stands,
)
from handsfree.session.read_back import read_back
from handsfree.session.section import must_be_asked, section_of, to_be_narrated
from handsfree.session.set_hold import set_hold
from handsfree.session.stages import lights
from handsfree.session.standing import drop_standing
from handsfree.session.state import Done, SessionState
from handsfree.session.timers import start_timers
from handsfree.session.value_intake import holds_by_itself
from handsfree.session.visit import name_of
from handsfree.session.zones import how_to_light, is_owed, label_of, target_limits, zone_for

_CLOSED: Mapping[Outcome, Fixed] = {
    "completed": Fixed.COMPLETED,
    "completed_with_overrides": Fixed.COMPLETED_WITH_OVERRIDES,
    "stopped": Fixed.ENDED_EARLY,
}


def settle(now: EventContext, reply: Reply, phases: PhaseMachine) -> Close | None:
    """Let everything follow from what a handler did and asked for, in a fixed order.

    Returns:
        The end of the session, where this was it.
    """
    if reply.keep == "going_on" and not all_may_stand(now, now.stage, now.state.unconfirmed):
        reply.keep = None
        now.state.modes.push(Mode.READING_BACK)
        reply.talk.append(read_back(now.visit, now.state))
    if reply.keep == "affirmed":
        keep_together(now, reply)
    elif reply.keep is not None:
        keep_values(now, reply, reply.keep)
    settle_breath(now, reply)
    if reply.compared_anew:
        judge_compared_again(now, reply)
    _hold(now, reply)
    fresh = now.state.note_done()
    compute(now, reply)
    _light(now, reply)
    start_timers(now, reply, fresh | now.state.note_done())
    end = _move_on(now, reply, phases)
    reply.talk += reply.told_last
    return end


def _hold(now: EventContext, reply: Reply) -> None:
    """The holds that a handler asks for: their sound comes before what it says."""
    said, reply.talk = reply.talk, []
    for hold in reply.holds:
        set_hold(now, reply, hold)
    reply.talk += said


def _light(now: EventContext, reply: Reply) -> None:
    """After a run of light: the same zone if it is short, else the next one, else the stage is done."""
    if reply.then is not Then.NEXT_ZONE:
        return
    stage, state, ledger = now.stage, now.state, now.state.ledger
    assert ledger is not None  # noqa: S101 - there was light
    before, state.zone_id = state.zone_id, zone_for(stage, state)
    if state.zone_id is not None and is_owed(state.zone_id, state):
        label = label_of(ledger, state.zone_id)
        reply.say(ZoneAgain(label) if state.zone_id == before else ZoneIs(label), how_to_light(ledger, state.zone_id))
        reply.then = Then.STAY
        return
    state.done[stage.id] = Done.EXPOSED
    # Light that is given once more asks for it anew, whichever stage the file has it at.
    _owe_late_question(now.visit.plan, state, among=state.done)
    reply.facts.append(StageExposed(stage=now.stage_name))
    reply.then = Then.GO_ON
    if state.reviewing:
        reply.say(Fixed.NEXT_STEP_TO_GO_ON)
        reply.then = Then.STAY


def _move_on(now: EventContext, reply: Reply, phases: PhaseMachine) -> Close | None:
    match reply.then:
        case Then.ASK if now.mode is Mode.OPEN_ITEMS and not blocking_items(now.visit.plan, now.state):
            return _close(now, reply, phases)
        case Then.ASK:
            _ask(now, reply)
        case Then.HOLD:
            _stand_still(now, reply)
        case Then.ENTER if reply.stage is not None:
            _enter(now, reply, phases, reply.stage)
        case Then.REVIEW if reply.stage is not None:
            _review(now, reply, phases, reply.stage)
        case Then.REOPEN if reply.stage is not None:
            _stand_at(now, phases, reply.stage, as_it_is=True)
            now.state.reviewing = False
            now.state.modes.rest(Mode.ASKING)
        case Then.GO_ON:
            return _go_on(now, reply, phases)
        case Then.END:
            return _end(now, reply, phases)
        case _:
            pass
    return None


def _ask(now: EventContext, reply: Reply) -> None:
    if now.mode is Mode.OPEN_ITEMS:
        _tell_open(now, reply)
        return
    asked = again(now.visit, now.wording, now.guidance, now.state) or now.state.last_said
    if asked is not None:
        reply.talk.append(asked)


def _go_on(now: EventContext, reply: Reply, phases: PhaseMachine) -> Close | None:
    """Go to wherever navigation says."""
    plan, state = now.visit.plan, now.state
    there = _in_any_order(now, position(plan, state))
    if state.standing and _is_checked_first(now, there):
        state.modes.rest(Mode.ASKING)
        state.modes.push(Mode.CHECKING)
        reply.talk.append(what_stands(now.visit, state))
        return None
    if there.stage is None:
        return _close(now, reply, phases)
    if there.mode is Mode.HELD:
        _stand_at(now, phases, there.stage, as_it_is=True)
        if state.back_to == there.stage.id:
            _back_from_light(now, reply, there.stage)
        else:
            _stand_still(now, reply)
        return None
    if there.reopened:
        del state.done[there.stage.id]
    if state.narrated and not there.reopened and there.stage.id not in state.ahead:
        _listen(now, reply, phases, there.stage)
    else:
        _enter(now, reply, phases, there.stage)
    return None


def _in_any_order(now: EventContext, there: Position) -> Position:
    """In a narrated visit, what can be narrated comes before what must be asked; where it is said, it goes on."""
    plan, state = now.visit.plan, now.state
    if not state.narrated or there.stage is None or there.mode is Mode.HELD or there.reopened:
        return there
    if there.stage.id in state.ahead:
        return there
    open_ = to_be_narrated(plan, state, there.stage.id)
    here = next((stage for stage in open_ if stage.id == state.place), None)
    return replace(there, stage=here or (open_[0] if open_ else there.stage))


def _listen(now: EventContext, reply: Reply, phases: PhaseMachine, stage: Stage) -> None:
    """Go on in a narrated visit: to the same phase without a word, to another with its name; what is alone is asked."""
    state, plan = now.state, now.visit.plan
    same = stage in section_of(plan, state.place)
    if stage.step.kind == "expose" or must_be_asked(plan, state, stage):
        state.asked = stage.step.kind != "expose"
        _enter(now, reply, phases, stage)
        return
    if same and stage.id == state.place:
        return
    _stand_at(now, phases, stage)
    state.pending.clear()
    state.reviewing = state.asked = False
    state.modes.rest(Mode.ASKING)
    reply.facts.append(
        StepEntered(stage=name_of(stage, state.side), step=stage.step.id, phase=stage.step.phase, again=False)
    )
    if not same:
        reply.talk.append(question(now.visit, state))


def _is_checked_first(now: EventContext, there: Position) -> bool:
    """Whether what only stands is asked about before the visit goes there.

    So it is before a gate, and before what a bare "affirmative" answers: that must never be taken for another answer.
    """
    if there.mode is Mode.HELD:
        return False
    phases = now.visit.plan.phases
    if there.stage is None or there.reopened or phases[there.stage.id] is not phases[now.state.place]:
        return True
    asked = not now.state.narrated or there.stage not in to_be_narrated(now.visit.plan, now.state, there.stage.id)
    return asked and there.stage.step.kind in {"confirm", "teach", "tell", "expose"}


def _back_from_light(now: EventContext, reply: Reply, stage: Stage) -> None:
    """Ask anew what had asked for more light."""
    state = now.state
    state.back_to = None
    state.pending.clear()
    state.modes.rest(Mode.ASKING)
    reply.facts.append(
        StepEntered(stage=name_of(stage, state.side), step=stage.step.id, phase=stage.step.phase, again=True)
    )
    reply.talk.append(question(now.visit, state))


def _end(now: EventContext, reply: Reply, phases: PhaseMachine) -> Close | None:
    """End early: first what the file asks at an early end, if work had begun; a second time, at once."""
    state = now.state
    # Also where the light was broken off, so that its stage is never done.
    _owe_late_question(now.visit.plan, state, among=[stage.id for stage in now.visit.plan.stages])
    reply.facts += drop_standing(state)
    if state.ending or not asked_at_early_end(now.visit.plan, state):
        return _finish(now, reply, phases, "stopped")
    state.ending = True
    state.held_at_end = tuple(state.holds)
    state.holds.clear()
    state.back_to = state.misheard = None
    reply.say(Fixed.ENDING, priority=Priority.ATTENTION)
    return _go_on(now, reply, phases)


def _owe_late_question(plan: Plan, state: SessionState, among: Container[str]) -> None:
    """Heat can come late: it is asked about a while after the last light, if a stage among these wants that."""
    ledger = state.ledger
    if ledger is None or len(ledger.runs) <= state.late_answered_runs:
        return
    wanted = [stage.step.late_question_s for stage in plan.stages if stage.id in among]
    after_s = next((bounds for bounds in reversed(wanted) if bounds is not None), None)
    if after_s is not None:
        dark_s = max(run.to_s for run in ledger.runs)
        state.late_window_s = (dark_s + after_s[0], dark_s + after_s[1])


def _stand_at(now: EventContext, phases: PhaseMachine, stage: Stage, *, as_it_is: bool = False) -> None:
    """Stand at a stage: ahead through the gates; as it is, where it was reached before and is looked at or holds."""
    phase, state = now.visit.plan.phases[stage.id], now.state
    if as_it_is or state.ending:
        phases.return_to(phase, state)
    else:
        phases.go_to(phase, state)
    state.place = stage.id
    if stage.step.kind == "expose":
        state.zone_id = zone_for(stage, state)


def _enter(now: EventContext, reply: Reply, phases: PhaseMachine, stage: Stage, *, looked_at: bool = False) -> None:
    """Stand at a stage and ask for what it wants; where it is said already, at the next of its read-back."""
    state = now.state
    if state.ahead.get(stage.id) and is_whole(stage, state) and not holds_by_itself(now, stage):
        stage = next_of_group(now.visit.plan, stage, state) or stage
    _stand_at(now, phases, stage)
    state.pending.clear()
    state.digit_by_digit.clear()
    state.reviewing = False
    state.modes.rest(Mode.ASKING)
    reply.facts.append(
        StepEntered(stage=name_of(stage, state.side), step=stage.step.id, phase=stage.step.phase, again=looked_at)
    )
    keep_for_repeat(stage, state)
    keep_partly_told(stage, state)
    state.asked = state.asked or must_be_asked(now.visit.plan, state, stage)
    state.pending.update(state.ahead.pop(stage.id, {}))
    if state.held_at(stage.id) and not looked_at:
        _stand_still(now, reply)
    elif state.pending and (holds_by_itself(now, stage) or all(one.id in state.pending for one in stage.step.fields)):
        # Said before their question: heard unasked, so confirmed, whatever `read_back` says of the stage.
        state.modes.push(Mode.READING_BACK)
        reply.talk.append(read_back(now.visit, state))
    else:
        state.asked_for.add(stage.id)
        reply.talk.append(question(now.visit, state))


def _review(now: EventContext, reply: Reply, phases: PhaseMachine, stage: Stage) -> None:
    """Stand at a stage that is done, to hear what is recorded, correct it, or give more light."""
    state = now.state
    if stage.id not in state.done:
        _enter(now, reply, phases, stage, looked_at=True)
        return
    _stand_at(now, phases, stage, as_it_is=True)
    state.pending.clear()
    state.reviewing = True
    state.modes.rest(Mode.ASKING)
    reply.facts.append(StepReviewed(stage=name_of(stage, state.side)))
    reply.talk.append(review(now.visit, now.wording, state))


def _stand_still(now: EventContext, reply: Reply) -> None:
    """Held: say what is to be done, every reason why, and every way on; or ask whether a value was misheard."""
    state, misheard = now.state, now.state.misheard
    state.reviewing = False
    state.modes.rest(Mode.HELD)
    if misheard is not None and state.acted_upon:
        state.misheard = None
        reply.say(WasNowIs(misheard.label, misheard.was, misheard.now), priority=Priority.ATTENTION)
    elif misheard is not None:
        state.modes.push(Mode.MISHEARD)
        reply.say(WasMisheard(misheard.label, misheard.was, misheard.now), priority=Priority.ATTENTION)
        return
    reply.talk.append(held(now.visit, state))


def _close(now: EventContext, reply: Reply, phases: PhaseMachine) -> Close | None:
    """Close the visit if nothing is open; else say what is."""
    if now.state.ending:
        return _finish(now, reply, phases, "stopped")
    items = blocking_items(now.visit.plan, now.state)
    if not items:
        return _finish(now, reply, phases, "completed_with_overrides" if now.state.overridden else "completed")
    now.state.modes.rest(Mode.OPEN_ITEMS)
    if not _only_late_question(now.state, len(items)):
        reply.facts.append(CloseRefused(open_items=items))
        reply.talk.append(Earcon.REFUSED)
    _tell_open(now, reply)
    return None


def _only_late_question(state: SessionState, count: int) -> bool:
    return state.late_window_s is not None and count == 1


def _tell_open(now: EventContext, reply: Reply) -> None:
    items = blocking_items(now.visit.plan, now.state)
    window = now.state.late_window_s
    if now.state.off_owed is not None:
        reply.say(Fixed.LIGHT_OFF_OWED, priority=Priority.ATTENTION)
    elif window is not None and _only_late_question(now.state, len(items)):
        reply.say(OneQuestionLeft(max(0, round(window[0] - now.state.now_s))))
    elif items:
        reply.say(StillOpen(items[0]))


def _finish(now: EventContext, reply: Reply, phases: PhaseMachine, outcome: Outcome) -> Close:
    """End the session for good: nothing that was overridden, flagged, over or under its light closes quietly."""
    state = now.state
    told = before_closing(now.visit, state, early=outcome == "stopped")
    if told:
        reply.say(*told, priority=Priority.ATTENTION)
    reply.facts.append(
        VisitClosed(
            outcome=outcome,
            open_items=open_items(now.visit.plan, state),
            zones=_zone_sums(now),
            practice=state.practice,
            stages_done=len(state.done),
            notes=state.notes,
        )
    )
    if outcome != "stopped":
        phases.go_to(VisitPhase.CLOSING, state)
    else:
        phases.leave(state)
    state.modes.rest(Mode.CLOSED)
    reply.talk.append(Prompt((_CLOSED[outcome],), Priority.PROMPT))
    return Close(outcome)


def _zone_sums(now: EventContext) -> tuple[ZoneSum, ...]:
    """Every zone with its credited seconds and dose."""
    ledger = now.state.ledger
    if ledger is None or not lights(now.visit.plan):
        return ()
    return tuple(
        ZoneSum(
            zone=zone.id,
            label=zone.label,
            lit_s=round(ledger.lit_s(zone.id), 3),
            possible_s=round(ledger.possible_s(zone.id), 3),
            target_s=round(ledger.target_s(zone.id), 3),
            dose_j_cm2=round(ledger.dose_j_cm2(zone.id), 4),
            runs=sum(run.zone_id == zone.id for run in ledger.runs),
            strap_shadowed=zone.strap_shadowed,
            **target_limits(ledger, zone.id),
        )
        for zone in ledger.zones
    )

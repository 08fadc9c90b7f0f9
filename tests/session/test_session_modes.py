"""The stack of modes and the machine of phases: what is restricted is refused, and nothing else."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from talking import Talk

from handsfree.definition.loader import load_bundle
from handsfree.definition.plan import VisitPhase, compile_procedure
from handsfree.model.reasons import Grounds, HeatWordSaid
from handsfree.session.modes import DROPPED_BY_A_STOP, LIES_ON, RESTING, Mode, ModeStack
from handsfree.session.phase_gates import PhaseMachine, moves, shut
from handsfree.session.prompts.fixed import HoldAction
from handsfree.session.state import Done, Hold, SessionState


def test_light_is_only_lit_where_the_session_asks():
    assert LIES_ON[Mode.LIT] == {Mode.ASKING}


def test_nothing_interrupts_the_light_but_stop_words():
    # Everything else waits for "light off": a question would talk into the light.
    assert not any(Mode.LIT in below for below in LIES_ON.values())
    assert Mode.LIT in DROPPED_BY_A_STOP


def test_a_pause_may_interrupt_whatever_waits_for_an_answer_of_the_procedure():
    assert LIES_ON[Mode.PAUSED] == {*RESTING, Mode.READING_BACK, Mode.CHECKING, Mode.WARMTH, Mode.LATE_HEAT} - {
        Mode.CLOSED
    }


def test_every_mode_rests_or_interrupts_something():
    assert set(Mode) == RESTING | set(LIES_ON)


def stack(*modes):
    found = ModeStack()
    found.rest(modes[0])
    for mode in modes[1:]:
        found.push(mode)
    return found


def test_what_interrupts_returns_to_what_it_interrupted():
    modes = stack(Mode.ASKING, Mode.READING_BACK, Mode.PAUSED, Mode.NOTING)
    modes.pop(Mode.NOTING)
    assert modes.top is Mode.PAUSED
    modes.pop(Mode.PAUSED)
    assert modes.top is Mode.READING_BACK


def test_a_stop_breaks_off_what_is_on_top_and_keeps_the_question_below():
    modes = stack(Mode.ASKING, Mode.READING_BACK, Mode.PAUSED, Mode.NOTING)
    modes.drop(DROPPED_BY_A_STOP)
    assert modes.all == (Mode.ASKING, Mode.READING_BACK)


@given(st.lists(st.sampled_from(list(Mode)), max_size=6), st.sampled_from(list(Mode)))
def test_a_refused_move_changes_nothing(pushed, other):
    modes = ModeStack()
    for mode in pushed:
        before = modes.all
        try:
            modes.push(mode)
        except ValueError:
            assert modes.all == before
            assert before[-1] not in LIES_ON.get(mode, frozenset())
        else:
            assert modes.all == (*before, mode)
    before = modes.all
    if other is not modes.top or len(before) == 1:
        with pytest.raises(ValueError, match="on top"):
            modes.pop(other)
    if other not in RESTING:
        with pytest.raises(ValueError, match="no mode to rest in"):
            modes.rest(other)
    assert modes.all == before


@pytest.fixture(scope="module")
def fitting():
    return compile_procedure(load_bundle("ulnar-splint-fitting").procedure)


def state_of(plan, *, but=(), skipped=()):
    state = SessionState(plan.stages[0].id, ModeStack())
    for stage in plan.stages:
        if stage.step.id not in but:
            state.done[stage.id] = Done.SKIPPED if stage.step.id in skipped else Done.ANSWERED
    return state


def test_the_machine_walks_through_every_gate_when_everything_is_done(fitting):
    machine = PhaseMachine(fitting)
    machine.go_to(VisitPhase.CLOSING, state_of(fitting))
    assert machine.phase is VisitPhase.CLOSING


@pytest.mark.parametrize(
    "owed",
    ["consent", "side_verification", "eye_protection", "stop_word", "skin_before", "time_out", "position", "rotation"],
)
def test_no_way_leads_to_the_light_past_what_is_owed(fitting, owed):
    machine = PhaseMachine(fitting)
    with pytest.raises(ValueError, match=owed):
        machine.go_to(VisitPhase.LIGHT, state_of(fitting, but={owed}))
    assert machine.phase is not VisitPhase.LIGHT


def test_no_gate_opens_while_something_holds(fitting):
    state = state_of(fitting)
    state.holds.append(Hold("red", "consent", Grounds(HeatWordSaid("hot")), HoldAction.LIGHT_OFF_LOOK))
    for gate in fitting.gates:
        assert "held" in set(shut(fitting, gate, state))
    with pytest.raises(ValueError, match="held"):
        PhaseMachine(fitting).go_to(VisitPhase.BEFORE, state)


def test_what_a_phase_requires_may_not_have_been_skipped(fitting):
    machine = PhaseMachine(fitting)
    with pytest.raises(ValueError, match="setup"):
        machine.go_to(VisitPhase.LIGHT, state_of(fitting, skipped={"setup"}))


def test_soft_steps_keep_no_gate_shut(fitting):
    PhaseMachine(fitting).go_to(VisitPhase.CLOSING, state_of(fitting, but={"padding", "cautions_skin"}))


def test_every_move_ahead_goes_to_the_next_phase_and_nothing_leads_out_of_closing(fitting):
    order = fitting.phases_in_order
    ahead = {(source, target) for trigger, source, target in moves(fitting) if trigger == "pass"}
    assert ahead == set(pairwise(order))
    assert not any(source is VisitPhase.CLOSING for _, source, _ in moves(fitting))


def test_going_back_needs_no_gate_and_the_way_ahead_does(fitting):
    machine, state = PhaseMachine(fitting), state_of(fitting)
    machine.go_to(VisitPhase.LIGHT, state)
    machine.go_to(VisitPhase.BEFORE, state)
    del state.done["consent"]
    with pytest.raises(ValueError, match="consent"):
        machine.go_to(VisitPhase.LIGHT, state)


def test_a_visit_is_in_the_phase_of_its_stage(bundle):
    talk = Talk(bundle)
    seen = set()
    for _ in range(400):
        if talk.outcome is not None:
            break
        session = talk.session
        assert session._phases.phase is session._visit.plan.phases[session._state.place]
        seen.add(session._phases.phase)
        talk.answer()
    assert talk.outcome == "completed"
    assert {VisitPhase.POSITION, VisitPhase.LIGHT} & seen == {VisitPhase.LIGHT} or VisitPhase.LIGHT in seen

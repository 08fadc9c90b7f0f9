"""The state table and the machines that walk it."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from procedure_files import PROCEDURE

from handsfree.definition.form import Procedure
from handsfree.definition.loader import bundled_procedures, load_bundle
from handsfree.definition.plan import (
    CLOSED,
    MODE_TABLE,
    Mode,
    Walker,
    compile_procedure,
    mode_walker,
    place_moves,
    place_walker,
)
from handsfree.definition.source_lines import parse_source, validate

# Expectations follow from the file form of this project; the arithmetic of reachability is Warshall's (1962).


@pytest.fixture(scope="module")
def plan():
    procedure = validate(parse_source(PROCEDURE, "small"), Procedure)
    assert procedure is not None
    return compile_procedure(procedure)


def test_a_step_for_each_side_becomes_two_stages_injured_first(plan):
    assert [stage.id for stage in plan.stages_of("nerve_before")] == ["nerve_before@injured", "nerve_before@other"]
    assert [stage.id for stage in plan.stages_of("ring")] == ["ring"]


def test_stages_keep_the_order_of_the_file(plan):
    order = list(dict.fromkeys(stage.step.id for stage in plan.stages))
    assert order == [step.id for step in plan.procedure.steps]


def test_only_a_branch_can_be_passed_on_the_way_ahead(plan):
    ways = {target for source, target in plan.forward if source == "next_care"}
    assert ways == {"handover", "advice"}
    assert [target for source, target in plan.forward if source == "ring"] == ["band"]
    assert [source for source, target in plan.forward if target == CLOSED] == ["advice"]


@pytest.mark.parametrize("name", bundled_procedures())
def test_every_stage_of_every_bundled_procedure_leads_to_the_end(name):
    whole = compile_procedure(load_bundle(name).procedure)
    ways = {}
    for source, target in whole.forward:
        ways.setdefault(source, set()).add(target)
    reaches = {CLOSED}
    for stage in reversed(whole.stages):
        if ways[stage.id] & reaches:
            reaches.add(stage.id)
    assert {stage.id for stage in whole.stages} <= reaches


@pytest.mark.parametrize("name", bundled_procedures())
def test_no_move_ahead_passes_a_step_that_has_no_branch(name):
    whole = compile_procedure(load_bundle(name).procedure)
    ids = [stage.id for stage in whole.stages]
    for source, target in whole.forward:
        end = ids.index(target) if target != CLOSED else len(ids)
        assert all(stage.step.when is not None for stage in whole.stages[ids.index(source) + 1 : end])


def test_a_walker_refuses_what_is_not_in_its_table_and_stays(plan):
    walker = place_walker(plan)
    assert walker.state == "session_kind"
    with pytest.raises(ValueError, match="no move"):
        walker.move("advance:cure_open")
    with pytest.raises(ValueError, match="no move"):
        walker.move("to_closed")  # the automatic moves of the library do not exist
    assert walker.state == "session_kind"
    walker.move("advance:side")
    assert walker.state == "side"


@settings(deadline=None)
@given(st.data())
def test_a_walker_is_always_where_its_table_says(data):
    procedure = validate(parse_source(PROCEDURE, "small"), Procedure)
    assert procedure is not None
    small = compile_procedure(procedure)
    table = {(trigger, source): target for trigger, source, target in place_moves(small)}
    triggers = sorted({trigger for trigger, _ in table})
    walker = place_walker(small)
    for trigger in data.draw(st.lists(st.sampled_from(triggers), max_size=8)):
        expected = table.get((trigger, walker.state))
        assert walker.can(trigger) == (expected is not None)
        if expected is not None:
            walker.move(trigger)
            assert walker.state == expected


def test_nothing_leads_out_of_closed(plan):
    assert all(source != CLOSED for _, source, _ in place_moves(plan))
    assert MODE_TABLE[Mode.CLOSED] == frozenset()


def test_two_walkers_do_not_share_their_place():
    one, other = mode_walker(), mode_walker()
    one.move(f"to:{Mode.PAUSED.value}")
    assert (one.state, other.state) == (Mode.PAUSED.value, Mode.ASKING.value)


def test_every_mode_is_in_the_table():
    assert set(MODE_TABLE) == set(Mode)


@pytest.mark.parametrize("mode", [mode for mode in Mode if mode is not Mode.CLOSED])
def test_a_stop_word_has_a_way_to_the_pause_from_every_mode(mode):
    # Stop words act in any state (law 5 of this project): the table must have the way.
    assert mode is Mode.PAUSED or Mode.PAUSED in MODE_TABLE[mode]


@pytest.mark.parametrize("mode", [mode for mode in Mode if mode is not Mode.CLOSED])
def test_a_red_latch_has_a_way_from_every_mode(mode):
    assert mode is Mode.LATCHED or Mode.LATCHED in MODE_TABLE[mode]


def test_light_only_goes_on_from_a_question_or_a_doubt():
    assert {mode for mode, ways in MODE_TABLE.items() if Mode.LIT in ways} == {Mode.ASKING, Mode.DOUBTING}


def test_light_never_leads_straight_to_the_end():
    assert Mode.CLOSED not in MODE_TABLE[Mode.LIT]


@pytest.mark.parametrize(
    ("states", "moves", "start", "words"),
    [
        (["a", "a"], [], "a", "twice"),
        (["a"], [("go", "a", "b")], "a", "unknown state"),
        (["a", "b", "c"], [("go", "a", "b"), ("go", "a", "c")], "a", "two states"),
        (["a"], [], "z", "first state"),
        (["a", "b"], [], "a", "cannot be reached: b"),
    ],
)
def test_a_table_with_faults_is_refused(states, moves, start, words):
    with pytest.raises(ValueError, match=words):
        Walker(states, moves, start)

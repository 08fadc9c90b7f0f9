"""Of several holds the gravest is answered for first, then the oldest; what is said, lifted and corrected is the same.

Expected behaviour: the project's own rule (DEVELOPERS.md, law 6); common practice, no source.
"""

import pytest
from procedure_files import PROCEDURE, write_files
from talking import Talk

from handsfree.definition.loader import load_bundle
from handsfree.model.reasons import FlaggedAnswer, Grounds

RING = "      - {id: ring, label: ring, options: {absent: [absent], stuck: [stuck]}, stop: [stuck]}\n"
NAIL = "      - {id: nail, label: nail, options: {clean: [clean], painted: [painted]}, stop: [painted]}\n"
RED = "      - {id: nail, label: nail, options: {clean: [clean], painted: [painted]}, red: [painted]}\n"
STUCK = Grounds(FlaggedAnswer("ring", "stuck", "stuck", ""))
PAINTED = Grounds(FlaggedAnswer("nail", "painted", "painted", ""))


def held_twice(folder, second=NAIL):
    """Held for the ring first, then for the nail."""
    procedure = PROCEDURE.replace(RING, RING + second)
    talk = Talk(load_bundle(str(write_files(folder, procedure=procedure)))).go_to("ring")
    talk.give(ring="stuck", nail="painted")
    talk.affirm()
    assert [fact.grounds for fact in talk.facts("hold_set")] == [STUCK, PAINTED]
    return talk


def lift(talk):
    talk.override()
    return talk.facts("hold_lifted")[-1].grounds


def test_of_two_stops_the_older_one_is_told_and_lifted_first(tmp_path):
    talk = held_twice(tmp_path)
    assert talk.said.startswith("Do not go on. Ring stuck; nail painted.")
    assert lift(talk) == STUCK
    assert talk.said.startswith("Do not go on. Nail painted.")
    assert lift(talk) == PAINTED


def test_a_red_one_comes_before_an_older_stop(tmp_path):
    talk = held_twice(tmp_path, RED)
    assert talk.said.startswith("Stop. Call the senior clinician now. Nail painted; ring stuck.")
    assert lift(talk) == PAINTED
    assert lift(talk) == STUCK


@pytest.mark.parametrize(("second", "named"), [(NAIL, "Ring stuck."), (RED, "Nail painted.")])
def test_where_several_hold_the_question_who_answers_names_which_one(tmp_path, second, named):
    talk = held_twice(tmp_path, second)
    talk.say("override")
    assert talk.said == f"{named} Role? surgeon, ward nurse?"


def test_where_one_holds_nothing_more_is_said(talk):
    talk.go_to("ring").give(ring="stuck")
    talk.say("override")
    assert talk.said == "Role? surgeon, ward nurse?"


def test_correction_goes_to_the_step_of_the_one_that_is_told(talk):
    talk.go_to("nerve_before@left").give(touch="absent", refill=1)
    talk.affirm()
    state = talk.session._state
    # A hold of another step that came later, as a corrected baseline sets it.
    state.place = "ring"
    assert talk.session.snapshot.ways[0] == "correction"
    talk.say("correction")
    assert talk.facts("correction_opened")[-1].stage == "nerve_before@left"
    assert talk.at == "nerve_before@left"


def test_a_flag_of_one_hand_outlives_the_lifting_of_the_same_on_the_other(talk):
    """Common practice, no source: what somebody answered for on one hand says nothing of the other."""
    talk.go_to("nerve_before@left")
    for hand in ("left", "right"):
        assert talk.at == f"nerve_before@{hand}"
        talk.give(touch="absent", refill=1)
        talk.affirm()
        assert talk.mode == "held"
        talk.say("status")
        assert "Flagged: touch absent." in talk.said, hand
        talk.override()
    talk.say("status")
    assert "Flagged: touch absent." not in talk.said

"""A guided visit: what was recorded in the phase is corrected by its label while another question is open.

That a correction names what it is about, and that nothing which could be of two items is guessed, is this project's own
rule; common practice, no source.
"""

import pytest
from narrating import Narrator

from handsfree.definition.loader import load_bundle
from handsfree.model.working import Working


@pytest.fixture(scope="module")
def fitting():
    return load_bundle("ulnar-splint-fitting")


def guided(bundle, step, *, going_on=True):
    return Narrator(bundle, working=Working.GUIDED, going_on=going_on).go_to(step)


def after_flags(fitting, *, going_on):
    """The question after the one about wounds is up."""
    talk = guided(fitting, "contraindications_wound", going_on=going_on)
    before = talk.at
    while talk.at == before or talk.mode != "asking":
        talk.answer()
    return talk


@pytest.mark.parametrize("going_on", [True, False])
def test_the_question_left_last_is_corrected_by_label_and_the_rest_of_it_stands(fitting, going_on):
    talk = after_flags(fitting, going_on=going_on)
    asked = talk.at
    talk.lines("correction, wound present")
    assert (talk.mode, talk.at) == ("reading_back", "contraindications_wound")
    assert talk.said == "wound present. Correct?"
    talk.lines("affirmative")
    kept = talk.session._state.answers["contraindications_wound"]
    assert kept["wound"].value.value == "present"
    assert kept["infection"].value.value == "absent"
    assert talk.session._state.held_at("contraindications_wound") or talk.at == asked


def test_without_what_stands_it_is_on_record_as_an_amendment(fitting):
    talk = after_flags(fitting, going_on=False)
    talk.lines("correction, infection present", "affirmative")
    amended = [(one.field, one.value.value) for one in talk.facts("reading_amended")]
    assert amended == [("infection", "present")]


def test_any_step_of_the_phase_is_corrected_and_the_visit_goes_on_where_it_stood(fitting):
    talk = after_flags(fitting, going_on=True)
    asked = talk.at
    talk.lines("correction, mechanism twist", "affirmative")
    assert talk.session._state.answers["injury"]["mechanism"].value.value == "twist"
    assert (talk.mode, talk.at) == ("asking", asked)


def test_nothing_that_is_not_recorded_yet_and_not_two_steps_at_once(fitting):
    talk = after_flags(fitting, going_on=True)
    asked = talk.at
    talk.lines("correction, package damaged")
    assert talk.said == "Nothing is recorded of that yet."
    talk.lines("correction, wound present, mechanism twist")
    assert talk.said == "Say a correction of one step at a time."
    assert (talk.mode, talk.at) == ("asking", asked)


def test_what_could_be_of_either_side_is_not_taken(fitting):
    talk = guided(fitting, "power_before@left")
    talk.lines("correction, pulse weak")
    assert talk.said == "Pulse: say the side first, then the value."
    talk.lines("correction, left pulse weak")
    assert talk.at == "circulation_before@left"


def test_part_of_an_answer_comes_first(fitting):
    talk = guided(fitting, "contraindications_wound")
    talk.lines("wound absent")
    assert talk.session.wanted.earlier is None


def test_the_help_names_it_and_it_works(fitting):
    talk = after_flags(fitting, going_on=True)
    talk.say("help")
    assert talk.said.endswith("; or correction, the name of an item, and what is right.")
    first = guided(fitting, "session_kind")
    first.say("help")
    assert "correction" not in first.said

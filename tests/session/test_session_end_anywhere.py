"""An early end is heard wherever no light may be on: nobody is kept in a question, or in the answers of an override.

Expected behaviour: the law of this project that there is always a way on (DEVELOPERS.md); common practice, no source.
"""

import pytest
from controls_table import PLACES
from talking import Talk

from handsfree.model.commands import Control

ANYWHERE = [
    name
    for name, (mode, _, _) in PLACES.items()
    if mode not in {"lit", "stray", "cried", "doubting", "noting", "closed"} and name != "held_light"
]


@pytest.fixture(params=ANYWHERE)
def place(request, bundle):
    talk = Talk(bundle, going_on=True)
    mode, beneath, way = PLACES[request.param]
    way(talk)
    assert talk.mode == mode
    return talk, beneath if mode.startswith("override") else mode


def test_the_visit_can_be_ended_there(place):
    talk, _ = place
    assert Control.END_VISIT in talk.session.wanted.controls
    talk.say("end_visit")
    assert (talk.mode, talk.said) == ("override_role", "Role? surgeon, ward nurse?")
    talk.give(role="nurse")
    talk.give(reason="reviewed")
    assert talk.said == "End the visit. Ward nurse; reviewed by the senior. Correct?"
    talk.affirm()
    assert talk.kinds[0] == "visit_ended_early"
    while talk.outcome is None:
        talk.answer()
    assert talk.outcome == "stopped"


def test_taken_back_it_goes_on_where_it_was(place):
    talk, mode = place
    overriding = talk.session._state.override
    talk.say("end_visit")
    # What was being overridden is dropped, on record.
    dropped = [fact.of for fact in talk.facts("override_dropped")]
    assert dropped == ([overriding.of] if overriding is not None else [])
    talk.say("negate")
    assert talk.mode == mode
    assert not talk.said.startswith("Role?")
    assert talk.facts("visit_ended_early") == []


def test_taken_back_in_a_skip_the_reason_is_asked_again(talk):
    talk.go_to("remark").say("skip")
    asked = talk.said
    talk.say("end_visit")
    talk.say("negate")
    assert talk.said == asked

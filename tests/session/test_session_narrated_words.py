"""What anybody would say while narrating: "no wound or infection", "weak pulse", "the rest intact", a side in between.

What each means is this project's own rule: nothing that could be of two items is guessed; common practice, no source.
"""

import pytest
from narrating import SIDES, Narrator

from handsfree.definition.loader import load_bundle
from handsfree.model.readings import HowToSay, NeedsAsking, Option, Side


@pytest.fixture(scope="module")
def fitting():
    return load_bundle("ulnar-splint-fitting")


@pytest.fixture
def talk(fitting):
    return Narrator(fitting).lines("practice session", SIDES, "affirmative")


def meant(talk, text):
    command = talk.line(text)
    assert command is not None, text
    return {(one.slot, one.side): getattr(one.value, "value", one.value) for one in command.values}


@pytest.mark.parametrize(
    ("words", "absent"),
    [
        ("no wound or infection", ["wound", "infection"]),
        ("no infection or wound", ["wound", "infection"]),
        ("no open fracture, wound or infection", ["open_fracture", "wound", "infection"]),
        ("no wound, no infection", ["wound", "infection"]),
        ("package intact, no wound nor infection, sleeve intact", ["wound", "infection"]),
    ],
)
def test_no_is_said_of_several(talk, words, absent):
    found = meant(talk, words)
    said = {slot.rpartition(".")[2] for (slot, _), value in found.items() if value == "absent"}
    assert said == set(absent)
    assert talk.mode == "asking"


@pytest.mark.parametrize("words", ["no wound or infection present", "no wound or"])
def test_what_a_list_of_no_leaves_half_said_is_not_taken(talk, words):
    assert talk.line(words) is None


def test_no_ends_where_an_answer_follows(talk):
    found = meant(talk, "no wound, infection present")
    assert [*found.values()] == ["absent", "present"]
    assert talk.mode == "reading_back"


def test_an_answer_before_its_label(talk):
    found = meant(talk, "color usual on the right, right weak pulse, damaged package, sleeve intact")
    assert found["circulation_before.pulse", Side.RIGHT] == "weak"
    assert found["circulation_before.color", Side.RIGHT] == "usual"
    assert found["device_condition.package", None] == "damaged"
    assert found["device_condition.sleeve", None] == "intact"


def test_an_answer_of_a_side_before_its_label_wants_the_side(talk):
    assert meant(talk, "weak pulse")["circulation_before.pulse", None] == NeedsAsking(HowToSay.WHICH_SIDE)
    found = meant(talk, "weak pulse on the left")
    assert found == {("circulation_before.pulse", Side.LEFT): "weak"}
    assert talk.mode == "reading_back"


@pytest.mark.parametrize("words", ["intact package", "absent wound", "right order", "hand intact wrist"])
def test_what_many_items_have_stands_behind_its_label_alone(talk, words):
    assert talk.line(words) is None


def test_a_side_inside_a_breath_is_of_what_comes_after_it(talk):
    found = meant(talk, "right refill two seconds, left refill one point five")
    assert {place: str(value) for place, value in found.items()} == {
        ("circulation_before.refill", Side.RIGHT): "2",
        ("circulation_before.refill", Side.LEFT): "1.5",
    }
    assert (talk.mode, talk.said) == (
        "reading_back",
        "right circulation: refill two; left circulation: refill one point five. Correct?",
    )


def test_a_side_inside_a_breath_is_not_of_what_stands_before_it(talk):
    found = meant(talk, "order right, left pulse present, color usual")
    assert found["side_verification.order", None] == "right"
    assert found["circulation_before.pulse", Side.LEFT] == "present"
    assert found["circulation_before.color", Side.LEFT] == "usual"


def test_the_rest_is_what_was_not_named_and_is_read_back_item_by_item(talk):
    found = meant(talk, "hand bruised, the rest intact")
    assert found == {
        ("skin_before.hand", None): "bruised",
        ("skin_before.wrist", None): "intact",
        ("skin_before.forearm", None): "intact",
    }
    assert (talk.mode, talk.said) == ("reading_back", "hand bruised; wrist and forearm intact. Correct?")
    talk.lines("affirmative")
    assert talk.confirmed()["skin_before.wrist"] == "affirmed"


def test_the_rest_is_never_what_was_said_before(talk):
    talk.lines("hand bruised")
    found = meant(talk, "the rest intact")
    assert found == {("skin_before.wrist", None): "intact", ("skin_before.forearm", None): "intact"}
    talk.lines("affirmative")
    assert talk.session._state.answers["skin_before"]["hand"].value == Option("bruised")


def test_the_rest_of_a_side_is_of_that_side(talk):
    found = meant(talk, "right sensation, median reduced, the rest intact")
    assert {place: value for place, value in found.items() if place[1] is Side.LEFT} == {}
    assert found["sensation_before.ulnar", Side.RIGHT] == found["sensation_before.radial", Side.RIGHT] == "intact"
    talk.lines("negative")
    found = meant(talk, "both sides, power median strong, the rest strong")
    assert len(found) == 6
    assert set(found.values()) == {"strong"}


@pytest.mark.parametrize(
    ("before", "words"),
    [
        ("", "right circulation, pulse present, the rest intact"),  # a refill is no answer of a list
        ("hand intact, wrist intact, forearm intact", "the rest intact"),  # nothing is left
    ],
)
def test_where_the_rest_is_not_clear_it_is_asked_and_nothing_of_it_is_taken(talk, before, words):
    if before:
        talk.lines(before)
    found = meant(talk, words)
    assert NeedsAsking(HowToSay.EACH_BY_ITSELF) in found.values()
    assert "the rest is not clear" in talk.said
    assert not [one for one in talk.facts("reading_proposed") if one.heard.text == words and one.field != "pulse"]


def test_a_graver_answer_said_again_with_the_rest_is_not_lost_at_its_read_back(talk):
    meant(talk, "right median tingling, the rest intact")
    found = meant(talk, "right sensation, median absent, the rest intact")
    assert found["sensation_before.median", Side.RIGHT] == "absent"
    talk.lines("affirmative")
    if talk.mode == "reading_back":
        talk.lines("affirmative")
    median = [fact for fact in talk.facts("reading_confirmed") if fact.field == "median"]
    assert [fact.value.value for fact in median] == ["absent"]

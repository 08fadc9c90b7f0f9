"""What anybody would say while narrating: "no wound or infection", "weak pulse", "the rest intact", a side in between.

What each means is this project's own rule: nothing that could be of two items is guessed; common practice, no source.
"""

import pytest

from handsfree.model.readings import HowToSay, NeedsAsking, Option, Side


def meant(narrator, text):
    command = narrator.line(text)
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
def test_no_is_said_of_several(narrator, words, absent):
    found = meant(narrator, words)
    said = {slot.rpartition(".")[2] for (slot, _), value in found.items() if value == "absent"}
    assert said == set(absent)
    assert narrator.mode == "asking"


@pytest.mark.parametrize("words", ["no wound or infection present", "no wound or"])
def test_what_a_list_of_no_leaves_half_said_is_not_taken(narrator, words):
    assert narrator.line(words) is None


def test_no_ends_where_an_answer_follows(narrator):
    found = meant(narrator, "no wound, infection present")
    assert [*found.values()] == ["absent", "present"]
    assert narrator.mode == "reading_back"


def test_an_answer_before_its_label(narrator):
    found = meant(narrator, "color usual on the right, right weak pulse, damaged package, sleeve intact")
    assert found["circulation_before.pulse", Side.RIGHT] == "weak"
    assert found["circulation_before.color", Side.RIGHT] == "usual"
    assert found["device_condition.package", None] == "damaged"
    assert found["device_condition.sleeve", None] == "intact"


def test_an_answer_of_a_side_before_its_label_wants_the_side(narrator):
    assert meant(narrator, "weak pulse")["circulation_before.pulse", None] == NeedsAsking(HowToSay.WHICH_SIDE)
    found = meant(narrator, "weak pulse on the left")
    assert found == {("circulation_before.pulse", Side.LEFT): "weak"}
    assert narrator.mode == "reading_back"


@pytest.mark.parametrize("words", ["intact package", "absent wound", "right order", "hand intact wrist"])
def test_what_many_items_have_stands_behind_its_label_alone(narrator, words):
    assert narrator.line(words) is None


def test_a_side_inside_a_breath_is_of_what_comes_after_it(narrator):
    found = meant(narrator, "right refill two seconds, left refill one point five")
    assert {place: str(value) for place, value in found.items()} == {
        ("circulation_before.refill", Side.RIGHT): "2",
        ("circulation_before.refill", Side.LEFT): "1.5",
    }
    assert (narrator.mode, narrator.said) == (
        "reading_back",
        "right circulation: refill two; left circulation: refill one point five. Correct?",
    )


def test_a_side_inside_a_breath_is_not_of_what_stands_before_it(narrator):
    found = meant(narrator, "order right, left pulse present, color usual")
    assert found["side_verification.order", None] == "right"
    assert found["circulation_before.pulse", Side.LEFT] == "present"
    assert found["circulation_before.color", Side.LEFT] == "usual"


def test_the_rest_is_what_was_not_named_and_is_read_back_item_by_item(narrator):
    found = meant(narrator, "hand bruised, the rest intact")
    assert found == {
        ("skin_before.hand", None): "bruised",
        ("skin_before.wrist", None): "intact",
        ("skin_before.forearm", None): "intact",
    }
    assert (narrator.mode, narrator.said) == ("reading_back", "hand bruised; wrist and forearm intact. Correct?")
    narrator.lines("affirmative")
    assert narrator.confirmed()["skin_before.wrist"] == "affirmed"


def test_the_rest_is_never_what_was_said_before(narrator):
    narrator.lines("hand bruised")
    found = meant(narrator, "the rest intact")
    assert found == {("skin_before.wrist", None): "intact", ("skin_before.forearm", None): "intact"}
    narrator.lines("affirmative")
    assert narrator.session._state.answers["skin_before"]["hand"].value == Option("bruised")


def test_the_rest_of_a_side_is_of_that_side(narrator):
    found = meant(narrator, "right sensation, median reduced, the rest intact")
    assert {place: value for place, value in found.items() if place[1] is Side.LEFT} == {}
    assert found["sensation_before.ulnar", Side.RIGHT] == found["sensation_before.radial", Side.RIGHT] == "intact"
    narrator.lines("negative")
    found = meant(narrator, "both sides, power median strong, the rest strong")
    assert len(found) == 6
    assert set(found.values()) == {"strong"}


@pytest.mark.parametrize(
    ("before", "words"),
    [
        ("", "right circulation, pulse present, the rest intact"),  # a refill is no answer of a list
        ("hand intact, wrist intact, forearm intact", "the rest intact"),  # nothing is left
    ],
)
def test_where_the_rest_is_not_clear_it_is_asked_and_nothing_of_it_is_taken(narrator, before, words):
    if before:
        narrator.lines(before)
    found = meant(narrator, words)
    assert NeedsAsking(HowToSay.EACH_BY_ITSELF) in found.values()
    assert "the rest is not clear" in narrator.said
    assert not [one for one in narrator.facts("reading_proposed") if one.heard.text == words and one.field != "pulse"]


def test_a_graver_answer_said_again_with_the_rest_is_not_lost_at_its_read_back(narrator):
    meant(narrator, "right median tingling, the rest intact")
    found = meant(narrator, "right sensation, median absent, the rest intact")
    assert found["sensation_before.median", Side.RIGHT] == "absent"
    narrator.lines("affirmative")
    if narrator.mode == "reading_back":
        narrator.lines("affirmative")
    median = [fact for fact in narrator.facts("reading_confirmed") if fact.field == "median"]
    assert [fact.value.value for fact in median] == ["absent"]

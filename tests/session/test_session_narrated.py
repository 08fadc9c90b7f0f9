"""A narrated visit: said in any order, told apart, read back in groups, checked at the gate.

What is right comes from the file of the procedure and from this project's own rules; common practice, no source.
"""

from pathlib import Path

import pytest
from narrating import SIDES, Narrator

import handsfree
from handsfree.definition.loader import load_bundle
from handsfree.model.commands import GiveValues, SlotValue
from handsfree.model.readings import HowToSay, NeedsAsking, Option

GUIDE = Path(handsfree.__file__).parent / "procedures" / "guide"


@pytest.fixture
def talk(fitting):
    return Narrator(fitting).lines("practice session")


@pytest.fixture
def sided(talk):
    return talk.lines(SIDES, "affirmative")


def test_a_reading_in_the_breath_is_read_back_with_the_rest_of_it_and_must_be_affirmed(talk):
    talk.lines("package intact, lot number alfa four bravo two")
    assert (talk.mode, talk.said) == ("reading_back", "lot alfa four bravo, two; package intact. Correct?")
    talk.wait(300)
    assert "device_lot.lot" not in talk.confirmed()
    talk.lines("affirmative")
    assert talk.confirmed()["device_lot.lot"] == talk.confirmed()["device_condition.package"] == "affirmed"


def test_negative_keeps_nothing_of_the_breath(talk):
    talk.lines("package intact, lot alfa four bravo two", "negative")
    assert talk.kinds == ["read_back_disputed", "read_back_disputed"]
    assert not talk.session._state.standing
    talk.lines("lot alfa four bravo three", "affirmative")
    assert talk.confirmed().keys() == {"session_kind.kind", "device_lot.lot"}


def test_said_again_changes_nothing(talk):
    talk.lines("hand intact, wrist intact, forearm intact")
    before = dict(talk.session._state.standing)
    talk.lines("hand intact, wrist intact, forearm intact")
    assert talk.session._state.standing == before
    assert talk.mode == "asking"


def test_the_side_is_said_before_or_after_and_is_never_guessed(sided):
    command = sided.line("refill two seconds")
    assert command.values[0].value == NeedsAsking(HowToSay.WHICH_SIDE)
    assert sided.kinds == ["reading_refused"]
    assert "left or right" in sided.said
    sided.lines("capillary refill two seconds on the left")
    assert sided.said == "left circulation: refill two. Correct?"
    sided.lines("negative", "left hand, refill two, pulse present")
    assert sided.said == "left circulation: pulse present; refill two. Correct?"
    sided.lines("affirmative")
    assert {name for name in sided.confirmed() if name.startswith("circulation")} == {
        "circulation_before@left.pulse",
        "circulation_before@left.refill",
    }


def test_a_side_in_doubt_takes_nothing_sided_of_the_breath(sided):
    sided.lines("refill two, pulse present on the right, package intact")
    assert "circulation_before@right.pulse" not in {*sided.session._state.standing, *sided.values()}
    assert "device_condition.package" in sided.session._state.standing


def test_before_the_side_is_known_nothing_sided_is_taken(talk):
    assert talk.line("right hand, pulse present") is None


def test_findings_may_be_of_both_sides_measures_never(sided):
    sided.lines("both sides, median intact, ulnar strong")
    names = set(sided.session._state.standing)
    assert {"sensation_before@injured.median", "sensation_before@other.median"} <= names
    assert {"power_before@injured.ulnar", "power_before@other.ulnar"} <= names
    command = sided.line("both hands, refill two")
    assert command.values[0].value == NeedsAsking(HowToSay.WHICH_SIDE)


def test_what_could_be_of_two_steps_is_asked_unless_a_topic_tells(sided):
    command = sided.line("right median absent")
    assert command.values[0].value == NeedsAsking(HowToSay.WHICH_ONE, ("sensation", "power"))
    assert "sensation" in sided.said
    assert "power" in sided.said
    sided.lines("right sensation median absent")
    assert (sided.mode, sided.said) == ("reading_back", "right sensation: median absent. Correct?")


def test_the_answer_tells_two_items_of_one_name_apart(sided):
    sided.lines("order present, right sensation median intact, power median strong")
    assert {"order.order", "sensation_before@injured.median", "power_before@injured.median"} <= {
        *sided.session._state.standing
    }


def test_the_side_cannot_be_changed_once_anything_of_a_side_was_taken(sided):
    sided.lines("refill two on the left", "affirmative")
    sided.lines("order left")
    assert sided.kinds == ["reading_refused"]
    assert "Readings of both sides depend on it" in sided.said
    assert sided.session.snapshot.side == "right"
    assert "circulation_before@left.refill" in sided.confirmed()


def test_before_that_a_side_is_corrected_by_its_label_and_held_where_they_differ(sided):
    sided.lines("correction, order left", "affirmative")
    assert sided.mode == "held"
    sided.lines("correction", "order right", "affirmative")
    assert sided.session.snapshot.hold is None
    assert sided.session.snapshot.side == "right"


def test_a_red_finding_is_affirmed_and_then_holds(sided):
    sided.lines("right hand, pulse absent, color usual")
    assert sided.mode == "reading_back"
    assert "hold_set" not in sided.kinds
    sided.lines("affirmative")
    assert (sided.mode, sided.at) == ("held", "circulation_before@right")
    assert sided.line("package intact") is None


def test_what_is_added_while_something_is_read_back_is_read_back_too(sided):
    sided.lines("lot alfa four bravo two", "padding complete")
    assert (sided.mode, sided.said) == ("reading_back", "padding complete. Correct?")
    sided.lines("affirmative")
    assert sided.confirmed()["device_lot.lot"] == "affirmed"
    assert [one.step for one in sided.facts("step_confirmed")] == ["padding"]


def test_what_was_done_is_narrated_where_it_is_the_next_step_too():
    talk = Narrator(load_bundle(str(GUIDE / "water-bath.yaml"))).lines("code kilo four", "affirmative")
    assert talk.at == "filled"
    assert talk.line("yes") is None  # nobody was asked
    talk.lines("bath switched on", "room two zero", "affirmative")
    assert [one.step for one in talk.facts("step_confirmed")] == ["filled"]


def test_the_side_that_was_spoken_of_last_goes_on_in_the_next_breath(sided):
    sided.lines("left circulation, pulse present, refill two", "temperature warm")
    assert "left circulation: temperature warm" in sided.said
    sided.lines("affirmative")
    assert "circulation_before@left.temperature" in sided.confirmed()


def test_two_measures_wait_for_each_other(talk):
    talk.lines("wrist circumference one six point five")
    assert (talk.mode, talk.said) == ("asking", "")
    talk.lines("what is missing")
    talk.lines("second circumference one seven point five")
    assert talk.kinds[-1] == "reading_refused"
    assert "differ by one" in talk.said
    talk.lines("circumference one six point five, second circumference one six point seven", "affirmative")
    assert talk.facts("size_chosen")[0].size == "medium"


def test_the_one_item_of_a_phase_is_asked_for(fitting):
    talk = Narrator(fitting)
    assert talk.session.snapshot.prompt == "Is this a live or a practice session?"


def test_affirmative_and_more_in_one_breath(talk):
    talk.lines("lot alfa four bravo two", "affirmative, package intact, sleeve intact")
    assert talk.confirmed()["device_lot.lot"] == "affirmed"
    assert {"device_condition.package", "device_condition.sleeve"} <= {*talk.session._state.standing}
    assert talk.mode == "asking"


def test_affirmative_and_more_that_was_in_doubt_loses_nothing_of_it(talk):
    talk.lines("lot alfa four bravo two")
    given = (
        SlotValue("device_condition.package", Option("intact")),
        SlotValue("injury.bone", Option("fifth_metacarpal")),
    )
    talk.speak(GiveValues(given, lead="affirm"), doubted=True)
    assert talk.mode == "doubting"
    talk.affirm()
    assert talk.confirmed()["device_lot.lot"] == "affirmed"
    assert talk.mode == "reading_back"  # what was in doubt is affirmed once more
    talk.affirm()
    assert talk.confirmed()["device_condition.package"] == talk.confirmed()["injury.bone"] == "affirmed"


def test_negative_names_all_that_it_drops_where_only_the_last_of_it_was_read_back(sided):
    sided.lines("pulse absent on the right", "package intact")
    assert (sided.mode, "pulse" in sided.said) == ("reading_back", False)
    sided.lines("negative")
    assert "Not recorded: right circulation pulse, device package. Say it again." in sided.said

"""Both hands, examined alike one after the other, share one read-back (`read_back: sides`).

What is right is this project's own rule: every value is affirmed aloud with its side, and what stops waits for nothing.
"""

from decimal import Decimal

import pytest
from procedure_files import PROCEDURE, write_files
from talking import Talk

from handsfree.definition.loader import load_bundle
from handsfree.errors import ProcedureFileError
from handsfree.model.readings import Side, value_text
from handsfree.understanding.interpreter import interpret, typed

HAND = "pulse present, refill two, color usual, temperature warm, median intact, ulnar intact, radial intact"
SLOWER = HAND.replace("two", "one point five")
FIRST, SECOND = "circulation_before@left", "circulation_before@right"
STEPS = {"circulation_before", "sensation_before"}


def say(talk, text):
    heard = typed(text, talk.session.wanted, talk.now_s)
    assert heard is not None, text
    command = interpret(heard, talk.session.wanted)
    assert command is not None
    return talk.speak(command, words=text)


@pytest.fixture
def talk(fitting):
    """A visit at the first hand of the fitting, the left one."""
    talk = Talk(fitting).go_to("side_verification")
    talk.give(order="left", consent="left", image="left", patient="left", mark="left")
    talk.affirm()
    return talk.go_to(FIRST)


@pytest.fixture
def second(talk):
    """The same at the other hand, while nothing of the first is confirmed."""
    say(talk, HAND)
    assert (talk.at, talk.mode) == (SECOND, "asking")
    return talk


def kept(talk):
    return {
        (fact.step, fact.side, fact.field): value_text(fact.value)
        for fact in talk.facts("reading_confirmed")
        if fact.step in STEPS
    }


def test_both_hands_are_read_back_once_and_each_value_is_affirmed_by_its_side(second):
    assert second.said == "Right hand: how are pulse, refill, color, and temperature?"
    assert not kept(second)
    say(second, SLOWER)
    assert second.said == (
        "Both sides: pulse present; color usual; temperature warm; median, ulnar and radial intact. "
        "Left: refill two, seconds. Right: refill one point five, seconds. Correct?"
    )
    assert len(second.session.snapshot.read_back) == 14
    assert second.session.snapshot.read_back["circulation_before@left.refill"] == "2"
    assert second.session.snapshot.read_back["circulation_before@right.refill"] == "1.5"
    second.affirm()
    found = kept(second)
    assert len(found) == 14
    assert found["circulation_before", Side.LEFT, "refill"] == "2"
    assert found["circulation_before", Side.RIGHT, "refill"] == "1.5"
    facts = [fact for fact in second.facts("reading_confirmed") if fact.step in STEPS]
    assert {fact.read_back for fact in facts} == {"affirmed"}
    assert {fact.stage.partition("@")[2] for fact in facts} == {"left", "right"}
    assert second.at == "power_before@left"


def test_what_is_the_same_is_said_once_for_both(second):
    say(second, HAND)
    assert second.said == (
        "Both sides: pulse present; refill two, seconds; color usual; temperature warm; "
        "median, ulnar and radial intact. Correct?"
    )


def test_short_read_backs_say_all_three_only_of_a_whole_step(fitting):
    talk = Talk(fitting, expert=True).go_to("side_verification")
    talk.give(order="left", consent="left", image="left", patient="left", mark="left")
    talk.affirm()
    talk.go_to(FIRST)
    say(talk, HAND)
    say(talk, HAND.replace("radial intact", "radial reduced"))
    assert "median and ulnar intact" in talk.said
    assert talk.said.endswith("Left: radial intact. Right: radial reduced?")


def test_a_red_answer_of_the_first_hand_is_read_back_before_the_other_is_asked(talk):
    say(talk, HAND.replace("pulse present", "pulse absent"))
    assert talk.mode == "reading_back"
    assert talk.said.startswith("Left: pulse absent")
    talk.affirm()
    assert (talk.at, talk.mode) == (FIRST, "held")


def test_a_red_answer_of_the_second_hand_holds_and_the_first_is_kept_with_it(second):
    say(second, "pulse absent")
    assert second.mode == "reading_back"
    assert second.said == (
        "Left: pulse present; refill two, seconds; color usual; temperature warm; "
        "median, ulnar and radial intact. Right: pulse absent. Correct?"
    )
    second.affirm()
    assert (second.at, second.mode) == (SECOND, "held")
    assert sum(side is Side.LEFT for _, side, _ in kept(second)) == 7
    assert kept(second)["circulation_before", Side.RIGHT, "pulse"] == "absent"


def test_a_correction_names_the_hand_and_changes_nothing_else(second):
    say(second, SLOWER)
    say(second, "correction, left refill three")
    assert second.kinds[:2] == ["values_dropped", "reading_proposed"]
    assert second.mode == "reading_back"
    assert "Left: refill three, seconds. Right: refill one point five, seconds. Correct?" in second.said
    say(second, "correction, right radial reduced")
    assert "Right: refill one point five, seconds; radial reduced. Correct?" in second.said
    second.affirm()
    found = kept(second)
    assert found["circulation_before", Side.LEFT, "refill"] == "3"
    assert found["circulation_before", Side.RIGHT, "refill"] == "1.5"
    assert found["sensation_before", Side.LEFT, "radial"] == "intact"
    assert found["sensation_before", Side.RIGHT, "radial"] == "reduced"
    assert len(found) == 14


def test_a_correction_without_its_hand_is_asked_about_and_changes_nothing(second):
    say(second, SLOWER)
    before = dict(second.session.snapshot.read_back)
    say(second, "correction, refill three")
    assert second.kinds == ["command_refused"]
    assert "say the side first" in second.said
    assert second.mode == "reading_back"
    assert dict(second.session.snapshot.read_back) == before


def test_what_is_said_anew_and_cannot_be_is_asked_for_not_left_as_it_was(second):
    say(second, SLOWER)
    say(second, "correction, left refill ninety nine")
    assert second.kinds[:2] == ["values_dropped", "reading_refused"]
    assert (second.at, second.mode) == (FIRST, "asking")
    assert second.said.endswith("Still missing: refill.")
    say(second, "refill three")
    assert second.mode == "reading_back"
    assert "Left: refill three, seconds. Right: refill one point five, seconds." in second.said


def test_negative_drops_both_hands_on_record_and_begins_with_the_first(second):
    say(second, HAND)
    second.say("negate")
    assert second.kinds == [*["read_back_disputed"] * 4, "step_entered"]
    assert (second.at, second.mode) == (FIRST, "asking")
    assert not kept(second)
    assert not second.session._state.ahead


def test_correction_alone_in_the_middle_of_the_second_hand_keeps_the_first(second):
    say(second, "pulse present")
    second.say("correction")
    dropped = second.facts("values_dropped")[-1]
    assert (dropped.stage, set(dropped.values)) == (SECOND, {"pulse"})
    assert (second.at, second.mode) == (SECOND, "asking")
    say(second, SLOWER)
    assert "Left: refill two, seconds. Right: refill one point five, seconds." in second.said


def test_correction_alone_before_the_second_hand_takes_the_first_back_on_record_and_asks_for_it(second):
    second.say("correction")
    assert second.kinds == ["values_dropped", "values_dropped", "step_entered"]
    assert {fact.stage for fact in second.facts("values_dropped")} == {FIRST, "sensation_before@left"}
    assert (second.at, second.mode) == (FIRST, "asking")
    assert second.said == "Left hand: how are pulse, refill, color, and temperature?"
    say(second, SLOWER)
    assert second.at == SECOND


def test_a_stop_between_the_hands_loses_nothing_and_confirms_nothing(second):
    second.say("stop")
    assert second.mode == "paused"
    assert not kept(second)
    second.say("resume")
    assert (second.at, second.mode) == (SECOND, "asking")
    say(second, SLOWER)
    assert "Left: refill two, seconds." in second.said


def test_after_a_break_between_the_hands_both_are_asked_for_because_nothing_was_affirmed(second):
    second.crash()
    assert not kept(second)
    for _ in range(3):
        if second.mode == "asking":
            break
        second.answer()
    assert not kept(second)
    assert (second.at, second.mode) == (SECOND, "asking")
    say(second, SLOWER)
    assert (second.at, second.said) == (FIRST, "Left hand: how are pulse, refill, color, and temperature?")
    say(second, HAND)
    assert "Left: refill two, seconds. Right: refill one point five, seconds." in second.said


def test_a_cry_between_the_hands_loses_nothing_and_confirms_nothing(second):
    second.say("hot")
    assert second.mode == "paused"
    assert not kept(second)
    second.say("resume")
    assert (second.at, second.mode) == (SECOND, "asking")
    say(second, SLOWER)
    assert "Left: refill two, seconds." in second.said


def test_looking_back_between_the_hands_loses_nothing(second):
    say(second, "pulse present")
    say(second, "go to identity")
    assert second.at == "identity"
    second.say("next_step")
    assert (second.at, second.mode) == (SECOND, "asking")
    assert second.said == "Still missing: refill, color, temperature."


def test_who_ends_the_visit_between_the_hands_has_affirmed_nothing_of_the_first(second):
    second.say("end_visit")
    second.give(role="surgeon")
    second.give(reason="judged")
    second.affirm()
    assert second.outcome == "stopped"
    assert not kept(second)


def test_the_side_cannot_be_changed_while_values_of_a_hand_wait(talk):
    assert typed("correction, order right", talk.session.wanted, talk.now_s) is not None
    say(talk, HAND)
    assert typed("correction, order right", talk.session.wanted, talk.now_s) is None


def test_one_hand_corrected_later_is_read_back_alone(second):
    say(second, SLOWER)
    second.affirm()
    say(second, "correction, left refill three")
    assert second.said == "Left: refill three, seconds. Correct?"
    second.affirm()
    amended = second.facts("reading_amended")[-1]
    assert (amended.side, value_text(amended.value)) == (Side.LEFT, "3")


BROKEN = [
    ("no side", "group: g\n    read_back: sides", "read_back: sides needs for_each: side"),
    ("no group", "for_each: side\n    read_back: sides", "read_back: sides needs a group"),
]


@pytest.mark.parametrize(("what", "keys", "words"), BROKEN, ids=[row[0] for row in BROKEN])
def test_what_is_not_done_for_each_side_has_no_read_back_of_both(tmp_path, what, keys, words):
    text = PROCEDURE.replace("  - id: angle\n", f"  - id: angle\n    {keys}\n", 1)
    assert text != PROCEDURE
    with pytest.raises(ProcedureFileError, match=words):
        load_bundle(str(write_files(tmp_path, text)))


def test_numbers_of_both_hands_may_be_said_anew_in_one_breath(second):
    say(second, SLOWER)
    say(second, "correction, refill left three right four")
    assert "Left: refill three, seconds. Right: refill four, seconds." in second.said
    assert value_text(second.session._state.pending["refill"].value) in {"3", "4"}
    second.affirm()
    found = kept(second)
    assert Decimal(found["circulation_before", Side.LEFT, "refill"]) == 3
    assert Decimal(found["circulation_before", Side.RIGHT, "refill"]) == 4

"""Flagged values that are taken once more, both sides alike, and times that are due."""

from decimal import Decimal

import pytest
from procedure_files import PROCEDURE, write_files
from talking import Talk

from handsfree.definition.loader import load_bundle
from handsfree.model.baseline import Baseline
from handsfree.model.readings import Absent, AbsentReason, Exact, value_text

# Expected behaviour: the guide for authors unless a source is named.


def other(tmp_path, **texts):
    return Talk(load_bundle(str(write_files(tmp_path, **texts))))


AGAIN = "again: {say: 'Warm the hand, repeat refill.', class: red}"


def slow_refill(tmp_path, sides=""):
    """A visit in which a slow refill of the hand before is taken again."""
    number = "number: {unit: s, low: 0.2, high: 10, decimals: 1, flag_above: 2.0, flag_class: amber}\n"
    assert number in PROCEDURE
    lines = f"{number}        {AGAIN}\n" + (f"        sides: {sides}\n" if sides else "")
    return other(tmp_path, procedure=PROCEDURE.replace(number, lines, 1)).go_to("nerve_before@left")


def test_a_flag_is_told_once_though_another_value_is_taken_again(tmp_path):
    talk = slow_refill(tmp_path)
    talk.give(touch="reduced", refill=Decimal("2.5"))
    talk.affirm()
    assert "Flagged: touch reduced." in talk.said
    talk.give(refill=Decimal("1.5"))
    talk.affirm()
    assert "Flagged" not in talk.said


def test_a_repeat_outlasts_a_look_back_and_a_break(tmp_path):
    talk = slow_refill(tmp_path)
    talk.give(touch="intact", refill=Decimal("2.5"))
    talk.affirm()
    talk.say("previous_step")
    talk.say("next_step")
    assert talk.said.endswith("Warm the hand, repeat refill.")
    talk.crash()
    assert talk.said.endswith("Warm the hand, repeat refill.")
    talk.say("wait")
    talk.say("resume")
    assert talk.said.endswith("Warm the hand, repeat refill.")
    talk.give(refill=Decimal("2.6"))
    talk.affirm()
    assert talk.session.snapshot.hold == "refill is over two, repeated"


def test_a_corrected_repeat_stays_a_repeat(tmp_path):
    talk = slow_refill(tmp_path)
    for values in ({"touch": "intact", "refill": Decimal(3)}, {"refill": Decimal(2)}):
        talk.give(**values)
        talk.affirm()
    assert talk.at == "nerve_before@right"
    talk.say("correction")
    talk.give(touch="intact", refill=Decimal("2.5"))
    talk.affirm()
    assert talk.session.snapshot.hold == "refill is over two, repeated"


def test_a_side_that_was_not_measured_is_not_like_the_other(tmp_path):
    talk = slow_refill(tmp_path, "{alike: check room temperature}")
    talk.give(touch="intact", refill=Absent(AbsentReason.NOT_PERFORMED))
    talk.affirm()
    talk.give(touch="intact", refill=Decimal("2.5"))
    talk.affirm()
    assert "Flagged: refill is over two." in talk.said
    assert "room" not in talk.said


def test_a_slow_refill_is_taken_again_and_slow_again_is_red(tmp_path):
    # Amber, "warm the hand, repeat refill", red if repeated: common practice, no source. 2 s: Annals of Emergency
    # Medicine 1988;17:932.
    talk = slow_refill(tmp_path)
    talk.give(touch="intact", refill=Decimal("2.5"))
    talk.affirm()
    assert talk.said.endswith("Warm the hand, repeat refill.")
    assert talk.session.snapshot.hold is None
    assert talk.at == "nerve_before@left"
    talk.give(refill=Decimal("2.6"))
    assert "touch" not in talk.said.lower()
    talk.affirm()
    assert talk.session.snapshot.hold == "refill is over two, repeated"
    assert talk.mode == "held"
    amended = talk.facts("reading_amended")
    assert [(fact.field, value_text(fact.old_value), value_text(fact.value), fact.why) for fact in amended] == [
        ("refill", "2.5", "2.6", "repeated")
    ]


def test_a_refill_that_is_quick_the_second_time_lets_the_visit_go_on(tmp_path):
    talk = slow_refill(tmp_path)
    talk.give(touch="intact", refill=Decimal("2.5"))
    talk.affirm()
    talk.give(refill=Decimal("1.5"))
    talk.affirm()
    assert talk.session.snapshot.hold is None
    assert talk.at == "nerve_before@right"


def test_a_repeat_that_was_misheard_is_said_again_alone(tmp_path):
    talk = slow_refill(tmp_path)
    talk.give(touch="intact", refill=Decimal("2.5"))
    talk.affirm()
    talk.give(refill=Decimal("9"))
    talk.say("negate")
    talk.give(refill=Decimal("1.5"))
    talk.affirm()
    assert talk.at == "nerve_before@right"


def test_a_first_value_that_was_misheard_was_no_first_time(tmp_path):
    talk = slow_refill(tmp_path)
    talk.give(touch="intact", refill=Decimal("4"))
    talk.affirm()
    talk.say("correction")
    talk.give(touch="intact", refill=Decimal("2.4"))
    talk.affirm()
    assert talk.session.snapshot.hold is None
    assert talk.said.endswith("Warm the hand, repeat refill.")


def test_a_refill_that_could_not_be_taken_is_not_asked_for_again(tmp_path):
    talk = slow_refill(tmp_path)
    talk.give(touch="intact", refill=Absent(AbsentReason.NOT_PERFORMED))
    talk.affirm()
    assert talk.at == "nerve_before@right"


def test_the_other_hand_is_not_asked_for_again_and_both_slow_point_to_the_room(tmp_path):
    # Both sides slow: look at the room, common practice, no source.
    talk = slow_refill(tmp_path, "{alike: check room temperature}")
    talk.give(touch="intact", refill=Decimal("2.5"))
    talk.affirm()
    talk.give(refill=Decimal("2.5"))
    talk.affirm()
    talk.override()
    assert talk.at == "nerve_before@right"
    talk.give(touch="intact", refill=Decimal("2.5"))
    talk.affirm()
    assert "refill is over two, as on the other side: check room temperature" in talk.said
    assert talk.at != "nerve_before@right"


def test_one_slow_hand_does_not_point_to_the_room(tmp_path):
    talk = slow_refill(tmp_path, "{alike: check room temperature}")
    for refill in ("1.5", "2.5"):
        talk.give(touch="intact", refill=Decimal(refill))
        talk.affirm()
    assert "room" not in talk.said


def test_a_time_until_the_next_check_is_said_and_kept_by_the_clock(tmp_path):
    # 15.5 hours after nine in the morning, when these visits begin, it is half past midnight of the next day.
    due = PROCEDURE.replace(
        "      - {id: wrist, label: wrist, number: {unit: deg, low: -90, high: 90, decimals: 0, band: wrist}}",
        "      - {id: wrist, label: wrist, number: {unit: h, low: 0, high: 72, decimals: 2, due: true}}",
    )
    talk = other(tmp_path, procedure=due).go_to("angle")
    talk.give(wrist=Decimal("15.5"))
    talk.affirm()
    assert "Due at zero zero three" in talk.said
    assert "twenty six November, two zero two six" in talk.said
    (fact,) = talk.facts("due_set")
    assert fact.due.startswith("2026-11-26T00:3")


@pytest.mark.parametrize(("due", "told"), [("2026-11-25T08:40:00.000Z", True), ("2026-11-25T09:10:00.000Z", False)])
def test_a_check_that_comes_late_says_so(tmp_path, due, told):
    # The visits of these tests begin at 9:00 UTC.
    rule = "compare: {with: nerve_before, rise: 1.0, class: amber}"
    text = PROCEDURE.replace(rule, rule.replace("with: nerve_before", "earlier: [nerve_after]"))
    earlier = Baseline("record-0", "2026-11-24", {"nerve_after.refill@left": Exact(Decimal(1))}, due)
    talk = Talk(load_bundle(str(write_files(tmp_path, procedure=text))), baseline=earlier)
    assert ("This check was due twenty minutes ago." in talk.said) is told
    (met,) = talk.facts("due_met")
    assert met.late_s == (1200 if told else -600)

"""A number that cannot be and is said again: kept as said and refused, never as a value, with an honest way on."""

import json
from decimal import Decimal

import pytest
from own_procedures import HEAD, begin, number, step, type_line

from handsfree.definition.verbalization import value_words
from handsfree.model.facts import ReadingConfirmed
from handsfree.model.readings import Absent, AbsentReason, HowToSay, Refused
from handsfree.model.reasons import Grounds, SaidAndRefused, Severity
from handsfree.record.codec import decode_fact, encode_fact
from handsfree.record.display_values import display_value

# Common practice, no source: what a person insists on is written down, and a value that cannot be is never used.
GAP = Absent(AbsentReason.ERROR, Decimal("250"))
BLADE = number("blade", more=", flag_above: {amber: 40}")


def insist(talk, value=Decimal(250)):
    talk.give(blade=value)
    assert "is from zero to two hundred" in talk.said or "plausible" in talk.said
    talk.give(blade=value)


@pytest.mark.parametrize(
    "said", [Decimal(250), Refused(HowToSay.IMPLAUSIBLE, ("0", "200", "250"))], ids=["given", "as it is understood"]
)
def test_what_is_said_twice_is_kept_beside_a_gap(tmp_path, said):
    talk = begin(tmp_path, BLADE)
    insist(talk, said)
    assert "kept as said and refused, without a value" in talk.said
    assert talk.mode == "reading_back"
    assert "blade no value, two five zero refused" in talk.said
    assert [one.field for one in talk.facts("reading_refused")] == ["blade", "blade"]
    talk.affirm()
    fact = talk.facts("reading_confirmed")[-1]
    assert (fact.value, fact.severity) == (GAP, Severity.AMBER)
    assert fact.grounds == Grounds(SaidAndRefused("blade", Decimal(250)))


def test_the_gap_of_a_hard_step_is_answered_for_by_role_and_reason(tmp_path):
    talk = begin(tmp_path, BLADE)
    insist(talk)
    talk.affirm()
    assert talk.mode == "open_items"
    assert talk.outcome is None
    talk.override()
    assert talk.outcome == "completed_with_overrides"
    assert talk.facts("gaps_accepted")[-1].gaps[0].field == "blade"


def test_where_the_number_would_have_held_the_visit_the_gap_stops_it(tmp_path):
    # Never red, because it is no value: another answer lifts it, and so does an override.
    for limits, held in ((", flag_above: {red: 50}", True), (", flag_below: {red: 5}", False)):
        talk = begin(tmp_path, number("blade", more=limits), number("room"))
        insist(talk)
        talk.affirm()
        assert (talk.mode == "held") is held
        assert talk.facts("reading_confirmed")[-1].severity is (Severity.STOP if held else Severity.AMBER)
    talk = begin(tmp_path, number("blade", more=", flag_above: {red: 50}"), number("room"))
    insist(talk)
    talk.affirm()
    talk.say("correction")
    talk.give(blade=Decimal(20))
    talk.affirm()
    assert talk.at == "room"


def test_it_can_be_taken_back_and_put_right(tmp_path):
    talk = begin(tmp_path, BLADE)
    insist(talk)
    talk.say("negate")
    assert not talk.facts("reading_confirmed")[1:]
    talk.give(blade=Decimal(25))
    talk.affirm()
    assert talk.outcome == "completed"


def test_another_number_or_the_same_words_heard_further_are_no_insisting(tmp_path):
    talk = begin(tmp_path, BLADE)
    talk.give(blade=Decimal(250))
    talk.give(blade=Decimal(205))
    assert talk.mode == "asking"
    talk.give(blade=Decimal(250))
    assert talk.mode == "asking"
    talk.give(blade=Decimal(250), begun_s=talk.events[-1].heard.spoken_from_s)
    assert talk.mode == "asking"


def test_where_something_is_computed_from_it_too(tmp_path):
    twice = step("""
id: pair
kind: measure
phase: during
prompt: Measure first and second.
hard: true
source: common
repeat_within: {fields: [first, second], tolerance: 1}
fields:
  - {id: first, label: first, number: {unit: mm, low: 0, high: 10}}
  - {id: second, label: second, number: {unit: mm, low: 0, high: 10}}
""")
    talk = begin(tmp_path, twice)
    talk.give(first=Decimal(4))
    talk.give(second=Decimal(40))
    talk.give(second=Decimal(40))
    talk.affirm()
    assert talk.mode == "open_items"


def test_it_is_written_and_read_as_such_and_older_gaps_as_before(tmp_path):
    talk = begin(tmp_path, BLADE)
    insist(talk)
    talk.affirm()
    fact = talk.facts("reading_confirmed")[-1]
    written = encode_fact(fact)
    assert written[1]["value"] == {"type": "absent", "reason": "error", "said": "250"}
    assert decode_fact(*written) == fact
    old = json.loads(json.dumps(written[1]))
    old["value"] = {"type": "absent", "reason": "not-performed"}
    assert isinstance(decode_fact(written[0], old), ReadingConfirmed)
    field = talk.bundle.procedure.steps[1].fields[0]
    assert display_value(GAP, "Cel") == "no value (said and refused: 250)"
    assert value_words(field, GAP) == "no value, two five zero refused"


def test_typed_words_lead_there(tmp_path):
    talk = begin(tmp_path, BLADE)
    for _ in range(2):
        type_line(talk, "two five zero")
    assert talk.mode == "reading_back"


def test_a_narrated_visit_keeps_it_too(tmp_path):
    talk = begin(tmp_path, BLADE.replace("hard: true", "hard: true\n    topic: saw"), number("room"))
    talk.say("narrate")
    for _ in range(2):
        talk.give(**{"blade.blade": Decimal(250)})
    assert talk.mode == "reading_back"
    talk.affirm()
    assert talk.facts("reading_confirmed")[-1].value == GAP


STOPS = number("blade", more=", flag_above: {red: 50}")


def test_whoever_lifts_the_stop_of_a_gap_has_answered_for_the_gap(tmp_path):
    talk = begin(tmp_path, STOPS, number("room"))
    insist(talk)
    talk.affirm()
    talk.override()
    talk.give(room=20)
    talk.affirm()
    assert talk.outcome == "completed_with_overrides"
    assert talk.facts("gaps_accepted") == []
    assert len(talk.facts("hold_lifted")) == 1


def test_where_gaps_are_for_others_to_accept_the_gap_is_answered_for_by_them(tmp_path):
    others = HEAD.replace("steps:\n", "lift: {gaps: {by: [supervisor], reasons: [repaired]}}\nsteps:\n")
    talk = begin(tmp_path, STOPS, number("room"), head=others)
    insist(talk)
    talk.affirm()
    talk.override()
    talk.give(room=20)
    talk.affirm()
    assert talk.mode == "open_items"
    talk.override()
    assert talk.facts("gaps_accepted")[-1].role == "supervisor"
    assert talk.outcome == "completed_with_overrides"


def test_the_status_tells_of_it_before_and_after_it_was_answered_for(tmp_path):
    talk = begin(tmp_path, STOPS, number("room"))
    insist(talk)
    talk.affirm()
    talk.say("status")
    assert "Held: blade two hundred fifty was said and refused." in talk.said
    talk.override()
    talk.say("status")
    assert "Overridden: blade two hundred fifty was said and refused." in talk.said


def test_who_comes_back_after_a_break_has_insisted_on_nothing(tmp_path):
    # Whoever goes on may be another person, who says the number for the first time.
    talk = begin(tmp_path, BLADE)
    talk.give(blade=Decimal(250))
    talk.crash()
    talk.give(blade=Decimal(250))
    assert talk.mode == "asking"
    assert "is from zero to two hundred" in talk.said
    talk.give(blade=Decimal(250))
    assert talk.mode == "reading_back"


def test_a_value_between_ends_the_insisting(tmp_path):
    talk = begin(tmp_path, BLADE, number("room"))
    talk.give(blade=Decimal(250))
    talk.give(blade=Decimal(25))
    talk.affirm()
    talk.say("correction")
    talk.give(blade=Decimal(250))
    assert talk.mode == "asking"
    talk.give(blade=Decimal(250))
    assert talk.mode == "reading_back"

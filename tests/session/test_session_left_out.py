"""A step that is left out while it is asked, or after it was answered, is told by its words, with the reason.

Common practice, no source: who has heard a question must not wait for an answer that nobody wants any more.
"""

import pytest
from own_procedures import begin, number, step, type_line

RESTED = number("rested", keys="timing: during\nwhen: {step: blade.blade, above: 40, unit: Cel}")
TOLD = "Left out, because blade is two five: Measure the rested."


def hot(talk):
    talk.give(blade=43)
    talk.affirm()
    assert talk.at == "rested"


def cool(talk):
    talk.say("correction")
    talk.give(blade=25)
    talk.affirm()


@pytest.fixture
def talk(tmp_path):
    return begin(tmp_path, number("blade"), RESTED, number("room"))


def test_what_was_asked_and_is_asked_no_more_is_said(talk):
    hot(talk)
    cool(talk)
    assert TOLD in talk.said
    assert talk.said.endswith("Measure the room.")
    # Nothing was answered there, so nothing on record is taken back.
    assert talk.facts("step_withdrawn") == []


def test_what_was_never_asked_is_left_out_without_a_word(talk):
    talk.give(blade=25)
    talk.affirm()
    assert "Left out" not in talk.said


def test_it_is_said_once(talk):
    hot(talk)
    cool(talk)
    talk.give(room=20)
    talk.affirm()
    assert "Left out" not in talk.said


def test_asked_again_it_is_told_again(talk):
    hot(talk)
    cool(talk)
    talk.say("previous_step")
    talk.say("correction")
    talk.give(blade=44)
    talk.affirm()
    assert talk.at == "rested"
    cool(talk)
    assert TOLD in talk.said


def test_what_was_answered_is_told_with_the_reason_too(talk):
    hot(talk)
    talk.give(rested=41)
    talk.affirm()
    type_line(talk, "previous step")
    type_line(talk, "previous step")
    cool(talk)
    assert TOLD in talk.said
    assert [one.stage for one in talk.facts("step_withdrawn")] == ["rested"]


def test_half_an_answer_counts_no_more(tmp_path):
    pair = step("""
id: pair
kind: measure
phase: during
prompt: Measure first and second.
hard: true
source: common
timing: during
when: {step: blade.blade, above: 40, unit: Cel}
fields:
  - {id: first, label: first, number: {unit: mm, low: 0, high: 10}}
  - {id: second, label: second, number: {unit: mm, low: 0, high: 10}}
""")
    talk = begin(tmp_path, number("blade"), pair, number("room"))
    talk.give(blade=43)
    talk.affirm()
    talk.give(first=4)
    talk.say("correction")
    cool(talk)
    assert "Left out, because blade is two five: Measure first and second." in talk.said
    assert talk.at == "room"


def test_what_hangs_on_a_step_that_is_left_out_names_that(tmp_path):
    again = number("again", keys="timing: during\nwhen: {step: rested.rested, above: 40, unit: Cel}")
    talk = begin(tmp_path, number("blade"), RESTED, again, number("room"))
    hot(talk)
    talk.give(rested=42)
    talk.affirm()
    assert talk.at == "again"
    type_line(talk, "previous step")
    type_line(talk, "previous step")
    cool(talk)
    assert TOLD in talk.said
    assert "Left out, because rested is left out: Measure the again." in talk.said


def test_of_several_conditions_those_that_fail_are_named(tmp_path):
    both = "{all: [{step: blade.blade, above: 40, unit: Cel}, {step: room.room, above: 30, unit: Cel}]}"
    rested = number("rested", keys=f"timing: during\nwhen: {both}")
    talk = begin(tmp_path, number("room"), number("blade"), rested, number("skin"))
    talk.give(room=35)
    talk.affirm()
    talk.give(blade=43)
    talk.affirm()
    cool(talk)
    assert TOLD in talk.said


def test_after_a_break_it_is_told_as_well(talk):
    hot(talk)
    talk.crash()
    cool(talk)
    assert TOLD in talk.said


def test_in_a_narrated_visit_what_was_asked_after_a_silence_is_told(tmp_path):
    topics = [text.replace("hard: true", f"hard: true\n    topic: {name}") for text, name in (
        (number("blade"), "saw"), (RESTED, "rest"), (number("room"), "air"),
    )]  # fmt: skip
    talk = begin(tmp_path, *topics)
    talk.say("narrate")
    talk.give(**{"blade.blade": 43, "room.room": 20})
    talk.affirm()
    talk.wait(60)
    assert (talk.at, "Measure the rested." in talk.said) == ("rested", True)
    talk.say("correction")
    talk.give(**{"blade.blade": 25})
    talk.affirm()
    assert TOLD in talk.said

"""What a repeated step flags or holds names which one it was: wherever it is said, and for each one by itself.

Common practice, no source: who is told "torque is over a limit" of five wheel bolts must not have to guess which.
"""

import pytest
from own_procedures import begin, number, step
from test_session_repeats import bolts, torque

from handsfree.model.commands import ScanLabel
from handsfree.model.readings import Absent, AbsentReason
from handsfree.model.reasons import ScanFault, ScanFaultCode
from handsfree.record.codec import decode_fact, encode_fact

FLAGS = ", flag_above: {amber: 120, stop: 130, red: 150}"
OVER = "wheel bolt two, torque is over one hundred thirty"


@pytest.fixture
def talk(tmp_path):
    talk = begin(tmp_path, bolts(more=FLAGS), number("room"))
    torque(talk, 110)
    return talk


def test_a_flag_says_which_one(talk):
    torque(talk, 125)
    assert "Flagged: wheel bolt two, torque is over one hundred twenty." in talk.said
    talk.say("status")
    assert "Flagged: wheel bolt two, torque is over one hundred twenty." in talk.said


def test_a_hold_says_which_one_wherever_it_is_told(talk):
    torque(talk, 140)
    assert f"{OVER[0].upper()}{OVER[1:]}." in talk.said
    talk.say("status")
    assert f"Held: {OVER}." in talk.said
    talk.say("override")
    talk.give(role="fitter")
    talk.give(reason="repaired")
    assert f"Override: {OVER}." in talk.said


def test_what_was_lifted_for_one_still_flags_the_other(talk):
    torque(talk, 140)
    talk.override()
    torque(talk, 141)
    assert "Wheel bolt three, torque is over one hundred thirty." in talk.said
    talk.say("status")
    assert f"Overridden: {OVER}." in talk.said
    assert "Flagged: wheel bolt three, torque is over one hundred thirty." in talk.said


def test_the_question_whether_it_was_misheard_says_which_one(talk):
    torque(talk, 160)
    talk.say("correction")
    torque(talk, 116)
    assert "Wheel bolt two torque was one six zero" in talk.said


def test_a_missing_value_says_which_one(talk):
    talk.give(torque=Absent(AbsentReason.NOT_PERFORMED))
    talk.affirm()
    assert "Flagged: wheel bolt two, torque has no value." in talk.said


def test_it_stands_in_the_record_and_others_are_written_as_before(talk):
    torque(talk, 140)
    held = encode_fact(talk.facts("hold_set")[-1])
    assert held[1]["grounds"]["which"] == "wheel bolt two"
    assert decode_fact(*held) == talk.facts("hold_set")[-1]
    talk.override()
    talk.say("last")
    talk.give(room=Absent(AbsentReason.NOT_PERFORMED))
    talk.affirm()
    assert "which" not in encode_fact(talk.facts("reading_confirmed")[-1])[1]["grounds"]


def test_a_label_that_cannot_be_trusted_says_which_one(tmp_path):
    packs = step("""
id: pack
kind: identify
phase: during
prompt: "Pack {number}: which lot?"
hard: true
source: common
timing: during
repeat: {least: 1, most: 3, name: pack}
fields: [{id: lot, label: lot, identifier: {max_length: 10}}]
""")
    talk = begin(tmp_path, packs)
    talk.speak(ScanLabel(None, None, None, None, None, faults=(ScanFault(ScanFaultCode.INCOMPLETE),)))
    assert "Pack one, this is not a complete GS1 code; scan it again." in talk.said

"""Words besides values: repeating, waiting, skipping, going back, notes, teaching.

Expected behaviour: the read-back rules of NPSG.02.01.01 (write down, read back, confirm), "number, then digits" of the
Pennsylvania patient-safety advisory of June 2006; hard stops and stop words from the hazard list of this project
(common practice, no source, unless named at the check).
"""

import pytest

from handsfree.model.effects import Earcon
from handsfree.model.events import RejectionReason


def test_say_again_repeats_what_counts(talk):
    talk.go_to("angle")
    talk.give(wrist=18)
    read_back = talk.said
    talk.say("status")
    talk.say("say_again")
    assert talk.said == read_back


def test_two_rejections_in_a_row_bring_help_and_one_does_not(talk):
    talk.go_to("angle")
    assert talk.reject()
    assert talk.said == ""
    assert talk.earcons == [Earcon.NOT_UNDERSTOOD]
    talk.reject()
    assert talk.said == "Say the digits one by one."
    talk.say("status")
    talk.reject()
    assert talk.said == ""


def test_noise_is_named(talk):
    talk.reject(RejectionReason.TOO_NOISY)
    assert "noisy" in talk.said


def test_a_doubted_command_is_asked_for(talk):
    talk.go_to("hello")
    talk.say("next_step", doubted=True)
    assert talk.said == "Did you say: next step?"
    assert talk.at == "hello"
    talk.affirm()
    assert talk.at == "remark"


def test_a_doubted_command_that_was_wrong_does_nothing(talk):
    talk.go_to("hello")
    talk.say("next_step", doubted=True)
    talk.say("negate")
    assert talk.at == "hello"
    assert talk.mode == "asking"


def test_wait_and_resume_lose_nothing(talk):
    talk.go_to("angle")
    talk.give(wrist=18)
    talk.say("wait")
    assert talk.mode == "paused"
    talk.affirm()
    assert "command_refused" in talk.kinds
    talk.say("resume")
    assert dict(talk.session.snapshot.read_back) == {"angle.wrist": "18"}


def test_a_soft_step_is_skipped_with_a_reason_and_a_hard_one_is_not(talk):
    talk.go_to("remark")
    talk.say("skip")
    assert talk.mode == "skip_reason"
    talk.give(reason="declined")
    assert talk.facts("step_skipped")[-1].reason == "declined"
    assert talk.at == "ring"
    talk.say("skip")
    assert talk.kinds == ["command_refused"]
    assert talk.at == "ring"


def test_a_skip_without_its_reason_is_dropped(talk):
    talk.go_to("remark")
    talk.say("skip")
    talk.say("negate")
    assert (talk.at, talk.mode) == ("remark", "asking")
    assert not talk.facts("step_skipped")


def test_next_step_does_not_pass_a_question(talk):
    talk.go_to("ring")
    talk.say("next_step")
    assert talk.kinds == ["command_refused"]
    assert talk.at == "ring"


def test_previous_step_shows_what_is_recorded_and_changes_nothing(talk):
    talk.go_to("eyewear")
    before = talk.facts("reading_confirmed")
    talk.say("previous_step")
    assert talk.at == "nerve_before@right"
    assert "touch intact" in talk.said
    talk.say("next_step")
    assert talk.at == "eyewear"
    assert talk.facts("reading_confirmed") == before


def test_before_the_first_step_there_is_none(talk):
    talk.say("previous_step")
    assert talk.said == "This is the first step."


def test_a_step_that_is_not_done_is_denied(talk):
    talk.go_to("eyewear")
    talk.say("negate")
    assert talk.kinds == ["step_denied"]
    assert talk.at == "eyewear"


def test_a_note_is_kept_as_unverified_text(talk):
    talk.go_to("ring")
    talk.say("take_note")
    assert talk.session.wanted.dictation
    talk.dictate("swelling over the")
    talk.dictate("little finger")
    talk.say("end_note")
    note = talk.facts("note_taken")[-1]
    assert (note.text, note.verified) == ("swelling over the little finger", False)
    assert (talk.at, talk.mode) == ("ring", "asking")


def test_dictation_without_take_note_is_refused(talk):
    talk.dictate("swelling")
    assert talk.kinds == ["command_refused"]


def test_a_stop_word_in_a_note_stops_and_keeps_the_note(talk):
    talk.go_to("ring")
    talk.say("take_note")
    talk.dictate("swelling")
    talk.say("stop")
    assert talk.mode == "paused"
    assert talk.facts("note_taken")[-1].broken_off is True


def test_status_tells_what_is_done_and_the_seconds_of_light(talk):
    talk.go_to("cure_open")
    talk.light(6.1)
    talk.give(warmth="cool")
    talk.say("status")
    assert "front part 6.1 of 6 seconds" in talk.said
    assert "steps done" in talk.said


def test_teaching_goes_item_by_item(talk):
    talk.go_to("advice")
    assert "Keep the hand raised." in talk.session.snapshot.prompt
    talk.say("negate")
    assert not talk.facts("item_taught")
    talk.affirm()
    talk.affirm()
    assert [one.item for one in talk.facts("item_taught")] == ["raise", "call"]


@pytest.mark.parametrize(("place", "next_step"), [("ward", "handover"), ("home", "advice")])
def test_a_branch_is_taken_or_left_out(talk, place, next_step):
    talk.go_to("next_care")
    talk.give(place=place)
    assert talk.at == next_step

"""Edges around the light: what is heard where, what is on record to the digit, where a break leads back to.

Expected behaviour: the laws of this project (DEVELOPERS.md) and the procedure file of these tests; no outside source.
"""

import pytest
from talking import LATE_S, talk_of, wall_at

from handsfree.definition.verbalization import cardinal
from handsfree.model.commands import Control
from handsfree.model.events import ToneHeard


def test_a_lost_loudspeaker_changes_nothing_about_the_light(talk):
    talk.go_to("cure_open")
    talk.lose("loudspeaker")
    assert talk.kinds == ["device_lost"]
    assert "Zone" not in talk.said


def test_a_told_step_that_is_looked_at_takes_no_answer(talk):
    talk.go_to("remark")
    talk.say("previous_step")
    assert talk.at == "hello"
    assert not {Control.AFFIRM, Control.SKIP} & talk.session.wanted.controls


def test_how_long_the_late_question_has_still_to_wait_is_said(talk):
    talk.go_to("advice")
    talk.affirm()
    talk.affirm()
    wait_s = round(talk.session.next_deadline_s - talk.now_s)
    assert 0 < wait_s < 60
    assert talk.said == f"One question is left, about heat, in {cardinal(wait_s)} seconds."


def test_a_light_that_was_put_off_at_once_is_no_light_in_the_status(talk):
    talk.go_to("cure_open")
    talk.say("light_on")
    talk.now_s -= LATE_S + 0.4
    talk.say("hot")
    talk.say("status")
    assert "Light:" not in talk.said


def test_a_score_of_the_late_question_is_of_no_zone(talk):
    talk.go_to("nerve_after@left")
    talk.wait(70)
    assert talk.mode == "late_heat"
    talk.give(pain_score=0)
    (scored,) = talk.facts("pain_scored")
    assert (scored.late, scored.zone) == (True, None)


def test_a_score_after_a_zone_is_of_that_zone(talk):
    talk.go_to("cure_open")
    talk.light(6.1)
    talk.give(pain_score=0)
    (scored,) = talk.facts("pain_scored")
    assert (scored.late, scored.zone) == (False, "front")


def test_a_beep_is_on_record_to_the_millisecond(tmp_path):
    talk = talk_of(tmp_path, ", interval_s: 5")
    talk.go_to("cure_open").say("light_on")
    from_s = round(talk.now_s + 1, 1) + 0.0123
    talk.now_s = from_s + 0.5
    talk.send(ToneHeard(at_s=talk.now_s, wall=wall_at(talk.now_s), from_s=from_s, to_s=from_s + 0.2))
    (beeped,) = talk.facts("lamp_beeped")
    assert beeped.from_s == pytest.approx(from_s, abs=5e-4)
    assert beeped.to_s == pytest.approx(from_s + 0.2, abs=5e-4)


def test_a_stop_in_a_note_at_a_held_step_that_is_corrected_leads_back_to_the_hold(talk):
    talk.go_to("ring")
    talk.give(ring="stuck")
    talk.say("correction")
    talk.say("take_note")
    talk.say("stop")
    talk.say("resume")
    assert talk.mode == "held"
    assert "Ring stuck." in talk.said


def test_naming_a_zone_chooses_it(talk):
    talk.go_to("cure_open")
    talk.give(zone="back")
    assert talk.facts("zone_chosen")[-1].zone == "back"
    assert talk.said == "Zone: back part. Say light on."


def test_light_counts_from_the_end_of_light_on_to_the_beginning_of_light_off(talk):
    talk.go_to("cure_open").say("light_on")
    began_s = talk.now_s - LATE_S
    talk.wait(3)
    talk.say("light_off")
    off = talk.facts("light_turned_off")[-1]
    assert (off.counted_from_s, off.counted_to_s) == (round(began_s, 3), round(began_s + LATE_S + 3, 3))

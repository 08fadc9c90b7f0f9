"""Pain by heat as a number, and a patient who cannot report heat.

The rules are the project's own (common practice, no source) except: heat may peak after the light (J Bone Joint Surg Am
2007;89:2369), so warmth is asked again 60 to 120 s after the last spot; pain on a numeric scale 0 to 10.
"""

from decimal import Decimal

import pytest
from procedure_files import DEVICE, PROCEDURE
from talking import Talk, talk_of

from handsfree.errors import ProcedureFileError
from handsfree.model.effects import Say
from handsfree.model.open_items import OpenLateQuestion

# ---- the late question ----


def test_light_that_is_given_once_more_asks_late_about_heat_once_more(talk):
    talk.go_to("nerve_after@left").wait(61)
    assert talk.mode == "late_heat"
    talk.give(warmth="cool")
    talk.say("previous_step")
    talk.give(zone="strip")
    talk.light(2)
    talk.give(warmth="cool")
    off_s = talk.facts("light_turned_off")[-1].counted_to_s
    assert talk.session._state.late_window_s == pytest.approx((off_s + 60, off_s + 120))
    talk.wait(70)
    assert talk.mode == "late_heat"
    assert len(talk.facts("late_heat_asked")) == 2


def end(talk):
    talk.say("end_visit")
    talk.give(role="nurse")
    talk.give(reason="reviewed")
    talk.affirm()


def test_a_visit_that_ends_in_the_middle_of_the_light_asks_late_about_heat_or_leaves_it_open(talk):
    talk.go_to("cure_open")
    talk.light(6.1)
    assert talk.mode == "warmth"
    end(talk)
    while talk.outcome is None:
        talk.answer()
    assert OpenLateQuestion() in talk.facts("visit_closed")[-1].open_items
    assert "late heat question" in talk.said


def test_it_is_not_open_where_it_was_answered_after_the_last_light_or_there_was_none(bundle):
    answered = Talk(bundle).go_to("nerve_after@left")
    answered.wait(61)
    answered.give(warmth="cool")
    for talk in (answered, Talk(bundle).go_to("cure_open")):
        end(talk)
        while talk.outcome is None:
            talk.answer()
        assert OpenLateQuestion() not in talk.facts("visit_closed")[-1].open_items


# ---- pain by heat, as a number ----


@pytest.mark.parametrize("score", [1, 4, 10])
def test_a_pain_score_from_the_limit_stops(tmp_path, score):
    talk = talk_of(tmp_path).go_to("cure_open")
    talk.light(6.1)
    talk.give(pain_score=Decimal(score))
    assert talk.mode == "held"
    assert talk.facts("pain_scored")[-1].score == score
    assert "Lift it away" in talk.said


def test_a_pain_score_below_the_limit_still_asks_for_warmth(tmp_path):
    talk = talk_of(tmp_path).go_to("cure_open")
    talk.light(6.1)
    talk.give(pain_score=Decimal(0))
    assert talk.mode == "warmth"
    assert talk.said == "Score zero. Cool or warm?"
    talk.give(warmth="cool")
    assert talk.mode == "asking"


@pytest.mark.parametrize("score", [Decimal(11), Decimal(-1), Decimal("3.5"), "warm"])
def test_a_pain_score_off_the_scale_is_refused(tmp_path, score):
    talk = talk_of(tmp_path).go_to("cure_open")
    talk.light(6.1)
    talk.give(pain_score=score)
    assert talk.kinds == ["command_refused"]
    assert talk.mode == "warmth"


def test_the_profile_sets_the_limit_of_pain(tmp_path):
    talk = talk_of(tmp_path, device=f"{DEVICE}guidance: {{pain_stop: 5}}\n").go_to("cure_open")
    talk.light(6.1)
    talk.give(pain_score=Decimal(4))
    assert talk.mode == "warmth"


# ---- a patient who cannot report heat ----

SILENT = PROCEDURE.replace("amber: [cool]}", "amber: [cool], no_heat_report: [cool]}")
TOUCH = (
    f'{DEVICE}guidance: {{warmth_every_s: 4, silent_every_s: 2, silent_sign: "Watch the fingers, touch the zone."}}\n'
)


def silent_talk(folder, room="cool"):
    talk = talk_of(folder, device=TOUCH, procedure=SILENT).go_to("remark")
    talk.give(room=room)
    return talk.go_to("cure_open")


def test_a_silent_hand_is_touched_instead_of_asked(tmp_path):
    talk = silent_talk(tmp_path)
    talk.light(6.1)
    assert "No heat report. Watch the fingers, touch the zone. Cool, warm or hot?" in talk.said
    assert talk.facts("light_turned_on")[-1].heat_reported is False
    assert [slot.slot for slot in talk.session.wanted.slots] == ["warmth"]
    assert talk.session.wanted.hint == "say cool, warm or hot"


@pytest.mark.parametrize(("room", "cue", "after_s"), [("cool", "Light off, touch.", 2), ("warm", "Warmth?", 4)])
def test_a_silent_hand_is_minded_more_often(tmp_path, room, cue, after_s):
    talk = silent_talk(tmp_path, room)
    talk.say("light_on")
    on_s = talk.facts("light_turned_on")[-1].counted_from_s
    talk.wait(on_s + after_s - 0.1 - talk.now_s)
    said = [effect.text for effects in talk.history for effect in effects if isinstance(effect, Say)]
    assert cue not in said
    talk.wait(0.2)
    assert talk.said.endswith(cue)


def test_late_heat_of_a_silent_hand_is_felt_for(tmp_path):
    talk = silent_talk(tmp_path).go_to("nerve_after@left")
    off_s = talk.facts("light_turned_off")[-1].counted_to_s
    talk.wait(off_s + 60.1 - talk.now_s)
    assert talk.mode == "late_heat"
    assert "Touch every zone." in talk.said
    assert "patient" not in talk.said


def test_guidance_that_does_not_fit_together_is_named(tmp_path):
    with pytest.raises(ProcedureFileError, match=r"sleeve.yaml:\d+: guidance: silent_every_s is 20"):
        talk_of(tmp_path, device=f"{DEVICE}guidance: {{silent_every_s: 20}}\n")


def test_options_that_a_field_does_not_have_report_no_heat(tmp_path):
    with pytest.raises(ProcedureFileError, match="no_heat_report or told name no option"):
        talk_of(tmp_path, procedure=PROCEDURE.replace("amber: [cool]}", "no_heat_report: [cold]}"))


def test_pain_that_comes_late_is_told_of_no_zone(tmp_path):
    # Nobody said where it hurts: the zone that was lit last is a guess (law 3).
    talk = talk_of(tmp_path).go_to("next_care")
    talk.wait(130)
    assert talk.mode == "late_heat"
    talk.give(pain_score=Decimal(9))
    assert talk.mode == "held"
    talk.say("override")
    talk.say("negate")
    action = "Light off. Lift it away. Look at the skin."
    assert talk.said == f"{action} Pain score nine. Say override, or end the visit."
    assert talk.facts("pain_scored")[-1].zone is None

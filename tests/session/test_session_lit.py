"""Light in a session: timed by words, summed by zone, ended by stop words.

Expected behaviour: the read-back rules of NPSG.02.01.01 (write down, read back, confirm), "number, then digits" of the
Pennsylvania patient-safety advisory of June 2006; hard stops and stop words from the hazard list of this project
(common practice, no source, unless named at the check).
"""

import pytest
from procedure_files import DEVICE
from talking import LATE_S, Talk, lit_s, talk_of

from handsfree.model.commands import Control
from handsfree.model.effects import Earcon, PlayEarcon, Priority, Say
from handsfree.model.events import ToneHeard
from handsfree.model.open_items import OpenLateQuestion


def test_light_is_timed_by_the_words_and_not_by_their_arrival(talk):
    talk.go_to("cure_open")
    talk.say("light_on")
    on_s = talk.facts("light_turned_on")[-1].counted_from_s
    assert on_s == pytest.approx(talk.now_s - LATE_S)
    talk.wait(5)
    off_s = talk.now_s
    talk.say("light_off")
    off = talk.facts("light_turned_off")[-1]
    assert off.counted_to_s == pytest.approx(off_s)
    assert lit_s(talk, "front") == pytest.approx(5 + LATE_S)


def test_light_before_its_step_is_refused_and_recorded(talk):
    talk.go_to("eyewear")
    talk.say("light_on")
    assert talk.kinds == ["command_refused", "stray_light_began"]
    assert not talk.session.snapshot.is_lit


def test_light_waits_for_a_requirement_that_is_open_again(talk):
    # ICNIRP 2013: eyewear before light.
    talk.go_to("angle")
    talk.say("correction")
    assert talk.at == "eyewear"
    talk.say("light_on")
    assert talk.kinds == ["command_refused", "stray_light_began"]
    assert not talk.session.snapshot.is_lit


def test_cues_are_spoken_while_lit(talk):
    talk.go_to("cure_open")
    talk.say("light_on")
    talk.wait(10)
    effects = [effect for effects in talk.history for effect in effects]
    said = [effect.text for effect in effects if isinstance(effect, Say)]
    assert said[-4:] == ["Half.", "Light off.", "Take the light away.", "Warmth?"]
    away = "Take the light away."
    taken_away = effects.index(
        Say(away, Priority.ATTENTION, at_once=True, asks=True, heard_out=len(away), codes=("take_away",))
    )
    assert effects[taken_away - 1] == PlayEarcon(Earcon.ATTENTION, at_once=True)


def test_a_lamp_that_stays_on_is_never_met_with_silence(tmp_path):
    # A device whose zone takes 40 s: time over from 46 s on, the ceiling of the profile at 60 s, each 6 s.
    device = DEVICE.replace("target_s: 6", "target_s: 40")
    talk = talk_of(tmp_path, device=device).go_to("cure_open")
    talk.say("light_on")
    on_s = talk.facts("light_turned_on")[-1].counted_from_s
    told = {}
    while talk.now_s < on_s + 200:
        talk.wait(talk.session.next_deadline_s - talk.now_s + 1e-6)
        for effect in talk.effects:
            if isinstance(effect, Say) and effect.priority is Priority.ATTENTION:
                told.setdefault(effect.text, []).append(talk.now_s - on_s)
    assert told["Light off."] == pytest.approx([39.5], abs=0.02)
    assert told["Time over. Light off."] == pytest.approx([46, 52, 58], abs=0.02)
    assert told["Take the light away."] == pytest.approx([*range(60, 201, 6)], abs=0.02)
    talk.say("light_off")
    assert "front part, 20" not in talk.said
    assert "over target" in talk.said.lower()


def test_the_cue_comes_early_by_the_reaction_of_this_visit(tmp_path):
    talk = talk_of(tmp_path).go_to("cure_open")
    offs = []
    for _ in range(2):
        talk.say("light_on")
        on_s = talk.facts("light_turned_on")[-1].counted_from_s
        while "Light off." not in talk.said:
            talk.wait(talk.session.next_deadline_s - talk.now_s + 1e-6)
        talk.wait(1.2)  # how long this person takes
        talk.say("light_off")
        offs.append(talk.facts("light_turned_off")[-1].counted_to_s - on_s)
        talk.give(warmth="cool")
    # Zones of 6 and 5 s: led by 0.5 s at first, then by what was measured.
    assert offs == pytest.approx([6.7, 5.0], abs=0.02)


def test_an_answer_to_a_later_cue_measures_no_reaction(tmp_path):
    talk = talk_of(tmp_path).go_to("cure_open")
    talk.light(14)
    talk.give(warmth="cool")
    talk.say("light_on")
    on_s = talk.facts("light_turned_on")[-1].counted_from_s
    while "Light off." not in talk.said:
        talk.wait(talk.session.next_deadline_s - talk.now_s + 1e-6)
    assert talk.now_s - on_s == pytest.approx(4.5, abs=0.02)


def test_a_run_that_ends_a_moment_early_needs_no_second_one(talk):
    talk.go_to("cure_open")
    talk.light(5.75)
    assert "front part, 5.8 of 6 seconds, check firmness" in talk.said.lower()
    assert talk.facts("light_turned_off")[-1].flags == ()
    talk.give(warmth="cool")
    assert "Zone: back part." in talk.said
    assert "zone: front part" not in str(talk.session.open_items)


def test_a_short_zone_is_asked_for_again_and_its_runs_are_summed(talk):
    talk.go_to("cure_open")
    talk.light(2)
    talk.give(warmth="cool")
    assert "Again: Zone: front part." in talk.said
    talk.light(4.5)
    talk.give(warmth="cool")
    assert lit_s(talk, "front") == pytest.approx(6.5)
    assert "Zone: back part." in talk.said


def test_no_value_is_taken_while_the_light_is_on(talk):
    talk.go_to("cure_open")
    talk.say("light_on")
    talk.give(touch="intact")
    assert talk.kinds == ["command_refused"]
    assert talk.session.snapshot.is_lit


def test_nothing_leaves_the_step_while_the_light_is_on(talk):
    talk.go_to("cure_open")
    talk.say("light_on")
    for control in ("next_step", "previous_step", "skip", "override", "correction", "wait", "light_on"):
        talk.say(control)
        assert talk.session.snapshot.is_lit
        assert talk.at == "cure_open"


def test_light_off_in_the_dark_is_said(talk):
    talk.go_to("cure_open")
    talk.say("light_off")
    assert "The light was not on" in talk.said


@pytest.mark.parametrize("word", ["hot", "pain"])
def test_hot_and_pain_end_the_light_and_set_the_red_hold(talk, word):
    # Pain threshold of skin: Health Physics 2021;121:234.
    talk.go_to("cure_open")
    talk.say("light_on")
    talk.wait(2)
    talk.say(word)
    assert not talk.session.snapshot.is_lit
    assert talk.mode == "held"
    assert "Light off. Lift it away. Look at the skin." in talk.said
    assert lit_s(talk, "front") == pytest.approx(2 + LATE_S)
    assert max(effect.priority for effect in talk.effects if isinstance(effect, Say)) is Priority.STOP
    talk.say("light_on")
    assert talk.kinds == ["command_refused", "stray_light_began"]
    talk.say("light_off")
    talk.override()
    talk.light(4)
    assert lit_s(talk, "front") == pytest.approx(6 + LATE_S)


def test_hot_said_after_the_light_went_off_sets_the_hold_as_well(talk):
    # Heat may peak after the source stops: J Bone Joint Surg Am 2007;89:2369.
    talk.go_to("cure_open")
    talk.light(6.1)
    talk.say("hot")
    assert talk.mode == "held"
    assert talk.facts("hold_set")[-1].hold == "red"


@pytest.mark.parametrize("word", ["stop", "hot", "pain"])
def test_a_doubted_stop_word_acts_at_once(talk, word):
    talk.go_to("cure_open")
    talk.say("light_on")
    talk.say(word, doubted=True)
    assert not talk.session.snapshot.is_lit
    assert "light_turned_off" in talk.kinds


def test_stop_pauses_and_resume_goes_on(talk):
    talk.go_to("cure_open")
    talk.say("light_on")
    talk.wait(2)
    talk.say("stop")
    assert talk.mode == "paused"
    assert "Stopped. Light off" in talk.said
    talk.say("resume")
    assert talk.mode == "warmth"
    talk.give(warmth="cool")
    assert (talk.at, talk.mode) == ("cure_open", "asking")
    assert lit_s(talk, "front") == pytest.approx(2 + LATE_S)


def test_stop_then_override_ends_the_visit_early(talk):
    talk.go_to("ring")
    talk.say("stop")
    talk.override()
    assert talk.outcome == "stopped"
    assert talk.facts("visit_closed")[-1].open_items
    assert talk.session.wanted.controls == frozenset()
    assert talk.say("affirm") == ()


@pytest.mark.parametrize("control", sorted(Control))
def test_stop_words_are_heard_in_every_answer_that_is_waited_for(bundle, control):
    # Law 5 of this project. Each command leads somewhere else; from there the stop words still act.
    talk = Talk(bundle).go_to("cure_open")
    talk.say(control)
    talk.say("stop")
    assert talk.mode == "paused"
    assert not talk.session.snapshot.is_lit


def test_the_strap_zone_is_not_lit_before_strap_off(talk):
    talk.go_to("cure_strap")
    talk.say("light_on")
    assert talk.said == "Light off. Strap off first."
    talk.say("light_off")
    talk.say("strap_off")
    talk.light(4.1)
    assert lit_s(talk, "strip") == pytest.approx(4.1)


def test_light_after_strap_on_is_refused_again(talk):
    talk.go_to("cure_strap")
    talk.say("strap_off")
    talk.say("strap_on")
    talk.say("light_on")
    assert talk.said == "Light off. Strap off first."


def test_the_late_heat_question_comes_after_its_time_and_keeps_the_record_open(talk):
    talk.go_to("nerve_after@left")
    assert OpenLateQuestion() in talk.session.open_items
    off_s = talk.facts("light_turned_off")[-1].counted_to_s
    due_s = talk.session.next_deadline_s
    assert due_s == pytest.approx(off_s + 60)
    talk.wait(due_s - talk.now_s - 0.1)
    assert talk.mode == "asking"
    talk.wait(0.2)
    assert talk.mode == "late_heat"
    talk.give(warmth="warm")
    assert talk.facts("warmth_answered")[-1].late is True
    assert talk.at == "nerve_after@left"
    assert OpenLateQuestion() not in talk.session.open_items


def test_a_late_hot_sets_the_red_hold(talk):
    talk.go_to("nerve_after@left")
    talk.wait(70)
    talk.say("hot")
    assert talk.mode == "held"


def test_the_lamps_beep_is_recorded_only_while_lit(talk):
    talk.go_to("cure_open")
    assert talk.send(ToneHeard(at_s=talk.now_s, wall="", from_s=talk.now_s, to_s=talk.now_s)) == ()
    talk.say("light_on")
    talk.send(ToneHeard(at_s=talk.now_s + 1, wall="", from_s=talk.now_s, to_s=talk.now_s + 0.2))
    assert talk.kinds == ["lamp_beeped"]


def test_light_off_answers_the_question_after_a_break_while_lit(talk):
    talk.go_to("cure_open")
    talk.say("light_on")
    talk.wait(3)
    talk.crash()
    counted_s = lit_s(talk, "front")
    assert "Light off?" in talk.said
    talk.say("light_off")
    assert talk.kinds == ["light_off_confirmed"]
    assert talk.said == "Check position and warmth again. Then say affirmative."
    assert (talk.mode, lit_s(talk, "front")) == ("reconfirm", counted_s)


def test_light_off_after_a_break_in_the_dark_is_refused(talk):
    talk.go_to("cure_open")
    talk.light(3)
    talk.give(warmth="cool")
    talk.crash()
    talk.say("light_off")
    assert talk.kinds == ["command_refused"]


def test_light_on_that_is_said_twice_is_answered_by_a_sound(talk):
    talk.go_to("cure_open")
    talk.say("light_on")
    talk.say("light_on")
    assert talk.earcons == ["heard"]


def test_under_the_strap_the_tool_asks_for_the_strap_first(talk):
    talk.go_to("cure_strap")
    talk.say("help")
    assert talk.said == "Say strap off, then light on."
    talk.say("strap_off")
    talk.say("help")
    assert talk.said == "Say light on."
    talk.light(2)
    talk.give(warmth="cool")
    assert talk.said.endswith("Say light on.")
    talk.say("strap_on")
    talk.say("wait")
    talk.say("resume")
    assert talk.said.endswith("Say strap off, then light on.")


@pytest.mark.parametrize(("had_s", "words"), [(6.1, "Time over. Light off."), (9, "Take the light away.")])
def test_light_on_a_zone_that_is_full_is_told_at_once(talk, had_s, words):
    """Common practice, no source: nobody waits for the second prompt to hear that a zone has had its light."""
    talk.go_to("cure_open").light(had_s)
    talk.give(warmth="cool")
    talk.give(zone="front")
    talk.say("light_on")
    talk.wait(0.1)
    assert talk.said == words
    before = len(talk.history)
    talk.wait(1.5)
    said = [effect.text for effects in talk.history[before:] for effect in effects if hasattr(effect, "text")]
    assert said == [], "said once, and then with time to answer"

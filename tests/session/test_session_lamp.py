"""The session with a lamp that beeps, and what may be said while it is lit.

The rules are the project's own (common practice, no source).
"""

import pytest
from procedure_files import DEVICE
from talking import Talk, lit_s, talk_of

from handsfree.definition.loader import load_bundle
from handsfree.errors import ProcedureFileError
from handsfree.model.effects import Say
from handsfree.model.events import ToneHeard
from handsfree.model.facts import LampDisagreed
from handsfree.model.light import LampDisagreement, LightFlag


def beep(talk, at_s):
    """A beep of 0.2 s, told half a second after its end."""
    talk.now_s = max(talk.now_s, at_s + 0.7)
    return talk.send(ToneHeard(at_s=talk.now_s, wall="", from_s=at_s, to_s=at_s + 0.2))


# ---- the lamp's beep beside the words ----


def test_the_session_tells_which_beep_to_listen_for(tmp_path):
    assert talk_of(tmp_path, ", interval_s: 2").session.lamp_tone.frequency_hz == 2700
    assert talk_of(tmp_path, None).session.lamp_tone is None


def light_with_beeps(talk, beeps):
    """Light on, beeps that many seconds later, off after 6 s. Returns when the light went on."""
    talk.say("light_on")
    on_s = talk.facts("light_turned_on")[-1].counted_from_s
    for after_s in beeps:
        beep(talk, on_s + after_s)
    talk.wait(on_s + 6 - talk.now_s)
    talk.say("light_off")
    return on_s


def test_beeps_that_go_with_the_words_are_kept_beside_them(tmp_path):
    talk = talk_of(tmp_path, ", interval_s: 2").go_to("cure_open")
    light_with_beeps(talk, (2, 4))
    assert talk.facts("light_turned_off")[-1].beeps == "agrees"
    assert not talk.facts("lamp_disagreed")
    assert [fact.zone for fact in talk.facts("lamp_beeped")] == ["front", "front"]


def test_a_missing_beep_is_said_once_and_changes_no_seconds(tmp_path):
    talk = talk_of(tmp_path, ", interval_s: 2").go_to("cure_open")
    light_with_beeps(talk, (2,))
    assert talk.facts("light_turned_off")[-1].flags == (LightFlag.BEEPS_MISSING,)
    assert talk.facts("lamp_disagreed") == [LampDisagreed(what=LampDisagreement.BEEPS_MISSING, zone="front")]
    assert talk.said.count("differ") == 1
    assert lit_s(talk, "front") == pytest.approx(6)


def test_a_lamp_out_of_hearing_disagrees_with_nothing(tmp_path):
    talk = talk_of(tmp_path, ", interval_s: 2").go_to("cure_open")
    light_with_beeps(talk, ())
    assert talk.facts("light_turned_off")[-1].beeps == "not_heard"
    assert not talk.facts("lamp_disagreed")


def test_a_beep_after_light_off_is_said_once_for_a_run(tmp_path):
    talk = talk_of(tmp_path, ", interval_s: 2").go_to("cure_open")
    on_s = light_with_beeps(talk, (2, 4))
    question = talk.session.snapshot.prompt
    beep(talk, on_s + 8)
    assert "Check that it is off" in talk.said
    assert talk.facts("lamp_disagreed") == [LampDisagreed(what=LampDisagreement.BEEP_AFTER_OFF, zone="front")]
    # It comes before the question that is open; that is asked again, and "say again" repeats it.
    assert talk.said.endswith(question)
    assert talk.session.snapshot.prompt == question
    beep(talk, on_s + 10)
    assert talk.kinds == ["lamp_beeped"]
    assert talk.said == ""
    assert lit_s(talk, "front") == pytest.approx(6)


# ---- the lamp's beep alone ----


def test_a_beep_ends_the_run_where_the_profile_says_so(tmp_path):
    talk = talk_of(tmp_path, ", ends_run: beep").go_to("cure_open")
    talk.say("light_on")
    on_s = talk.facts("light_turned_on")[-1].counted_from_s
    beep(talk, on_s + 6.1)
    assert not talk.session.snapshot.is_lit
    assert talk.mode == "warmth"
    assert talk.facts("light_turned_off")[-1].end == "beep_heard"
    assert lit_s(talk, "front") == pytest.approx(6.1)
    assert "front part" in talk.said.lower()


@pytest.mark.parametrize(("after_s", "agrees"), [(0.3, True), (3.0, False)])
def test_light_off_after_the_beep_is_set_beside_it(tmp_path, after_s, agrees):
    talk = talk_of(tmp_path, ", ends_run: beep").go_to("cure_open")
    talk.say("light_on")
    on_s = talk.facts("light_turned_on")[-1].counted_from_s
    beep(talk, on_s + 6)
    talk.now_s = max(talk.now_s, on_s + 6 + after_s)
    spoken_s = talk.now_s
    talk.say("light_off")
    fact = talk.facts("light_off_said_after_sound")[-1]
    assert fact.agrees is agrees
    assert fact.counted_to_s == pytest.approx(on_s + 6)
    assert fact.possible_to_s == pytest.approx(on_s + 6 if agrees else spoken_s)
    assert len(talk.facts("lamp_disagreed")) == (not agrees)
    assert ("apart" in talk.said) is not agrees
    # Not one more run: the question about warmth is still open.
    assert len(talk.facts("light_turned_off")) == 1
    talk.give(warmth="cool")
    assert talk.mode == "asking"


def test_beeps_that_cease_end_the_run_where_the_profile_says_so(tmp_path):
    talk = talk_of(tmp_path, ", interval_s: 2, ends_run: silence").go_to("cure_open")
    talk.say("light_on")
    on_s = talk.facts("light_turned_on")[-1].counted_from_s
    for after_s in (2, 4, 6):
        beep(talk, on_s + after_s)
    talk.wait(5)
    fact = talk.facts("light_turned_off")[-1]
    assert fact.end == "fell_silent"
    assert fact.counted_to_s == pytest.approx(on_s + 6.2)
    assert fact.possible_to_s == pytest.approx(on_s + 8.2)
    assert talk.mode == "warmth"


def test_light_off_first_needs_no_beep(tmp_path):
    talk = talk_of(tmp_path, ", ends_run: beep").go_to("cure_open")
    on_s = light_with_beeps(talk, ())
    assert talk.facts("light_turned_off")[-1].end == "off_said"
    beep(talk, on_s + 6.3)
    assert talk.effects == ()
    talk.say("light_off")
    assert talk.kinds == ["command_refused"]


@pytest.mark.parametrize(
    ("tone", "message"),
    [
        (", ends_run: silence", "lamp.yaml:.*: tone: ends_run: silence needs interval_s"),
        (", ends_run: beep, interval_s: 2", "tone: ends_run: beep takes no interval_s"),
        (", ends_run: never", "tone"),
    ],
)
def test_a_tone_that_cannot_end_a_run_is_named(tmp_path, tone, message):
    with pytest.raises(ProcedureFileError, match=message):
        talk_of(tmp_path, tone)


# ---- while lit ----


@pytest.mark.parametrize("control", ["next_step", "wait", "previous_step"])
def test_what_must_wait_for_the_light_says_so(tmp_path, control):
    talk = talk_of(tmp_path).go_to("cure_open")
    talk.say("light_on")
    talk.say(control)
    assert talk.said == "Light off first."
    assert talk.session.snapshot.is_lit


def test_a_reached_target_sends_the_hand_to_the_zone(tmp_path):
    talk = talk_of(tmp_path).go_to("cure_open")
    talk.light(3)
    assert "check firmness" not in talk.said
    talk.give(warmth="cool")
    talk.light(3.1)
    assert "Front part, 6.1 of 6 seconds, check firmness." in talk.said


def test_experts_are_asked_in_short_unless_the_hand_must_feel_for_the_patient(tmp_path):
    talk = talk_of(tmp_path, expert=True).go_to("cure_open")
    talk.light(6.1)
    assert "Front part, 6.1 of 6, firmness? Patient's warmth?" in talk.said
    assert "Cool, warm, hot or painful?" not in talk.said


def test_each_spot_is_called(tmp_path):
    device = DEVICE.replace("order: 1, target_s: 6}", "order: 1, target_s: 2, spots: 3}")
    talk = talk_of(tmp_path, device=device).go_to("cure_open")
    talk.say("light_on")
    talk.wait(6)
    said = [effect.text for effects in talk.history for effect in effects if isinstance(effect, Say)]
    assert [text for text in said if text in {"Next spot.", "Half.", "Light off."}] == [
        "Next spot.",
        "Next spot.",
        "Light off.",
    ]


@pytest.mark.parametrize("short_s", [0.35, 0.6, 1.0])
def test_a_run_that_goes_on_just_before_the_target_is_told_to_end(tmp_path, short_s):
    """Whatever falls due while "light on" is still being understood is said at once, and not lost."""
    talk = talk_of(tmp_path).go_to("cure_open")
    talk.light(6.0 - short_s)
    talk.give(warmth="cool")
    assert talk.said == "Again: Zone: front part. Say light on."
    heard = len(talk.history)
    talk.say("light_on")
    talk.wait(4)
    said = [effect.text for effects in talk.history[heard:] for effect in effects if isinstance(effect, Say)]
    assert said.count("Light off.") == 1


def test_light_off_before_a_late_light_on_makes_it_stale(tmp_path):
    # Words overtaking one another: the light went on and off before "light on" was recognised.
    talk = talk_of(tmp_path).go_to("cure_open")
    now_s = talk.now_s
    talk.say("light_off")
    talk.now_s = now_s - 1.0
    talk.say("light_on")
    assert talk.kinds == ["command_refused"]
    assert not talk.session.snapshot.is_lit


def light_comes_too_early(talk, words):
    assert "light_on" in {control.value for control in talk.session.wanted.controls}
    talk.say("light_on")
    assert talk.said == words
    assert talk.kinds == ["command_refused", "stray_light_began"]
    assert not talk.session.snapshot.is_lit
    talk.say("light_off")


def test_light_before_the_answer_about_warmth_is_heard_and_refused(tmp_path):
    talk = talk_of(tmp_path).go_to("cure_open")
    talk.light(3)
    light_comes_too_early(talk, "Light off. Warmth first.")
    # The question is still open.
    assert "Ask the patient" in talk.session.snapshot.prompt
    talk.give(warmth="cool")
    assert talk.mode == "asking"


@pytest.mark.parametrize(
    ("control", "words"), [("hot", "Light off. Held. No light."), ("stop", "Light off. Say resume first.")]
)
def test_light_after_a_stop_word_is_heard_and_refused(tmp_path, control, words):
    talk = talk_of(tmp_path).go_to("cure_open")
    talk.say("light_on")
    talk.say(control)
    light_comes_too_early(talk, words)


def test_light_after_a_crash_is_heard_and_refused(tmp_path):
    talk = talk_of(tmp_path).go_to("cure_open")
    talk.say("light_on")
    talk.wait(3)
    talk.crash()
    light_comes_too_early(talk, "Light off. Check position and warmth first.")


@pytest.mark.parametrize(
    ("lit_for_s", "words"),
    [(2, "Again: Zone: front part. Say light on."), (7, "Zone: back part. Say light on.")],
)
def test_after_a_crash_the_zone_that_is_short_comes_next(tmp_path, lit_for_s, words):
    talk = talk_of(tmp_path).go_to("cure_open")
    talk.say("light_on")
    talk.wait(lit_for_s)
    talk.crash()
    talk.affirm()
    assert talk.said == words


def test_after_a_crash_in_the_last_zone_the_stage_is_done(tmp_path):
    talk = talk_of(tmp_path).go_to("cure_open")
    talk.light(6.1)
    talk.give(warmth="cool")
    talk.say("light_on")
    talk.wait(6.5)
    talk.crash()
    talk.affirm()
    assert talk.at == "cure_strap"


def test_after_a_lost_microphone_the_position_is_checked_then_the_zone_that_is_short_comes_next(tmp_path):
    talk = talk_of(tmp_path).go_to("cure_open")
    talk.say("light_on")
    talk.wait(7)
    talk.lose()
    assert talk.said.endswith("Light off? Check position and warmth again. Then say affirmative.")
    talk.find()
    talk.affirm()
    assert talk.said.endswith("Zone: back part. Say light on.")


def test_light_is_not_listened_for_where_a_procedure_has_none():
    talk = Talk(load_bundle("neurovascular-check"))
    assert "light_on" not in {control.value for control in talk.session.wanted.controls}


def test_a_prompt_that_says_how_to_begin_is_not_said_in_the_middle(tmp_path):
    talk = talk_of(tmp_path).go_to("cure_open")
    assert "When ready" in talk.said
    talk.light(6.1)
    talk.give(warmth="cool")
    talk.say("stop")
    talk.say("resume")
    assert talk.said == "Zone: back part. Say light on."

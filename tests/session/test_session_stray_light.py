"""Light where none is permitted is heard everywhere, kept beside every sum, and shuts the gate until it is explained.

Expected behaviour: hazards of this project (common practice, no source). Eyewear before light: ICNIRP 2013.
"""

import pytest
from talking import LATE_S, WORD_S, Talk, lit_s

from handsfree.model.commands import Control
from handsfree.model.effects import Priority, Say
from handsfree.model.refusals import Refusal, RefusalCode, StepFirst
from handsfree.session.deadlines import LIGHT_DOUBT_S, STRAY_EVERY_S


def test_light_before_its_step_is_said_off_with_what_is_missing(talk):
    talk.go_to("eyewear")
    talk.say("light_on")
    assert (talk.mode, talk.session.snapshot.is_lit) == ("stray", False)
    assert talk.said == "Light off. No light before: Is eyewear on for everyone?"
    assert [effect.priority for effect in talk.effects if isinstance(effect, Say)] == [Priority.ATTENTION]
    began = talk.facts("stray_light_began")[-1]
    assert (began.stage, began.why) == ("eyewear", StepFirst("eyewear"))
    assert began.at_s == pytest.approx(talk.now_s - LATE_S)


def test_its_seconds_are_kept_and_credited_to_no_zone(talk):
    talk.go_to("eyewear")
    talk.say("light_on")
    talk.wait(7)
    talk.say("light_off")
    ended = talk.facts("stray_light_ended")[-1]
    assert ended.lit
    assert ended.seconds == pytest.approx(7 + LATE_S)
    assert all(zone.lit_s == 0 for zone in talk.session.snapshot.zones)
    assert (talk.at, talk.mode) == ("eyewear", "asking")
    assert talk.said == "Is eyewear on for everyone?"


def test_until_then_it_is_said_again_and_nothing_goes_on(talk):
    talk.go_to("eyewear")
    talk.say("light_on")
    heard = len(talk.history)
    talk.wait(60)
    told = [effect.text for effects in talk.history[heard:] for effect in effects if isinstance(effect, Say)]
    assert told == ["Light on outside a zone. Say light off, or negative."] * round(60 / STRAY_EVERY_S)
    ends = {Control.LIGHT_OFF, Control.NEGATE, Control.STOP, Control.HOT, Control.PAIN, Control.CRY}
    for control in set(Control) - ends:
        talk.say(control)
        assert (talk.at, talk.mode) == ("eyewear", "stray"), control


def test_a_lamp_that_was_only_spoken_of_has_an_honest_way(talk):
    talk.go_to("eyewear")
    talk.say("light_on")
    talk.say("negate")
    ended = talk.facts("stray_light_ended")[-1]
    assert (ended.lit, ended.seconds) == (False, 0)
    assert (talk.at, talk.mode) == ("eyewear", "asking")


@pytest.mark.parametrize(
    ("way", "code"),
    [
        (lambda talk: talk.light(6.1), RefusalCode.WARMTH_FIRST),
        (lambda talk: talk.say("wait"), RefusalCode.RESUME_FIRST),
        (lambda talk: (talk.say("light_on"), talk.crash()), RefusalCode.POSITION_FIRST),
        (lambda talk: (talk.say("light_on"), talk.say("hot")), RefusalCode.HELD),
        (lambda talk: (talk.say("light_on"), talk.say("cry")), RefusalCode.HEAT_FIRST),
        (lambda talk: talk.say("take_note"), RefusalCode.ANSWER_FIRST),
    ],
)
def test_at_its_step_it_is_told_what_comes_first(talk, way, code):
    talk.go_to("cure_open")
    way(talk)
    mode, lit = talk.mode, lit_s(talk, "front")
    talk.say("light_on")
    assert talk.facts("stray_light_began")[-1].why == Refusal(code)
    assert talk.said.count("Light off.") == 1
    talk.say("light_off")
    assert (talk.mode, lit_s(talk, "front")) == (mode, lit)


def test_heat_in_light_outside_a_zone_sets_the_red_hold(talk):
    talk.go_to("eyewear")
    talk.say("light_on")
    talk.wait(2)
    talk.say("hot")
    assert talk.mode == "held"
    assert talk.facts("stray_light_ended")[-1].seconds == pytest.approx(2 + LATE_S)
    assert talk.facts("stop_word_heard")[-1].while_lit


def test_a_break_says_nothing_of_such_light(talk):
    talk.go_to("eyewear")
    talk.say("light_on")
    talk.crash()
    assert talk.mode == "stray"
    talk.say("light_off")
    assert (talk.at, talk.mode) == ("eyewear", "asking")


@pytest.mark.parametrize("mode", ["asking", "skip_reason", "override_role", "noting", "doubting", "paused", "held"])
def test_it_is_listened_for_in_every_mode(bundle, mode):
    talk = Talk(bundle)
    ways = {
        "asking": ("ring",),
        "skip_reason": ("remark", "skip"),
        "override_role": ("ring", "stop", "override"),
        "noting": ("ring", "take_note"),
        "paused": ("ring", "wait"),
        "held": ("ring",),
        "doubting": ("ring",),
    }
    step, *controls = ways[mode]
    talk.go_to(step)
    if mode == "held":
        talk.give(ring="stuck")
    if mode == "doubting":
        talk.give(doubted=True, ring="stuck")
    for control in controls:
        talk.say(control)
    assert talk.mode == mode
    assert Control.LIGHT_ON in talk.session.wanted.controls
    talk.say("light_on")
    assert talk.mode == "stray"
    talk.say("light_off")
    assert talk.mode == mode


def test_light_is_credited_from_the_affirmation_of_a_doubt(talk):
    talk.go_to("cure_open")
    talk.say("light_on", doubted=True)
    words_end_s = talk.now_s - LATE_S
    talk.wait(3)
    talk.affirm()
    on = talk.facts("light_turned_on")[-1]
    assert on.possible_from_s == pytest.approx(words_end_s)
    assert on.counted_from_s == pytest.approx(words_end_s + LATE_S + 3 + WORD_S)
    talk.wait(4)
    talk.say("light_off")
    total = talk.facts("zone_totalled")[-1]
    assert total.lit_s == pytest.approx(4 + LATE_S, abs=1e-3)
    assert total.possible_s == pytest.approx(4 + LATE_S + LATE_S + 3 + WORD_S, abs=1e-3)


def test_a_doubt_about_light_that_nobody_answers_is_light_that_nobody_affirmed(talk):
    talk.go_to("cure_open")
    talk.say("light_on", doubted=True)
    words_end_s = talk.now_s - LATE_S
    assert talk.session.next_deadline_s == pytest.approx(talk.now_s + LIGHT_DOUBT_S)
    talk.wait(LIGHT_DOUBT_S + 0.1)
    assert talk.mode == "stray"
    assert talk.said.startswith("Light off. Light on was not affirmed.")
    talk.wait(290)
    talk.say("light_off")
    ended = talk.facts("stray_light_ended")[-1]
    assert ended.seconds == pytest.approx(talk.now_s - WORD_S - LATE_S - words_end_s, abs=1e-3)
    assert lit_s(talk, "front") == 0


@pytest.mark.parametrize(("word", "mode"), [("light_off", "asking"), ("stop", "paused"), ("hot", "held")])
def test_a_stop_word_ends_light_in_doubt(talk, word, mode):
    talk.go_to("cure_open")
    talk.say("light_on", doubted=True)
    talk.wait(2)
    talk.say(word)
    assert talk.kinds[:2] == ["stray_light_began", "stray_light_ended"]
    assert talk.facts("stray_light_ended")[-1].seconds == pytest.approx(2 + LATE_S)
    assert talk.mode == mode


def test_light_on_once_more_affirms_the_doubt(talk):
    talk.go_to("cure_open")
    talk.say("light_on", doubted=True)
    talk.say("light_on")
    assert talk.kinds == ["doubt_settled", "light_turned_on"]
    assert talk.facts("light_turned_on")[-1].counted_from_s == pytest.approx(talk.now_s - LATE_S)


def test_a_denied_doubt_about_light_is_no_light(talk):
    talk.go_to("cure_open")
    talk.say("light_on", doubted=True)
    talk.say("negate")
    assert talk.mode == "asking"
    assert not talk.facts("stray_light_began")


def test_a_break_leaves_light_in_doubt_to_be_explained(talk):
    talk.go_to("cure_open")
    talk.say("light_on", doubted=True)
    talk.crash()
    assert talk.mode == "stray"

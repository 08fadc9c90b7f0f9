"""Light that a cry, a stop word or a break ended may be on until "light off" is heard: until then it is said again.

Expected behaviour: hazards of this project, and its law that the tool does not fall silent while light may be on
(DEVELOPERS.md); common practice, no source.
"""

import pytest
from procedure_files import DEVICE
from talking import LATE_S, lit_s, talk_of

from handsfree.model.commands import Control
from handsfree.model.effects import PlayEarcon, Say
from handsfree.model.open_items import OpenLightOff
from handsfree.session.deadlines import SAID_AT_STOP_S

ASKED = "Light off? Say light off."
EVERY_S = 6.0  # `repeat_every_s` of the example profile, as past the target


def lit(talk):
    talk.go_to("cure_open").say("light_on")
    talk.wait(2)


def denied(talk):
    lit(talk)
    talk.say("cry")
    talk.say("negate")


def affirmed(talk):
    lit(talk)
    talk.say("cry")
    talk.affirm()


def unanswered(talk):
    lit(talk)
    talk.say("cry")
    talk.wait(7)


def word(control):
    def way(talk):
        lit(talk)
        talk.say(control)

    return way


def stray(control):
    def way(talk):
        talk.go_to("eyewear").say("light_on")
        talk.wait(2)
        talk.say(control)

    return way


def crashed(talk):
    lit(talk)
    talk.crash()


def deaf(talk):
    lit(talk)
    talk.lose()
    talk.find()


WAYS = {
    "cry denied": denied,
    "cry affirmed": affirmed,
    "cry unanswered": unanswered,
    "stop": word("stop"),
    "hot": word("hot"),
    "pain": word("pain"),
    "stray, stop": stray("stop"),
    "stray, hot": stray("hot"),
    "stray, cry": stray("cry"),
    "break": crashed,
    "microphone lost": deaf,
}


@pytest.fixture(params=WAYS)
def owed(request, talk):
    WAYS[request.param](talk)
    return talk


def asked_in(talk, seconds):
    heard = len(talk.history)
    talk.wait(seconds)
    return [effect.text for effects in talk.history[heard:] for effect in effects if isinstance(effect, Say)].count(
        ASKED
    )


def test_it_is_said_again_and_again_until_light_off_is_heard(owed):
    assert asked_in(owed, 60) >= 60 / EVERY_S - 2
    owed.say("light_off")
    assert "command_refused" not in owed.kinds
    assert asked_in(owed, 60) == 0


def test_it_is_said_at_once_with_a_sound_and_leaves_the_question_as_it_was(owed):
    if owed.mode == "cried":
        owed.say("negate")
    before, mode = owed.session.snapshot.prompt, owed.mode
    owed.wait(owed.session.next_deadline_s - owed.now_s)
    said = [effect for effect in owed.effects if isinstance(effect, Say | PlayEarcon)]
    assert ASKED in owed.said
    assert all(effect.at_once for effect in said)
    assert owed.kinds == []
    assert (owed.session.snapshot.prompt, owed.mode) == (before, mode)


def test_in_the_dark_nobody_is_asked(talk):
    talk.go_to("cure_open").say("stop")
    assert asked_in(talk, 30) == 0
    talk.say("resume")
    talk.light(6.1)
    assert asked_in(talk, 30) == 0


def test_light_on_again_ends_it(talk):
    denied(talk)
    talk.say("light_on")
    assert talk.session.snapshot.is_lit
    talk.wait(3)
    talk.say("light_off")
    assert asked_in(talk, 30) == 0


@pytest.mark.parametrize("way", [crashed, deaf])
def test_after_a_break_it_is_said_first_and_nothing_more_is_counted(talk, way):
    way(talk)
    said = [effect.text for effects in talk.history[-2:] for effect in effects if isinstance(effect, Say)]
    assert any(text.startswith("Light off? Interrupted while front part was lit.") for text in said)
    talk.wait(8)
    talk.say("light_off")
    assert talk.kinds == ["light_off_confirmed"]
    assert talk.said == "Check position and warmth again. Then say affirmative."
    assert lit_s(talk, "front") == pytest.approx(2, abs=1)


def ended(talk):
    talk.say("end_visit")
    talk.give(role="nurse")
    talk.give(reason="reviewed")
    talk.affirm()
    heard = talk.said
    while talk.outcome is None:
        # Whatever is asked at an early end, not "light off".
        talk.say("negate") if talk.mode in {"cried", "stray"} else talk.answer()
        heard += talk.said
    return heard


def test_a_visit_that_ends_before_light_off_was_heard_says_so_and_keeps_it_open(owed):
    if owed.mode == "cried":
        owed.say("negate")
    assert ended(owed).count("Light off was not confirmed. Check that it is off.") == 1
    assert OpenLightOff() in owed.facts("visit_closed")[-1].open_items


def test_a_visit_that_ends_after_it_says_nothing_of_it(owed):
    owed.say("light_off")
    if owed.mode == "cried":
        owed.say("negate")
    assert "not confirmed" not in ended(owed)
    assert OpenLightOff() not in owed.facts("visit_closed")[-1].open_items


def to_the_end(talk):
    """Everything is answered but "light off"."""
    for _ in range(200):
        if talk.mode == "open_items" and talk.session.open_items == (OpenLightOff(),):
            return
        assert talk.outcome is None
        talk.wait(130) if talk.mode == "open_items" else talk.answer()
    raise AssertionError((talk.at, talk.mode))


def test_no_visit_is_completed_before_light_off_was_heard(talk):
    talk.go_to("cure_strap").say("strap_off")
    talk.light(4.2)
    talk.say("light_on")
    talk.wait(1)
    talk.say("hot")
    to_the_end(talk)
    talk.say("help")
    assert talk.said == "Say light off."
    talk.say("light_off")
    assert talk.outcome == "completed_with_overrides"
    assert "not confirmed" not in talk.said


def test_said_in_a_pause_at_the_end_it_closes_the_visit_once_that_goes_on(talk):
    talk.go_to("cure_strap").say("strap_off")
    talk.say("light_on")
    talk.wait(4.2)
    talk.say("cry")
    talk.say("negate")
    to_the_end(talk)
    talk.say("wait")
    talk.say("light_off")
    assert talk.outcome is None
    talk.say("resume")
    assert talk.outcome == "completed"


def test_a_check_of_the_position_after_a_break_answers_it(talk):
    denied(talk)
    talk.crash()
    assert "Light off?" in talk.said
    assert asked_in(talk, 20) > 0
    talk.affirm()
    assert asked_in(talk, 30) == 0


def test_a_note_and_a_dialogue_keep_nobody_from_hearing_it(talk):
    word("hot")(talk)
    for control in ("override", "negate", "take_note"):
        talk.say(control)
        assert asked_in(talk, 20) >= 2, control


def test_while_it_is_owed_a_patients_own_words_count(talk):
    denied(talk)
    assert Control.CRY in talk.session.wanted.controls
    talk.say("cry", doubted=True)
    assert talk.mode == "cried"
    talk.affirm()
    assert Control.CRY not in talk.session.wanted.controls, "it is held for heat"
    talk.say("light_off")
    talk.override()
    assert Control.CRY not in talk.session.wanted.controls


def test_the_seconds_of_light_outside_a_zone_run_until_light_off(talk):
    stray("hot")(talk)
    assert talk.facts("stray_light_ended")[-1].seconds == pytest.approx(2 + LATE_S)
    talk.wait(4)
    talk.say("light_off")
    assert talk.kinds == ["stray_light_ended"]
    assert talk.facts("stray_light_ended")[-1].seconds == pytest.approx(2 + LATE_S + 1 + 4)
    talk.say("light_off")
    assert talk.kinds == ["command_refused"]


def test_the_profile_says_how_often(tmp_path):
    talk = talk_of(tmp_path, device=DEVICE + "guidance: {repeat_every_s: 10}\n")
    word("hot")(talk)
    assert asked_in(talk, 10 + SAID_AT_STOP_S - 0.5) == 0
    assert asked_in(talk, 1) == 1
    assert asked_in(talk, 9) == 0
    assert asked_in(talk, 1) == 1

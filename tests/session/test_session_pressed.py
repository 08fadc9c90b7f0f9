"""Keys that are set to say something: where "affirmative" by a key counts, and where only a voice does.

Expected behaviour: common practice, no source; who lifts what holds a visit is on record by what was said.
"""

from lifting_files import RULED, absent, changed, refused
from talking import LATE_S, wall_at

from handsfree.model.commands import Control, ControlCommand, Wanted
from handsfree.model.events import CommandSpoken
from handsfree.model.refusals import Refusal, RefusalCode
from handsfree.understanding.graphs import match
from handsfree.understanding.interpreter import PRESSED_WORDS, pressed
from handsfree.understanding.listening_graph import graph_for


def press(talk, control):
    talk.now_s += LATE_S
    event = CommandSpoken(
        at_s=talk.now_s,
        wall=wall_at(talk.now_s),
        command=ControlCommand(control),
        heard=pressed(control, talk.now_s),
        probability=1.0,
    )
    return talk.send(event)


def to_the_confirmation(talk):
    absent(talk)
    talk.say("override")
    talk.give(role="surgeon")
    talk.give(reason="reviewed")
    assert talk.mode == "override_confirm"


def test_a_key_never_lifts_a_hold_and_the_voice_still_does(tmp_path):
    talk = changed(tmp_path, RULED)
    to_the_confirmation(talk)
    press(talk, Control.AFFIRM)
    assert talk.mode == "override_confirm"
    assert talk.said == "Not by a key. Who answers for it says it."
    assert refused(talk) == Refusal(RefusalCode.BY_VOICE_ALONE)
    assert not talk.facts("hold_lifted")
    talk.affirm()
    assert talk.facts("hold_lifted")[-1].role == "surgeon"


def test_nor_does_it_affirm_that_somebody_said_so(tmp_path):
    talk = changed(tmp_path, RULED)
    to_the_confirmation(talk)
    talk.speak(ControlCommand(Control.AFFIRM), doubted=True, words="affirmative")
    assert talk.mode == "doubting"
    press(talk, Control.AFFIRM)
    assert talk.mode == "doubting"
    assert not talk.facts("hold_lifted")


def test_a_key_affirms_a_step_and_stops_and_has_the_prompt_said_again(talk):
    talk.go_to("ring")
    said = talk.said
    press(talk, Control.SAY_AGAIN)
    assert said.endswith(talk.said)
    press(talk, Control.STOP)
    assert talk.mode == "paused"
    assert talk.facts("stop_word_heard")[-1].heard.pressed


def test_a_doubt_about_an_ordinary_value_is_settled_by_a_key_and_the_record_says_so(talk):
    talk.go_to("ring")
    talk.give(ring="gone", doubted=True)
    assert talk.mode == "doubting"
    press(talk, Control.AFFIRM)
    settled = talk.facts("doubt_settled")[-1]
    assert settled.right
    assert settled.heard.engine == "pressed"
    assert not settled.heard.typed


def test_what_keys_say_is_what_the_grammars_say():
    for control, words in PRESSED_WORDS.items():
        found = match(graph_for(Wanted(frozenset({control}))), words)
        assert found is not None
        assert found.tags == pressed(control, 0.0).tags

"""What is said before it is on record: stops and light, and never a sentence that calls something recorded.

Expected behaviour: hazards of this project (common practice, no source).
"""

import pytest

from handsfree.model.effects import Earcon, PlayEarcon, Say
from handsfree.session.prompts.fixed import Fixed
from handsfree.session.prompts.wording import catalogue, code_of
from handsfree.session.urgency import CALLING_RECORDED, CALLING_RECORDED_WITH

CALLS_NOTHING_RECORDED = {
    "fixed.not_recorded",
    "fixed.record_failed",
    "fixed.nothing_earlier",
    "sentence.compared_with",
    "sentence.label_differs",
    "sentence.none_recorded",
}
"""Sentences that speak of a record without saying that something was put on it."""


def at_once(talk):
    """What the last event had said and sounded at once, and what it had wait."""
    heard = [effect for effect in talk.effects if isinstance(effect, Say | PlayEarcon)]
    told = [effect.text if isinstance(effect, Say) else effect.earcon for effect in heard]
    return (
        [one for one, effect in zip(told, heard, strict=True) if effect.at_once],
        [one for one, effect in zip(told, heard, strict=True) if not effect.at_once],
    )


def test_every_sentence_that_calls_something_recorded_waits():
    speaking = {code for code, words in catalogue().items() if "record" in words.lower()}
    waiting = {f"fixed.{code}" for code in CALLING_RECORDED} | {
        f"sentence.{code_of(kind)}" for kind in CALLING_RECORDED_WITH
    }
    of_their_own = {code for code in speaking if code.split(".")[0] in {"fixed", "sentence"}}
    assert of_their_own - CALLS_NOTHING_RECORDED <= waiting
    assert waiting >= {f"fixed.{code}" for code in (Fixed.STRAP_OFF, Fixed.STRAP_ON)} | {"sentence.echo"}
    assert not waiting & CALLS_NOTHING_RECORDED


@pytest.mark.parametrize("word", ["stop", "hot", "pain"])
@pytest.mark.parametrize("doubted", [False, True])
@pytest.mark.parametrize("step", ["ring", "eyewear", "cure_open"])
def test_stop_words_are_answered_at_once_wherever_they_are_said(talk, word, doubted, step):
    talk.go_to(step)
    talk.say(word, doubted=doubted)
    now, later = at_once(talk)
    assert any("top" in said or "Light off" in said for said in now)
    assert later == []


def test_a_cry_its_answer_and_its_silence_are_answered_at_once(talk):
    for answer in ("negate", "affirm", None):
        talk.go_to("cure_open")
        talk.say("light_on")
        talk.wait(2)
        talk.say("cry", doubted=True)
        assert at_once(talk) == (["Light off? Was it hot or painful?"], [])
        if answer is None:
            talk.wait(7)
        else:
            talk.say(answer)
        now, later = at_once(talk)
        assert now
        assert set(later) <= {Earcon.RECORDED}
        if answer == "affirm":
            talk.override()


def test_while_lit_cues_and_sounds_do_not_wait_and_what_was_taken_does(talk):
    talk.go_to("cure_open")
    talk.say("light_on")
    assert at_once(talk) == ([Earcon.HEARD], [])
    talk.say("strap_off")
    assert at_once(talk) == ([], [Earcon.RECORDED, "Strap off."])
    talk.wait(1.5)
    assert at_once(talk) == ([Earcon.TICK, "Half."], [])
    talk.wait(10)
    told = [
        effect
        for effects in talk.history
        for effect in effects
        if isinstance(effect, Say) and effect.text in {"Half.", "Light off."}
    ]
    assert told
    assert all(effect.at_once for effect in told)
    talk.say("light_off")
    now, later = at_once(talk)
    assert "seconds" in now[0]
    assert later == [Earcon.RECORDED]


def test_a_score_of_pain_that_stops_is_answered_at_once_though_the_light_is_off(talk):
    talk.go_to("cure_open")
    talk.light(3)
    talk.give(pain_score=9)
    now, later = at_once(talk)
    assert next(said for said in now if isinstance(said, str)).startswith("Light off. Lift it away.")
    assert all(isinstance(waits, Earcon) for waits in later)


def test_light_that_nobody_permitted_or_affirmed_is_told_at_once(talk):
    talk.go_to("eyewear")
    talk.say("light_on")
    now, later = at_once(talk)
    assert now[0] is Earcon.ATTENTION
    assert now[1].startswith("Light off.")
    assert later == []
    talk.say("light_off")
    assert at_once(talk)[1] == [Earcon.RECORDED]
    talk.say("light_on", doubted=True)
    assert at_once(talk) == (["Did you say: light on?"], [])


def test_a_lost_microphone_is_told_at_once_where_light_is_on(talk):
    talk.lose()
    assert at_once(talk)[0] == []
    talk.find()
    talk.go_to("cure_open")
    talk.say("light_on")
    talk.lose()
    now, later = at_once(talk)
    assert "The microphone is gone." in now
    assert later == []


def test_values_questions_and_the_end_wait(talk):
    talk.go_to("ring")
    assert at_once(talk)[0] == []
    talk.give(ring="stuck")
    now, later = at_once(talk)
    assert now == []
    assert later
    talk.say("end_visit")
    assert at_once(talk)[0] == []


def test_only_what_people_are_to_answer_to_is_marked_as_a_question(talk):
    talk.go_to("ring")
    talk.say("status")
    assert [effect.asks for effect in talk.effects if isinstance(effect, Say)] == [False]
    talk.say("say_again")
    assert [effect.asks for effect in talk.effects if isinstance(effect, Say)] == [True]
    talk.say("override")
    assert [effect.asks for effect in talk.effects if isinstance(effect, Say)] == [False], "a refusal passes"

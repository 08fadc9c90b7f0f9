"""Findings that stand unless somebody objects: what may, when it is on record, what takes it back, what never may.

The rule is this project's own; that a read-back needs an answer where a mistake harms is common practice, no source.
"""

import pytest
from procedure_files import PROCEDURE, write_files
from talking import Talk

from handsfree.definition.loader import load_bundle
from handsfree.model.reading_facts import ReadingConfirmed
from handsfree.session.may_stand import LEAST

SKIN = """\
  - id: skin
    kind: finding
    phase: before
    prompt: "Skin: hand, arm?"
    hard: true
    source: common
    fields:
      - {id: hand, label: hand, options: {intact: [intact], red: [red], broken: [broken]}, amber: [red], stop: [broken]}
      - {id: arm, label: arm, options: {intact: [intact], broken: [broken]}, stop: [broken]}
  - id: room
    kind: finding
    phase: before
    prompt: "Window, door?"
    hard: true
    source: common
    fields:
      - {id: window, label: window, options: {shut: [shut], open: [open]}}
      - {id: door, label: door, options: {shut: [shut], open: [open]}}
"""
PLACE = "  - id: band\n"


def files(folder, steps=SKIN, before=PLACE):
    assert before in PROCEDURE
    return load_bundle(str(write_files(folder, procedure=PROCEDURE.replace(before, steps + before))))


@pytest.fixture
def talk(tmp_path):
    return Talk(files(tmp_path), going_on=True).go_to("skin")


def confirmed(talk):
    return {f"{fact.step}.{fact.field}": fact.read_back for fact in talk.facts("reading_confirmed")}


def test_a_finding_is_said_back_in_the_next_prompt_and_confirmed_by_going_on(talk):
    talk.give(hand="intact", arm="intact")
    assert (talk.at, talk.mode) == ("room", "asking")
    assert talk.said == "Hand and arm intact. Window, door?"
    assert "skin.hand" not in confirmed(talk)
    assert "recorded" not in talk.earcons
    talk.give(window="shut", door="open")
    assert confirmed(talk)["skin.hand"] == confirmed(talk)["skin.arm"] == "going_on"
    assert talk.kinds[:2] == ["reading_confirmed", "reading_confirmed"]


def test_where_each_is_affirmed_nothing_stands(tmp_path):
    talk = Talk(files(tmp_path)).go_to("skin")
    talk.give(hand="intact", arm="intact")
    assert talk.mode == "reading_back"


@pytest.mark.parametrize("word", ["negate", "correction"])
def test_an_objection_takes_it_back_and_asks_again(talk, word):
    talk.give(hand="intact", arm="intact")
    talk.say(word)
    assert (talk.at, talk.mode, talk.kinds) == ("skin", "asking", ["read_back_disputed"])
    assert "skin.hand" not in confirmed(talk)
    talk.give(hand="red", arm="intact")
    assert talk.at == "room"
    talk.give(window="shut", door="shut")
    values = {fact.field: fact.value.value for fact in talk.facts("reading_confirmed") if fact.step == "skin"}
    assert values == {"hand": "red", "arm": "intact"}
    assert talk.facts("reading_amended") == []


def test_affirmative_to_it_confirms_it_and_answers_nothing_else(talk):
    talk.give(hand="intact", arm="intact")
    talk.affirm()
    assert (talk.at, talk.mode, talk.kinds) == ("room", "asking", ["reading_confirmed", "reading_confirmed"])
    assert confirmed(talk)["skin.hand"] == "affirmed"


@pytest.mark.parametrize("control", ["say_again", "status", "help", "wait"])
def test_what_anybody_says_at_any_time_confirms_nothing(talk, control):
    talk.give(hand="intact", arm="intact")
    talk.say(control)
    assert "skin.hand" not in confirmed(talk)
    if control == "say_again":
        assert talk.said == "Hand and arm intact. Window, door?"


def test_silence_and_noise_confirm_nothing(talk):
    talk.give(hand="intact", arm="intact")
    talk.wait(300)
    talk.reject()
    talk.crash()
    assert "skin.hand" not in confirmed(talk)
    assert "Hand and arm intact." in talk.said


def test_a_stop_word_confirms_nothing_and_it_is_said_back_again(talk):
    talk.give(hand="intact", arm="intact")
    talk.say("stop")
    assert "skin.hand" not in confirmed(talk)
    talk.say("resume")
    assert talk.said == "Hand and arm intact. Window, door?"


@pytest.mark.parametrize("hand", ["broken"])
def test_what_holds_the_visit_is_affirmed(talk, hand):
    talk.give(hand=hand, arm="intact")
    assert talk.mode == "reading_back"


def test_what_was_heard_with_doubt_is_affirmed(talk):
    talk.give(hand="intact", arm="intact", doubted=True)
    talk.affirm()
    assert talk.mode == "reading_back"


def test_what_was_not_heard_well_is_affirmed(talk, monkeypatch):
    monkeypatch.setattr("handsfree.session.may_stand.LEAST", 0.98)
    talk.give(hand="intact", arm="intact")
    assert talk.mode == "reading_back"
    assert LEAST <= 1


def test_what_takes_the_place_of_another_is_affirmed(talk):
    talk.give(hand="intact", arm="intact")
    talk.give(window="shut", door="shut")
    talk.affirm()
    talk.say("correction")
    talk.give(window="open", door="shut")
    assert talk.mode == "reading_back"


def test_a_number_beside_it_is_affirmed_and_so_is_a_side(tmp_path):
    talk = Talk(files(tmp_path), going_on=True).go_to("side")
    talk.give(injured="left")
    assert talk.mode == "reading_back"
    talk.affirm()
    talk.go_to("nerve_before@left")
    talk.give(touch="intact", refill=1)
    assert talk.mode == "reading_back"


def test_what_the_file_marks_is_affirmed(tmp_path):
    marked = SKIN.replace("kind: finding\n", "kind: finding\n    read_back: confirm\n", 1)
    talk = Talk(files(tmp_path, marked), going_on=True).go_to("skin")
    talk.give(hand="intact", arm="intact")
    assert talk.mode == "reading_back"


def test_before_a_step_that_affirmative_answers_it_is_asked_about(tmp_path):
    bundle = files(tmp_path, SKIN, before="  - id: eyewear\n")
    talk = Talk(bundle, going_on=True).go_to("room")
    talk.give(window="shut", door="shut")
    assert (talk.at, talk.mode, talk.said) == ("room", "checking", "window and door shut. Correct?")
    talk.affirm()
    assert (talk.at, talk.mode, confirmed(talk)["room.door"]) == ("eyewear", "asking", "going_on")
    assert "step_confirmed" not in talk.kinds


def test_no_gate_opens_before_it_is_asked_about(tmp_path):
    bundle = files(tmp_path, SKIN, before="  - id: angle\n")
    talk = Talk(bundle, going_on=True).go_to("room")
    talk.give(window="shut", door="shut")
    assert (talk.at, talk.mode) == ("room", "checking")
    talk.say("light_on")
    assert "light_turned_on" not in talk.kinds
    talk.say("light_off")
    talk.say("negate")
    assert (talk.at, talk.mode) == ("room", "asking")
    assert "room.door" not in confirmed(talk)


def test_an_amber_finding_is_told_at_once_and_stands(talk):
    talk.give(hand="red", arm="intact")
    assert talk.said.startswith("Flagged: hand red.")
    assert talk.said.endswith("Hand red; arm intact. Window, door?")


def test_facts_are_the_same_when_replayed(talk, tmp_path):
    talk.give(hand="intact", arm="intact")
    talk.finish()
    again = Talk(talk.bundle, going_on=True)
    again.history.clear()
    for event in talk.events[1:]:
        again.send(event)
    assert again.history == talk.history[1:]
    assert all(isinstance(fact, ReadingConfirmed) for fact in talk.facts("reading_confirmed"))
    ways = {fact.read_back for fact in talk.facts("reading_confirmed")}
    assert ways == {"affirmed", "echo", "going_on"}


def test_what_waits_to_be_affirmed_gives_way_to_nothing_that_stands_without(talk):
    talk.give(hand="broken", arm="intact")
    assert talk.mode == "reading_back"
    talk.give(hand="intact")
    assert (talk.at, talk.mode) == ("skin", "reading_back")
    talk.affirm()
    assert confirmed(talk)["skin.hand"] == "affirmed"

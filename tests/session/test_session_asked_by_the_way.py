"""Questions to the tool while something is held, read back, or a code is asked for; and the words that lead out of it.

What must be answered, and that a hold or a question stays as it was, is this project's own rule; common practice, no
source.
"""

import pytest
from controls_table import PLACES
from own_procedures import begin, step
from talking import Talk

from handsfree.understanding.interpreter import interpret, typed

LID = step("""
id: lid
kind: finding
phase: during
prompt: Is the lid shut?
hard: true
source: common
fields: [{id: lid, label: lid, options: {shut: [shut], open: [wide open]}, stop: [open]}]
""")
HAND = step("""
id: room
kind: measure
phase: during
prompt: How warm is the room?
hard: true
source: common
timing: during
fields: [{id: room, label: room, number: {unit: Cel, low: 0, high: 90}}]
""")
ASKING_BY_THE_WAY = ("what is missing", "what's left", "what is open", "status", "status report")
WAITING = [
    name
    for name, (mode, _, _) in PLACES.items()
    if name != "held_light"  # has a lamp of its own
    and (mode in {"held", "reading_back", "checking", "misheard", "skip_reason"} or mode.startswith("override"))
]


def line(talk, text):
    heard = typed(text, talk.session.wanted, talk.now_s)
    command = interpret(heard, talk.session.wanted) if heard is not None else None
    return talk.speak(command, words=text) if command is not None else None


@pytest.mark.parametrize("words", ASKING_BY_THE_WAY)
@pytest.mark.parametrize("name", WAITING)
def test_it_is_answered_and_what_waits_stays_as_it_was(bundle, name, words):
    talk = Talk(bundle)
    PLACES[name][2](talk)
    before, last = talk.mode, talk.session._state.last_said
    assert line(talk, words) is not None
    assert talk.said
    assert talk.kinds in (["missing_told"], ["status_told"])
    assert (talk.mode, talk.session._state.last_said) == (before, last)


def test_at_a_hold_it_says_what_holds_and_asks_for_no_answer_to_it(tmp_path):
    talk = begin(tmp_path, LID, HAND)
    line(talk, "wide open")
    line(talk, "what's left")
    assert talk.said == "Held: lid wide open. Still missing: “How warm is the room”."


def test_what_is_read_back_is_not_told_as_missing(tmp_path):
    talk = begin(tmp_path, HAND, LID)
    line(talk, "two zero")
    assert talk.mode == "reading_back"
    line(talk, "what is missing")
    assert talk.said == "Still missing: “Is the lid shut”."


def test_where_a_cry_counts_nothing_is_added(bundle):
    talk = Talk(bundle)
    PLACES["warmth"][2](talk)
    assert line(talk, "what is missing") is None


def test_the_code_question_of_an_override_names_the_way_out_and_it_works(bundle):
    talk = Talk(bundle)
    PLACES["hold_code"][2](talk)
    assert talk.said == "Spell the code of the person who answers for it, or say cancel."
    assert talk.session.wanted.hint == "say the code in alphabet words and digits; or cancel"
    line(talk, "cancel")
    assert talk.mode == "held"


@pytest.mark.parametrize("words", ["affirmative", "next step", "yes", "go home now"])
def test_typed_words_that_are_no_code_are_told_what_may_be_said(bundle, words):
    talk = Talk(bundle)
    PLACES["hold_code"][2](talk)
    assert line(talk, words) is not None
    assert talk.said == "Spell the code, one letter and one digit at a time, or say cancel."
    assert talk.mode == "override_code"


def test_so_are_those_at_the_code_of_a_step(tmp_path):
    talk = begin(tmp_path, HAND)
    talk.say("previous_step")
    talk.say("correction")
    line(talk, "affirmative")
    assert talk.said == "Code: spell it one letter and one digit at a time."

"""Steps of one group: answered in any order, several in one breath, each read back; and read-backs in one sentence."""

from decimal import Decimal

import pytest
from procedure_files import PROCEDURE, write_files
from talking import Talk

from handsfree.definition.form import StepField
from handsfree.definition.loader import load_bundle
from handsfree.definition.verbalization import group_words
from handsfree.errors import ProcedureFileError
from handsfree.model.readings import Exact, Option, Side, value_text
from handsfree.understanding.interpreter import interpret, typed

# The rules of groups and of short wording are this project's own; no other source.


@pytest.fixture
def talk():
    """A visit at the first hand of the removal, whose circulation and sensation are one group."""
    talk = Talk(load_bundle("splint-removal"))
    for _ in range(60):
        if talk.at == "circulation@left":
            break
        if talk.at == "side_verification" and talk.mode == "asking":
            talk.give(order="left", patient="left")
        else:
            talk.answer()
    return talk


def say(talk, text):
    heard = typed(text, talk.session.wanted, talk.now_s)
    assert heard is not None, text
    command = interpret(heard, talk.session.wanted)
    assert command is not None
    return talk.speak(command, words=text)


def test_findings_of_two_steps_in_one_breath_with_the_side_said_once(talk):
    say(
        talk,
        "left pulse present, refill two, color usual, temperature warm, median intact, ulnar intact, radial reduced",
    )
    assert talk.said == "Left: pulse present; refill two, seconds; color usual; temperature warm. Correct?"
    talk.affirm()
    assert talk.said == "Left: median and ulnar intact; radial reduced. Correct?"
    talk.affirm()
    assert talk.at == "circulation@right"
    confirmed = {(fact.step, fact.side, fact.field): value_text(fact.value) for fact in talk.facts("reading_confirmed")}
    assert confirmed["circulation", Side.LEFT, "refill"] == "2"
    assert confirmed["sensation", Side.LEFT, "radial"] == "reduced"


def test_only_what_is_missing_is_asked_for(talk):
    say(talk, "pulse present, median intact, ulnar intact, radial intact")
    assert talk.said == "Still missing: refill, color, temperature."
    say(talk, "refill two, color usual, temperature warm")
    talk.affirm()
    assert talk.at == "sensation@left"
    assert talk.mode == "reading_back"


def test_the_later_step_may_come_first_and_the_earlier_is_still_owed(talk):
    say(talk, "median intact, ulnar intact, radial intact")
    assert (talk.at, talk.mode) == ("sensation@left", "reading_back")
    talk.affirm()
    assert talk.at == "circulation@left"


def test_a_value_for_the_other_side_is_not_heard_here(talk):
    assert typed("right median intact", talk.session.wanted, talk.now_s) is None


def test_negative_drops_everything_of_the_breath(talk):
    say(talk, "pulse present, refill two, color usual, temperature warm, median intact, ulnar intact, radial intact")
    talk.say("negate")
    say(talk, "pulse present, refill two, color usual, temperature warm")
    talk.affirm()
    assert (talk.at, talk.mode) == ("circulation@right", "asking")
    assert not [fact for fact in talk.facts("reading_confirmed") if fact.step == "sensation"]


def test_a_red_finding_holds_before_the_other_step_is_read_back(talk):
    say(talk, "pulse absent, refill two, color usual, temperature warm, median intact, ulnar intact, radial intact")
    talk.affirm()
    assert talk.mode == "held"


FIELDS = [
    StepField.model_validate_json(f'{{"id":"{name}","label":"{name}","options":{{"absent":["absent"],"red":["red"]}}}}')
    for name in ("burn", "rash", "mark")
]
REFILL = StepField.model_validate_json(
    '{"id":"refill","label":"refill","number":{"unit":"s","low":0,"high":10,"decimals":1}}'
)


def values(*chosen):
    return [(field, Option(value), None) for field, value in zip(FIELDS, chosen, strict=False)]


def test_equal_answers_are_named_together():
    assert group_words(values("absent", "absent", "absent")) == "burn, rash and mark absent"
    assert group_words(values("absent", "red", "absent")) == "burn and mark absent; rash red"
    assert group_words(values("absent", "absent", "absent"), short=True) == "all three absent"
    assert group_words(values("absent", "absent"), short=True) == "both absent"
    assert group_words(values("absent", "red"), short=True) == "burn absent; rash red"


def test_numbers_are_never_put_together():
    two = Exact(Decimal(2), 0)
    twice = [(REFILL, two, None), (REFILL.model_copy(update={"label": "other"}), two, None)]
    assert group_words(twice) == "refill two, seconds; other two, seconds"
    assert group_words(twice, short=True) == "refill two; other two"


BROKEN = [
    ("a step without answers", "prompt: Wash the hands.", "group: g\n    prompt: Wash the hands.", "has no answers"),
    ("a step with a tolerance", "    repeat_within:", "    group: g\n    repeat_within:", "cannot be answered in any"),
]


@pytest.mark.parametrize(("what", "old", "new", "words"), BROKEN, ids=[row[0] for row in BROKEN])
def test_steps_that_cannot_be_in_a_group_are_refused(tmp_path, what, old, new, words):
    assert old in PROCEDURE
    with pytest.raises(ProcedureFileError, match=words):
        load_bundle(str(write_files(tmp_path, PROCEDURE.replace(old, new, 1))))


def test_steps_of_a_group_follow_one_another_and_are_alike(tmp_path):
    text = PROCEDURE.replace("    kind: measure\n", "    group: g\n    kind: measure\n")
    with pytest.raises(ProcedureFileError, match="do not follow one another"):
        load_bundle(str(write_files(tmp_path, text)))

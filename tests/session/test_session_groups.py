"""Steps of one group: answered in any order, several in one breath, each read back; and read-backs in one sentence."""

from decimal import Decimal
from pathlib import Path

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


APART = Path(__file__).resolve().parents[1] / "golden" / "form-2-procedures" / "splint-removal.yaml"
"""The removal as it was while each step of its group had a read-back of its own."""


@pytest.fixture
def talk():
    """A visit at the first hand of the removal, whose circulation and sensation are one group, each read back."""
    return at_the_hand(load_bundle(str(APART)))


@pytest.fixture
def shared():
    """The same where the group shares one read-back."""
    return at_the_hand(load_bundle("splint-removal"))


def at_the_hand(bundle):
    talk = Talk(bundle)
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


# ---- one read-back for a group ----


ALONE = "left pulse present, refill two, color usual, temperature warm"
REST = "median intact, ulnar intact, radial intact"


def test_a_group_is_read_back_once_and_kept_together(shared):
    say(shared, ALONE)
    assert (shared.at, shared.mode) == ("sensation@left", "asking")
    assert shared.facts("reading_confirmed")[-1].step not in {"circulation", "sensation"}
    say(shared, REST)
    assert shared.said == (
        "Left: pulse present; refill two, seconds; color usual; temperature warm; "
        "median, ulnar and radial intact. Correct?"
    )
    assert set(shared.session.snapshot.read_back) == {
        *(f"circulation.{name}" for name in ("pulse", "refill", "color", "temperature")),
        *(f"sensation.{name}" for name in ("median", "ulnar", "radial")),
    }
    shared.affirm()
    kept = [(fact.step, fact.field) for fact in shared.facts("reading_confirmed") if fact.side is Side.LEFT]
    assert len(kept) == 7
    assert all(fact.read_back == "affirmed" for fact in shared.facts("reading_confirmed")[-7:])
    assert (shared.at, shared.mode) == ("circulation@right", "asking")


def test_a_grave_answer_waits_for_no_other_step(shared):
    say(shared, "pulse absent, refill two, color usual, temperature warm")
    assert (shared.at, shared.mode) == ("circulation@left", "reading_back")
    shared.affirm()
    assert shared.mode == "held"


def test_what_is_answered_anew_at_a_hold_waits_for_nothing(shared):
    say(shared, "pulse absent, refill two, color usual, temperature warm")
    shared.affirm()
    shared.say("correction")
    say(shared, ALONE)
    assert shared.mode == "reading_back"
    shared.affirm()
    assert shared.mode == "misheard"


def test_negative_to_a_shared_read_back_drops_all_and_begins_anew(shared):
    say(shared, ALONE)
    say(shared, REST)
    shared.say("negate")
    assert shared.kinds == ["read_back_disputed", "read_back_disputed", "step_entered"]
    assert shared.at == "circulation@left"
    assert not [fact for fact in shared.facts("reading_confirmed") if fact.side is Side.LEFT]
    say(shared, ALONE)
    assert shared.at == "sensation@left"


def test_one_value_of_another_step_is_put_right_at_the_shared_read_back(shared):
    say(shared, ALONE)
    say(shared, REST)
    say(shared, "correction refill three")
    assert shared.mode == "reading_back"
    assert "refill three" in shared.said
    shared.affirm()
    values = {(fact.step, fact.field): value_text(fact.value) for fact in shared.facts("reading_confirmed")}
    assert values["circulation", "refill"] == "3"
    assert values["sensation", "ulnar"] == "intact"


def test_a_flag_and_a_stop_of_any_step_follow_from_the_shared_read_back(shared):
    say(shared, "pulse weak, refill two, color usual, temperature warm")
    say(shared, "median intact, ulnar intact, radial absent")
    assert shared.mode == "reading_back"
    shared.affirm()
    assert shared.mode == "held"
    confirmed = {(fact.step, fact.field) for fact in shared.facts("reading_confirmed") if fact.side is Side.LEFT}
    assert len(confirmed) == 7
    assert [hold.stage_id for hold in shared.session._state.holds] == ["sensation@injured"]


def test_looking_back_keeps_what_waits_for_its_read_back(shared):
    say(shared, ALONE)
    say(shared, "go to identity")
    assert shared.at == "identity"
    shared.say("next_step")
    assert shared.at == "sensation@left"
    say(shared, REST)
    assert "pulse present" in shared.said


def test_correction_before_the_shared_read_back_drops_what_waits(shared):
    say(shared, ALONE)
    shared.say("correction")
    assert shared.kinds[0] == "values_dropped"
    assert (shared.at, shared.mode) == ("circulation@left", "asking")
    say(shared, ALONE)
    say(shared, REST)
    shared.affirm()
    assert shared.at == "circulation@right"


def test_a_stop_between_two_steps_of_a_group_loses_nothing(shared):
    say(shared, ALONE)
    shared.say("stop")
    shared.say("resume")
    say(shared, REST)
    assert "pulse present" in shared.said
    shared.affirm()
    assert shared.at == "circulation@right"


def held_by_a_part(talk, words):
    """Say a grave answer alone, of a question for several, and affirm it."""
    say(talk, words)
    assert talk.mode == "reading_back", talk.said
    assert "hold_set" not in talk.kinds
    talk.affirm()
    assert talk.mode == "held"


def test_a_red_answer_waits_for_no_other_field_of_its_question(talk):
    say(talk, "color usual")
    held_by_a_part(talk, "pulse absent")
    assert {fact.field for fact in talk.facts("reading_confirmed") if fact.step == "circulation"} == {"color", "pulse"}
    talk.override()
    assert (talk.at, talk.mode, talk.said) == ("circulation@left", "asking", "Still missing: refill, temperature.")
    assert not talk.facts("step_overridden")


def test_a_red_answer_for_another_step_of_the_group_waits_for_none_of_the_one_that_asks(talk):
    say(talk, "pulse present, median absent")
    assert (talk.at, talk.mode, talk.said) == ("sensation@left", "reading_back", "Left: median absent. Correct?")
    talk.affirm()
    assert (talk.at, talk.mode) == ("sensation@left", "held")
    talk.override()
    assert (talk.at, talk.mode) == ("circulation@left", "asking")
    say(talk, "refill two, color usual, temperature warm")
    talk.affirm()
    talk.go_to("sensation@left")
    assert talk.said == "Still missing: ulnar, radial."


def test_denied_it_holds_nothing(talk):
    say(talk, "pulse absent")
    talk.say("negate")
    assert (talk.at, talk.mode, talk.facts("hold_set")) == ("circulation@left", "asking", [])


def test_what_is_added_to_a_grave_answer_is_read_back_with_it(talk):
    say(talk, "pulse absent")
    say(talk, "color usual")
    assert talk.said == "Left: pulse absent; color usual. Correct?"
    say(talk, "refill two, temperature warm")
    assert (talk.mode, talk.said.count("pulse absent")) == ("reading_back", 1)
    talk.affirm()
    assert talk.mode == "held"


def test_a_shared_read_back_waits_for_nobody_where_a_part_is_grave(shared):
    held_by_a_part(shared, "radial absent")
    shared.override()
    assert shared.mode == "asking"
    say(shared, "pulse present, refill two, color usual, temperature warm, median intact, ulnar intact")
    assert (shared.mode, "radial" in shared.said) == ("reading_back", False)

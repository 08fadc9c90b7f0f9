"""Adjacent steps that one question asks for and one read-back affirms (`together` at the first step of a group).

What is right is this project's own rule: any part may be said alone; each value is affirmed aloud and kept by itself.
"""

import pytest
from procedure_files import PROCEDURE, write_files
from talking import Talk

from handsfree.definition.loader import bundled_procedures, load_bundle
from handsfree.errors import ProcedureFileError
from handsfree.model.readings import value_text
from handsfree.understanding.interpreter import interpret, typed


def say(talk, text):
    heard = typed(text, talk.session.wanted, talk.now_s)
    assert heard is not None, text
    command = interpret(heard, talk.session.wanted)
    assert command is not None
    return talk.speak(command, words=text)


@pytest.fixture
def package(fitting):
    """A visit at the lot number and expiry of the package, where findings may stand."""
    return Talk(fitting, going_on=True).go_to("device_lot")


def kept(talk, *steps):
    return {
        f"{fact.step}.{fact.field}": (value_text(fact.value), fact.read_back)
        for fact in talk.facts("reading_confirmed")
        if fact.step in steps
    }


BOTH = [
    (
        "operator",
        "hand therapist, code kilo four",
        "operator hand therapist; code kilo four. Correct?",
        {"operator.role": "therapist", "operator_code.code": "K4"},
    ),
    (
        "device_lot",
        "lot alfa four bravo two, expiry october twenty thirty one",
        "lot alfa four bravo, two; expiry the end of October, two zero three one. Correct?",
        {"device_lot.lot": "A4B2", "device_expiry.expiry": "2031-10-31"},
    ),
    (
        "follow_up_check",
        "check november twenty six twenty twenty eight, clinic december three twenty twenty eight",
        "check twenty six November, two zero two eight; clinic three December, two zero two eight. Correct?",
        {"follow_up_check.check": "2028-11-26", "follow_up_clinic.clinic": "2028-12-03"},
    ),
]


@pytest.mark.parametrize(("step", "words", "back", "values"), BOTH, ids=[row[0] for row in BOTH])
def test_one_breath_answers_both_and_one_read_back_affirms_each(fitting, step, words, back, values):
    talk = Talk(fitting, going_on=True).go_to(step)
    say(talk, words)
    assert talk.said == back
    assert not kept(talk, *(name.partition(".")[0] for name in values))
    talk.affirm()
    found = kept(talk, *(name.partition(".")[0] for name in values))
    assert found == {name: (value, "affirmed") for name, value in values.items()}


def test_findings_of_a_group_with_a_date_are_affirmed_with_it(fitting):
    talk = Talk(fitting, going_on=True).go_to("injury")
    say(talk, "bone fifth metacarpal, mechanism fall, injury yesterday")
    assert talk.mode == "reading_back"
    assert talk.said.startswith("bone fifth metacarpal; mechanism fall; injury ")
    talk.affirm()
    assert {way for _, way in kept(talk, "injury", "injury_date").values()} == {"affirmed"}
    assert len(kept(talk, "injury", "injury_date")) == 3


def test_the_first_alone_needs_no_label_and_the_other_is_asked_for(package):
    assert package.said.endswith("Spell the lot number on the package. Expiry, month and year?")
    say(package, "alfa four bravo two")
    assert (package.at, package.mode, package.said) == (
        "device_expiry",
        "asking",
        "What is the expiry, month and year?",
    )
    assert not kept(package, "device_lot")
    say(package, "october twenty thirty one")
    assert package.said.startswith("lot alfa four bravo, two; expiry")


def test_the_first_needs_no_label_before_the_other_either(package):
    say(package, "alfa four bravo two, expiry october twenty thirty one")
    assert package.said.startswith("lot alfa four bravo, two; expiry")


def test_the_other_alone_leaves_the_first_to_be_asked_for_by_its_label(package):
    say(package, "expiry october twenty thirty one")
    assert (package.at, package.mode, package.said) == ("device_lot", "asking", "Lot?")
    say(package, "alfa four bravo two")
    assert package.said.startswith("lot alfa four bravo, two; expiry")


def test_of_two_dates_neither_is_taken_without_its_label(fitting):
    talk = Talk(fitting).go_to("follow_up_check")
    assert typed("november twenty six twenty twenty eight", talk.session.wanted, talk.now_s) is None
    say(talk, "clinic december three twenty twenty eight")
    assert talk.said == "Check?"
    say(talk, "november twenty six twenty twenty eight")
    assert talk.said.startswith("check twenty six November, two zero two eight; clinic")


def test_what_to_say_names_every_label_of_a_question_for_several_steps(fitting):
    talk = Talk(fitting).go_to("follow_up_check")
    assert talk.session.wanted.hint.startswith("say check, then ")
    assert "clinic" in talk.session.wanted.hint
    say(talk, "clinic december three twenty twenty eight")
    assert "clinic" not in talk.session.wanted.hint


def test_what_waits_is_read_back_by_itself_where_people_begin_to_narrate(package):
    say(package, "lot alfa four bravo two")
    package.say("narrate")
    say(package, "expiry october twenty thirty one")
    assert package.said == "expiry the end of October, two zero three one. Correct?"
    package.affirm()
    assert package.said == "lot alfa four bravo, two. Correct?"
    package.affirm()
    assert set(kept(package, "device_lot", "device_expiry")) == {"device_lot.lot", "device_expiry.expiry"}


def test_negative_drops_both_on_record_and_asks_for_both(package):
    say(package, "lot alfa four bravo two, expiry october twenty thirty one")
    package.say("negate")
    assert package.kinds == ["read_back_disputed", "read_back_disputed", "step_entered"]
    assert package.said.endswith("Spell the lot number on the package. Expiry, month and year?")
    assert not kept(package, "device_lot", "device_expiry")


def test_one_of_both_is_put_right_by_its_label(package):
    say(package, "lot alfa four bravo two, expiry october twenty thirty one")
    say(package, "correction, expiry november twenty thirty one")
    assert package.said == "lot alfa four bravo, two; expiry the end of November, two zero three one. Correct?"
    package.affirm()
    assert kept(package, "device_lot", "device_expiry") == {
        "device_lot.lot": ("A4B2", "affirmed"),
        "device_expiry.expiry": ("2031-11-30", "affirmed"),
    }


def test_a_package_that_has_run_out_holds_before_its_lot_is_asked_for(package):
    # Lot and expiry on the label: 21 CFR 801.18; nothing is used after its day.
    say(package, "expiry october twenty twenty five")
    assert (package.mode, package.said) == ("reading_back", "expiry the end of October, two zero two five. Correct?")
    package.affirm()
    assert (package.at, package.mode) == ("device_expiry", "held")


def test_correction_asks_for_what_is_corrected_alone(package):
    say(package, "lot alfa four bravo two, expiry october twenty thirty one")
    package.affirm()
    say(package, "correction, lot alfa four bravo three")
    assert package.said == "lot alfa four bravo, three. Correct?"
    package.affirm()
    assert value_text(package.facts("reading_amended")[-1].value) == "A4B3"


def test_only_the_first_step_of_a_group_asks_for_all_of_it(tmp_path):
    steps = """
  - {id: one, kind: identify, phase: before, prompt: "One and two?", hard: true, source: common, group: g,
     read_back: group, FIRST fields: [{id: one, label: one, identifier: {max_length: 4}}]}
  - {id: two, kind: identify, phase: before, prompt: "Two?", hard: true, source: common, group: g,
     read_back: group, SECOND fields: [{id: two, label: two, identifier: {max_length: 4}}]}
"""
    head, mark, rest = PROCEDURE.partition("steps:\n")

    def bundle(folder, first, second):
        text = head + mark + steps.replace("FIRST", first).replace("SECOND", second).lstrip("\n") + rest
        (tmp_path / folder).mkdir()
        return load_bundle(str(write_files(tmp_path / folder, text)))

    assert bundle("right", "together: true,", "").procedure.steps[0].together
    with pytest.raises(ProcedureFileError, match="the first step of group g asks for all of it"):
        bundle("wrong", "", "together: true,")


def test_what_asks_for_a_whole_group_asks_in_twelve_words():
    # At most twelve words a sentence: this project's own rule.
    asked = {
        f"{name}: {step.prompt}"
        for name in bundled_procedures()
        for step in load_bundle(name).procedure.steps
        if step.together and step.fields
    }
    assert len(asked) >= 12
    assert [prompt for prompt in asked if len(prompt.partition(": ")[2].split()) > 12] == []

"""A second person's confirmation: role and code, never the operator's, never a plain yes."""

import pytest
from own_procedures import HEAD, begin, number, step, type_line, write

from handsfree.definition.loader import load_bundle
from handsfree.errors import ProcedureFileError
from handsfree.record.codec import decode_fact, encode_fact

# That who checks is another person than who works: common practice (an independent second check), no source.
CHECK = step("""
id: second_check
kind: identify
phase: after
prompt: "Second person: role and code?"
hard: true
source: common
second_person: {role: role, code: code}
fields:
  - {id: role, label: role, options: {supervisor: [bench supervisor]}}
  - {id: code, label: code, identifier: {max_length: 6, of: other}}
  - {id: verdict, label: bolts, options: {agree: [as they should be], differ: [not as they should]}, stop: [differ]}
""")


def confirm(talk, code="#B2", verdict="agree"):
    talk.give(role="supervisor", code=code, verdict=verdict)


def test_role_and_code_of_another_person_confirm(tmp_path):
    talk = begin(tmp_path, CHECK)
    confirm(talk)
    assert "bravo two" in talk.said
    talk.affirm()
    fact = talk.facts("second_person_confirmed")[-1]
    assert (fact.stage, fact.role, fact.code) == ("second_check", "supervisor", "B2")
    assert decode_fact(*encode_fact(fact)) == fact
    assert talk.outcome == "completed"


@pytest.mark.parametrize("said", ["affirm", "next_step", "skip"])
def test_a_plain_yes_confirms_nothing(tmp_path, said):
    talk = begin(tmp_path, CHECK)
    talk.say(said)
    assert talk.facts("second_person_confirmed") == []
    assert (talk.outcome, talk.at) == (None, "second_check")


def test_the_operators_own_code_is_refused_also_typed(tmp_path):
    talk = begin(tmp_path, CHECK)
    confirm(talk, code="#A1")
    assert "operator's own code" in talk.said
    type_line(talk, "code alfa one")
    assert "operator's own code" in talk.said
    type_line(talk, "code bravo two")
    talk.affirm()
    assert talk.facts("second_person_confirmed")[-1].code == "B2"


def test_a_role_said_as_a_code_is_refused(tmp_path):
    talk = begin(tmp_path, CHECK.replace("max_length: 6", "max_length: 20"))
    confirm(talk, code="#FITTER")
    assert "no person's code" in talk.said


def test_who_does_not_agree_stops_the_visit(tmp_path):
    talk = begin(tmp_path, CHECK)
    confirm(talk, verdict="differ")
    talk.affirm()
    assert talk.mode == "held"


def test_the_operator_cannot_become_the_second_person_afterwards(tmp_path):
    talk = begin(tmp_path, CHECK, number("room"))
    confirm(talk)
    talk.affirm()
    talk.say("previous_step")
    talk.say("previous_step")
    talk.say("correction")
    talk.give(code="#B2")
    assert "the code of the second person" in talk.said
    assert talk.mode != "reading_back"


def test_where_nobody_else_is_there_the_gap_is_answered_for(tmp_path):
    talk = begin(tmp_path, CHECK.replace("source: common", "source: common\n    timing: after"))
    type_line(talk, "role not done")
    type_line(talk, "bolts as they should be")
    assert talk.facts("second_person_confirmed") == []


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("{role: role, code: code}", "{role: verdict, code: code}", "agree, differ is no role of the procedure (there are: fitter, supervisor)"),  # noqa: E501
        ("{role: role, code: code}", "{role: who, code: code}", "who is no field of this step with a list of roles"),
        (", of: other}}\n  - {id: verdict", "}}\n  - {id: verdict", "code is no code of a person"),
        ("second_person: {role: role, code: code}", "second_person: {role: role, code: code}\n    read_back: echo", "read back"),  # noqa: E501
    ],
)  # fmt: skip
def test_what_is_wrong_is_said(tmp_path, old, new, said):
    text = CHECK.replace(old.replace("\n", "\n    "), new.replace("}}\n  -", "}}\n      -"))
    assert text != CHECK
    with pytest.raises(ProcedureFileError) as found:
        load_bundle(str(write(tmp_path, text)))
    (line,) = str(found.value).splitlines()
    assert said in line


def test_it_needs_to_know_the_operator(tmp_path):
    for head in (HEAD.replace("operator_from: operator.code\n", ""), HEAD.replace("hard: true", "hard: false")):
        with pytest.raises(ProcedureFileError, match="anybody could be the second person"):
            load_bundle(str(write(tmp_path, CHECK, head=head)))


TWO = HEAD.replace("operator_from", "lift: {second_person: [reviewed]}\noperator_from")


def override(talk, code, reason="reviewed"):
    talk.say("override")
    talk.give(role="supervisor")
    talk.give(reason=reason)
    assert talk.mode == "override_code"
    talk.give(code=code)


def test_the_second_person_of_a_step_cannot_lift_its_hold(tmp_path):
    # That a finding is not let pass by the very person who made it: common practice, no source.
    talk = begin(tmp_path, CHECK, head=TWO)
    confirm(talk, verdict="differ")
    talk.affirm()
    override(talk, "#B2")
    assert "answered for this step already" in talk.said
    assert talk.facts("command_refused")[-1].reason.code == "another_person"
    talk.give(code="#C3")
    talk.affirm()
    assert talk.facts("hold_lifted")[-1].code == "C3"
    assert talk.outcome == "completed_with_overrides"


def test_whoever_lifted_the_hold_of_a_step_cannot_become_its_second_person(tmp_path):
    talk = begin(tmp_path, CHECK, number("room"), head=TWO)
    confirm(talk, verdict="differ")
    talk.affirm()
    override(talk, "#C3")
    talk.affirm()
    talk.say("previous_step")
    talk.say("correction")
    confirm(talk, code="#C3")
    assert "answered for this step already" in talk.said
    talk.give(code="#D4")
    assert talk.mode == "reading_back"


def test_at_another_step_the_same_person_may_answer(tmp_path):
    hot = number("blade", more=", flag_above: {stop: 40}")
    talk = begin(tmp_path, hot, CHECK, head=TWO)
    talk.give(blade=50)
    talk.affirm()
    override(talk, "#B2")
    talk.affirm()
    confirm(talk)
    talk.affirm()
    assert talk.facts("second_person_confirmed")[-1].code == "B2"


def test_who_lifted_it_is_known_after_a_break(tmp_path):
    talk = begin(tmp_path, CHECK, number("room"), head=TWO)
    confirm(talk, verdict="differ")
    talk.affirm()
    talk.crash()
    override(talk, "#B2")
    assert "answered for this step already" in talk.said

"""Who may lift what: roles, reasons and a second person, by the procedure file.

Expected behaviour: the laws of this project (DEVELOPERS.md) and the procedure file of these tests; common practice, no
source. Two people for what one may not decide alone: the idea of WHO Surgical Safety Checklist, 2009, sign in.
"""

import pytest
from lifting_files import DECLARED, FROM, RULED, absent, changed, refused
from procedure_files import PROCEDURE, write_files
from talking import Talk

from handsfree.definition.loader import load_bundle
from handsfree.errors import ProcedureFileError
from handsfree.model.commands import GiveValues, SlotValue
from handsfree.model.readings import Option
from handsfree.model.refusals import ReasonMayNotLift, Refusal, RefusalCode, RoleMayNotLift
from handsfree.understanding.interpreter import interpret, typed
from handsfree.understanding.meanings import may_mean


def test_what_the_file_forbids_a_role_is_refused_aloud_and_on_record(tmp_path):
    talk = changed(tmp_path, RULED)
    absent(talk)
    talk.say("override")
    assert talk.said == "Role? surgeon?"
    talk.give(role="nurse")
    assert talk.said == "Not by the ward nurse. Only surgeon."
    assert refused(talk) == RoleMayNotLift("nurse", "ward nurse", ("surgeon",))
    assert talk.mode == "override_role"
    talk.give(role="surgeon")
    talk.give(reason="repaired")
    assert refused(talk) == ReasonMayNotLift("repaired", "put right", ("reviewed by the senior", "colleague agrees"))
    assert talk.mode == "override_reason"
    talk.give(reason="reviewed")
    talk.affirm()
    assert talk.facts("hold_lifted")[-1].role == "surgeon"


@pytest.mark.parametrize(
    ("way", "kind", "roles", "reasons"),
    [
        ("red", "hold", ("surgeon",), ("reviewed", "agreed")),
        ("stop", "hold", ("surgeon", "nurse"), ("repaired",)),
        ("heat", "hold", ("surgeon",), ("repaired",)),
        ("end", "end", ("surgeon", "nurse"), ("reviewed", "repaired", "agreed")),
    ],
)
def test_every_hold_against_every_role_and_reason(tmp_path, way, kind, roles, reasons):
    bundle = load_bundle(str(write_files(tmp_path, procedure=PROCEDURE.replace(*RULED))))
    for role in ("surgeon", "nurse"):
        for reason in ("reviewed", "repaired", "agreed"):
            talk = Talk(bundle)
            if way == "red":
                absent(talk)
            elif way == "stop":
                talk.go_to("ring").give(ring="stuck")
            elif way == "heat":
                talk.go_to("cure_open").say("light_on")
                talk.say("hot")
            else:
                talk.go_to("ring")
            talk.say("override" if kind == "hold" else "end_visit")
            talk.give(role=role)
            assert (talk.mode == "override_reason") is (role in roles)
            if role not in roles:
                continue
            talk.give(reason=reason)
            assert (talk.mode in {"override_confirm", "override_code"}) is (reason in reasons)
            if reason == "agreed" and reason in reasons:
                assert talk.mode == "override_code"
                talk.give(code="#B7")
            if reason in reasons:
                talk.affirm()
                done = talk.facts("hold_lifted" if kind == "hold" else "visit_ended_early")[-1]
                assert (done.role, done.reason) == (role, reason)


def test_never_leaves_another_answer_and_the_end_of_the_visit(tmp_path):
    talk = changed(tmp_path, ("stop: [stuck]}", "stop: [stuck], lift: never}"))
    talk.go_to("ring")
    talk.give(ring="stuck")
    assert talk.said.endswith("Say correction, or end the visit.")
    talk.say("override")
    assert refused(talk) == Refusal(RefusalCode.NEVER_LIFTED)
    talk.say("correction")
    talk.give(ring="absent")
    assert talk.mode == "reading_back"  # what lifts a hold is affirmed first
    talk.affirm()
    assert [fact.reason for fact in talk.facts("hold_lifted")] == ["answered_again"]
    assert talk.at == "band"


def test_a_recalled_device_is_never_overridden_unless_the_file_says_so(tmp_path):
    bundle = load_bundle(str(write_files(tmp_path)))
    talk = Talk(bundle, recalled={"A15B": "leaks"}).go_to("pack")
    talk.give(lot="#A15B", expiry="#X")
    talk.give(lot="#A15B", expiry=talk.good(talk.step(), talk.step().fields[1]))
    talk.affirm()
    assert talk.mode == "held"
    talk.say("override")
    assert refused(talk) == Refusal(RefusalCode.NEVER_LIFTED)


def held_by_nurse_n1(tmp_path):
    """A visit whose operator is declared, held by a red value."""
    talk = changed(tmp_path, DECLARED, FROM)
    talk.go_to("who").give(role="nurse")
    talk.give(code="#N1")
    talk.affirm()
    absent(talk)
    return talk


def test_another_role_than_the_operators_needs_a_code_that_is_not_the_operators(tmp_path):
    talk = held_by_nurse_n1(tmp_path)
    talk.say("override")
    talk.give(role="surgeon")
    talk.give(reason="reviewed")
    assert talk.mode == "override_code"
    talk.give(code="#n1")
    assert refused(talk) == Refusal(RefusalCode.OPERATORS_OWN_CODE)
    talk.give(code="#S2")
    assert "Surgeon sierra two; reviewed by the senior." in talk.said
    talk.affirm()
    assert talk.facts("hold_lifted")[-1].code == "S2"


@pytest.mark.parametrize("said", ["SURGEON", "reviewed by the senior", "ABCDE"])
def test_a_role_or_a_reason_said_once_more_is_no_code_and_the_override_can_be_left(tmp_path, said):
    # The operator's codes have four characters at most in this file.
    talk = held_by_nurse_n1(tmp_path)
    talk.say("override")
    talk.give(role="surgeon")
    talk.give(reason="reviewed")
    talk.give(code=f"#{said}")
    assert refused(talk) == Refusal(RefusalCode.NO_PERSONS_CODE)
    assert talk.mode == "override_code"
    talk.say("correction")
    assert talk.mode == "held"
    assert not talk.facts("hold_lifted")


def test_the_operator_alone_needs_no_code_but_for_a_reason_of_two(tmp_path):
    talk = held_by_nurse_n1(tmp_path)
    talk.say("override")
    talk.give(role="nurse")
    talk.give(reason="reviewed")
    assert talk.mode == "override_confirm"
    talk.say("negate")
    talk.say("override")
    talk.give(role="nurse")
    talk.give(reason="agreed")
    assert talk.mode == "override_code"


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (("second_person: [agreed]", "red: {by: [porter], reasons: [reviewed]}"), "porter is not listed"),
        (("second_person: [agreed]", "stop: {by: [nurse], reasons: [bored]}"), "bored is not listed"),
        (("second_person: [agreed]", "second_person: [aged]"), "did you mean agreed"),
        (("stop: [stuck]}", "stop: [stuck], lift: {by: [nurse]}}"), "reasons"),
        (("    prompt: Is a ring", "    more_light: true\n    prompt: Is a ring"), "no light comes before"),
        (("    prompt: Is a ring", "    red_action_other: Help.\n    prompt: Is a ring"), "needs for_each"),
        (("    zones: open\n", "    zones: open\n    at_early_end: true\n"), "gives no light"),
    ],
)
def test_a_rule_that_leads_nowhere_is_named(tmp_path, change, told):
    with pytest.raises(ProcedureFileError, match=told):
        changed(tmp_path, change)


@pytest.mark.parametrize(
    ("paused", "mode", "said"),
    [
        (True, "paused", "Not ended. Say resume, or end the visit."),
        (False, "asking", "Is a ring absent or stuck?"),
    ],
)
def test_an_end_that_is_taken_back_leads_to_what_it_interrupted(tmp_path, paused, mode, said):
    talk = changed(tmp_path).go_to("ring")
    if paused:
        talk.say("stop")
    talk.say("end_visit")
    talk.say("negate")
    assert (talk.mode, talk.said) == (mode, said)
    assert talk.outcome is None


def in_one_breath(talk, words):
    heard = typed(words, talk.session.wanted, talk.now_s)
    assert heard is not None, words
    command = interpret(heard, talk.session.wanted)
    assert may_mean(heard, talk.session.wanted)
    return talk.speak(command, words=words)


def test_override_role_and_reason_in_one_breath_are_read_back_and_affirmed(tmp_path):
    talk = changed(tmp_path, RULED)
    absent(talk)
    in_one_breath(talk, "override, surgeon, reviewed by the senior")
    assert talk.mode == "override_confirm"
    assert "Role?" not in talk.said
    assert "surgeon; reviewed by the senior" in talk.said.lower()
    assert not talk.facts("hold_lifted")
    talk.affirm()
    assert (talk.facts("hold_lifted")[-1].role, talk.facts("hold_lifted")[-1].reason) == ("surgeon", "reviewed")


def test_a_role_that_may_not_is_refused_in_one_breath_too_and_the_reason_is_not_taken(tmp_path):
    talk = changed(tmp_path, RULED)
    absent(talk)
    in_one_breath(talk, "override, ward nurse, reviewed by the senior")
    assert (talk.mode, talk.said) == ("override_role", "Not by the ward nurse. Only surgeon.")
    talk.give(role="surgeon")
    assert talk.mode == "override_reason"


def test_where_only_the_role_is_said_the_reason_is_asked_for(tmp_path):
    talk = changed(tmp_path, RULED)
    absent(talk)
    in_one_breath(talk, "override, surgeon")
    assert talk.mode == "override_reason"
    assert talk.said.startswith("Reason?")


def test_where_a_second_person_answers_the_code_is_asked_for_after_the_breath(tmp_path):
    talk = changed(tmp_path, RULED)
    absent(talk)
    in_one_breath(talk, "override, surgeon, colleague agrees")
    assert talk.mode == "override_code"


def test_nothing_is_overridden_in_one_breath_where_nothing_holds(tmp_path):
    talk = changed(tmp_path, RULED).go_to("ring")
    assert typed("override, surgeon, reviewed by the senior", talk.session.wanted, talk.now_s) is None
    given = GiveValues((SlotValue("role", Option("surgeon")), SlotValue("reason", Option("reviewed"))), "override")
    talk.speak(given)
    assert (talk.mode, talk.kinds) == ("asking", ["command_refused"])

"""Who may lift what, and that every hold has an honest way on: all of them are said.

Expected behaviour: the laws of this project (DEVELOPERS.md) and the procedure file of these tests; common practice, no
source. Two people for what one may not decide alone: the idea of WHO Surgical Safety Checklist, 2009, sign in.
"""

from decimal import Decimal

import pytest
from procedure_files import DEVICE, PROCEDURE, write_files
from talking import Talk

from handsfree.definition.loader import load_bundle
from handsfree.errors import ProcedureFileError
from handsfree.model.open_items import OpenHold, OpenZone
from handsfree.model.readings import Exact, Option
from handsfree.model.refusals import ReasonMayNotLift, Refusal, RefusalCode, RoleMayNotLift

REFILL = {"refill": Decimal(1)}
LIFT = """\
lift:
  red: {by: [surgeon], reasons: [reviewed, agreed]}
  stop: {by: [surgeon, nurse], reasons: [repaired]}
  heat: {by: [surgeon], reasons: [repaired]}
  gaps: {by: [nurse], reasons: [reviewed]}
"""
OPERATOR = """\
  - id: who
    kind: choose
    phase: before
    prompt: Who does it?
    hard: true
    source: common
    fields:
      - {id: role, label: role, options: {surgeon: [surgeon], nurse: [ward nurse]}}
  - id: whose
    kind: identify
    phase: before
    prompt: Spell your code.
    hard: true
    source: common
    fields:
      - {id: code, label: code, identifier: {max_length: 4}}
  - id: side
"""
FIRM = """\
  - id: firm
    kind: finding
    phase: during
    prompt: Firm or soft?
    hard: true
    source: common
    more_light: true
    fields:
      - {id: front, label: front, options: {firm: [firm], soft: [soft]}, stop: [soft]}
      - {id: back, label: back, options: {firm: [firm], soft: [soft]}, stop: [soft]}
  - id: nerve_after
"""


def changed(tmp_path, *changes, device=DEVICE):
    """A talk over the small procedure with changes."""
    text = PROCEDURE
    for before, after in changes:
        assert text.count(before) == 1, before
        text = text.replace(before, after)
    return Talk(load_bundle(str(write_files(tmp_path, procedure=text, device=device))))


RULED = ("lift: {second_person: [agreed]}\n", f"{LIFT}  second_person: [agreed]\n")
DECLARED = ("  - id: side\n", OPERATOR)
FROM = ("side_from: side.injured\n", "side_from: side.injured\nrole_from: who.role\noperator_from: whose.code\n")
FIRMNESS = ("  - id: nerve_after\n", FIRM)
AT_END = ("true\n    red_action:", "true\n    at_early_end: true\n    red_action:")


def absent(talk):
    talk.go_to("nerve_before@left")
    talk.give(touch="absent", **REFILL)
    talk.affirm()
    assert talk.mode == "held"


def refused(talk):
    return talk.facts("command_refused")[-1].reason


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


def test_another_role_than_the_operators_needs_a_code_that_is_not_the_operators(tmp_path):
    talk = changed(tmp_path, DECLARED, FROM)
    talk.go_to("who").give(role="nurse")
    talk.give(code="#N1")
    talk.affirm()
    absent(talk)
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


def test_the_operator_alone_needs_no_code_but_for_a_reason_of_two(tmp_path):
    talk = changed(tmp_path, DECLARED, FROM)
    talk.go_to("who").give(role="nurse")
    talk.give(code="#N1")
    talk.affirm()
    absent(talk)
    talk.say("override")
    talk.give(role="nurse")
    talk.give(reason="reviewed")
    assert talk.mode == "override_confirm"
    talk.say("negate")
    talk.say("override")
    talk.give(role="nurse")
    talk.give(reason="agreed")
    assert talk.mode == "override_code"


def test_one_override_lifts_one_hold(talk):
    talk.go_to("nerve_before@left")
    talk.give(touch="absent", **REFILL)
    talk.affirm()
    talk.say("correction")
    talk.give(touch="absent", refill=Decimal(1))
    talk.affirm()
    assert len(talk.facts("hold_set")) == 1
    talk.go_to("nerve_after@left")
    talk.give(touch="absent", **REFILL)
    talk.affirm()
    talk.say("pain")
    assert len({fact.grounds for fact in talk.facts("hold_set")}) == 2
    lifted = len(talk.facts("hold_lifted"))
    talk.override()
    assert len(talk.facts("hold_lifted")) == lifted + 1
    assert talk.mode == "held"
    talk.override()
    assert len(talk.facts("hold_lifted")) == lifted + 2
    assert talk.at == "nerve_after@right"


def test_a_misheard_red_value_is_taken_back_as_such(talk):
    absent(talk)
    talk.say("correction")
    talk.give(touch="intact", **REFILL)
    talk.affirm()
    assert (talk.mode, talk.said) == ("misheard", "Touch was absent, now intact. Was absent misheard?")
    talk.affirm()
    (lifted,) = talk.facts("hold_lifted")
    assert (lifted.reason, lifted.role) == ("misheard", None)
    amended = next(fact for fact in talk.facts("reading_amended") if fact.field == "touch")
    assert (amended.old_value, amended.value) == (Option("absent"), Option("intact"))
    assert talk.at == "nerve_before@right"
    assert talk.finish().outcome == "completed"


@pytest.mark.parametrize("act", ["wait", "stop", "crash"])
def test_a_value_that_was_acted_upon_is_not_misheard(talk, act):
    absent(talk)
    if act == "crash":
        talk.crash()
    else:
        talk.say(act)
        talk.say("resume")
    talk.say("correction")
    talk.give(touch="intact", **REFILL)
    talk.affirm()
    assert talk.mode == "held"
    assert talk.said.startswith("Touch was absent, now intact. Still held.")
    assert not talk.facts("hold_lifted")


def test_a_stop_while_it_is_asked_whether_it_was_misheard_keeps_the_hold(talk):
    absent(talk)
    talk.say("correction")
    talk.give(touch="intact", **REFILL)
    talk.affirm()
    talk.say("stop")
    assert talk.mode == "paused"
    talk.say("resume")
    assert talk.mode == "held"
    assert not talk.facts("hold_lifted")


def soft(tmp_path):
    talk = changed(tmp_path, FIRMNESS)
    talk.go_to("firm")
    talk.give(front="firm", back="soft")
    talk.affirm()
    return talk


def test_from_a_soft_zone_more_light_goes_back_to_it_and_returns_to_the_check(tmp_path):
    talk = soft(tmp_path)
    assert talk.said.endswith("Say more light and the zone, correction, override, or end the visit.")
    talk.give(more_light="back")
    assert (talk.at, talk.mode) == ("cure_open", "asking")
    assert talk.facts("more_light_asked")[-1].target_s == 10
    assert talk.said.startswith("Zone: back part.")
    talk.light(5.1)
    assert next(zone.lit_s for zone in talk.session.snapshot.zones if zone.id == "back") > 10
    talk.give(warmth="cool")
    assert (talk.at, talk.mode, talk.said) == ("firm", "asking", "Firm or soft?")
    talk.give(front="firm", back="firm")
    talk.affirm()
    assert [fact.reason for fact in talk.facts("hold_lifted")] == ["answered_again"]
    assert talk.finish().outcome == "completed"


def test_more_light_under_the_strap_asks_for_the_strap(tmp_path):
    talk = soft(tmp_path)
    talk.say("strap_on")
    talk.give(more_light="strip")
    assert talk.at == "cure_strap"


def test_no_more_light_from_a_red_hold_or_another_step(tmp_path):
    talk = soft(tmp_path)
    talk.say("hot")
    talk.give(more_light="back")
    assert talk.at == "firm"
    assert talk.facts("more_light_asked") == []
    ring = changed(tmp_path, FIRMNESS).go_to("ring")
    ring.give(ring="stuck")
    ring.give(more_light="back")
    assert ring.facts("more_light_asked") == []


def hot_zone(talk):
    talk.go_to("cure_open")
    talk.say("light_on")
    talk.say("hot")
    assert talk.said.endswith("Then say override, leave this zone, or end the visit.")


def leave(talk, role="surgeon", reason="repaired"):
    talk.say("leave_zone")
    talk.give(role=role)
    talk.give(reason=reason)
    talk.affirm()


def test_after_heat_a_zone_can_be_left_and_stays_open_in_the_record(talk):
    hot_zone(talk)
    leave(talk)
    (left,) = talk.facts("zone_left")
    assert (left.zone, left.role, left.reason) == ("front", "surgeon", "repaired")
    assert talk.facts("hold_lifted")[-1].hold == "red"
    assert talk.said.startswith("Zone: back part.")
    talk.finish()
    closed = talk.facts("visit_closed")[-1]
    assert closed.outcome == "completed_with_overrides"
    assert OpenZone("front", "front part") in closed.open_items
    assert "Left open: zone: front part." in " ".join(effect.text for effect in talk.effects if hasattr(effect, "text"))


def test_a_zone_is_told_where_the_visit_is_held_for_heat(talk):
    hot_zone(talk)
    talk.say("wait")
    talk.say("resume")
    assert "Front part. The word hot was said." in talk.said


def test_a_zone_with_its_seconds_is_not_left(talk):
    talk.go_to("cure_strap")
    talk.say("previous_step")
    talk.say("leave_zone")
    assert refused(talk) == Refusal(RefusalCode.ZONE_HAS_ITS_SECONDS)


def end(talk):
    talk.say("end_visit")
    talk.give(role="nurse")
    talk.give(reason="reviewed")
    return talk.affirm()


def test_an_early_end_asks_skin_and_circulation_of_both_hands_first(tmp_path):
    talk = changed(tmp_path, AT_END)
    talk.go_to("cure_open").say("light_on")
    talk.say("hot")
    end(talk)
    assert talk.outcome is None
    assert talk.said.startswith("Ending early. A few questions are left.")
    assert talk.at == "nerve_after@left"
    talk.give(touch="intact", **REFILL)
    talk.affirm()
    assert talk.at == "nerve_after@right"
    talk.give(touch="intact", **REFILL)
    talk.affirm()
    closed = talk.facts("visit_closed")[-1]
    assert closed.outcome == "stopped"
    assert any(isinstance(item, OpenHold) for item in closed.open_items), "what held the visit stays open"


def test_in_an_early_end_a_red_value_is_told_and_a_second_end_closes_at_once(tmp_path):
    talk = changed(tmp_path, AT_END)
    talk.go_to("cure_open").light(2)
    talk.give(warmth="cool")
    end(talk)
    talk.give(touch="absent", **REFILL)
    talk.affirm()
    assert talk.mode == "held"
    assert "Take the sleeve off." in talk.said
    end(talk)
    assert talk.outcome == "stopped"


def test_before_work_on_the_patient_an_early_end_asks_nothing(tmp_path):
    talk = changed(tmp_path, AT_END).go_to("pack")
    end(talk)
    assert talk.outcome == "stopped"


def test_the_other_hand_has_an_action_of_its_own(tmp_path):
    own = ("    red_action: Take", "    red_action_other: Call the senior for the other hand.\n    red_action: Take")
    for change, told in (((), "Stop. Call the senior clinician now."), ((own,), "Call the senior for the other hand.")):
        talk = changed(tmp_path, *change)
        talk.go_to("nerve_after@right")
        talk.give(touch="absent", **REFILL)
        talk.affirm()
        assert talk.said.startswith(f"{told} Right side. Touch ")


def test_nothing_closes_quietly(talk):
    talk.go_to("remark").give(room="cool")
    absent(talk)
    talk.override()
    talk.go_to("cure_open").light(9)
    talk.finish()
    told = " ".join(effect.text for effect in talk.effects if hasattr(effect, "text"))
    assert "Overridden: touch absent." in told
    assert "Flagged: room cool." in told
    assert "Over target: front part." in told
    assert told.endswith("The record is closed, with overrides.")
    assert talk.outcome == "completed_with_overrides"


def test_a_visit_without_anything_to_tell_closes_as_complete(talk):
    talk.finish()
    assert talk.said.endswith("The record is complete and closed.")
    assert "Overridden" not in talk.said


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


def test_exact_values_are_told_in_words(tmp_path):
    before = "flag_class: amber}\n  - id: eyewear"
    talk = changed(tmp_path, (before, before.replace("amber", "red")))
    talk.go_to("nerve_before@left")
    talk.give(touch="intact", refill=Decimal("2.8"))
    talk.affirm()
    talk.say("correction")
    talk.give(touch="intact", refill=Decimal("1.8"))
    talk.affirm()
    assert talk.said == "Refill was two point eight, now one point eight. Was two point eight misheard?"
    talk.affirm()
    amended = next(fact for fact in talk.facts("reading_amended") if fact.field == "refill")
    assert amended.old_value == Exact(Decimal("2.8"), 1)

"""Edges of a visit that no longer story needs: what is on record to the digit, what is broken off, what comes next.

Expected behaviour: the laws of this project (DEVELOPERS.md) and the procedure file of these tests; no outside source.
"""

import dataclasses
import json
from datetime import date
from decimal import Decimal

import pytest
from procedure_files import PROCEDURE, write_files
from talking import Talk, wall_at

from handsfree.definition.form import StepField
from handsfree.definition.loader import load_bundle
from handsfree.definition.plan import compile_procedure
from handsfree.exposure.ledger import Ledger
from handsfree.exposure.profiles import ZoneProfile
from handsfree.model.commands import Control, ControlCommand, ScanLabel
from handsfree.model.events import CommandSpoken
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.readings import Absent, AbsentReason, Between, Exact, SpokenDate
from handsfree.model.reasons import AnswersDiffer, BetweenSizes, Grounds, NoSize, OffSizeChart, Severity
from handsfree.model.refusals import Refusal, RefusalCode
from handsfree.session.holds import in_order
from handsfree.session.light_permission import why_not
from handsfree.session.limits import HeldAgainst, judge
from handsfree.session.modes import ModeStack
from handsfree.session.prompts.fixed import HoldAction
from handsfree.session.sizing import size_for
from handsfree.session.state import Done, Hold, SessionState, answered_first


def other(tmp_path, **texts):
    return Talk(load_bundle(str(write_files(tmp_path, **texts))))


def test_times_of_words_are_on_record_to_the_millisecond(talk):
    heard = Hypothesis(("next",), (), 1.23456, 1.98765, "test", runner_up=("take", "note"))
    event = CommandSpoken(
        at_s=2.0,
        wall="2026-11-25T09:00:02.000Z",
        command=ControlCommand(Control.LIGHT_ON),
        heard=heard,
        probability=0.87654,
    )
    talk.send(event)
    (refused,) = talk.facts("command_refused")
    assert dataclasses.astuple(refused.heard)[:2] == ("next", 0.8765)
    assert (refused.heard.spoken_from_s, refused.heard.spoken_to_s) == (1.235, 1.988)
    assert refused.heard.runner_up == "take note"


def test_light_that_was_in_doubt_is_on_record_to_the_millisecond(talk):
    talk.now_s = 7.123456
    talk.say("light_on", doubted=True)
    talk.now_s += 1.123456
    talk.say("light_off")
    ((began,), (ended,)) = talk.facts("stray_light_began"), talk.facts("stray_light_ended")
    assert (began.at_s, ended.from_s, ended.to_s) == (7.523, 7.523, 9.247)


def test_a_note_that_the_end_of_the_program_broke_off_is_on_record(talk):
    talk.go_to("ring")
    talk.say("take_note")
    talk.dictate("swelling at the")
    talk.crash()
    (note,) = talk.facts("note_taken")
    assert (note.text, note.broken_off, note.verified) == ("swelling at the", True, False)
    assert talk.mode == "asking"
    # The next note begins empty.
    talk.say("take_note")
    talk.dictate("wrist")
    talk.say("end_note")
    notes = talk.facts("note_taken")
    assert [(note.text, note.broken_off) for note in notes] == [("swelling at the", True), ("wrist", False)]
    assert talk.finish().facts("visit_closed")[0].notes == 2


def test_a_label_tells_nothing_of_a_step_that_is_not_of_its_package(tmp_path):
    # A step between two packages parts them, and one that is no scanned thing takes nothing from a label.
    second = """\
  - id: paper
    kind: {kind}
    phase: before
    prompt: Lot on the paper?
    source: common
    fields:
      - {{id: lot, label: lot, identifier: {{max_length: 10}}}}
"""
    place = "  - id: nerve_before\n"
    for number, (kind, told) in enumerate((("identify", True), ("measure", False))):
        folder = tmp_path / str(number)
        folder.mkdir()
        talk = other(folder, procedure=PROCEDURE.replace(place, second.format(kind=kind) + place))
        talk.go_to("pack")
        talk.speak(ScanLabel(lot="A213", expiry=date(2027, 12, 31)), words="01...")
        talk.affirm()
        assert talk.at == "paper"
        assert (talk.mode == "reading_back") is told


def test_a_label_may_be_the_last_thing_of_a_visit(tmp_path):
    last = """\
  - id: leftover
    kind: identify
    phase: after
    prompt: Lot of what is left over?
    source: common
    fields:
      - {id: lot, label: lot, identifier: {max_length: 10}}
"""
    talk = other(tmp_path, procedure=PROCEDURE + last).go_to("leftover")
    talk.speak(ScanLabel(lot="A213"), words="01...")
    assert talk.mode == "reading_back"
    talk.affirm()
    assert "leftover" in {fact.step for fact in talk.facts("reading_confirmed")}
    assert talk.finish().outcome == "completed"


def test_a_zone_that_had_its_seconds_is_followed_by_the_next_where_light_off_was_not_heard(talk):
    talk.go_to("cure_open")
    talk.say("light_on")
    talk.wait(4)
    # Still short: the same zone again, from now on.
    talk.say("light_on")
    talk.wait(8)
    talk.say("light_on")
    assert [fact.zone for fact in talk.facts("light_turned_on")] == ["front", "front", "back"]
    assert [fact.zone for fact in talk.facts("light_turned_off")] == ["front", "front"]


def test_of_several_stops_the_oldest_is_answered_first_and_a_red_one_before_all():
    stops = [Hold("stop", "ring", Grounds(AnswersDiffer()), action) for action in ("first", "second")]
    red = Hold("red", "ring", Grounds(AnswersDiffer()), "red")
    assert answered_first(stops).action == "first"
    assert answered_first([stops[0], red, stops[1]]).action == "red"
    assert [hold.action for hold in in_order([stops[0], red, stops[1]])] == ["red", "first", "second"]


def test_a_red_hold_and_a_stop_where_the_light_is_keep_it_dark_and_a_stop_elsewhere_does_not(bundle):
    plan = compile_procedure(bundle.procedure)
    ledger = Ledger((ZoneProfile("front", "front part", target_s=6),), 50)
    done = dict.fromkeys((stage.id for stage in plan.stages), Done.ANSWERED)

    def why(kind, stage_id):
        held = [Hold(kind, stage_id, Grounds(AnswersDiffer()), HoldAction.FIND_OUT)]
        return why_not(plan, SessionState("cure_open", ModeStack(), ledger, zone_id="front", done=done, holds=held))

    assert why("stop", "cure_open") == why("red", "cure_open") == why("red", "ring") == Refusal(RefusalCode.HELD)
    assert why("stop", "band") is why("stop", "ring") is None


def test_strap_words_are_answered_with_what_was_heard(talk):
    talk.go_to("cure_strap")
    talk.say("strap_off")
    assert talk.said == "Strap off."
    talk.say("strap_on")
    assert talk.said == "Strap on."


def test_role_and_reason_are_read_back_by_the_first_of_their_words(tmp_path):
    words = {"[ward nurse]": "[ward nurse, charge nurse]", "[put right]": "[put right, mended]"}
    procedure = PROCEDURE
    for one, other_words in words.items():
        assert one in procedure
        procedure = procedure.replace(one, other_words)
    talk = other(tmp_path, procedure=procedure).go_to("ring")
    talk.give(ring="stuck")
    talk.say("override")
    for word in ("ward nurse", "charge nurse"):
        talk.say("help")
        assert (word in talk.said) is (word == "ward nurse")
    talk.give(role="nurse")
    assert "put right" in talk.said
    assert "mended" not in talk.said
    talk.give(reason="repaired")
    assert talk.said == "Override: ring stuck. It stays flagged, and the visit goes on. Ward nurse; put right. Correct?"


def test_what_is_due_is_said_wherever_it_stands_among_the_answers(tmp_path):
    # 09:00 UTC began the visit; ninety minutes after the answer is half past ten.
    due = """\
  - id: next_look
    kind: measure
    phase: before
    prompt: How many fingers, and when again?
    source: common
    fields:
      - {id: fingers, label: fingers, number: {unit: "1", low: 1, high: 5, decimals: 0}}
      - {id: after, label: after, number: {unit: min, low: 5, high: 1440, decimals: 0, due: true}}
"""
    place = "  - id: nerve_before\n"
    talk = other(tmp_path, procedure=PROCEDURE.replace(place, due + place)).go_to("next_look")
    talk.give(fingers=4, after=90)
    answered_s = talk.now_s
    talk.affirm()
    (fact,) = talk.facts("due_set")
    assert (fact.field, fact.unit_s) == ("after", 60)
    assert fact.due == wall_at(talk.now_s + 90 * 60)
    assert answered_s < talk.now_s


def test_what_may_be_said_is_told_by_the_first_of_its_words(tmp_path):
    words = "[live session]"
    assert words in PROCEDURE
    talk = other(tmp_path, procedure=PROCEDURE.replace(words, "[live session, real session]"))
    talk.say("help")
    assert "live session" in talk.said.lower()
    assert "real session" not in talk.said.lower()


def test_a_date_is_held_against_today_only_where_the_file_says_so():
    past, against = SpokenDate(date(2020, 1, 31), month_only=False), HeldAgainst(today="2026-11-25")
    for limits, severity in (({}, Severity.NONE), ({"not_before": "today"}, Severity.STOP)):
        field = StepField.model_validate_json(json.dumps({"id": "made", "label": "made", "date": limits}))
        assert judge(field, past, against).severity is severity
        # Without a day of the visit nothing is judged by it.
        assert judge(field, past).severity is Severity.NONE


def test_the_hint_names_what_is_missing_in_the_order_in_which_it_is_asked(talk):
    talk.go_to("pack")
    talk.say("help")
    asked = "Say lot, the code in alphabet words and digits; expiry, month and year"
    assert talk.said == f"{asked}; or correction, the name of an item, and what is right."
    talk.give(lot="#A15B")
    talk.say("help")
    assert "lot" not in talk.said
    assert "month" in talk.said


@pytest.mark.parametrize("right", [True, False])
def test_whether_a_doubt_was_right_is_on_record(talk, right):
    talk.go_to("ring")
    talk.give(ring="absent", doubted=True)
    talk.say("affirm" if right else "negate")
    (settled,) = talk.facts("doubt_settled")
    assert settled.right is right
    assert bool([fact for fact in talk.facts("reading_confirmed") if fact.step == "ring"]) is right


@pytest.mark.parametrize(
    ("mean", "size", "ground"),
    [
        ("12.9", None, OffSizeChart),
        ("13.0", "small", None),
        ("15.4", "small", None),
        ("15.45", None, BetweenSizes),
        ("15.5", "medium", None),
        ("18.4", "medium", None),
        ("18.5", None, OffSizeChart),
    ],
)
def test_a_mean_is_on_the_chart_between_its_rows_or_beyond_it(bundle, mean, size, ground):
    sizing = size_for(bundle.device.size_chart, [Exact(Decimal(mean)), Exact(Decimal(mean))])
    assert (sizing.size, type(sizing.ground) if sizing.ground is not None else None) == (size, ground)


@pytest.mark.parametrize("second", [[], [Absent(AbsentReason.NOT_PERFORMED)], [Between(Decimal(14), Decimal(15))]])
def test_measures_that_are_not_all_numbers_give_no_mean_and_no_size(bundle, second):
    first = [Exact(Decimal(14))] if second else []
    sizing = size_for(bundle.device.size_chart, [*first, *second])
    assert (sizing.mean, sizing.size, sizing.ground) == (None, None, NoSize())

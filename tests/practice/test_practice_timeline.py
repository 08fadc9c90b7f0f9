"""Facts in session time, and what is made of them: commands, stages, critical errors, answers, corrections.

The records are made by hand, so that each expected time and rule follows from what stands in the test. No outside
source: how practice is scored is this project's own.
"""

from decimal import Decimal
from functools import cache

import pytest
from practice_records import Turn, confirmed, heard, record_of

from handsfree.model.commands import Control
from handsfree.model.facts import (
    CommandRefused,
    HoldLifted,
    HoldSet,
    LightTurnedOff,
    LightTurnedOn,
    PracticeAttempted,
    PracticePlanned,
    ReadingConfirmed,
    ScenarioEventHappened,
    StageExposed,
    StepConfirmed,
    StepEntered,
    StepSkipped,
    StrapRemoved,
    VisitPaused,
)
from handsfree.model.light import LampAgreement, RunEnd
from handsfree.model.readings import Exact, Option
from handsfree.model.reasons import AsWritten, Grounds, HeatWordSaid
from handsfree.model.refusals import Refusal, RefusalCode
from handsfree.practice.event_kinds import Way
from handsfree.practice.points_form import load_points
from handsfree.practice.practice_plan import plan_of, planned_in
from handsfree.practice.reactions import ReactionVerdict, reactions
from handsfree.practice.scenario_loader import load_scenario
from handsfree.practice.scoring import score
from handsfree.practice.stage_outcomes import stage_outcomes
from handsfree.practice.timeline import confirmed_at, same_value, timeline
from handsfree.session.prompts.reason_words import reason_words

DEAF_S = 12.0
HOT = Grounds(HeatWordSaid("hot"))
case_of = cache(load_scenario)
points = cache(load_points)


def number(value):
    return Exact(Decimal(value))


def entered(stage, phase="before"):
    return StepEntered(stage=stage, step=stage.partition("@")[0], phase=phase, again=False)


def refused(stage="", heard=None, code=RefusalCode.ANSWER_NEEDED):
    return CommandRefused(reason=Refusal(code), stage=stage, command=None, heard=heard)


def lifted(grounds, role="therapist", reason="settled"):
    return HoldLifted(hold="red", grounds=grounds, role=role, reason=reason, code=None, heard=None)


def lit(zone="outer_edge", from_s=0.0):
    return LightTurnedOn(
        stage="expose_open", zone=zone, counted_from_s=from_s, heat_reported=True, heard=heard("light on", from_s)
    )


def dark(at_s, zone="outer_edge"):
    return LightTurnedOff(
        zone=zone,
        counted_from_s=0.0,
        counted_to_s=at_s,
        possible_to_s=at_s,
        credited_s=at_s,
        dose_j_cm2=0.1,
        end=RunEnd.OFF_SAID,
        reason="",
        beeps=LampAgreement.NOT_JUDGED,
        flags=(),
        heard=heard("light off", at_s),
    )


def happened(event, at_s, to_s=None):
    return ScenarioEventHappened(
        event=event,
        happening="hot",
        who=None,
        say=None,
        at_s=at_s,
        to_s=at_s if to_s is None else to_s,
        cued=False,
        again=0,
    )


def plan(scenario, **changes):
    return plan_of(case_of(scenario), None, None).model_copy(update=changes)


def scored(scenario, *turns, **changes):
    return score(record_of(Turn(0.0, (plan(scenario, **changes).fact,)), *turns), points())


def errors(scenario, *turns):
    return [(one.rule, one.at_s, one.text) for one in scored(scenario, *turns).faults if one.rule != "hard_undone"]


def times(*turns):
    return [(one.fact.kind, one.at_s) for one in timeline(record_of(*turns)).facts]


def test_a_fact_stands_where_its_words_began_else_at_its_event():
    turns = (
        Turn(
            5.0,
            (entered("order"), confirmed("order", "image", "reviewed", 3.5), refused(), refused(heard=heard("x", 4.0))),
        ),
        Turn(9.0, (StageExposed(stage="expose_open"),)),
    )
    assert [at_s for _, at_s in times(*turns)] == [5.0, 3.5, 5.0, 4.0, 9.0]


def test_what_practice_writes_stands_at_its_own_time_and_the_plan_at_the_beginning():
    attempted = PracticeAttempted(control="light_on", at_s=6.5, stage="order")
    planned = PracticePlanned(plan={})
    turns = (Turn(2.0, (planned,)), Turn(9.0, (happened("too_hot", 7.25), attempted)))
    assert [at_s for _, at_s in times(*turns)] == [2.0, 7.25, 6.5]
    assert timeline(record_of(*turns)).facts[-1].control is Control.LIGHT_ON


def test_a_command_that_was_asked_about_acts_when_it_is_affirmed():
    line = timeline(
        record_of(
            Turn(5.0, (), Control.SKIP, doubted=True, spoken_s=3.0),
            Turn(8.0, (refused(),), Control.AFFIRM),
            Turn(9.0, (refused(),), Control.AFFIRM),
        )
    )
    assert [one.control for one in line.facts] == [Control.SKIP, Control.AFFIRM]
    assert line.asked_before(Control.SKIP, 9.0) == 3.0
    assert line.asked_before(Control.OVERRIDE, 9.0) == 9.0


def test_a_doubt_that_is_denied_leaves_no_command():
    line = timeline(
        record_of(
            Turn(5.0, (), Control.SKIP, doubted=True),
            Turn(6.0, (), Control.NEGATE),
            Turn(8.0, (refused(),), Control.AFFIRM),
        )
    )
    assert line.facts[0].control is Control.AFFIRM


def test_a_place_without_a_side_is_of_both():
    turn = Turn(
        9.0,
        tuple(confirmed(f"pain_after@{side}", "rest", number(2), at) for side, at in (("left", 1.0), ("right", 2.0))),
    )
    line = timeline(record_of(turn))
    assert [one.at_s for one in confirmed_at("pain_after.rest", line)] == [1.0, 2.0]
    assert [one.at_s for one in confirmed_at("pain_after@right.rest", line)] == [2.0]
    assert confirmed_at("pain_after.stretch", line) == ()
    assert [one.at_s for one in confirmed_at("pain_after.rest", line, since_s=1.5)] == [2.0]


def test_every_way_in_which_a_stage_can_be_done():
    planned = plan("hot-zone")
    fields = next(step for step in planned.steps if step.step == "condition" or len(step.fields) > 1)
    done = Turn(
        1.0,
        (
            entered("padding"),
            StepConfirmed(stage="padding", step="padding", heard=heard("affirmative", 1.0)),
            StepSkipped(stage="analgesia", step="analgesia", reason="declined"),
            confirmed(fields.step, fields.fields[0], "x", 1.0),
            *(confirmed("circumference", name, number(1), 1.0) for name in ("first", "second")),
        ),
    )
    found = {one.stage: one.state for one in stage_outcomes(planned, timeline(record_of(done)))}
    assert (found["padding"], found["analgesia"], found["circumference"]) == ("done", "skipped", "done")
    assert found[fields.step] == found["leaflet"] == "undone"


def test_to_ask_to_skip_is_an_error_only_at_a_required_step():
    turns = (
        Turn(1.0, (entered("order"),)),
        Turn(5.0, (refused("order"),), Control.NEXT_STEP),
        Turn(6.0, (refused("order"),), Control.SKIP),
        Turn(7.0, (refused("order"),), Control.PREVIOUS_STEP),
        Turn(8.0, (entered("analgesia"),)),
        Turn(9.0, (refused("analgesia"),), Control.SKIP),
    )
    assert [(rule, at_s) for rule, at_s, _ in errors("hot-zone", *turns)] == [("skip_asked", 6.0)]


@pytest.mark.parametrize("grounds", [HOT, Grounds(AsWritten("the word pain was said"))])
def test_light_while_held_names_why_it_is_held(grounds):
    held = HoldSet(hold="red", stage="expose_open", grounds=grounds)
    turns = (Turn(1.0, (entered("expose_open"), held)), Turn(5.0, (refused("expose_open"),), Control.LIGHT_ON))
    ((rule, at_s, text),) = errors("hot-zone", *turns)
    assert (rule, at_s) == ("light_while_held", 5.0)
    assert text == f"wanted the light on while held: {reason_words(grounds)}"


def test_light_is_early_until_what_it_needs_is_done_and_in_shadow_until_the_strap_is_off():
    planned = plan("hot-zone")
    needed = next(step.requires for step in planned.steps if step.step == "expose_strap")
    done = tuple(StepConfirmed(stage=name, step=name, heard=heard("yes", 2.0)) for name in needed)
    asked = Turn(3.0, (refused("expose_strap", code=RefusalCode.STRAP_OFF_FIRST),), Control.LIGHT_ON)
    at_strap = Turn(2.0, (entered("expose_strap", "during"), *done))
    assert [rule for rule, _, _ in errors("hot-zone", Turn(1.0, (entered("expose_strap", "during"),)), asked)] == [
        "light_early"
    ]
    assert [rule for rule, _, _ in errors("hot-zone", at_strap, asked)] == ["light_in_shadow"]
    off = Turn(2.5, (StrapRemoved(at_s=2.5, heard=heard("strap off", 2.5)),))
    assert errors("hot-zone", at_strap, off, asked) == []


@pytest.mark.parametrize(("asked_s", "rules"), [(5.0, ["settled_too_soon"]), (20.0, [])])
def test_a_red_hold_wants_a_look_before_it_is_overridden(asked_s, rules):
    # What counts is when the word "override" was said, not when role and reason had been given.
    turns = (
        Turn(1.0, (HoldSet(hold="red", stage="expose_open", grounds=HOT),)),
        Turn(asked_s, (), Control.OVERRIDE, spoken_s=asked_s),
        Turn(40.0, (lifted(HOT),), Control.AFFIRM),
    )
    assert points().least_look_s.seconds == 10
    assert [rule for rule, _, _ in errors("hot-zone", *turns)] == rules


def test_another_answer_that_lifts_a_red_hold_is_no_override():
    # Former misjudgement: an override long before counted, so this one was "overrode after -30.8 s".
    turns = (
        Turn(1.0, (), Control.OVERRIDE, spoken_s=1.0),
        Turn(30.0, (HoldSet(hold="red", stage="skin", grounds=HOT),)),
        Turn(36.0, (lifted(HOT, role=None, reason="answered_again"),)),
    )
    assert errors("hot-zone", *turns) == []


def test_a_hold_that_an_event_led_to_is_judged_once():
    turns = (
        Turn(1.0, (lit(from_s=1.0),)),
        Turn(4.0, (happened("too_hot", 4.0, 4.5),)),
        Turn(5.0, (dark(5.2), HoldSet(hold="red", stage="expose_open", grounds=HOT))),
        Turn(6.0, (), Control.OVERRIDE, spoken_s=6.0),
        Turn(9.0, (lifted(HOT),)),
    )
    assert [rule for rule, _, _ in errors("hot-zone", *turns)] == ["event_wrong"]


def heat(*turns):
    record = record_of(Turn(1.0, (lit(from_s=1.0),)), Turn(4.0, (happened("too_hot", 4.0, 4.5),)), *turns)
    planned = plan("hot-zone")
    (found,) = reactions(record, planned, timeline(record), DEAF_S)
    return found


def test_heat_is_answered_by_the_end_of_the_light_and_settled_by_who_looked():
    held = HoldSet(hold="red", stage="expose_open", grounds=HOT)
    others = Grounds(HeatWordSaid("pain"))
    stopped = Turn(5.0, (dark(5.2), held))
    found = heat(stopped, Turn(30.0, (), Control.OVERRIDE), Turn(40.0, (lifted(HOT),)))
    assert (found.verdict, found.way, found.seconds) == (ReactionVerdict.RIGHT, Way.OVERRIDDEN, 0.7)
    assert "overrode after" in heat(stopped, Turn(6.5, (), Control.OVERRIDE), Turn(40.0, (lifted(HOT),))).note
    assert (
        "the reason judged"
        in heat(stopped, Turn(30.0, (), Control.OVERRIDE), Turn(40.0, (lifted(HOT, reason="judged"),))).note
    )
    # Another hold that is lifted does not settle this one.
    assert heat(stopped, Turn(40.0, (lifted(others),))).note.endswith("never settled it")
    assert heat(stopped, Turn(40.0, (lifted(HOT, role=None, reason="answered_again"),))).way is Way.ANSWERED_AGAIN


def test_heat_is_not_due_in_the_dark_and_missed_where_the_light_stays_on():
    assert heat().verdict is ReactionVerdict.MISSED
    record = record_of(Turn(1.0, (lit(from_s=1.0), dark(2.0))), Turn(4.0, (happened("too_hot", 4.0),)))
    (found,) = reactions(record, plan("hot-zone"), timeline(record), DEAF_S)
    assert found.verdict is ReactionVerdict.NOT_DUE


def test_a_call_is_answered_by_a_pause_after_it_only():
    event = next(one for one in case_of("hot-zone").scenario.events if one.id == "colleague_calls")
    pause = VisitPaused(stage="order")

    def verdict(paused_s):
        turns = [Turn(10.0, (happened(event.id, 10.0, 12.0),)), Turn(paused_s, (pause,))]
        record = record_of(*sorted(turns, key=lambda turn: turn.at_s))
        (found,) = reactions(record, plan("hot-zone"), timeline(record), DEAF_S)
        return found.verdict

    assert verdict(13.0) is ReactionVerdict.RIGHT
    assert verdict(12.5 + event.within_s) is ReactionVerdict.LATE
    assert verdict(9.0) is ReactionVerdict.MISSED


def values(*facts):
    found = scored("low-battery", Turn(50.0, facts), case={"output.first": "48"})
    item = next(item for item in found.items if item.row == "value")
    return item.possible - item.got, item.note, found.counts["values corrected"]


def test_a_value_that_the_procedure_asked_for_again_is_no_correction():
    first = confirmed("output", "first", number(47), 1.0)
    again = {"old_value": number(47), "why": "repeated"}
    corrected = {"old_value": number(47), "why": "corrected"}
    assert values(first) == (points().value.points, "output.first: 47 instead of 48", 0)
    assert values(first, confirmed("output", "first", number(48), 2.0, **again)) == (0, "", 0)
    lost, note, count = values(first, confirmed("output", "first", number(48), 2.0, **corrected))
    assert (lost, note, count) == (points().value.points - points().value.corrected, "output.first put right later", 1)


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [("48", "48.0", True), ("left", "left", True), ("left", "right", False), ("48", "4B", False)],
)
def test_numbers_are_compared_by_value_and_words_as_they_are(one, other, same):
    assert same_value(one, other) is same


def test_a_plan_comes_back_as_it_was_written():
    planned = plan("numb-finger")
    assert planned_in(record_of(Turn(0.0, (planned.fact,)))) == planned


def test_the_time_of_each_phase_is_that_between_its_steps():
    turns = (
        Turn(2.0, (entered("order"),)),
        Turn(12.0, (entered("sleeve_on", "during"),)),
        Turn(15.0, (entered("image_after", "after"),)),
        Turn(20.0, ()),
    )
    found = scored("hot-zone", *turns)
    assert [(phase.phase, phase.seconds) for phase in found.phases] == [
        ("before", 10.0),
        ("during", 3.0),
        ("after", 5.0),
    ]


def test_readings_are_told_apart_by_type():
    line = timeline(record_of(Turn(1.0, (confirmed("order", "order", "present", 0.5), entered("image")))))
    (reading,) = line.of(ReadingConfirmed)
    assert reading.fact.value == Option("present")

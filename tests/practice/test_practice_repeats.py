"""Practice of procedures that repeat and compute: each number has its own truth, a wrong one is marked once.

No outside source: what a mark should mean is this project's own statement. The arithmetic of the expected results
(mean and difference) is done here by hand; the limits are those of the guide's own file.
"""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from practice_records import WALL, Turn, confirmed, record_of
from rich.console import Console
from test_practice_timeline import number, points

from handsfree.errors import ScriptError
from handsfree.model.facts import RepeatEnded, RepeatReopened, ScenarioEventHappened
from handsfree.model.reading_facts import Computation
from handsfree.model.reasons import Severity
from handsfree.practice.computed_truth import computed_truths, times_due
from handsfree.practice.debrief import score_lines
from handsfree.practice.deciding import Decides
from handsfree.practice.pages import debrief_page
from handsfree.practice.practice_plan import plan_of
from handsfree.practice.practised_visit import SoundOptions, practise_scripted
from handsfree.practice.recorded_values import false_findings, recorded_values
from handsfree.practice.scenario_loader import load_scenario
from handsfree.practice.scoring import score
from handsfree.practice.spoken_debrief import spoken_debrief
from handsfree.practice.stage_outcomes import stage_outcomes
from handsfree.practice.timeline import timeline
from handsfree.practice.trainer_sheet import sheet_lines
from handsfree.record.contents import RecordedFact
from handsfree.record.verify import verify

GUIDE = Path(__file__).parents[2] / "handsfree" / "procedures" / "guide"
BATH = GUIDE / "water-bath-practice.yaml"
TRUE = ("72.5", "73.5", "82.5", "84.5", "84.5")
"""The five readings of the scenario; their mean is 397.5 / 5 = 79.5, over the room of 12.5 by 67."""


@pytest.fixture(scope="module")
def bath():
    return load_scenario(str(BATH))


@pytest.fixture(scope="module")
def played(bath, tmp_path_factory):
    """The scores of learners, each played once."""
    found = {}

    def play(learner):
        if learner not in found:
            folder = tmp_path_factory.mktemp("bath") / learner
            start = datetime(2026, 11, 25, 9, tzinfo=UTC)
            visit = practise_scripted(
                bath, folder, None, learner, start, Console(quiet=True), SoundOptions(), typed=True
            )
            record = verify(folder).record
            found[learner] = visit, record, score(record, points())
        return found[learner]

    return play


def reading(stage, value, at_s, field="bath", severity=Severity.NONE, **more):
    return replace(confirmed(stage, field, number(value), at_s, **more), severity=severity)


def bath_record(said, *, over="67.0", severity=Severity.RED, count=None):
    turns = [Turn(10.0 * k, (reading(f"bath@{k}", one, 10.0 * k),)) for k, one in enumerate(said, start=1)]
    count = len(said) if count is None else count
    last = RepeatEnded(step="bath", count=count, heard=confirmed("bath", "bath", number("1"), 90.0).heard)
    computed = reading(
        "over_room",
        over,
        90.0,
        "over",
        severity,
        computed=Computation(how="difference", inputs=()),
    )
    return record_of(*turns, Turn(90.0, (last, computed)))


def with_facts(record, before=None, after=None):
    first = [RecordedFact(1, WALL, before, record.event_lines[0])] if before is not None else []
    last = [RecordedFact(9999, WALL, after, record.event_lines[-1])] if after is not None else []
    return replace(record, facts=(*first, *record.facts, *last))


def judged(bath, record):
    planned = plan_of(bath, None, None)
    return planned, timeline(record), {one.where: one for one in recorded_values(planned, timeline(record))}


# The scenario


def test_what_is_computed_follows_from_the_case(bath):
    truths = computed_truths(bath.scenario, bath.bundle)
    assert truths["bath_sums.mean"].true == "79.5"
    assert (truths["over_room.over"].true, truths["over_room.over"].decides) == ("67", Decides.STOP)
    assert truths["over_room.over"].inputs == (*(f"bath@{k}.bath" for k in range(1, 6)), "room.room")
    assert truths["both_strips.whole"].true == "205"
    # Time between steps is what the learner took.
    assert "bath_sums.time" not in truths


def test_a_result_of_which_not_all_is_named_is_not_known(bath):
    case = {place: value for place, value in bath.scenario.case.items() if place != "bath@4.bath"}
    truths = computed_truths(bath.scenario.model_copy(update={"case": case}), bath.bundle)
    assert set(truths) == {"both_strips.whole"}


def test_one_truth_may_stand_for_all_numbers_but_those_that_have_their_own(bath):
    case = {"bath.bath": "70", "bath@2.bath": "75", "room.room": "20"}
    scenario = bath.scenario.model_copy(update={"case": case, "times": {"bath": 3}})
    # (70 + 75 + 70) / 3 = 71.67; over 20 by 51.7, which is below its limit of 55.
    truths = computed_truths(scenario, bath.bundle)
    assert (truths["bath_sums.mean"].true, truths["over_room.over"].true) == ("71.7", "51.7")
    assert truths["over_room.over"].decides is Decides.FIGURE


def test_how_often_is_enough_is_said_or_follows_from_the_case(bath):
    step = next(one for one in bath.bundle.procedure.steps if one.id == "bath")
    unsaid = bath.scenario.model_copy(update={"times": {}})
    assert times_due(bath.scenario, step) == 5
    assert times_due(unsaid, step) == 5
    assert times_due(unsaid.model_copy(update={"case": {}}), step) == step.repeat.least == 3


@pytest.mark.parametrize(
    ("old", "new", "part"),
    [
        ("bath@5.bath:", "bath@11.bath:", r"case\.bath@11\.bath: bath is done 10 times at most"),
        ("bath@5.bath:", "bath@left.bath:", "bath is not done for each side"),
        ("bath@5.bath:", "bath@0.bath:", r"is no step\.field \(place\.ward; of one side or one number: .*bolt@3"),
        ("room.room:", "room@2.room:", "room is not repeated"),
        ("steps: [strips]", "steps: [strips@x]", r"is no step \(its name; of one side or one number: .*bolt@3"),
        ("strips.first:", "bath_sums.mean:", r"it is computed; say what is true of bath\.bath, and it follows"),
        ("times: {bath: 5}", "times: {bath: 4}", "the case names number 5 of bath, there are 4"),
        ("times: {bath: 5}", "times: {bath: 11}", "bath is done from 3 to 10 times"),
        ("times: {bath: 5}", "times: {room: 2}", "room is not repeated"),
        ("times: {bath: 5}", "times: {pond: 2}", "the procedure has no step pond"),
    ],
)
def test_faults_say_what_would_be_right(tmp_path, old, new, part):
    (tmp_path / "water-bath.yaml").write_text((GUIDE / "water-bath.yaml").read_text())
    path = tmp_path / "mine.yaml"
    text = BATH.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))
    with pytest.raises(ScriptError, match=part):
        load_scenario(str(path))


def test_the_procedure_is_looked_for_beside_the_scenario(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert load_scenario(str(BATH)).bundle.procedure.id == "water-bath"


def test_the_trainer_s_sheet_tells_numbers_how_many_and_what_follows(bath):
    told = "\n".join(sheet_lines(bath))
    assert "  bath@3.bath: 82.5\n" in told
    assert "  bath: 5 times\n" in told
    assert "  over_room.over: 67, stops the work\n" in told
    assert "  bath_sums.time: as long as the learner takes\n" in told
    open_ = bath.scenario.model_copy(update={"case": {}})
    told = "\n".join(sheet_lines(type(bath)(open_, bath.bundle, bath.sha256)))
    assert "  over_room.over: not known, the case leaves something of bath_sums.mean, room.room open\n" in told


# What is marked


def test_each_number_is_held_against_its_own_truth(bath):
    _, _, values = judged(bath, bath_record(("72.5", "73.6", "82.5", "84.5", "84.5")))
    assert {place: one.state for place, one in values.items() if one.words} == {"bath@2.bath": "wrong"}
    assert values["bath@2.bath"].words == "bath@2.bath: 73.6 instead of 73.5"
    assert values["bath@2.bath"].decides is Decides.FIGURE


def test_a_wrong_value_that_hides_a_result_is_marked_once_for_what_the_result_decides(bath):
    # 84.5 said as 64.5: the mean is 75.5, over the room by 63, which is amber where 67 is red.
    record = bath_record(("72.5", "73.5", "82.5", "84.5", "64.5"), over="63.0", severity=Severity.AMBER)
    planned, line, values = judged(bath, record)
    wrong = [one for one in values.values() if one.words]
    assert [one.where for one in wrong] == ["bath@5.bath"]
    assert wrong[0].decides is Decides.STOP
    assert wrong[0].words == "bath@5.bath: 64.5 instead of 84.5; so over_room.over stands as 63, it was 67"
    assert false_findings(planned, line) == ()
    rules = [fault.rule for fault in score(with_facts(record, before=planned.fact), points()).faults]
    assert rules.count("finding_missed") == 1


def test_of_several_wrong_values_the_one_that_is_farthest_off_hides_the_result(bath):
    record = bath_record(("72.4", "73.5", "82.5", "84.5", "64.5"), over="63.0", severity=Severity.AMBER)
    _, _, values = judged(bath, record)
    assert [(one.where, one.decides) for one in values.values() if one.words] == [
        ("bath@1.bath", Decides.FIGURE),
        ("bath@5.bath", Decides.STOP),
    ]


def test_a_wrong_value_that_makes_a_result_look_worse_costs_itself_alone(bath):
    record = bath_record(("72.5", "73.5", "82.5", "84.5", "94.5"), over="69.0")
    planned, line, values = judged(bath, record)
    assert [one.decides for one in values.values() if one.words] == [Decides.FLAG]
    assert values["bath@5.bath"].hides == ()
    assert false_findings(planned, line) == ()


def test_a_result_that_only_looked_better_because_numbers_were_left_out_fails_the_attempt(bath):
    # (72.5 + 73.5 + 82.5) / 3 = 76.2, over the room by 63.7.
    record = bath_record(TRUE[:3], over="63.7", severity=Severity.AMBER)
    planned, line, _ = judged(bath, record)
    faults = {fault.rule: fault.text for fault in score(with_facts(record, before=planned.fact), points()).faults}
    assert faults["finding_missed"] == "not all was measured, so over_room.over stands as 63.7, it was 67"
    stages = {one.stage: one.state for one in stage_outcomes(planned, line) if one.stage.startswith("bath@")}
    assert stages == {f"bath@{k}": "done" if k <= 3 else "skipped" for k in range(1, 6)}


def test_a_repeat_that_was_opened_again_is_not_left_out(bath):
    record = with_facts(bath_record(TRUE[:3]), after=RepeatReopened(step="bath", stage="bath@4"))
    planned, line, _ = judged(bath, record)
    assert {one.state for one in stage_outcomes(planned, line) if one.stage in {"bath@4", "bath@5"}} == {"undone"}


def test_a_number_that_there_is_not_was_found_where_nothing_is(bath):
    planned, line, values = judged(bath, bath_record((*TRUE, "84.5")))
    assert [one.fact.stage for one in false_findings(planned, line)] == ["bath@6"]
    assert "bath@6.bath" not in values


def test_more_than_the_case_names_is_free_where_nobody_said_how_many_there_are(bath):
    unsaid = type(bath)(bath.scenario.model_copy(update={"times": {}}), bath.bundle, bath.sha256)
    planned, line, _ = judged(unsaid, bath_record((*TRUE, "70")))
    assert false_findings(planned, line) == ()


def test_what_an_event_showed_is_judged_with_its_answer_and_its_result_not_at_all(bath):
    event = bath.scenario.events[1].model_copy(update={"shows": {"bath@5.bath": "90"}})
    shown = type(bath)(bath.scenario.model_copy(update={"events": (event,)}), bath.bundle, bath.sha256)
    happened = ScenarioEventHappened(
        event=event.id, happening="finding", who=None, say=None, at_s=1.0, to_s=1.0, cued=False, again=0
    )
    record = bath_record((*TRUE[:4], "64.5"), over="63.0", severity=Severity.AMBER)
    record = with_facts(record, after=happened)
    _, _, values = judged(shown, record)
    assert "bath@5.bath" not in values
    assert not any(one.hides for one in values.values())


def test_nobody_is_credited_or_charged_for_what_is_computed(bath, played):
    _, record, found = played("good")
    planned = plan_of(bath, None, None)
    stages = {one.stage for one in stage_outcomes(planned, timeline(record))}
    assert not stages & {"bath_sums", "over_room", "both_strips"}
    assert next(item for item in found.items if item.row == "soft_step").marks == ()
    assert next(item for item in found.items if item.row == "false_finding").got == 0
    assert found.counts["values corrected"] == 0


# Learners, played whole


def test_the_good_learner_has_all_and_settles_what_was_computed(played):
    visit, record, found = played("good")
    assert (found.passed, found.percent, found.faults) == (True, 100.0, ())
    assert visit.outcome == "stopped"
    over = [one.fact for one in timeline(record).facts if getattr(one.fact, "step", "") == "over_room"]
    assert over[0].severity is Severity.RED


def test_one_slip_in_the_second_number_costs_that_number_alone(played):
    _, _, found = played("second_slip")
    marks = [mark.why for item in found.items for mark in item.marks if item.got != item.possible]
    assert marks == ["bath@2.bath: 73.6 instead of 73.5"]
    assert found.passed


@pytest.mark.parametrize(("learner", "words"), [("copies", "stands as 60, it was 67"), ("stops_early", "63.7")])
def test_who_turns_the_decision_fails(played, learner, words):
    _, record, found = played(learner)
    missed = [fault for fault in found.faults if fault.rule == "finding_missed"]
    assert len(missed) == 1
    assert words in missed[0].text
    told = spoken_debrief(found, points())
    assert told[1] == "First: Say what you find as it is, also when it stops the work."
    assert words in "\n".join(score_lines(found))
    assert words in debrief_page(record, found, points(), None, None)
    assert score(record, points()) == found


def test_who_ends_a_repeat_too_early_left_required_steps_out_though_the_visit_was_rightly_ended(played):
    _, _, found = played("stops_early")
    assert "ended without bath@4, bath@5" in {fault.text for fault in found.faults}


@pytest.mark.parametrize("learner", ["guessing", "hasty"])
def test_worse_learners_come_through_and_stand_below(played, learner):
    assert played(learner)[2].standing < played("second_slip")[2].standing < played("good")[2].standing

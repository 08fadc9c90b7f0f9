"""What marks mean: each former misjudgement is a test, on records made by hand; an order of learners on played ones.

No outside source: what a mark should mean is this project's own statement (`trainers_order.yaml`, written down before
any of those attempts was scored).
"""

from dataclasses import replace
from datetime import UTC, datetime
from itertools import combinations
from pathlib import Path

import pytest
from practice_records import Turn, confirmed, heard, record_of
from rich.console import Console
from ruamel.yaml import YAML
from test_practice_timeline import DEAF_S, dark, happened, lit, number, plan, points, scored

from handsfree.model.commands import Control
from handsfree.model.facts import LightOffConfirmed, ScenarioEventHappened, StopWordHeard
from handsfree.model.light import RunEnd
from handsfree.model.reasons import Severity
from handsfree.practice.deciding import Decides, decides
from handsfree.practice.practised_visit import SoundOptions, practise_scripted
from handsfree.practice.reactions import ReactionVerdict, reactions
from handsfree.practice.scenario_loader import load_scenario
from handsfree.practice.scoring import score
from handsfree.practice.timeline import timeline
from handsfree.record.verify import verify

ORDER = YAML(typ="safe").load(Path(__file__).with_name("trainers_order.yaml"))


def said_hot(at_s, to_s):
    return ScenarioEventHappened(
        event="too_hot", happening="hot", who="patient", say="hot", at_s=at_s, to_s=to_s, cued=False, again=0
    )


def ended_by(word, at_s, end=RunEnd.STOPPED):
    return replace(dark(at_s), heard=heard(word, at_s), end=end)


def answer(*turns, scenario="hot-zone"):
    record = record_of(Turn(1.0, (lit(from_s=1.0),)), *turns)
    (found,) = reactions(record, plan(scenario), timeline(record), DEAF_S)
    return found


def off_confirmed(at_s):
    return Turn(at_s + 0.5, (LightOffConfirmed(zone="outer_edge", heard=heard("light off", at_s)),))


HOT_ENDS_IT = Turn(
    4.6,
    (
        said_hot(4.0, 4.4),
        ended_by("hot", 4.4),
        StopWordHeard(word="hot", while_lit=True, mode="lit", heard=heard("hot", 4.4)),
    ),
)


@pytest.mark.parametrize(
    ("own_s", "verdict"),
    [(12.0, ReactionVerdict.RIGHT), (30.0, ReactionVerdict.LATE), (None, ReactionVerdict.MISSED)],
)
def test_a_light_that_the_patient_s_word_ended_counts_from_then_to_the_learner_s_own(own_s, verdict):
    # Former misjudgement: the patient's "hot" ended the light, and the learner had full points after 0.0 s.
    turns = [HOT_ENDS_IT] if own_s is None else [HOT_ENDS_IT, off_confirmed(own_s)]
    found = answer(*turns)
    assert found.verdict is verdict
    assert found.others_s == 4.4
    assert found.seconds == (None if own_s is None else round(own_s - 4.4, 1))


def test_light_off_over_the_patient_s_word_is_the_learner_s():
    found = answer(Turn(4.6, (said_hot(4.0, 4.4), ended_by("light off", 4.2))))
    assert (found.verdict, found.others_s) == (ReactionVerdict.RIGHT, None)


def test_a_late_own_word_fails_only_where_nobody_else_had_ended_the_light():
    late = scored("hot-zone", Turn(1.0, (lit(from_s=1.0),)), HOT_ENDS_IT, off_confirmed(30.0))
    alone = scored("hot-zone", Turn(1.0, (lit(from_s=1.0),)), Turn(4.6, (said_hot(4.0, 4.4),)), Turn(9.0, (dark(9.0),)))
    assert "event_late" not in {one.rule for one in late.faults}
    assert "event_late" in {one.rule for one in alone.faults}


def value_of(found):
    return next(item for item in found.items if item.row == "value")


def test_a_value_that_was_misheard_and_affirmed_is_wrong_whatever_was_said():
    # Former misjudgement: "values right" was against what had been said. The words were right, the record is not.
    fact = confirmed("output", "first", number(84), 3.0)
    fact = replace(fact, heard=heard("first four eight", 3.0))
    found = scored("low-battery", Turn(5.0, (fact,)), case={"output.first": "48"})
    assert value_of(found).note == "output.first: 84 instead of 48"


@pytest.mark.parametrize(
    ("place", "true", "what"),
    [
        ("side_verification.mark", "right", Decides.SIDE),
        ("device_lot.lot", "A4B2", Decides.IDENTITY),
        ("sensation_after@left.ulnar", "absent", Decides.STOP),
        ("device_condition.sleeve", "leaking", Decides.STOP),
        ("jewelry.varnish", "present", Decides.FLAG),
        ("circumference.first", "16.5", Decides.FIGURE),
    ],
)
def test_what_a_value_decides_is_as_the_procedure_says(place, true, what):
    assert decides(load_scenario("hot-zone").bundle, place, true) is what


@pytest.mark.parametrize(
    ("place", "true", "said", "rule"),
    [
        ("side_verification.mark", "right", "left", "wrong_side"),
        ("device_lot.lot", "A4B2", "A4B3", "wrong_identity"),
        ("device_condition.sleeve", "leaking", "intact", "finding_missed"),
        ("jewelry.varnish", "present", "absent", None),
        ("circumference.first", "16.5", "16.6", None),
    ],
)
def test_a_wrong_value_fails_where_it_decides_something(place, true, said, rule):
    # Former misjudgement: every wrong value cost four points, a wrong side as much as a millimetre.
    step, _, field = place.partition(".")
    what = decides(load_scenario("hot-zone").bundle, place, true)
    found = scored(
        "hot-zone", Turn(5.0, (confirmed(step, field, said, 3.0),)), case={place: true}, decides={place: what}
    )
    assert [one.rule for one in found.faults if one.rule != "hard_undone"] == ([rule] if rule else [])
    worth = points().value.flagged if what is Decides.FLAG else points().value.points
    assert (value_of(found).got, value_of(found).possible) == (0, worth)


def test_a_finding_that_was_not_there_costs_a_point():
    # Former misjudgement: what no scenario names was not looked at, so a false finding was free.
    fact = replace(confirmed("condition", "window", "dirty", 3.0), severity=Severity.STOP)
    found = scored("low-battery", Turn(5.0, (fact, happened("colleague_calls", 4.0))))
    item = next(item for item in found.items if item.row == "false_finding")
    assert [mark.why for mark in item.marks] == ["condition.window: dirty, nothing was there"]


@pytest.fixture(scope="module")
def light_checks(tmp_path_factory):
    """Scores of all twelve learners in the short scenario, typed."""
    folder, case = tmp_path_factory.mktemp("marks"), load_scenario("low-battery")
    found = {}
    for learner in ORDER["learners"]:
        wall = datetime(2026, 11, 25, 9, tzinfo=UTC)
        place = folder / learner
        practise_scripted(case, place, None, learner, wall, Console(quiet=True), SoundOptions(), typed=True)
        found[learner] = score(verify(place).record, points())
    return found


def test_twelve_learners_stand_in_the_order_that_was_written_down(light_checks):
    tiers = ORDER["scenarios"]["low-battery"]["tiers"]
    wanted = [(a, b) for above, below in combinations(tiers, 2) for a in above for b in below]
    assert len(wanted) == 54
    assert [(a, b) for a, b in wanted if light_checks[a].standing <= light_checks[b].standing] == []


def test_pairs_whose_reason_does_not_hold_are_named_and_stand_as_they_were_written():
    unfounded = {name: one.get("unfounded", []) for name, one in ORDER["scenarios"].items()}
    assert {name: [one["pair"] for one in found] for name, found in unfounded.items() if found} == {
        "wrong-side": [["guessing", "hasty"]],
        "pressure-mark": [["guessing", "hasty"]],
    }
    for name in ("wrong-side", "pressure-mark"):
        assert ["guessing", "hasty"] in ORDER["scenarios"][name]["pairs"]
        # The reason that was not thought of: the hand is the right one, and what is usual is said as left.
        sides = {value for place, value in load_scenario(name).scenario.case.items() if value in {"left", "right"}}
        assert "right" in sides


def test_at_equal_points_the_truer_record_stands_higher(light_checks):
    # Former misjudgement: four questions and a number that stays wrong cost the same, and stood level.
    helped, wrong = light_checks["unsure"], light_checks["one_slip"]
    assert (helped.percent, helped.untrue, wrong.percent, wrong.untrue) == (90.0, 0, 90.0, 1)
    assert helped.standing > wrong.standing


def test_too_few_points_with_a_record_that_is_not_true_are_graver_than_pushing(light_checks):
    # Former misjudgement: failing by points alone was always the mildest failure, however wrong the record.
    careless, pusher = light_checks["careless"], light_checks["pusher"]
    assert (careless.faults, careless.too_few, careless.untrue > 0) == ((), True, True)
    assert careless.standing < pusher.standing


@pytest.mark.parametrize(("pushed_s", "rules"), [(None, set()), (9.0, {"left_to_others"}), (13.0, set())])
def test_who_asks_to_go_on_before_light_off_has_left_its_end_to_the_patient(pushed_s, rules):
    # Former misjudgement: whoever said "override" first and "light off" behind it was only late, and passed.
    turns = [off_confirmed(12.0)]
    if pushed_s is not None:
        turns.append(Turn(pushed_s, (), Control.OVERRIDE, spoken_s=pushed_s))
    turns.sort(key=lambda turn: turn.at_s)
    found = scored("hot-zone", Turn(1.0, (lit(from_s=1.0),)), HOT_ENDS_IT, *turns)
    assert {one.rule for one in found.faults} & {"left_to_others", "event_missed", "event_late"} == rules


def test_help_alone_fails_nobody(light_checks):
    # Former misjudgement: questions took up to ten points whatever there was to win, and failed a short attempt.
    found = light_checks["unsure"]
    assert found.counts["said again"] > 2
    assert found.passed

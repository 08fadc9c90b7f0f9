"""What marks mean: each former misjudgement is a test, on records made by hand; an order of learners on played ones.

No outside source: what a mark should mean are statements of three points of view (`trainers/`), each written separately
before any of those attempts was scored. No real trainer was asked.
"""

from dataclasses import replace

import bench_marks
import pytest
from practice_records import Turn, confirmed, heard, record_of
from test_practice_timeline import DEAF_S, dark, happened, lit, number, plan, points, scored

from handsfree.model.commands import Control
from handsfree.model.facts import LightOffConfirmed, ScenarioEventHappened, StopWordHeard
from handsfree.model.light import RunEnd
from handsfree.model.reasons import Severity
from handsfree.practice.deciding import Decides, decides
from handsfree.practice.reactions import ReactionVerdict, reactions
from handsfree.practice.scenario_loader import load_scenario
from handsfree.practice.timeline import timeline

BRIEF = bench_marks.brief()


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
    folder = tmp_path_factory.mktemp("marks")
    return {learner: bench_marks.scored("low-battery", learner, folder / learner) for learner in BRIEF["learners"]}


def test_twelve_learners_stand_in_the_order_that_three_points_of_view_would_give(light_checks):
    wanted = bench_marks.wanted("low-battery", bench_marks.orders())
    assert len(wanted) == 47
    assert [(a, b) for a, b in wanted if light_checks[a].standing <= light_checks[b].standing] == []


@pytest.mark.parametrize("view", bench_marks.VIEWS)
def test_an_order_has_every_learner_once_in_every_scenario_and_says_why(view):
    order = bench_marks.orders()[view]
    assert order["by"] == view
    assert set(order["scenarios"]) == set(BRIEF["scenarios"])
    for one in order["scenarios"].values():
        assert sorted(learner for tier in one["tiers"] for learner in tier) == sorted(BRIEF["learners"])
        assert one["why"]
        assert all(len({*left["pair"]} & set(BRIEF["learners"])) == 2 for left in one.get("open") or ())


def in_tiers(*tiers, left_open=()):
    """An order of all learners: those that are named, best first, and all others level behind them."""
    named = {learner for tier in tiers for learner in tier}
    rest = [learner for learner in BRIEF["learners"] if learner not in named]
    return {"scenarios": {"s": {"tiers": [*tiers, rest], "open": [{"pair": pair} for pair in left_open]}}}


@pytest.mark.parametrize(
    ("three", "wanted"),
    [
        ([in_tiers(["slow"], ["hasty"])] * 3, True),
        ([in_tiers(["slow"], ["hasty"]), in_tiers(["slow"], ["hasty"]), in_tiers(["hasty", "slow"])], True),
        ([in_tiers(["slow"], ["hasty"]), in_tiers(["hasty", "slow"]), in_tiers(["hasty", "slow"])], False),
        ([in_tiers(["slow"], ["hasty"]), in_tiers(["slow"], ["hasty"]), in_tiers(["hasty"], ["slow"])], False),
        (
            [in_tiers(["slow"], ["hasty"], left_open=[["hasty", "slow"]])] * 2 + [in_tiers(["slow"], ["hasty"])],
            False,
        ),
    ],
    ids=["all", "two and a tie", "one and two ties", "two against one", "two left open"],
)
def test_a_pair_is_wanted_where_two_put_it_that_way_and_none_the_other(three, wanted):
    found = bench_marks.wanted("s", dict(zip(bench_marks.VIEWS, three, strict=True)))
    assert (("slow", "hasty") in found) is wanted
    assert ("hasty", "slow") not in found


def test_at_equal_points_the_truer_record_stands_higher():
    # Former misjudgement: four questions and a number that stays wrong cost the same, and stood level.
    true, wrong = (replace(with_wrong(), untrue=count) for count in (0, 1))
    assert true.percent == wrong.percent
    assert true.standing > wrong.standing


def test_too_few_points_with_a_record_that_is_not_true_are_graver_than_pushing(light_checks):
    # Former misjudgement: failing by points alone was always the mildest failure, however wrong the record.
    careless, pusher = light_checks["careless"], light_checks["pusher"]
    assert (careless.faults, careless.too_few, careless.untrue > 0) == ((), True, True)
    assert careless.standing < pusher.standing


SIDE, SLEEVE, LOT = "side_verification.mark", "device_condition.sleeve", "device_lot.lot"
WRONG = {SIDE: ("right", "left"), SLEEVE: ("leaking", "intact"), LOT: ("A4B2", "A4B3")}


def with_wrong(*places):
    """The score of an attempt that recorded these wrong, the others as they were, and did nothing else."""
    facts = [
        confirmed(*place.split("."), said if place in places else true, 3.0) for place, (true, said) in WRONG.items()
    ]
    bundle, case = load_scenario("hot-zone").bundle, {place: true for place, (true, _) in WRONG.items()}
    what = {place: decides(bundle, place, true) for place, true in case.items()}
    return scored("hot-zone", Turn(5.0, tuple(facts)), case=case, decides=what)


def test_one_mistake_that_breaks_a_rule_often_is_one_mistake():
    # Former misjudgement: of two attempts as grave the number of broken rules came before the points, so that the wrong
    # side, said to five questions, stood below whoever took up nothing.
    once, often = with_wrong(SIDE), with_wrong(SIDE)
    often = replace(often, faults=often.faults * 5)
    assert once.standing == often.standing


@pytest.mark.parametrize(("better", "worse"), [([LOT], [SIDE]), ([SIDE], [SIDE, LOT])])
def test_failed_attempts_stand_by_the_gravest_fault_then_by_points(better, worse):
    assert with_wrong(*better).standing > with_wrong(*worse).standing


def test_a_missed_finding_is_as_grave_as_the_wrong_side():
    # Former misjudgement: it was milder, whatever it could have done to the hand.
    assert with_wrong(SIDE).gravity == with_wrong(SLEEVE).gravity == 4


def test_too_few_points_with_an_untrue_record_are_as_grave_as_the_table_says():
    assert (with_wrong(SIDE).too_few, with_wrong(SIDE).gravity) == (True, 4)
    figure = {"circumference.first": "16.5"}
    found = scored("hot-zone", Turn(5.0, (confirmed("circumference", "first", number(17), 3.0),)), case=figure)
    assert ([one.rule for one in found.faults], found.too_few, found.gravity) == (["hard_undone"], True, 2)


def test_all_that_may_be_left_out_costs_less_than_one_value_that_stays_wrong():
    # Former misjudgement: each step that may be left out was a point not won, so leaving out all of them cost more than
    # a wrong number, although the procedure permits it.
    found = scored("hot-zone", Turn(5.0, (happened("colleague_calls", 4.0),)))
    item = next(item for item in found.items if item.row == "soft_step")
    assert len(item.marks) > 2
    assert (item.got, item.possible) == (-3, 0)
    assert -item.got < points().value.points


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

"""Scenarios with scripted learners, typed: who passes, who fails, and for which reasons; the store of attempts.

What is expected of each learner is the scenario's own statement (no outside source): the good one does what it asks,
the hasty one does what it calls wrong. The score is held against facts of the record, not against itself.
"""

import json
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from rich.console import Console

from handsfree.cli import main
from handsfree.clock import SystemClock
from handsfree.errors import RecordError, UsageError
from handsfree.model.facts import (
    HoldLifted,
    ReadBackDisputed,
    ReadingAmended,
    ReadingConfirmed,
    ScenarioEventHappened,
    StepEntered,
    StrapRemoved,
    VisitBegun,
    VisitPaused,
)
from handsfree.model.readings import Option
from handsfree.model.reasons import Grounds, HeatWordSaid
from handsfree.practice.attempt_lines import AttemptOutcome
from handsfree.practice.attempts import AttemptStore
from handsfree.practice.points_form import load_points
from handsfree.practice.practised_visit import SoundOptions, practise_scripted
from handsfree.practice.rating import ITEMS, marks_in, marks_of
from handsfree.practice.reactions import ReactionVerdict
from handsfree.practice.scenario_loader import load_scenario
from handsfree.practice.scoring import score
from handsfree.record.record_line import FIRST_PREV, RecordLine
from handsfree.record.verify import verify

FITTINGS = ("hot-zone", "numb-finger", "wrong-side")


@cache
def attempt(scenario, learner):
    folder = Path(FOLDER.name) / f"{scenario}-{learner}"
    wall = datetime(2026, 11, 25, 9, tzinfo=UTC)
    practise_scripted(case_of(scenario), folder, None, learner, wall, Console(quiet=True), SoundOptions(), typed=True)
    record = verify(folder).record
    return folder, record, score(record, load_points())


case_of = cache(load_scenario)
FOLDER = TemporaryDirectory(prefix="handsfree-practice-")


def rules(found):
    return {fault.rule for fault in found.faults}


@pytest.mark.parametrize("scenario", [*FITTINGS, "low-battery"])
def test_the_good_learner_passes(scenario):
    _, record, found = attempt(scenario, "good")
    assert record.practice
    assert found.passed
    assert not found.faults
    assert {one.verdict for one in found.reactions} == {ReactionVerdict.RIGHT}
    assert len(found.reactions) == len(found.planned.events)


@pytest.mark.parametrize("scenario", FITTINGS)
def test_the_hasty_learner_fails_for_the_right_reasons(scenario):
    _, record, found = attempt(scenario, "hasty")
    assert not found.passed
    assert {"kept_pushing", "light_early", "light_in_shadow", "event_wrong"} <= rules(found)
    assert found.gravity == 4
    # Facts of the record: light was asked for over the shadowed strip before the strap was off, and refused.
    strap_s = min(one.fact.at_s for one in record.of(StrapRemoved))
    asked = [fault.at_s for fault in found.faults if fault.rule == "light_in_shadow"]
    assert asked
    assert max(asked) < strap_s


def test_the_hasty_learner_writes_down_what_was_before():
    _, record, found = attempt("numb-finger", "hasty")
    wrong = {one.event.id for one in found.reactions if one.verdict is ReactionVerdict.WRONG}
    assert wrong == {"slow_refill", "less_feeling"}
    after = [one.stands.value for one in record.readings if one.stands.stage == "sensation_after@left"]
    assert set(after) == {Option("intact")}


def test_the_hasty_learner_overrides_heat_before_anybody_looked():
    _, record, found = attempt("hot-zone", "hasty")
    heat = next(one for one in found.reactions if one.event.id == "too_hot")
    assert heat.verdict is ReactionVerdict.WRONG
    lifted = record.of(HoldLifted)[0]
    assert lifted.fact.grounds == Grounds(HeatWordSaid("hot"))
    assert "overrode after" in heat.note


def test_the_good_learner_ends_the_visit_for_less_feeling_and_owes_no_further_step():
    _, record, found = attempt("numb-finger", "good")
    assert record.closing.fact.outcome == "stopped"
    assert found.percent == 100.0


def test_the_good_learner_leaves_a_wrong_side_to_those_who_ordered_it():
    _, record, _ = attempt("wrong-side", "good")
    first, last = (
        [one.fact.value.value for one in record.of(kind) if one.fact.step == "side_verification"]
        for kind in (ReadingConfirmed, ReadingAmended)
    )
    assert first == ["left", "right", "right", "right", "right"]
    assert last == ["right"] * 5
    assert all(one.fact.role is None for one in record.of(HoldLifted))


def test_the_forgetful_learner_needs_help_and_gives_too_much_light():
    _, _, found = attempt("hot-zone", "forgetful")
    assert not found.passed
    assert rules(found) == {"light_in_shadow"}
    assert found.counts["said again"] > 5
    over = [item for item in found.items if item.row == "zone" and item.note.startswith("over")]
    assert over
    assert all(0 < item.got < item.possible for item in over)


def test_a_disputed_read_back_is_counted_and_no_wrong_value_stays():
    _, record, found = attempt("hot-zone", "forgetful")
    assert found.counts["read-backs disputed"] == len(record.of(ReadBackDisputed)) > 0
    values = next(item for item in found.items if item.row == "value")
    wrong = {mark.why.partition(":")[0] for mark in values.marks}
    # What is only echoed may stay wrong where nobody objects; what was read back may not.
    kept = (one.recorded.fact for one in record.readings)
    echoed = {f"{fact.step}.{fact.field}" for fact in kept if fact.read_back == "echo"}
    assert values.possible > 0
    assert wrong <= echoed


def test_reaction_times_are_those_of_the_record():
    _, record, found = attempt("hot-zone", "good")
    call = next(one for one in found.reactions if one.event.id == "colleague_calls")
    event = next(one.fact for one in record.of(ScenarioEventHappened) if one.fact.event == "colleague_calls")
    paused = record.of(VisitPaused)[0]
    times = dict(zip(record.event_lines, record.events, strict=True))
    assert call.seconds == pytest.approx(times[paused.event_seq].at_s - event.to_s, abs=0.05)


def test_time_by_phase_adds_up_to_the_visit():
    _, record, found = attempt("hot-zone", "good")
    entered = record.of(StepEntered)[0]
    times = dict(zip(record.event_lines, record.events, strict=True))
    whole_s = record.events[-1].at_s - times[entered.event_seq].at_s
    assert sum(phase.seconds for phase in found.phases) == pytest.approx(whole_s, abs=0.3)


def test_the_same_record_gives_the_same_score(capsys):
    folder, record, found = attempt("low-battery", "hasty")
    capsys.readouterr()
    assert score(record, load_points()) == found
    main(["debrief", str(folder), "--json"])
    told = json.loads(capsys.readouterr().out)
    assert (told["passed"], told["points"], told["possible"]) == (found.passed, found.got, found.possible)


def test_the_same_seed_gives_the_same_visit(tmp_path):
    _, record, _ = attempt("low-battery", "good")
    again = tmp_path / "again"
    arguments = ["--scenario", "low-battery", "--record", str(again), "--learner", "good", "--typed", "--quiet"]
    main(["practice", "light-output-check", *arguments])
    first, second = ([one.fact for one in visit.facts] for visit in (record, verify(again).record))
    # The visits differ in nothing but their identifiers, which the first fact holds.
    assert isinstance(first[0], VisitBegun)
    assert second[1:] == first[1:]


def test_practice_stays_practice_and_is_not_exported_as_care(tmp_path, capsys):
    folder, record, _ = attempt("low-battery", "good")
    assert record.header.practice is True
    with pytest.raises(SystemExit) as left:
        main(["export", str(folder), "--to", "fhir"])
    assert left.value.code == RecordError.exit_code or left.value.code == UsageError.exit_code
    assert "practice" in capsys.readouterr().err
    main(["export", str(folder), "--to", "note"])
    assert "PRACTICE" in capsys.readouterr().out


def test_a_record_without_a_scenario_is_not_scored(tmp_path, capsys, monkeypatch):
    import io

    monkeypatch.setattr("sys.stdin", io.StringIO("practice session\n"))
    folder = tmp_path / "plain"
    main(["run", "light-output-check", "--typed", "--practice", "--record", str(folder)])
    capsys.readouterr()
    with pytest.raises(SystemExit) as left:
        main(["debrief", str(folder)])
    assert left.value.code == RecordError.exit_code
    assert "handsfree practice" in capsys.readouterr().err


def test_a_typed_person_meets_the_events_and_a_trainer_cues_more(tmp_path, capsys, monkeypatch):
    import io

    lines = ["!b", "practice session", "l 3", "yes"]
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(lines) + "\n"))
    folder = tmp_path / "person"
    main(["practice", "light-output-check", "--scenario", "low-battery", "--record", str(folder), "--typed"])
    told = capsys.readouterr()
    assert "Its battery sign is blinking." in told.out
    assert "fail" in told.out
    event = verify(folder).record.last(ScenarioEventHappened)
    assert (event.event, event.cued) == ("battery_low", True)


def test_a_learner_is_no_name(tmp_path, capsys):
    with pytest.raises(SystemExit) as left:
        main(
            [
                *("practice", "light-output-check", "--scenario", "low-battery", "--typed"),
                *("--trainee", "Jane Doe", "--record", str(tmp_path / "r")),
            ]
        )
    assert left.value.code == UsageError.exit_code
    assert "never a name" in capsys.readouterr().err
    assert not (tmp_path / "r").exists()


@pytest.fixture
def store(tmp_path):
    return AttemptStore(tmp_path / "attempts.jsonl", SystemClock())


def stored(store, *learners, trainee="L-01"):
    for learner in learners:
        _, record, found = attempt("low-battery", learner)
        store.add_score(trainee, record, found)


def test_attempts_are_kept_in_order_and_read_back(store):
    stored(store, "hasty", "good")
    assert [one.passed for one in store.attempts("L-01")] == [False, True]
    assert store.attempts("L-02") == ()


def test_an_attempt_is_stored_with_the_day_of_its_session_and_what_it_is_like(store):
    # Former misjudgement: the day was that of the entry, which may be weeks after the session.
    stored(store, "good")
    (one,) = store.attempts("L-01")
    assert one.practised_at.startswith("2026-11-25T09:00")
    assert (one.scored.difficulty, one.scored.family, one.scored.setting) == ("easy", None, "")


def test_a_record_is_stored_once(store):
    stored(store, "good")
    with pytest.raises(UsageError, match="already, as attempt 0"):
        stored(store, "good")


@pytest.mark.parametrize("change", [(b'"passed":false', b'"passed":true'), (b"low-battery", b"low-batterz")])
def test_an_altered_store_is_noticed(store, tmp_path, change):
    stored(store, "hasty", "good")
    path = tmp_path / "attempts.jsonl"
    path.write_bytes(path.read_bytes().replace(*change, 1))
    with pytest.raises(RecordError, match="jsonl:2: does not"):
        store.attempts()


SCORED = {
    "trainee": "L-01",
    "scenario": "low-battery",
    "version": "0.1.0",
    "procedure": "light-output-check",
    "record_id": "r-1",
    "head": "00",
    "passed": True,
    "points": 54,
    "possible": 54,
    "percent": 100,
    "rules": [],
    "table": "practice-points 0.1.0",
    "scripted": None,
}
"""An attempt as version 0.1.0 wrote it: a whole number for whole per cent."""


def written(path, data):
    line = RecordLine(0, FIRST_PREV, "2026-11-25T09:00:00.000Z", "attempt_scored", data)
    path.write_bytes(line.raw + b"\n")
    return AttemptStore(path, SystemClock())


def test_an_attempt_of_an_earlier_version_is_read(tmp_path):
    (one,) = written(tmp_path / "attempts.jsonl", SCORED).attempts()
    assert (one.trainee, one.passed, one.scored.percent, one.scored.rules) == ("L-01", True, 100.0, ())


@pytest.mark.parametrize(
    ("change", "part"),
    [
        ({"scenario": None}, "scenario"),
        ({"passed": "yes"}, "passed"),
        ({"note": "x"}, "note"),
        ({"points": 5.5}, "points"),
    ],
)
def test_a_line_that_is_no_attempt_is_named(tmp_path, change, part):
    store = written(tmp_path / "attempts.jsonl", SCORED | change)
    with pytest.raises(RecordError, match=f"jsonl:1: attempt_scored cannot be read: {part}"):
        store.attempts()


def test_a_torn_store_is_noticed_and_not_added_to(store, tmp_path):
    stored(store, "good")
    path = tmp_path / "attempts.jsonl"
    path.write_bytes(path.read_bytes()[:-5])
    with pytest.raises(RecordError, match="torn"):
        stored(store, "hasty")


def test_ratings_belong_to_attempts_and_a_later_one_of_the_same_rater_stands(store):
    stored(store, "good")
    record_id = store.attempts()[0].scored.record_id
    store.add_rating(record_id, "R-01", marks_of([3] * 7, passed=False))
    store.add_rating(record_id, "R-01", marks_of([4] * 7, passed=True))
    (rating,) = store.ratings()
    # OSATS: seven items from 1 to 5, so 7 to 35 in all (Martin and others, Br J Surg 1997;84:273).
    assert (rating.marks.total, rating.marks.passed) == (28, True)
    with pytest.raises(UsageError, match="no attempt"):
        store.add_rating("unknown", "R-01", marks_of([3] * 7, passed=True))
    with pytest.raises(UsageError, match="of their own"):
        store.add_rating(record_id, "L-01", marks_of([5] * 7, passed=True))


@pytest.mark.parametrize(
    ("marks", "part"), [([3] * 6, "seven marks"), ([3] * 6 + [6], "is 6; a whole number"), ([0] * 7, "is 0")]
)
def test_marks_are_seven_from_one_to_five(marks, part):
    with pytest.raises(UsageError, match=part):
        marks_of(marks, passed=True)


def test_lowest_and_highest_total():
    assert marks_of([1] * 7, passed=False).total == 7
    assert marks_of([5] * 7, passed=True).total == 35
    assert len(ITEMS) == 7


def test_an_assessor_signs_and_the_signature_is_checked(store, tmp_path):
    stored(store, "good")
    key = Ed25519PrivateKey.generate()
    signed = store.sign("L-01", "A-01", "senior therapist", AttemptOutcome.SUPERVISED, key)
    assert signed.good
    assert signed.attempts == 1
    path = tmp_path / "attempts.jsonl"
    path.write_bytes(path.read_bytes().replace(b"supervised", b"independent"))
    assert not store.signatures("L-01")[0].good


@pytest.mark.parametrize(
    ("who", "by", "role", "part"),
    [
        ("L-01", "L-01", "therapist", "for themselves"),
        ("L-01", "A-01", " ", "role"),
        ("L-09", "A-01", "therapist", "no attempts of L-09"),
        ("L-01", "Dr Smith", "therapist", "never a name"),
    ],
)
def test_signatures_that_mean_nothing_are_refused(store, who, by, role, part):
    stored(store, "good")
    with pytest.raises(UsageError, match=part):
        store.sign(who, by, role, AttemptOutcome.SUPERVISED, Ed25519PrivateKey.generate())


def test_marks_of_another_record_are_refused():
    _, record, _ = attempt("low-battery", "good")
    with pytest.raises(RecordError, match="no finished rating"):
        marks_in(record)

"""Progress, agreement and pages: arithmetic over the store, what is shown, what is never said."""

import csv
import io
import re
from dataclasses import replace

import pytest
from sklearn.metrics import cohen_kappa_score

from handsfree.cli import main
from handsfree.errors import UsageError
from handsfree.practice.attempt_lines import AttemptOutcome, AttemptScored
from handsfree.practice.attempts import Attempt, Rating, Signature
from handsfree.practice.curve_drawing import CurveLimit, curve
from handsfree.practice.learning_curves import CusumLimits, LearningLimits, Signal, SignalledPath, Weights
from handsfree.practice.pages import progress_page
from handsfree.practice.progress import COLUMNS, progress_csv, progress_lines, progress_of
from handsfree.practice.raters import compare_raters
from handsfree.practice.rating import ITEMS, marks_of

WORKED_RUN = [True, True, False, *[True] * 7]
WORKED_SUMS = [-0.145, -0.290, 0.564, 0.419, 0.274, 0.129, -0.017, -0.162, -0.307, -0.452]
"""Worked by hand from Wald's formulas for p0 .10, p1 .20, alpha and beta .10."""


def attempts(passed, trainee="L-01"):
    return [
        Attempt(
            number,
            f"2026-11-{number + 1:02d}T09:00:00.000Z",
            AttemptScored(
                trainee=trainee,
                scenario="low-battery",
                version="0.1.0",
                procedure="light-output-check",
                record_id=f"record-{number}",
                head="00",
                passed=one,
                points=50 if one else 30,
                possible=54,
                percent=92.6 if one else 55.6,
                rules=() if one else ("passed_on",),
                table="practice-points 0.1.0",
                scripted=None,
            ),
        )
        for number, one in enumerate(passed)
    ]


def course(passed, ratings=(), signatures=()):
    return progress_of("L-01", attempts(passed), ratings, signatures, CusumLimits(), LearningLimits())


def test_the_course_holds_the_worked_run():
    (only,) = course(WORKED_RUN).courses
    assert only.sums.sums == pytest.approx(WORKED_SUMS, abs=6e-4)


def varied(**changes):
    """Ten attempts of which every second one is different in these ways."""
    return [
        replace(one, scored=one.scored.model_copy(update=changes)) if number % 2 else one
        for number, one in enumerate(attempts([True] * 10))
    ]


@pytest.mark.parametrize(
    "changes",
    [
        {"scenario": "hot-zone"},
        {"difficulty": "hard"},
        {"table": "practice-points 0.2.0"},
        {"setting": "silent patient"},
        {"family": "light-output-check-hard"},
    ],
)
def test_attempts_that_are_not_alike_share_no_curve(changes):
    # Former misjudgement: an easy light check and a hard fitting were steps of one curve.
    found = progress_of("L-01", varied(**changes), (), (), CusumLimits(), LearningLimits())
    assert sorted(len(one.attempts) for one in found.courses) == [5, 5]
    assert all(len(one.sums.sums) == 5 for one in found.courses)


def test_drawn_scenarios_of_one_family_share_a_curve():
    drawn = [
        replace(one, scored=one.scored.model_copy(update={"scenario": f"check-hard-{number}", "family": "check-hard"}))
        for number, one in enumerate(attempts([True, False, True]))
    ]
    (only,) = progress_of("L-01", drawn, (), (), CusumLimits(), LearningLimits()).courses
    assert (only.alike.scenario, len(only.attempts)) == ("check-hard", 3)


def test_scripted_attempts_are_told_apart_and_in_no_curve():
    # Former misjudgement: attempts of scripted learners counted as the learner's own.
    found = progress_of("L-01", varied(scripted="hasty"), (), (), CusumLimits(), LearningLimits())
    assert (found.count, len(found.scripted)) == (5, 5)
    shown = "\n".join(progress_lines(found))
    assert shown.count("scripted hasty learner") == 5
    assert "Scripted learners" in progress_page(found)
    rows = list(csv.DictReader(io.StringIO(progress_csv([found]))))
    assert [row["cusum"] == "" for row in rows] == [False] * 5 + [True] * 5


def test_the_day_is_that_of_the_session_not_of_the_entry():
    late, early = attempts([True, False])
    late = replace(late, scored=late.scored.model_copy(update={"practised_at": "2026-10-30T09:00:00.000Z"}))
    early = replace(early, scored=early.scored.model_copy(update={"practised_at": "2026-10-29T09:00:00.000Z"}))
    (only,) = progress_of("L-01", [late, early], (), (), CusumLimits(), LearningLimits()).courses
    assert only.passed == (False, True)
    assert "2026-10-29" in progress_page(progress_of("L-01", [late, early], (), (), CusumLimits(), LearningLimits()))


def test_rates_are_said_in_words_and_shares_with_their_interval():
    # 9 of 10: Wilson 0.5958 to 0.9821 (scipy.stats.binomtest(9, 10).proportion_ci(method="wilson")).
    told = "\n".join(progress_lines(course(WORKED_RUN)))
    assert "p0 0.1: to fail 1 attempt in 10 is good enough. p1 0.2: to fail 1 attempt in 5 is too often." in told
    assert "Passed: 9 of 10 (95 % interval 60% to 98%, Wilson)." in told


def test_only_the_attempts_of_the_learner_count():
    mixed = [*attempts([True, False]), *attempts([False] * 5, trainee="L-02")]
    assert progress_of("L-01", mixed, (), (), CusumLimits(), LearningLimits()).count == 2


def test_a_learner_without_attempts_is_refused():
    with pytest.raises(UsageError, match="no attempts of L-07"):
        progress_of("L-07", attempts([True]), (), (), CusumLimits(), LearningLimits())


@pytest.mark.parametrize("passed", [WORKED_RUN, [True] * 40, [False] * 10])
def test_nothing_says_that_somebody_is_able(passed):
    # However good the curve: an assessor judges and signs; the tool never does.
    shown = "\n".join(progress_lines(course(passed))) + progress_page(course(passed))
    assert not re.search(r"competen|qualified|\bsafe\b|cleared|able to work", shown, re.IGNORECASE)
    assert "No assessor has signed" in shown


def test_where_the_lines_are_reached_is_said():
    # 19 successes in a row reach the lower line of the CUSUM, 11 the line of the LC-CUSUM: worked by hand.
    told = course([True] * 25).courses[0].statements
    assert "lower line (failures as rare as p0): at attempt 19, and began anew." in told[1]
    assert told[3].endswith("at attempt 11, 22, and began anew.")
    assert not any("are few" in line for line in told)
    assert any("are few" in line for line in course([True] * 19).courses[0].statements)


def test_a_signature_that_does_not_fit_is_named():
    signed = Signature(
        "2026-11-25T09:00:00.000Z", "L-01", "A-01", "therapist", AttemptOutcome.SUPERVISED, 3, good=False
    )
    shown = course([True] * 3, signatures=(signed,))
    assert "SIGNATURE DOES NOT FIT" in "\n".join(progress_lines(shown))
    assert "the signature does not fit" in progress_page(shown)


def test_the_table_has_a_line_for_each_rating_and_the_figures_of_the_curve():
    ratings = [Rating(0, "R-01", marks_of([3] * 7, passed=True)), Rating(0, "R-02", marks_of([4] * 7, passed=False))]
    rows = list(csv.DictReader(io.StringIO(progress_csv([course(WORKED_RUN[:3], ratings)]))))
    assert tuple(rows[0]) == COLUMNS
    assert [row["attempt"] for row in rows] == ["0", "0", "1", "2"]
    assert [row["total"] for row in rows] == ["21", "28", "", ""]
    assert [float(row["cusum"]) for row in rows[1:]] == pytest.approx(WORKED_SUMS[:3], abs=6e-4)
    assert rows[3]["rules"] == "passed_on"


def test_points_of_the_curve_lie_where_their_sums_are():
    limits = (CurveLimit(-2.0, "low"), CurveLimit(2.0, "high"))
    drawn = curve("C", "words", SignalledPath((-1.0, 0.0, 2.0), ()), (True, True, False), limits)
    heights = [dot.y for dot in drawn.dots]
    # Linear scale: equal steps of the sum are equal steps on paper, larger sums are higher up (smaller y).
    assert heights[0] - heights[1] == pytest.approx((heights[1] - heights[2]) / 2)
    assert heights[1] == pytest.approx(drawn.zero)
    assert heights[2] == pytest.approx(drawn.limits[1].place)
    assert [dot.passed for dot in drawn.dots] == [True, True, False]


def test_the_line_begins_anew_at_zero_after_a_signal():
    drawn = curve("C", "words", SignalledPath((2.0, 1.0), (Signal(1, upper=True),)), (False, False), ())
    first, second = (path.split() for path in drawn.paths)
    assert first[-1].split(",")[0] == second[0].split(",")[0]
    assert float(second[0].split(",")[1]) == pytest.approx(drawn.zero, abs=0.06)


def rated(rater, marks):
    return [Rating(number, rater, marks_of(row, passed=sum(row) >= 21)) for number, row in enumerate(marks)]


FIRST = [[3, 4, 4, 3, 5, 2, 3], [2, 2, 1, 3, 2, 3, 2], [5, 5, 4, 4, 5, 5, 4], [1, 2, 2, 1, 3, 2, 1]]
SECOND = [[3, 3, 4, 4, 4, 2, 3], [3, 2, 2, 3, 3, 4, 4], [5, 4, 4, 5, 5, 4, 4], [2, 2, 1, 1, 2, 3, 1]]


@pytest.mark.parametrize("weights", [Weights.LINEAR, Weights.QUADRATIC])
def test_agreement_of_raters_matches_scikit_learn(weights):
    # Independent library: sklearn.metrics.cohen_kappa_score, item by item and over all.
    ratings = rated("R-01", FIRST) + rated("R-02", SECOND)
    found = {one.what: one.found for one in compare_raters(ratings, "R-01", "R-02", weights)}
    labels = [1, 2, 3, 4, 5]
    for place, item in enumerate(ITEMS):
        ours, theirs = [row[place] for row in FIRST], [row[place] for row in SECOND]
        assert found[item].kappa == pytest.approx(cohen_kappa_score(ours, theirs, labels=labels, weights=weights.value))
    ours, theirs = [one for row in FIRST for one in row], [one for row in SECOND for one in row]
    pooled = cohen_kappa_score(ours, theirs, labels=labels, weights=weights.value)
    assert found["all items"].kappa == pytest.approx(pooled)
    judged = [[int(sum(row) >= 21) for row in side] for side in (FIRST, SECOND)]
    assert found["judgement"].kappa == pytest.approx(cohen_kappa_score(*judged))


def test_agreement_says_how_its_interval_was_drawn():
    from handsfree.practice.agreement_text import agreement_lines

    compared = compare_raters(rated("R-01", FIRST) + rated("R-02", SECOND), "R-01", "R-02", Weights.QUADRATIC)
    pooled = next(one for one in compared if one.what == "all items")
    assert pooled.attempts == 4
    assert pooled.interval.low < pooled.found.kappa < pooled.interval.high
    told = "\n".join(agreement_lines(compared))
    assert f"[{pooled.interval.low:.3f} {pooled.interval.high:.3f}]" in told
    assert "draws of whole attempts (4)" in told


@pytest.mark.parametrize(("second", "part"), [("R-01", "two raters"), ("R-09", "rated no attempt together")])
def test_agreement_needs_two_raters_of_the_same_attempts(second, part):
    with pytest.raises(UsageError, match=part):
        compare_raters(rated("R-01", FIRST), "R-01", second, Weights.QUADRATIC)


def call(*arguments):
    try:
        main([str(one) for one in arguments])
    except SystemExit as left:
        return left.code
    return 0


@pytest.fixture(scope="module")
def practised(tmp_path_factory):
    folder = tmp_path_factory.mktemp("practised")
    store = folder / "attempts.jsonl"
    arguments = ["--scenario", "low-battery", "--learner", "hasty", "--typed", "--quiet", "--trainee", "L-01"]
    call("practice", "light-output-check", *arguments, "--record", folder / "record", "--attempts", store)
    return folder / "record", store


def test_a_form_is_filled_by_keys_and_by_options_and_both_agree(practised, tmp_path, capsys, monkeypatch):
    record, store = practised
    filled = ["--marks", "2,3,3,4,2,3,4", "--overall", "failed"]
    assert call("rate", record, "--by", "R-01", *filled, "--attempts", store) == 0
    monkeypatch.setattr("sys.stdin", io.StringIO("2\n3\n3\n4\n2\n3\n4\nfailed\n"))
    assert call("rate", record, "--by", "R-02", "--typed", "--form", tmp_path / "form", "--attempts", store) == 0
    capsys.readouterr()
    assert call("progress", "agreement", "R-01", "R-02", "--attempts", store) == 0
    told = capsys.readouterr().out
    assert "all items: kappa 1.000 [no interval]" in told
    assert "judgement: kappa n/a" in told
    assert "1 attempts are few" in told


@pytest.mark.parametrize(
    ("arguments", "part"),
    [
        (["--marks", "2,3", "--overall", "failed"], "seven marks"),
        (["--marks", "2,3,3,4,2,3,x", "--overall", "failed"], "no marks"),
        (["--marks", "2,3,3,4,2,3,9", "--overall", "failed"], "from 1 to 5"),
        (["--marks", "2,3,3,4,2,3,4"], "go together"),
        ([], "--form FOLDER"),
    ],
)
def test_a_form_that_is_not_whole_is_refused(practised, capsys, arguments, part):
    record, store = practised
    assert call("rate", record, "--by", "R-01", *arguments, "--attempts", store) == UsageError.exit_code
    assert part in capsys.readouterr().err


def test_an_assessor_signs_on_the_command_line(practised, tmp_path, capsys):
    _, store = practised
    arguments = ["--by", "A-01", "--role", "senior therapist", "--outcome", "more_practice"]
    assert call("progress", "sign", "L-01", *arguments, "--key-file", tmp_path / "key", "--attempts", store) == 0
    capsys.readouterr()
    assert call("progress", "show", "L-01", "--attempts", store, "--page", tmp_path / "page.html") == 0
    assert "more practice, signed by A-01, senior therapist, after 1" in capsys.readouterr().out
    page = (tmp_path / "page.html").read_text()
    assert "signed by A-01" in page
    assert "http" not in page.replace("http-equiv", "")


def test_parameters_that_cannot_be_are_refused(practised, capsys):
    _, store = practised
    assert call("progress", "show", "L-01", "--p0", "0.3", "--attempts", store) == UsageError.exit_code
    assert "0 < p0 < p1 < 1" in capsys.readouterr().err


def test_the_debriefing_page_shows_faults_and_escapes_everything(practised, tmp_path):
    from handsfree.practice.pages import debrief_page
    from handsfree.practice.points_form import load_points
    from handsfree.practice.scoring import score
    from handsfree.record.verify import verify

    record, points = verify(practised[0]).record, load_points()
    found = score(record, points)
    hostile = "<script>alert('x')</script>"
    planned = found.planned.model_copy(update={"title": hostile})
    page = debrief_page(record, replace(found, planned=planned), points, None, None)
    assert hostile not in page
    assert "&lt;script&gt;" in page
    assert "PRACTICE" in page
    assert "answered wrongly to what happened" in page
    assert "next step refused at" in page
    assert "No sound was kept of this session" in page
    assert page.count('class="mark stop"') == len(found.faults)
    assert "default-src &#39;none&#39;" in page or "default-src 'none'" in page

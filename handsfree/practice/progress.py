"""The progress of a learner over attempts that are alike. Pure. It shows; assessors judge."""

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from handsfree.errors import UsageError
from handsfree.practice.attempts import Attempt, Rating, Signature
from handsfree.practice.curve_drawing import Curve, CurveLimit, curve
from handsfree.practice.learning_curves import CusumLimits, LearningLimits, SignalledPath
from handsfree.practice.rating import ITEMS
from handsfree.practice.shares import Share, rate_words

FEW = 20
"""Below so many attempts a curve says little, and that is said. Common practice, no source."""
COLUMNS = (
    *(
        "attempt",
        "at",
        "practised_at",
        "trainee",
        "scenario",
        "version",
        "family",
        "difficulty",
        "setting",
        "procedure",
    ),
    *("record_id", "scripted", "table"),
    *("passed", "points", "possible", "percent", "rules", "cusum", "lc_cusum", "rater", "judgement", "total", *ITEMS),
)


@dataclass(frozen=True, slots=True)
class Alike:
    """What attempts have in common that are set beside each other.

    Attributes:
        scenario: The scenario, or the family that it is of.
        difficulty: How hard it is, or "" where nobody has said.
        setting: What was set beside it, or "".
        table: The table of points that they were scored by: another one is another measure.
    """

    scenario: str
    difficulty: str
    setting: str
    table: str

    @property
    def words(self) -> str:
        """What they have in common, in words."""
        setting = f", {self.setting}" if self.setting else ""
        return f"{self.scenario}, {self.difficulty or 'difficulty not said'}{setting}, by {self.table}"


@dataclass(frozen=True, slots=True)
class Course:
    """Attempts of one learner at what is alike.

    Attributes:
        alike: What they have in common.
        attempts: The attempts, by the day of the session.
        cusum: Parameters.
        learning: Parameters.
        sums: CUSUM after each attempt.
        scores: LC-CUSUM after each attempt.
    """

    alike: Alike
    attempts: tuple[Attempt, ...]
    cusum: CusumLimits
    learning: LearningLimits
    sums: SignalledPath
    scores: SignalledPath

    @property
    def passed(self) -> tuple[bool, ...]:
        """Whether each attempt passed."""
        return tuple(one.passed for one in self.attempts)

    @property
    def statements(self) -> tuple[str, ...]:
        """What the curves show, without a judgement of the person."""
        count = len(self.attempts)
        lines = [f"Passed: {Share(sum(self.passed), count).words}."]
        for name, found in (
            ("CUSUM came to its lower line (failures as rare as p0)", self.sums.at(upper=False)),
            ("CUSUM came to its upper line (failures as frequent as p1)", self.sums.at(upper=True)),
            ("LC-CUSUM came to its line", self.scores.at(upper=True)),
        ):
            when = ", ".join(map(str, found))
            lines.append(f"{name}: {f'at attempt {when}, and began anew' if found else 'not so far'}.")
        worse = self.learning.p0 + self.learning.delta
        chance = self.learning.reached_by(worse, count)
        lines.append(
            f"Somebody who fails {rate_words(worse)} comes to the LC-CUSUM line within {count} by chance "
            f"in {chance:.0%} of cases (computed, not counted)."
        )
        if count < FEW:
            lines.append(f"{count} attempts are few: the curves say little yet.")
        return tuple(lines)

    @property
    def curves(self) -> tuple[Curve, Curve]:
        """Both curves as drawings."""
        c = self.cusum
        return (
            curve(
                "CUSUM of failures",
                f"{self.statements[1]} {self.statements[2]}",
                self.sums,
                self.passed,
                (CurveLimit(-c.h0, "lower line, -h0"), CurveLimit(c.h1, "upper line, +h1")),
            ),
            curve("LC-CUSUM", self.statements[3], self.scores, self.passed, (CurveLimit(self.learning.h, "line, h"),)),
        )


@dataclass(frozen=True, slots=True)
class Progress:
    """A learner's course.

    Attributes:
        trainee: Reference of the learner.
        courses: Attempts by what is alike, the one practised last at the end.
        scripted: Attempts of scripted learners under this reference; they are in no curve.
        ratings: Ratings of all of them.
        signatures: What assessors signed.
        cusum: Parameters.
        learning: Parameters.
    """

    trainee: str
    courses: tuple[Course, ...]
    scripted: tuple[Attempt, ...]
    ratings: tuple[Rating, ...]
    signatures: tuple[Signature, ...]
    cusum: CusumLimits
    learning: LearningLimits

    @property
    def count(self) -> int:
        """Attempts of the learner, those of scripted ones left out."""
        return sum(len(course.attempts) for course in self.courses)

    @property
    def parameters(self) -> tuple[str, ...]:
        """The parameters of both curves, first in words."""
        c, l = self.cusum, self.learning  # noqa: E741 - two kinds of limits side by side
        return (
            f"p0 {c.p0:g}: to fail {rate_words(c.p0)} is good enough. "
            f"p1 {c.p1:g}: to fail {rate_words(c.p1)} is too often. Whoever teaches sets both.",
            f"CUSUM: p0 {c.p0:g}, p1 {c.p1:g}, alpha {c.alpha:g}, beta {c.beta:g}; s {c.s:.4f}, h0 {c.h0:.4f}, "
            f"h1 {c.h1:.4f} (Wald's sequential test); after a signal it begins anew at 0",
            f"LC-CUSUM: p0 {l.p0:g}, delta {l.delta:g}, h {l.h:g}; success {l.success:+.4f}, failure {l.failure:+.4f} "
            f"(Br J Surg 2008;95:925, with max instead of the printed min); after a signal it begins anew at 0",
        )


def progress_of(
    trainee: str,
    attempts: Sequence[Attempt],
    ratings: Sequence[Rating],
    signatures: Sequence[Signature],
    cusum: CusumLimits,
    learning: LearningLimits,
) -> Progress:
    """The course of one learner.

    Raises:
        UsageError: There are no attempts.
    """
    own = sorted((one for one in attempts if one.trainee == trainee), key=lambda one: one.practised_at)
    if not own:
        raise UsageError(f"there are no attempts of {trainee} (practise with --trainee {trainee} first)")
    groups: dict[Alike, list[Attempt]] = {}
    for one in own:
        if one.scored.scripted is None:
            groups.setdefault(_alike(one), []).append(one)
    courses = [
        Course(alike, tuple(group), cusum, learning, cusum.path(passed), learning.path(passed))
        for alike, group in groups.items()
        for passed in [[one.passed for one in group]]
    ]
    seqs = {one.seq for one in own}
    return Progress(
        trainee,
        tuple(sorted(courses, key=lambda course: course.attempts[-1].practised_at)),
        tuple(one for one in own if one.scored.scripted is not None),
        tuple(one for one in ratings if one.attempt in seqs),
        tuple(one for one in signatures if one.trainee == trainee),
        cusum,
        learning,
    )


def _alike(attempt: Attempt) -> Alike:
    scored = attempt.scored
    return Alike(scored.family or scored.scenario, scored.difficulty or "", scored.setting, scored.table)


def progress_lines(progress: Progress) -> Iterator[str]:
    """The course as text."""
    yield f"{progress.trainee}: {progress.count} attempts"
    for course in progress.courses:
        yield f"{course.alike.words}: {len(course.attempts)} attempts"
        figures = zip(course.attempts, course.sums.sums, course.scores.sums, strict=True)
        for number, (one, total, score) in enumerate(figures, start=1):
            yield f"  {number:3d}  {_outcome(one)}  CUSUM {total:+.2f}  LC-CUSUM {score:.2f}"
            yield from _rated(progress, one)
        yield from (f"  {line}" for line in course.statements)
    if progress.scripted:
        yield f"Scripted learners under this reference, in no curve: {len(progress.scripted)} attempts"
        for one in progress.scripted:
            yield f"       {_outcome(one)}, scripted {one.scored.scripted} learner"
            yield from _rated(progress, one)
    yield from progress.parameters
    if not progress.signatures:
        yield "No assessor has signed. Curves and points decide nothing."
    for signed in progress.signatures:
        good = "" if signed.good else "  SIGNATURE DOES NOT FIT"
        judged = signed.outcome.value.replace("_", " ")
        yield f"{signed.at[:10]}: {judged}, signed by {signed.assessor}, {signed.role}, after {signed.attempts}{good}"


def _outcome(one: Attempt) -> str:
    scored = one.scored
    why = f" ({', '.join(sorted(set(scored.rules)))})" if scored.rules else ""
    outcome = "pass" if one.passed else "fail"
    return f"{one.practised_at[:10]}  {scored.scenario} {scored.version}: {outcome}, {scored.percent:g} %{why}"


def _rated(progress: Progress, one: Attempt) -> Iterator[str]:
    for rating in progress.ratings:
        if rating.attempt == one.seq:
            judged = "passed" if rating.marks.passed else "failed"
            yield f"       rated by {rating.rater}: {rating.marks.total} of 35, {judged}"


def progress_csv(courses: Sequence[Progress]) -> str:
    """Attempts with their ratings as CSV (RFC 4180); a line for each rating, or one without."""
    out = io.StringIO()
    table = csv.DictWriter(out, COLUMNS, lineterminator="\r\n")
    table.writeheader()
    for progress in courses:
        for one, total, score in _figures(progress):
            row: dict[str, object] = one.scored.model_dump(include=set(COLUMNS))
            row |= {
                "attempt": one.seq,
                "at": one.at,
                "practised_at": one.practised_at,
                "percent": f"{one.scored.percent:g}",
                "rules": " ".join(one.scored.rules),
                "cusum": "" if total is None else f"{total:.4f}",
                "lc_cusum": "" if score is None else f"{score:.4f}",
            }
            rated = [rating for rating in progress.ratings if rating.attempt == one.seq]
            for rating in rated:
                marks = rating.marks
                judged = {"rater": rating.rater, "judgement": "passed" if marks.passed else "failed"}
                table.writerow(row | judged | {"total": marks.total, **marks.items})
            if not rated:
                table.writerow(row)
    return out.getvalue()


def _figures(progress: Progress) -> Iterator[tuple[Attempt, float | None, float | None]]:
    """Every attempt with its figures, course by course; scripted ones have none."""
    for course in progress.courses:
        yield from zip(course.attempts, course.sums.sums, course.scores.sums, strict=True)
    yield from ((one, None, None) for one in progress.scripted)

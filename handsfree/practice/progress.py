"""The progress of a learner over attempts, and the agreement of two raters. Pure. It shows; assessors judge."""

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from handsfree.errors import UsageError
from handsfree.practice.attempts import Attempt, Rating, Signature
from handsfree.practice.curve_drawing import Curve, CurveLimit, curve
from handsfree.practice.learning_curves import (
    CusumLimits,
    LearningLimits,
    RaterAgreement,
    Weights,
    agreement,
    crossings,
)
from handsfree.practice.rating import ITEMS, MARKS

FEW = 20
"""Below so many attempts a curve says little, and that is said. Common practice, no source."""
COLUMNS = (
    *("attempt", "at", "trainee", "scenario", "version", "procedure", "record_id", "scripted", "table"),
    *("passed", "points", "possible", "percent", "rules", "cusum", "lc_cusum", "rater", "judgement", "total", *ITEMS),
)


@dataclass(frozen=True, slots=True)
class Progress:
    """A learner's course.

    Attributes:
        trainee: Reference of the learner.
        attempts: Attempts, oldest first.
        ratings: Ratings of them.
        signatures: What assessors signed.
        cusum: Parameters.
        learning: Parameters.
        sums: CUSUM after each attempt.
        scores: LC-CUSUM after each attempt.
    """

    trainee: str
    attempts: tuple[Attempt, ...]
    ratings: tuple[Rating, ...]
    signatures: tuple[Signature, ...]
    cusum: CusumLimits
    learning: LearningLimits
    sums: tuple[float, ...]
    scores: tuple[float, ...]

    @property
    def passed(self) -> tuple[bool, ...]:
        """Whether each attempt passed."""
        return tuple(one.passed for one in self.attempts)

    @property
    def statements(self) -> tuple[str, ...]:
        """What the curves show, without a judgement of the person."""
        count = len(self.attempts)
        lines = [f"{sum(self.passed)} of {count} attempts passed."]
        for name, found in (
            ("CUSUM came to its lower line (failures as rare as p0)", crossings(self.sums, -self.cusum.h0)),
            ("CUSUM came to its upper line (failures as frequent as p1)", crossings(self.sums, self.cusum.h1)),
            ("LC-CUSUM came to its line", crossings(self.scores, self.learning.h)),
        ):
            when = ", ".join(map(str, found))
            lines.append(f"{name}: {f'at attempt {when}' if found else 'not so far'}.")
        worse = self.learning.p0 + self.learning.delta
        chance = self.learning.reached_by(worse, count) if count else 0.0
        lines.append(
            f"Somebody who fails {worse:.0%} of attempts comes to the LC-CUSUM line within {count} by chance "
            f"in {chance:.0%} of cases."
        )
        if count < FEW:
            lines.append(f"{count} attempts are few: the curves say little yet.")
        return tuple(lines)

    @property
    def parameters(self) -> tuple[str, ...]:
        """The parameters of both curves."""
        c, l = self.cusum, self.learning  # noqa: E741 - two kinds of limits side by side
        return (
            f"CUSUM: p0 {c.p0:g}, p1 {c.p1:g}, alpha {c.alpha:g}, beta {c.beta:g}; s {c.s:.4f}, h0 {c.h0:.4f}, "
            f"h1 {c.h1:.4f} (Wald's sequential test)",
            f"LC-CUSUM: p0 {l.p0:g}, delta {l.delta:g}, h {l.h:g}; success {l.success:+.4f}, failure {l.failure:+.4f} "
            f"(Br J Surg 2008;95:925, with max instead of the printed min)",
        )

    @property
    def curves(self) -> tuple[Curve, Curve]:
        """Both curves as drawings."""
        c = self.cusum
        return (
            curve(
                "CUSUM of failures",
                self.statements[1] + " " + self.statements[2],
                self.sums,
                self.passed,
                (CurveLimit(-c.h0, "lower line, -h0"), CurveLimit(c.h1, "upper line, +h1")),
            ),
            curve("LC-CUSUM", self.statements[3], self.scores, self.passed, (CurveLimit(self.learning.h, "line, h"),)),
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
    own = tuple(one for one in attempts if one.trainee == trainee)
    if not own:
        raise UsageError(f"there are no attempts of {trainee} (practise with --trainee {trainee} first)")
    seqs = {one.seq for one in own}
    passed = [one.passed for one in own]
    return Progress(
        trainee,
        own,
        tuple(one for one in ratings if one.attempt in seqs),
        tuple(one for one in signatures if one.trainee == trainee),
        cusum,
        learning,
        cusum.path(passed),
        learning.path(passed),
    )


def progress_lines(progress: Progress) -> Iterator[str]:
    """The course as text."""
    yield f"{progress.trainee}: {len(progress.attempts)} attempts"
    for number, (one, total, score) in enumerate(
        zip(progress.attempts, progress.sums, progress.scores, strict=True), start=1
    ):
        scored = one.scored
        why = f" ({', '.join(sorted(set(scored.rules)))})" if scored.rules else ""
        yield (
            f"  {number:3d}  {one.at[:10]}  {scored.scenario}: {'pass' if one.passed else 'fail'}, "
            f"{scored.percent:g} %{why}  CUSUM {total:+.2f}  LC-CUSUM {score:.2f}"
        )
        for rating in progress.ratings:
            if rating.attempt == one.seq:
                judged = "passed" if rating.marks.passed else "failed"
                yield f"       rated by {rating.rater}: {rating.marks.total} of 35, {judged}"
    yield from progress.statements
    yield from progress.parameters
    if not progress.signatures:
        yield "No assessor has signed. Curves and points decide nothing."
    for signed in progress.signatures:
        good = "" if signed.good else "  SIGNATURE DOES NOT FIT"
        judged = signed.outcome.value.replace("_", " ")
        yield f"{signed.at[:10]}: {judged}, signed by {signed.assessor}, {signed.role}, after {signed.attempts}{good}"


def progress_csv(courses: Sequence[Progress]) -> str:
    """Attempts with their ratings as CSV (RFC 4180); a line for each rating, or one without."""
    out = io.StringIO()
    table = csv.DictWriter(out, COLUMNS, lineterminator="\r\n")
    table.writeheader()
    for progress in courses:
        for one, total, score in zip(progress.attempts, progress.sums, progress.scores, strict=True):
            row: dict[str, object] = one.scored.model_dump(include=set(COLUMNS))
            row |= {
                "attempt": one.seq,
                "at": one.at,
                "percent": f"{one.scored.percent:g}",
                "rules": " ".join(one.scored.rules),
                "cusum": f"{total:.4f}",
                "lc_cusum": f"{score:.4f}",
            }
            rated = [rating for rating in progress.ratings if rating.attempt == one.seq]
            for rating in rated:
                marks = rating.marks
                judged = {"rater": rating.rater, "judgement": "passed" if marks.passed else "failed"}
                table.writerow(row | judged | {"total": marks.total, **marks.items})
            if not rated:
                table.writerow(row)
    return out.getvalue()


@dataclass(frozen=True, slots=True)
class RaterComparison:
    """Agreement of two raters on one thing.

    Attributes:
        what: An item of the form, "all items", or "judgement".
        weights: How far apart two ratings count.
        found: The agreement.
    """

    what: str
    weights: Weights
    found: RaterAgreement


def compare_raters(ratings: Sequence[Rating], first: str, second: str, weights: Weights) -> tuple[RaterComparison, ...]:
    """Agreement of two raters on the attempts that both rated.

    Args:
        ratings: All ratings.
        first: A rater.
        second: Another.
        weights: For marks from 1 to 5; the judgement has none.

    Raises:
        UsageError: They rated nothing together.
    """
    by_rater = {
        rater: {one.attempt: one.marks for one in ratings if one.rater == rater}
        for rater in dict.fromkeys((first, second))
    }
    if len(by_rater) < 2:
        raise UsageError("agreement needs two raters; both are the same")
    both = sorted(set(by_rater[first]) & set(by_rater[second]))
    if not both:
        raise UsageError(f"{first} and {second} have rated no attempt together")
    one, other = ([by_rater[rater][attempt] for attempt in both] for rater in (first, second))
    compared = [
        RaterComparison(
            item, weights, agreement([m.items[item] for m in one], [m.items[item] for m in other], MARKS, weights)
        )
        for item in ITEMS
    ]
    pooled = [[marks.items[item] for marks in side for item in ITEMS] for side in (one, other)]
    compared.append(RaterComparison("all items", weights, agreement(pooled[0], pooled[1], MARKS, weights)))
    judged = [[int(marks.passed) for marks in side] for side in (one, other)]
    compared.append(RaterComparison("judgement", Weights.NONE, agreement(judged[0], judged[1], (0, 1))))
    return tuple(compared)

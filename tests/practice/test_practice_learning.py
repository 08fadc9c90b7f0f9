"""Learning curves and agreement against published and worked values, and an independent library."""

from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sklearn.metrics import cohen_kappa_score

from handsfree.errors import UsageError
from handsfree.practice.agreement_intervals import kappa_interval
from handsfree.practice.learning_curves import CusumLimits, LearningLimits, Signal, Weights, agreement
from handsfree.practice.shares import Share, rate_words, wilson

RATINGS = (1, 2, 3, 4, 5)


@pytest.mark.parametrize(
    ("limits", "s", "h0", "h1"),
    [
        # p0, p1, alpha, beta: .10/.20 and .04/.08 are published operator limits (PMC6470078, figure 3), 5 and 10 per
        # cent are published too; the figures were worked by hand from Wald's formulas.
        ((0.10, 0.20, 0.10, 0.10), 0.1452443543242726, 2.709511291351455, 2.709511291351455),
        ((0.05, 0.10, 0.10, 0.10), 0.07235837684317108, 2.9405543736233604, 2.9405543736233604),
        ((0.04, 0.08, 0.10, 0.10), 0.05784860858873228, 2.98654925077824, 2.98654925077824),
        ((0.10, 0.20, 0.05, 0.20), 0.1452443543242726, 1.921428733185704, 3.4190225827029095),
        ((0.10, 0.30, 0.05, 0.20), 0.1861689417103357, 1.15424385522803, 2.0538809162219853),
    ],
)
def test_limits_of_the_cumulative_sum(limits, s, h0, h1):
    cusum = CusumLimits(*limits)
    assert (cusum.s, cusum.h0, cusum.h1) == pytest.approx((s, h0, h1), rel=1e-12)


def test_the_worked_run_of_ten():
    # S S F S S S S S S S, worked by hand for p0 .10, p1 .20, alpha and beta .10.
    passed = [True, True, False, *[True] * 7]
    expected = [-0.145, -0.290, 0.564, 0.419, 0.274, 0.129, -0.017, -0.162, -0.307, -0.452]
    assert CusumLimits().path(passed).sums == pytest.approx(expected, abs=6e-4)


def test_19_successes_reach_the_lower_line_and_4_failures_the_upper_and_it_begins_anew():
    # Worked by hand for p0 .10, p1 .20, alpha and beta .10: 2.7095 / 0.1452 = 18.7, and 2.7095 / 0.8548 = 3.2. After
    # a signal the sum begins anew at 0 (Page, Biometrika 1954;41:100: the test is begun again).
    cusum = CusumLimits()
    assert cusum.path([True] * 40).signals == (Signal(19, upper=False), Signal(38, upper=False))
    assert cusum.path([False] * 10).at(upper=True) == (4, 8)
    assert cusum.path([True] * 20).sums[19] == pytest.approx(-cusum.s)
    # One failure after the signal does not stand on the good run before it: 3 more then reach the upper line.
    assert cusum.path([True] * 19 + [False] * 4).signals == (Signal(19, upper=False), Signal(23, upper=True))


@pytest.mark.parametrize(("failures", "attempts", "rounded"), [(0, 19, 19), (1, 26, 25), (2, 33, 32)])
def test_attempts_until_the_lower_line_are_those_of_published_courses(failures, attempts, rounded):
    # Operators reached it at p0 .10, p1 .20 after a median of 33 procedures (PMC6470078, figure 3): two failures.
    # Trainees after 25 to 32 (Clin Teach 2010;7:257): one and two failures where s is rounded to .15 and h to 2.71, as
    # such papers print them; that they did is this test's own reading.
    cusum = CusumLimits()
    assert cusum.path([False] * failures + [True] * 40).at(upper=False)[0] == attempts
    total, count = 0.85 * failures, failures
    while total > -2.71:
        total, count = total - 0.15, count + 1
    assert count == rounded


@given(st.lists(st.booleans(), max_size=60))
def test_the_sum_is_the_likelihood_ratio_of_wald(passed):
    # Independent of the stepwise form: log likelihood ratio of p1 against p0, in units of P + Q (Wald 1947).
    cusum = CusumLimits(0.08, 0.21, 1e-9, 1e-9)  # lines so far out that it never begins anew
    failures, successes = passed.count(False), passed.count(True)
    ratio = failures * log(0.21 / 0.08) + successes * log((1 - 0.21) / (1 - 0.08))
    unit = log(0.21 / 0.08) + log((1 - 0.08) / (1 - 0.21))
    last = cusum.path(passed).sums[-1] if passed else 0.0
    assert last == pytest.approx(ratio / unit, abs=1e-9)


@pytest.mark.parametrize(
    ("p0", "delta", "success", "failure"),
    [(0.40, 0.15, 0.2877, -0.3185), (0.10, 0.10, 0.1178, -0.6931)],  # worked by hand from Br J Surg 2008;95:925
)
def test_steps_of_the_learning_curve(p0, delta, success, failure):
    limits = LearningLimits(p0, delta)
    assert limits.success == pytest.approx(success, abs=5e-5)
    assert limits.failure == pytest.approx(failure, abs=5e-5)


def test_the_learning_curve_rises_with_success_and_never_falls_below_zero():
    limits = LearningLimits()
    assert limits.path([False, False]).sums == (0.0, 0.0)
    assert limits.path([True, True]).sums == pytest.approx((limits.success, 2 * limits.success))
    # 1.25 / 0.1178 = 10.6: the eleventh success in a row, and eleven more after it began anew.
    assert limits.path([True] * 25).at(upper=True) == (11, 22)


@pytest.mark.parametrize("rate", [0.1, 0.2, 0.35])
def test_the_chance_to_reach_the_line_matches_simulated_learners(rate):
    # Independent of the exact sum: 4000 simulated learners; three standard errors of a share are at most 0.024.
    from random import Random

    limits, chance, n = LearningLimits(), Random(7), 4000
    reached = sum(bool(limits.path([chance.random() >= rate for _ in range(25)]).signals) for _ in range(n))
    assert limits.reached_by(rate, 25) == pytest.approx(reached / n, abs=0.024)


@pytest.mark.parametrize(
    ("figures", "part"),
    [
        ((0.2, 0.1, 0.1, 0.1), "0 < p0 < p1 < 1"),
        ((0.0, 0.1, 0.1, 0.1), "0 < p0 < p1 < 1"),
        ((0.1, 0.2, 0.6, 0.1), "alpha is 0.6"),
        ((0.1, 0.2, 0.1, 0.0), "beta is 0.0"),
    ],
)
def test_impossible_limits_are_refused(figures, part):
    with pytest.raises(UsageError, match=part):
        CusumLimits(*figures)


@pytest.mark.parametrize(("figures", "part"), [((0.5, 0.5, 1.0), "p0 \\+ delta < 1"), ((0.1, 0.1, 0.0), "h is 0")])
def test_impossible_learning_limits_are_refused(figures, part):
    with pytest.raises(UsageError, match=part):
        LearningLimits(*figures)


def _pairs(table):
    pairs = [(a, b) for a, row in enumerate(table) for b, count in enumerate(row) for _ in range(count)]
    return [a for a, _ in pairs], [b for _, b in pairs]


@pytest.mark.parametrize(
    ("table", "observed", "expected", "kappa", "band"),
    [
        # Textbook tables, worked by hand from Cohen 1960; bands of Landis and Koch 1977.
        ([[20, 5], [10, 15]], 0.70, 0.50, 0.40, "fair"),
        ([[45, 15], [25, 15]], 0.60, 0.54, 0.130, "slight"),
        ([[25, 35], [5, 35]], 0.60, 0.46, 0.259, "fair"),
    ],
)
def test_kappa_of_worked_tables(table, observed, expected, kappa, band):
    found = agreement(*_pairs(table), categories=(0, 1))
    assert (found.observed, found.expected) == pytest.approx((observed, expected))
    assert found.kappa == pytest.approx(kappa, abs=5e-4)
    assert found.band == band


def test_kappa_of_the_sample_in_the_scikit_learn_manual():
    # "negative, positive, negative, neutral, positive" against "…, positive, …, neutral, negative": 0.6875.
    first, second = [0, 2, 0, 1, 2], [0, 2, 0, 1, 0]
    assert agreement(first, second, (0, 1, 2)).kappa == pytest.approx(0.6875)


@given(st.lists(st.tuples(st.sampled_from(RATINGS), st.sampled_from(RATINGS)), min_size=2, max_size=40))
def test_weighted_kappa_matches_scikit_learn(pairs):
    # Independent library: sklearn.metrics.cohen_kappa_score.
    first, second = [a for a, _ in pairs], [b for _, b in pairs]
    for weights, name in ((Weights.NONE, None), (Weights.LINEAR, "linear"), (Weights.QUADRATIC, "quadratic")):
        found = agreement(first, second, RATINGS, weights)
        if found.kappa is not None:
            assert found.kappa == pytest.approx(
                cohen_kappa_score(first, second, labels=list(RATINGS), weights=name), abs=1e-9
            )


def test_kappa_is_not_defined_where_chance_agrees_wholly():
    # Both raters always say the same: p_e = 1, so there is no kappa (Cohen 1960: division by 1 - p_e).
    found = agreement([4, 4, 4], [4, 4, 4], RATINGS, Weights.QUADRATIC)
    assert found.kappa is None
    assert found.band == "n/a"


@pytest.mark.parametrize(
    ("first", "second", "part"), [([], [], "0 and 0"), ([1], [1, 2], "1 and 2"), ([6], [1], "6 is no rating")]
)
def test_ratings_that_do_not_pair_are_refused(first, second, part):
    with pytest.raises(UsageError, match=part):
        agreement(first, second, RATINGS)


@pytest.mark.parametrize(
    ("count", "n", "low", "high"),
    [
        # Newcombe, Stat Med 1998;17:857, table I, method 3 (score interval without continuity correction), from memory.
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_intervals_of_shares_are_those_of_the_published_examples(count, n, low, high):
    assert wilson(count, n) == pytest.approx((low, high), abs=5e-5)


@given(st.integers(0, 60), st.integers(1, 60))
def test_intervals_of_shares_match_scipy(count, n):
    # Independent library: scipy.stats.binomtest(...).proportion_ci(method="wilson"); scipy comes with scikit-learn.
    from scipy.stats import binomtest

    count = min(count, n)
    found = binomtest(count, n).proportion_ci(method="wilson")
    assert wilson(count, n) == pytest.approx((found.low, found.high), abs=1e-6)


def test_a_share_says_its_interval_and_a_rate_is_said_as_people_do():
    assert Share(9, 10).words == "9 of 10 (95 % interval 60% to 98%, Wilson)"
    assert [rate_words(rate) for rate in (0.1, 0.2, 0.04, 0.15)] == [
        *("1 attempt in 10", "1 attempt in 5", "1 attempt in 25", "15 attempts in 100")
    ]


def test_kappa_of_the_example_that_cohen_published():
    # Cohen, Educ Psychol Meas 1960;20:37, table 1, from memory: p_o .70, p_e .41, kappa .492, of 200 cases.
    found = agreement(*_pairs([[88, 10, 2], [14, 40, 6], [18, 10, 12]]), categories=(0, 1, 2))
    assert (found.count, found.observed, found.expected) == (200, pytest.approx(0.70), pytest.approx(0.41))
    assert found.kappa == pytest.approx(0.492, abs=5e-4)


def test_kappa_of_the_example_in_fleiss():
    # Fleiss, Levin and Paik, Statistical Methods for Rates and Proportions, 3rd ed., chapter 18, from memory: .75 .01
    # .04 / .05 .04 .01 / 0 0 .10 of 100 cases: p_o .89, p_e .66, kappa .68.
    found = agreement(*_pairs([[75, 1, 4], [5, 4, 1], [0, 0, 10]]), categories=(0, 1, 2))
    assert (found.observed, found.expected) == (pytest.approx(0.89), pytest.approx(0.66))
    assert found.kappa == pytest.approx(0.68, abs=5e-3)


def test_the_interval_of_kappa_agrees_with_a_published_one():
    # The R package statpsych, ci.kappa(.05, 31, 12, 4, 58), by Fleiss and Paik 2003: kappa 0.6756757, standard error
    # 0.0734, interval 0.5317 to 0.8196. With one pair an attempt the resampled interval is near it; 1000 draws leave
    # about 0.01 of chance at each end.
    first, second = _pairs([[31, 12], [4, 58]])
    attempts = [[pair] for pair in zip(first, second, strict=True)]
    found = kappa_interval(attempts, (0, 1))
    assert agreement(first, second, (0, 1)).kappa == pytest.approx(0.6756757, abs=1e-7)
    assert (found.low, found.high) == pytest.approx((0.5317, 0.8196), abs=0.025)
    assert found.undefined == 0.0


def test_the_interval_matches_one_by_scikit_learn_on_the_same_draws():
    # Independent: the same resamples, kappa by sklearn.metrics.cohen_kappa_score and the quantile by numpy.
    import numpy as np

    chance = np.random.default_rng(4)
    attempts = [[(int(a), int(b)) for a, b in chance.integers(1, 6, (7, 2))] for _ in range(9)]
    found = kappa_interval(attempts, RATINGS, Weights.QUADRATIC, resamples=60, seed=3)
    from random import Random

    draws = Random(3)
    kappas = []
    for _ in range(60):
        pairs = [pair for attempt in draws.choices(attempts, k=9) for pair in attempt]
        first, second = zip(*pairs, strict=True)
        kappas.append(cohen_kappa_score(first, second, labels=list(RATINGS), weights="quadratic"))
    assert (found.low, found.high) == pytest.approx(tuple(np.quantile(kappas, [0.025, 0.975])), abs=1e-9)


def test_marks_of_one_attempt_are_drawn_together_so_the_interval_is_wider():
    # Seven marks that are all the same say no more than one: drawn one by one they would look like seven times as much
    # (Field and Welsh, J R Stat Soc B 2007;69:369).
    first, second = _pairs([[6, 3], [2, 7]])
    clustered = [[pair] * 7 for pair in zip(first, second, strict=True)]
    apart = [[pair] for attempt in clustered for pair in attempt]
    whole, single = kappa_interval(clustered, (0, 1), resamples=300), kappa_interval(apart, (0, 1), resamples=300)
    assert whole.high - whole.low > 2 * (single.high - single.low)


def test_one_attempt_has_no_interval():
    assert kappa_interval([[(1, 1), (2, 3)]], RATINGS) is None

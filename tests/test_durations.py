"""Durations seen between looks: closed forms, brute force, other programs, and the coverage of the limits."""

import numpy as np
import pytest
from lifelines import LogLogisticFitter, LogNormalFitter, WeibullFitter
from scipy.integrate import quad
from scipy.optimize import minimize
from scipy.stats import norm, t

from hilum.stats import lateness
from hilum.stats.durations import Spans, each_family, fit, limits, since_start, threshold
from hilum.stats.lateness import chance_beyond

LEVELS = np.array([0.05, 0.5, 0.95])


def _between(days, step, end=np.inf):
    """Return the looks around each day; what lies after the end is not seen."""
    before, after = np.floor(days / step) * step, np.ceil(days / step) * step
    return np.minimum(before, end), np.where(after > end, np.inf, after)


def _spans(n, seed, *, step=3.0, end=np.inf, median=14.0, sd=0.35):
    rng = np.random.default_rng(seed)
    began = rng.lognormal(np.log(8), 0.2, n)
    ended = began + rng.lognormal(np.log(median), sd, n)
    return Spans(*_between(began, step), *_between(ended, step, end))


def _by_name(spans):
    return {f.family.name: f for f in each_family(spans)}


# --- the maximum


def test_fits_from_one_start_are_those_of_another_program():
    rng = np.random.default_rng(2)
    left, right = _between(rng.lognormal(np.log(20), 0.4, 60), 4.0, end=32.0)
    found = _by_name(since_start(left, right))
    # lifelines wants no 0: a time before the first look is as good as 1e-9
    ends = np.maximum(left, 1e-9), right
    normal = LogNormalFitter().fit_interval_censoring(*ends)
    assert found["log_normal"].log_median == pytest.approx(normal.mu_, abs=2e-4)
    assert np.exp(found["log_normal"].log_sigma) == pytest.approx(normal.sigma_, abs=2e-4)
    assert found["log_normal"].loglik == pytest.approx(normal.log_likelihood_, abs=1e-4)
    logistic = LogLogisticFitter().fit_interval_censoring(*ends)
    assert found["log_logistic"].log_median == pytest.approx(np.log(logistic.alpha_), abs=2e-4)
    assert np.exp(-found["log_logistic"].log_sigma) == pytest.approx(logistic.beta_, rel=5e-4)
    weibull = WeibullFitter().fit_interval_censoring(*ends)
    assert np.exp(-found["weibull"].log_sigma) == pytest.approx(weibull.rho_, rel=5e-4)
    assert found["weibull"].quantile(0.5) == pytest.approx(weibull.median_survival_time_, rel=5e-4)


def test_a_beginning_between_two_looks_is_averaged_over():
    spans = _spans(12, 3, end=30.0)
    best = _by_name(spans)["log_normal"]

    def chance(row, m, s):
        low, high, from_, to = row

        def inside(at):
            ends = (np.log(np.maximum(x - at, 1e-12)) for x in (from_, to))
            return np.diff(norm.cdf([(x - m) / s for x in ends]))[0]

        return quad(inside, low, high)[0] / (high - low)

    rows = np.stack((spans.began_low, spans.began_high, spans.ended_low, spans.ended_high), axis=1)

    def badness(point):
        return -sum(np.log(chance(row, point[0], np.exp(point[1]))) for row in rows)

    top = minimize(badness, [2.5, -1.0], method="Nelder-Mead", options={"xatol": 1e-5})
    assert best.loglik == pytest.approx(-top.fun, abs=2e-3)
    assert best.log_median == pytest.approx(top.x[0], abs=2e-3)
    assert best.log_sigma == pytest.approx(top.x[1], abs=5e-3)


def test_where_all_end_between_the_same_looks_the_spread_cannot_be_seen():
    assert fit(since_start(np.full(12, 9.0), np.full(12, 12.0)))[0].steep
    assert not fit(_spans(12, 1))[0].steep


def test_the_shortest_and_the_longest_that_a_span_can_be():
    spans = Spans(
        *(
            np.array(x)
            for x in ([3.0, 3.0, 0.0], [6.0, 6.0, 3.0], [15.0, 3.0, 9.0], [18.0, 6.0, np.inf])
        )
    )
    assert spans.shortest.tolist() == [9.0, 0.0, 6.0]
    assert spans.longest.tolist() == [15.0, 3.0, np.inf]
    assert spans.ended.tolist() == [True, True, False]


# --- limits


def test_limits_of_a_mean_are_students_where_times_are_seen_well():
    # looks so close that times are known: then the limits of the median are those of a mean of logarithms
    rng = np.random.default_rng(5)
    log_days = rng.normal(3.0, 0.3, 12)
    spans = since_start(np.exp(log_days) - 1e-3, np.exp(log_days) + 1e-3)
    only = (_by_name(spans)["log_normal"],)
    low, high = limits(only, LEVELS[1:2], 0.95)
    reach = t.ppf(0.975, 11) * log_days.std(ddof=1) / np.sqrt(12)
    assert np.log(low[0]) == pytest.approx(log_days.mean() - reach, abs=2e-3)
    assert np.log(high[0]) == pytest.approx(log_days.mean() + reach, abs=2e-3)
    assert threshold(12, 0.95) == pytest.approx(12 * np.log1p(t.ppf(0.975, 11) ** 2 / 11))


def test_an_end_that_the_data_leave_open_is_nan():
    # one in ten ended within the looks: the time of 95 % may be centuries away
    left, right = np.full(30, 20.0), np.full(30, np.inf)
    left[:5], right[:5] = [0, 4, 8, 12, 16], [4, 8, 12, 16, 20]
    _, high = limits(fit(since_start(left, right)), LEVELS, 0.95)
    assert np.isnan(high[2])


def test_limits_hold_the_truth_as_often_as_they_say():
    true = np.exp(np.log(14) + 0.35 * norm.ppf(LEVELS))
    missed = np.zeros((2, 3))
    for seed in range(40):
        low, high = limits(fit(_spans(15, seed)), LEVELS, 0.95)
        missed += [true < low, true > high]
    # of 40 studies 2.5 % on a side is one; more than five are a chance of 1 in 1,000
    assert missed.max() <= 5


# --- one against the others


def test_a_span_is_judged_by_the_others_alone():
    rng = np.random.default_rng(4)
    days = np.sort(rng.lognormal(2.6, 0.3, 20))
    days[-1] = 70.0
    left, right = _between(days, 3.0)
    found = chance_beyond(since_start(left, right), np.arange(20), left)
    for i in (0, 10, 18, 19):
        rest = np.arange(20) != i
        # the others with a stranger that is left out again
        alone = chance_beyond(
            since_start(np.append(left[rest], left[i]), np.append(right[rest], np.inf)),
            np.array([19]),
            left[i : i + 1],
        )
        assert found[i] == pytest.approx(alone[0], rel=1e-4)
    assert found[-1] < 0.005 < 0.05 < found[-3]


def test_known_times_are_judged_as_students_forecast_does():
    rng = np.random.default_rng(6)
    log_days = rng.normal(3.0, 0.3, 25)
    spans = since_start(np.exp(log_days) - 1e-3, np.exp(log_days) + 1e-3)
    others = log_days[1:]
    # the maximum of the likelihood divides by n, the forecast by n − 1
    z = (4.0 - others.mean()) / others.std(ddof=0) / np.sqrt(1 + 1 / 24)
    found, _ = lateness._beyond(
        (_by_name(spans)["log_normal"],), np.array([0]), np.exp([4.0]), np.array([24])
    )
    assert found[0, 0] == pytest.approx(t.sf(z, 23), rel=0.02)


def test_too_few_others_say_nothing():
    left, right = _between(np.array([8.0, 9.0, 12.0, 13.0, 90.0]), 3.0)
    assert chance_beyond(since_start(left, right), np.array([4]), left[4:]).tolist() == [1.0]

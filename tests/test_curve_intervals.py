"""Intervals of the time course keep their word: coverage on simulated studies, with and without spread.

The simulator (tests/generator.py) shares no code with the package, and three scenarios break what the fits assume.
An interval is calibrated when it covers in at least 93 % less two Monte-Carlo errors.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy import stats

from hilum.stats import curve_intervals, germination_curve, proportions
from hilum.stats.families import LOG_LOGISTIC
from hilum.stats.interval_censored import Cells
from hilum.stats.spread import t_squared
from tests.generator import Dishes, counts

STUDIES = 300
FOUR = {"t50_h": (90.0, 120.0, 150.0, 200.0), "fraction": (0.9, 0.7, 0.85, 0.4)}
SPREAD = {"dish_sd_log_time": 0.1, "dish_sd_logit": 0.5}
SCENARIOS = {
    "no spread": Dishes(**FOUR),
    "spread": Dishes(**FOUR, **SPREAD),
    "strong spread": Dishes(**FOUR, dish_sd_log_time=0.2, dish_sd_logit=0.8),
    "pairs of 50, spread": Dishes(**FOUR, **SPREAD, dishes=2, seeds=50),
    "one curve, spread": Dishes(**SPREAD),
    # these break the model: other seeds, other dishes
    "log-normal seeds, heavy-tailed dishes": Dishes(
        **FOUR, **SPREAD, times="lognormal", heavy=True
    ),
    "dish spread differs by treatment": Dishes(**FOUR, **SPREAD, uneven=True),
    "two kinds of seed": Dishes(**FOUR, **SPREAD, times="two_kinds"),
}
LEAST = 0.93


class Simulated:
    """Studies of one scenario, fitted all at once."""

    def __init__(self, truth):
        self.truth, self.curves = truth, len(truth.t50_h)
        self.seen = counts(truth, studies=STUDIES, rng=np.random.default_rng(20))
        rows = self.seen.reshape(-1, self.seen.shape[-1]).astype(float)
        edges = np.array((0.0, *truth.inspections_h))
        tile = [np.tile(x, (len(rows), 1)) for x in (edges[:-1], edges[1:], edges[-1:])]
        cells = Cells(tile[0], tile[1], rows, tile[2], truth.seeds - rows.sum(1, keepdims=True))
        C = STUDIES * self.curves
        self.set = curve_intervals.Curves(
            cells,
            np.arange(len(rows)).reshape(C, truth.dishes),
            np.repeat(np.arange(STUDIES), self.curves),
        )
        self.fits = germination_curve.fit(self.set.pooled(), LOG_LOGISTIC)
        self.dishes = curve_intervals.dish_spread(
            self.set, self.fits, LOG_LOGISTIC, correlation_when_unknown=0.05
        )
        self.args = (self.set, self.fits, self.dishes, LOG_LOGISTIC)

    def truths(self, per_curve):
        """Return one value a curve for every study."""
        return np.tile(per_curve, STUDIES)

    def true_time(self, part):
        """Return the time by which a part of the germinable seeds germinated, of the average dish."""
        z = np.linspace(-4, 4, 80001)
        if self.truth.times == "lognormal":
            F = stats.norm.cdf(z)
        else:
            F = stats.logistic.cdf(z * np.pi / np.sqrt(3))
        if self.truth.times == "two_kinds":
            shift = np.log(self.truth.late) / self.truth.sd_log
            F = 0.75 * F + 0.25 * stats.logistic.cdf((z - shift) * np.pi / np.sqrt(3))
        return self.truths(self.truth.t50_h) * np.exp(self.truth.sd_log * np.interp(part, F, z))


@cache
def simulated(name):
    return Simulated(SCENARIOS[name])


def check(low, high, truth, *, least_closed=0.9):
    """Assert that intervals are mostly closed and cover; an open end covers, it is printed as such."""
    low, high = np.where(np.isnan(low), -np.inf, low), np.where(np.isnan(high), np.inf, high)
    assert (np.isfinite(low) & np.isfinite(high)).mean() >= least_closed
    covered = ((low <= truth) & (truth <= high)).mean()
    error = np.sqrt(LEAST * (1 - LEAST) / len(low))
    assert covered >= LEAST - 2 * error, f"covers in {100 * covered:.1f} %"


@pytest.mark.parametrize("part", [0.1, 0.5, 0.9])
@pytest.mark.parametrize("name", SCENARIOS)
def test_times(name, part):
    studies = simulated(name)
    found = curve_intervals.quantile_limits(*studies.args, part, confidence=0.95)
    assert studies.fits.fitted.all()
    check(found.low, found.high, studies.true_time(part))


def test_one_pair_of_dishes():
    """Two dishes of 25 alone: where they differ, one degree of freedom leaves an end open."""
    studies = Simulated(Dishes(**SPREAD, dishes=2))
    found = curve_intervals.quantile_limits(*studies.args, 0.5, confidence=0.95)
    check(found.low, found.high, studies.true_time(0.5), least_closed=0.5)


@pytest.mark.parametrize("name", SCENARIOS)
def test_germinable_fraction(name):
    studies = simulated(name)
    found = curve_intervals.fraction_limits(*studies.args, confidence=0.95)
    check(found.low, found.high, studies.truths(studies.truth.fraction))


@pytest.mark.parametrize("name", [n for n in SCENARIOS if n.endswith("spread")])
def test_slope(name):
    """The slope of all seeds of a treatment: dishes apart from each other make the joint curve flatter."""
    studies = simulated(name)
    found = curve_intervals.slope_limits(*studies.args, confidence=0.95)
    together = np.hypot(studies.truth.sd_log, studies.truth.dish_sd_log_time)
    check(found.low, found.high, np.pi / np.sqrt(3) / together)


@pytest.mark.parametrize("name", ["no spread", "spread", "one curve, spread"])
def test_band(name):
    studies = simulated(name)
    hours = np.array([72.0, 96, 120, 168, 240, 480])
    tile = np.tile(hours, (len(studies.fits.fraction), 1))
    found = curve_intervals.band(studies.fits, studies.dishes, LOG_LOGISTIC, tile, confidence=0.95)
    z = (np.log(tile) - np.log(studies.truths(studies.truth.t50_h))[:, None]) / studies.truth.sd_log
    truth = studies.truths(studies.truth.fraction)[:, None] * stats.logistic.cdf(
        z * np.pi / np.sqrt(3)
    )
    for k in range(len(hours)):
        check(found.low[:, k], found.high[:, k], truth[:, k])


def _final(studies):
    shape = (STUDIES, studies.curves, studies.truth.dishes)
    hits = studies.seen.sum(-1).astype(float)
    groups = proportions.Groups(hits, np.full(shape, float(studies.truth.seeds)))
    made = proportions.spread(groups, proportions.correlation(groups, unknown=0.05))
    limits = proportions.wilson(hits.sum(-1), groups.total, made.threshold(0.95))
    many = Dishes(**{**vars(studies.truth), "dishes": 20000})
    truth = counts(many, studies=1, rng=np.random.default_rng(21)).sum(-1).mean(-1)
    return groups.fraction, limits, truth[0] / studies.truth.seeds


@pytest.mark.parametrize("name", SCENARIOS)
def test_final_germination_and_differences(name):
    fraction, (low, high), truth = _final(simulated(name))
    check(low.ravel(), high.ravel(), np.tile(truth, STUDIES))
    for one, other in ((0, 1), (0, 3)) if fraction.shape[1] > 1 else ():
        pick = [(x[:, one], x[:, other]) for x in (fraction, low, high)]
        _, down, up = proportions.difference(*pick)
        check(down, up, truth[one] - truth[other])


@pytest.mark.parametrize("name", [n for n, t in SCENARIOS.items() if len(t.t50_h) > 1])
def test_ratios_of_times(name):
    studies = simulated(name)
    t50 = curve_intervals.quantile_limits(*studies.args, 0.5, confidence=0.95)
    logs = [
        x.reshape(STUDIES, -1) for x in (studies.fits.log_t50, np.log(t50.low), np.log(t50.high))
    ]
    _, down, up = proportions.difference(*((x[:, 0], x[:, 2]) for x in logs))
    check(down, up, np.log(studies.truth.t50_h[0] / studies.truth.t50_h[2]))


@pytest.mark.parametrize("name", ["no spread", "spread", "one curve, spread"])
def test_dish_means_of_an_index(name):
    """The mean germination time of a dish, its t interval: the truth is the mean of very many dishes."""
    studies = simulated(name)

    def mean_time(seen):
        return (seen * np.array(studies.truth.inspections_h)).sum(-1) / seen.sum(-1)

    many = Dishes(**{**vars(studies.truth), "dishes": 20000})
    seen = counts(many, studies=1, rng=np.random.default_rng(22))[0]
    truth = np.array([mean_time(dishes[dishes.sum(-1) > 0]).mean() for dishes in seen])
    values = mean_time(studies.seen).reshape(-1, studies.truth.dishes)
    n = values.shape[1]
    half = values.std(1, ddof=1) / np.sqrt(n) * np.sqrt(t_squared(np.array(n - 1.0), 0.95))
    check(values.mean(1) - half, values.mean(1) + half, np.tile(truth, STUDIES))


def test_components_are_recovered_from_dishes():
    found = simulated("spread").dishes.components.variance
    np.testing.assert_allclose(np.sqrt(found.mean(0)), [0.1, 0.5], rtol=0.12)


def test_the_profile_at_the_plain_threshold_is_the_likelihoods_own():
    """With no spread at all the limits are where −2 log ratio is scale·t² of the fit, put back by hand."""
    studies = simulated("one curve, spread")
    found = curve_intervals.quantile_limits(*studies.args, 0.5, confidence=0.95)
    pooled = studies.set.pooled()
    held = germination_curve.Held(np.zeros(STUDIES), (False, True))
    for ends in (found.low, found.high):
        begin = np.stack((np.log(ends), studies.fits.log_sigma), axis=-1)
        _, terms = germination_curve.climb(
            germination_curve.pack(pooled), begin, LOG_LOGISTIC, held
        )
        rise = 2 * (studies.fits.loglik - terms.loglik)
        np.testing.assert_allclose(rise, found.threshold.value, rtol=1e-4)


def test_dishes_with_different_inspections_are_pooled_alike():
    """Two dishes inspected on other days, pooled by the slow way, against one row for each cell."""
    studies = simulated("spread")
    some = studies.set.cells.take(np.arange(4))
    odd = Cells(
        some.start_h,
        some.end_h,
        some.count,
        some.censor_h + np.array([[0.0], [1], [0], [1]]),
        some.censored,
    )
    curves = curve_intervals.Curves(odd, np.array([[0, 1, 2, 3]]), np.zeros(1, dtype=int))
    pooled = curves.pooled()
    assert pooled.seeds[0] == 100
    assert set(pooled.censor_h[0]) == {504.0, 505.0}
    assert germination_curve.fit(pooled, LOG_LOGISTIC).loglik[0] == pytest.approx(
        studies.fits.loglik[0], rel=1e-3
    )

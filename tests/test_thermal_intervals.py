"""Intervals of the base of many refits: the same as one by one, and open where the data are."""

import numpy as np
import pytest

from hilum.stats import cardinal, profile, response, thermal, thermal_intervals, thermal_replicates
from hilum.stats.families import LOG_LOGISTIC
from tests import warmth

TEMPERATURES = (10, 12.5, 15, 20, 25, 30)
THRESHOLD = 3.841458820694124  # of chi-squared with one degree of freedom, at 95 %; scipy.stats.chi2.ppf(0.95, 1)


def _drawn(number, **truth):
    rng = np.random.default_rng(3)
    studies = warmth.studies(TEMPERATURES, rng=rng, number=number, **truth)
    pools = [thermal.pooled(study) for study in studies]
    peak = cardinal.fitted(LOG_LOGISTIC, "linear", pools[0], thermal.one_for_all(pools[0]))
    counts = (np.array([getattr(p.cells, part) for p in pools]) for part in ("count", "censored"))
    return peak, pools, *counts


def _limits(peak, series, count, censored, threshold=THRESHOLD):
    refits = thermal_replicates.refit(peak, series, count, censored)
    each = np.full(len(count), threshold)
    return refits, *thermal_intervals.base_limits(peak, series, refits, count, censored, each)


def _one_by_one(series):
    peak = cardinal.fitted(LOG_LOGISTIC, "linear", series, thermal.one_for_all(series))
    held, curve, rise = cardinal.profile(peak, series), peak.model.response, peak.parameters[1]
    coolest = cardinal.sprouting_temperatures(series)[0]
    edge = np.array([0.0, response.rise_at_base(curve, coolest - 0.01)])
    found = profile.limit(
        lambda x: held(x, 1)[0],
        np.full(2, rise),
        np.array([-0.01, 0.01]),
        np.full(2, THRESHOLD),
        edge=edge,
    )
    return curve.anchor - 1 / found


@pytest.mark.parametrize(
    "truth",
    [{}, {"fraction": 1.0}, {"dishes": 1, "seeds": 5}],
    ids=["usual", "all germinable", "five seeds"],
)
def test_limits_are_those_of_single_profiles(truth):
    peak, pools, count, censored = _drawn(8, **truth)
    _, low, high = _limits(peak, pools[0], count, censored)
    for i, pool in enumerate(pools):
        np.testing.assert_allclose((low[i], high[i]), _one_by_one(pool), atol=1e-4)


def test_a_wider_threshold_holds_the_narrower_and_the_base_lies_within():
    peak, pools, count, censored = _drawn(8)
    refits, low, high = _limits(peak, pools[0], count, censored)
    base = peak.model.response.anchor - 1 / refits.parameters[:, 1]
    _, lower, higher = _limits(peak, pools[0], count, censored, threshold=3 * THRESHOLD)
    assert (lower < low).all()
    assert (low < base).all()
    assert (base < high).all()
    assert (high < higher).all()


def test_an_end_that_the_data_do_not_hold_is_open():
    # five seeds at each temperature and a threshold that hardly any base exceeds
    peak, pools, count, censored = _drawn(4, dishes=1, seeds=5)
    refits, low, high = _limits(peak, pools[0], count, censored, threshold=400.0)
    assert not refits.climbed.all()
    assert np.isnan(low).all()
    assert np.isnan(high).all()


def test_a_replicate_without_a_line_has_no_limits():
    peak, pools, count, censored = _drawn(2)
    count[1] = 0
    censored[1] = pools[1].cells.seeds[:, None]
    _, low, high = _limits(peak, pools[0], count, censored)
    assert np.isfinite((low[0], high[0])).all()
    assert np.isnan((low[1], high[1])).all()

"""Seedlings that stand in trays: how far trays widen limits, by hand and by counting."""

import numpy as np
import pytest
from scipy.stats import t

from hilum.stats import trays
from hilum.stats.durations import each_family, fit, limits, since_start
from hilum.stats.ranges import clopper_pearson

LEVELS = np.array([0.05, 0.5, 0.95])


def _days(rng, number, each, sd, own=0.2):
    """Return times of `each` seedlings in a `number` of trays that differ by `sd` on the logarithm, and their trays."""
    tray = np.repeat(np.arange(number), each)
    return 20 * np.exp(sd * rng.normal(size=number)[tray] + own * rng.normal(size=len(tray))), tray


def _seen(days, step=0.01):
    return since_start(np.floor(days / step) * step, np.ceil(days / step) * step)


def _log_normal(spans):
    return next(f for f in each_family(spans) if f.family.name == "log_normal")


def test_limits_of_a_mean_of_trays_are_students_of_the_tray_means():
    # times seen well, as many seedlings in each tray: the mean of trays is a plain sample
    days, tray = _days(np.random.default_rng(3), 6, 10, sd=0.3, own=0.05)
    fitted = _log_normal(_seen(days))
    far = trays.reach(fitted, tray, np.array([0.5]), 0.95)[0]
    means = np.log(days).reshape(6, 10).mean(1)
    students = t.ppf(0.975, 5) * means.std(ddof=1) / np.sqrt(6)
    # the wider of two methods is never the narrower one, and here they are nearly the same
    assert students * 0.999 < far < students * 1.1


def test_trays_that_are_alike_widen_hardly_and_one_alone_not_at_all():
    rng = np.random.default_rng(4)
    days, tray = _days(rng, 20, 5, sd=0.0)
    spans = _seen(days, step=1.0)
    fits = fit(spans)
    plain = limits(fits, LEVELS, 0.95)
    wide = limits(fits, LEVELS, 0.95, lambda f: trays.reach(f, tray, LEVELS, 0.95))
    assert (wide[0] <= plain[0]).all()
    assert (wide[1] >= plain[1]).all()
    assert np.log(wide[1] / wide[0]) == pytest.approx(np.log(plain[1] / plain[0]), rel=0.25)
    assert (trays.reach(fits[0], np.zeros(100, dtype=int), LEVELS, 0.95) == 0).all()


def test_the_names_and_the_order_of_trays_do_not_matter():
    rng = np.random.default_rng(5)
    days, tray = _days(rng, 5, 8, sd=0.2)
    mixed = rng.permutation(len(days))
    one = trays.reach(_log_normal(_seen(days, 3.0)), tray, LEVELS, 0.95)
    other = trays.reach(_log_normal(_seen(days[mixed], 3.0)), 7 - tray[mixed], LEVELS, 0.95)
    assert one == pytest.approx(other, rel=1e-4)


def test_quantiles_of_seedlings_in_trays_hold_the_truth_as_often_as_they_say():
    rng, studies = np.random.default_rng(6), 200
    own, between = 0.2, 0.15
    truth = 20 * np.exp(np.hypot(own, between) * np.array([-1.6449, 0.0, 1.6449]))
    held, plain = np.zeros(3), np.zeros(3)
    for _ in range(studies):
        days, tray = _days(rng, 5, 8, between, own)
        spans = _seen(days, step=3.0)
        fits = (_log_normal(spans),)
        low, high = limits(
            fits, LEVELS, 0.95, lambda f, tray=tray: trays.reach(f, tray, LEVELS, 0.95)
        )
        held += (low <= truth) & (truth <= high)
        low, high = limits(fits, LEVELS, 0.95)
        plain += (low <= truth) & (truth <= high)
    error = 2 * np.sqrt(0.93 * 0.07 / studies)
    assert (held / studies >= 0.93 - error).all(), held / studies
    assert plain[1] / studies < 0.85, "seedlings taken as independent miss a median too often"


def test_shares_of_trays_are_wider_than_exact_limits_where_trays_differ():
    tray = np.repeat(np.arange(4), 10)
    low, high = map(float, clopper_pearson(20, 40, confidence=0.95))
    apart, alike = (
        np.ravel(trays.share_limits(happened[:, None], tray, 0.95))
        for happened in (tray < 2, np.arange(40) % 2 == 0)
    )
    assert apart[0] < low - 0.1
    assert apart[1] > high + 0.1
    assert alike == pytest.approx([low, high], abs=0.05)

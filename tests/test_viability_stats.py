"""The probit of stored seeds: closed forms, published constants, and limits by another way."""

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.special import log_ndtr, ndtr
from scipy.stats import f

from hilum.stats import spread, viability, viability_equation
from hilum.stats.viability import Stored

BARLEY, ONION, SOYBEAN = (viability_equation.PUBLISHED[n] for n in ("barley", "onion", "soybean"))
# no published worked answer was at hand: worked out from these constants by hand
SIGMAS = (
    (BARLEY, 10.0, 20.0, 1305.57),
    (BARLEY, 8.0, 10.0, 16427.88),
    (BARLEY, 12.0, 25.0, 225.24),
    (ONION, 10.0, 20.0, 341.82),
    (ONION, 8.0, 10.0, 2503.10),
    (SOYBEAN, 10.0, 20.0, 414.76),
    (SOYBEAN, 8.0, 10.0, 3997.65),
)
NO_SPREAD = spread.Components(np.zeros(2), np.full(2, spread.MOST_DEGREES_OF_FREEDOM))


@pytest.mark.parametrize(("constants", "moisture", "degrees", "days"), SIGMAS)
def test_sigma_of_the_viability_equation(constants, moisture, degrees, days):
    found = viability_equation.sigma(constants, moisture, degrees)
    assert found == pytest.approx(days, rel=1e-5)


@pytest.mark.parametrize(
    ("constants", "share"), [(BARLEY, 0.95731), (ONION, 0.82419), (SOYBEAN, 0.86851)]
)
def test_viability_after_a_year_at_10_percent_and_20_degrees(constants, share):
    # with Ki = 2, worked out by hand from the constants above
    days = viability_equation.sigma(constants, 10.0, 20.0)
    stored = Stored(np.array([0.0, days]), np.full(2, 100.0), np.full(2, 50.0))
    falling = np.array([2.0, 1.0])  # one probit over one sigma
    assert ndtr(viability.probit(stored, falling, 365.25)) == pytest.approx(share, abs=1e-5)


def test_half_viability_period_of_barley():
    days = viability_equation.sigma(BARLEY, 10.0, 20.0)
    stored = Stored(np.array([0.0, days]), np.full(2, 100.0), np.full(2, 50.0))
    found = viability.half_viability_period(stored, np.array([2.0, 1.0]))
    assert found == pytest.approx(2611.1, abs=0.05)  # Ki·sigma


def test_the_equation_has_limits():
    assert viability_equation.holds(8.0, 15.0)
    assert not viability_equation.holds(4.0, 15.0)
    assert not viability_equation.holds(8.0, -25.0)


def falling(ki=1.5, sigma=400.0, seeds=200.0, days=(0, 180, 365, 540, 730)):
    times = np.repeat(np.array(days, dtype=float), 2)
    return Stored(times, np.full(len(times), seeds), np.round(seeds * ndtr(ki - times / sigma)))


def test_fit_finds_what_the_seeds_follow():
    # the rounding of whole seeds moves the estimates by less than a tenth of their standard error
    stored = falling(seeds=20_000.0)
    fitted = viability.fit(stored)
    assert viability.ki(fitted.parameters) == pytest.approx(1.5, abs=0.002)
    assert viability.sigma(stored, fitted.parameters) == pytest.approx(400.0, rel=0.002)
    half = viability.half_viability_period(stored, fitted.parameters)
    assert half == pytest.approx(600.0, rel=0.002)
    # 0.85·Φ(1.5) = 0.79322, whose probit is 0.81764: (1.5 − 0.81764)·400
    left = viability.time_to_share(stored, fitted.parameters, 0.85)
    assert left == pytest.approx(272.9, abs=1.0)


def test_the_weak_terms_weigh_hardly_anything():
    stored = falling(seeds=25.0)

    def plain(at):
        z = at[0] - at[1] * stored.days / stored.last
        return -(stored.alive * log_ndtr(z) + (stored.seeds - stored.alive) * log_ndtr(-z)).sum()

    bare = minimize(plain, np.array([1.0, 1.0]), method="Nelder-Mead", tol=1e-10)
    fitted = viability.fit(stored)
    error = np.sqrt(np.diag(fitted.inverse))
    assert (np.abs(fitted.parameters - bare.x) < 0.15 * error).all()


@pytest.mark.parametrize("share", [0.5, 0.85])
def test_limits_are_those_of_a_profile(share):
    """The rim of the region gives what maximising the likelihood at each value of the quantity gives."""
    stored = falling(seeds=25.0)
    fitted = viability.fit(stored)

    def measure(at):
        return (
            viability.half_viability_period(stored, at)
            if share == 0.5
            else viability.time_to_share(stored, at, share)
        )

    contrast = np.array([0.0, 1.0])
    ends = viability.limits(fitted, NO_SPREAD, measure, [contrast], confidence=0.95)
    threshold = spread.threshold(fitted.scores, NO_SPREAD, contrast, confidence=0.95).value
    grid = np.linspace(0.2, 3.2, 3001)
    for end in (ends.low, ends.high):
        # all parameters at which the quantity has this value
        drop = grid if share == 0.5 else viability.drop_to(share, grid)
        on = np.stack((grid, drop * stored.last / end), axis=-1)
        lost = 2 * (fitted.loglik - viability._loglik(stored, on)).min()
        assert lost == pytest.approx(threshold, rel=1e-3)


def test_nothing_lost_leaves_no_upper_limit():
    stored = Stored(np.repeat([0.0, 365.0], 2), np.full(4, 25.0), np.full(4, 25.0))
    fitted = viability.fit(stored)

    def half(at):
        return viability.half_viability_period(stored, at)

    ends = viability.limits(fitted, NO_SPREAD, half, [np.array([0.0, 1.0])], confidence=0.95)
    assert np.isinf(ends.high)
    assert ends.low > 365.0


def test_dishes_that_differ_widen_the_interval():
    stored = falling()
    uneven = Stored(stored.days, stored.seeds, stored.alive + np.tile([12.0, -12.0], 5))
    uneven = Stored(stored.days, stored.seeds, np.clip(uneven.alive, 0, 200))
    widths = []
    for dishes in (stored, uneven):
        fitted = viability.fit(dishes)
        pooled, assumed = viability.components([fitted], 0.05)
        assert not assumed
        ends = viability.limits(
            fitted, pooled, viability.ki, [np.array([1.0, 0.0])], confidence=0.95
        )
        widths.append(ends.high - ends.low)
    assert widths[1] > 1.3 * widths[0]


def test_two_dishes_in_all_show_no_spread():
    stored = Stored(np.array([0.0, 365.0]), np.full(2, 50.0), np.array([45.0, 30.0]))
    pooled, assumed = viability.components([viability.fit(stored)], 0.05)
    assert assumed
    assert pooled.variance[1] > 0.05 / 0.25


def test_misfit_by_hand():
    # three times, of which the middle one has 12 seeds fewer alive than its neighbours allow
    stored = Stored(np.repeat([0.0, 100.0, 200.0], 2), np.full(6, 100.0), np.full(6, 50.0))
    flat = viability.fit(stored)
    assert viability.misfit(flat, np.ones(3), 60.0) > 0.9
    uneven = Stored(stored.days, stored.seeds, np.array([50, 50, 40, 40, 50, 50.0]))
    fitted = viability.fit(uneven)
    v = ndtr(viability.probit(stored, fitted.parameters, np.array([0.0, 100.0, 200.0])))
    squares = ((np.array([100, 80, 100]) - 200 * v) ** 2 / (200 * v * (1 - v))).sum()
    assert viability.misfit(fitted, np.ones(3), 60.0) == pytest.approx(f.sf(squares, 1, 60))
    # dishes of one time that differ twice as much as a binomial halve it
    assert viability.misfit(fitted, np.full(3, 2.0), 9.0) == pytest.approx(f.sf(squares / 2, 1, 9))


def test_two_times_cannot_lie_off_a_curve():
    stored = Stored(np.array([0.0, 365.0]), np.full(2, 50.0), np.array([45.0, 5.0]))
    assert viability.misfit(viability.fit(stored), np.ones(2), 9.0) == 1.0


def _bent(stored, square):
    """Return minus the log likelihood of a probit with a square of time, at its maximum for a given weight of the square."""
    x = stored.days / stored.days.max()

    def minus(ab):
        z = ab[0] + ab[1] * x + square * x**2
        dead = stored.seeds - stored.alive
        return -(stored.alive * log_ndtr(z) + dead * log_ndtr(-z)).sum()

    return minimize(minus, [1.5, -1.0], method="BFGS").fun


def test_a_bend_is_told_as_a_likelihood_ratio_tells_it():
    days = np.repeat([0.0, 100.0, 200.0, 300.0, 400.0], 2)
    x = days / 400
    for square in (0.25, -0.25):
        alive = np.round(2000 * ndtr(1.2 - 1.5 * x + square * x**2))
        stored = Stored(days, np.full(10, 2000.0), alive)
        free = minimize(lambda c, s=stored: _bent(s, c[0]), [0.0], method="Nelder-Mead").fun
        ratio = 2 * (_bent(stored, 0.0) - free)
        found = viability.bend(viability.fit(stored), np.ones(5), 1e9)
        assert found.slows == (square > 0)
        assert f.isf(found.p, 1, 1e9) == pytest.approx(ratio, rel=0.05)
    # dishes of one time that differ twice as much halve the score
    twice = viability.bend(viability.fit(stored), np.full(5, 2.0), 1e9)
    assert f.isf(twice.p, 1, 1e9) == pytest.approx(f.isf(found.p, 1, 1e9) / 2)


def test_seeds_that_die_as_the_curve_says_are_seldom_told_to_bend():
    rng = np.random.default_rng(31)
    days = np.repeat([0.0, 91.0, 182.0, 365.0, 547.0, 730.0], 4)
    told = []
    for _ in range(300):
        alive = rng.binomial(50, ndtr(1.5 - days / 600))
        stored = Stored(days, np.full(24, 50.0), alive.astype(float))
        told.append(viability.bend(viability.fit(stored), np.ones(6), 1e9).p < 0.05)
    assert np.mean(told) < 0.05 + 2 * np.sqrt(0.05 * 0.95 / 300)


def test_lognormal_ages_bend_the_shares():
    days = np.array([0.0, 91.0, 182.0, 365.0, 547.0, 730.0])
    with np.errstate(divide="ignore"):
        alive = ndtr(-np.log(days / 900) / 0.667)
    stored = Stored(days, np.full(6, 1000.0), np.round(1000 * alive))
    found = viability.bend(viability.fit(stored), np.ones(6), 60.0)
    assert found.slows
    assert found.p < 0.001


def test_two_times_cannot_bend():
    stored = Stored(np.array([0.0, 365.0]), np.full(2, 50.0), np.array([45.0, 5.0]))
    assert viability.bend(viability.fit(stored), np.ones(2), 9.0).p == 1.0

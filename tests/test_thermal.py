"""The likelihood over temperatures: closed forms, other people's optimisers, and its own highest point."""

import numpy as np
import pytest
from scipy import optimize
from scipy.stats import logistic, norm

from hilum.stats import candidates, cardinal, thermal
from hilum.stats.ascent import Surface, climb
from hilum.stats.families import FAMILIES, LOG_LOGISTIC, LOG_NORMAL
from hilum.stats.response import SHAPES, Response
from hilum.stats.thermal import Model
from tests import warmth

TEMPERATURES = (10, 12.5, 15, 20, 25, 30)
SPREAD = {"dish_sd_log_time": 0.1, "dish_sd_logit": 0.3}


def _one(seed, temperatures=TEMPERATURES, **truth):
    (found,) = warmth.studies(temperatures, rng=np.random.default_rng(seed), **truth)
    return found


def _plain_loglik(series, base, time, sigma, G, cdf=logistic.cdf):
    """Return the log likelihood of a straight line, written down anew, cell by cell."""
    total = 0.0
    cells = series.cells
    for j, degrees in enumerate(series.temperature[:, 0]):
        half = time / (degrees - base) if degrees > base else np.inf
        reached = G * cdf(np.log(np.maximum(cells.end_h[j], 1e-9) / half) / sigma)
        steps = np.diff(reached, prepend=0.0)
        seen = cells.count[j] > 0
        total += (cells.count[j][seen] * np.log(steps[seen])).sum()
        total += cells.censored[j, 0] * np.log(1 - reached[-1])
    return total


def _line(series, family=LOG_LOGISTIC):
    response = Response(shape="linear", anchor=20, top=30)
    return Model(family, response, thermal.one_for_all(series))


@pytest.mark.parametrize(("family", "cdf"), [(LOG_LOGISTIC, logistic.cdf), (LOG_NORMAL, norm.cdf)])
def test_the_likelihood_is_the_one_written_down(family, cdf):
    series = _one(1)
    values = np.array([[np.log(12 / 1500), 1 / 12, np.log(0.2), 0.8]])
    found = thermal.surface(_line(series, family), series)(values).value[0]
    assert found == pytest.approx(_plain_loglik(series, 8, 1500, 0.2, 0.8, cdf), rel=1e-10)


@pytest.mark.parametrize("shape", SHAPES)
def test_the_gradient_agrees_with_differences(shape):
    series = _one(2, (5, 10, 15, 20, 25, 30, 35))
    rate = {
        "linear": [-5, 0.08],
        "plateau": [-5, 0.08, 22],
        "triangle": [-5, 0.08, 24, 0.1],
        "trapezoid": [-5, 0.08, 22, 27, 0.1],
    }[shape]
    model = Model(LOG_LOGISTIC, Response(shape=shape, anchor=15, top=35), (0, 0, 1, 1, 2, 2, 2))
    at = thermal.surface(model, series)
    values = np.array([*rate, np.log(0.3), 0.7, 0.8, 0.9])
    gradient = at(values[None]).gradient[0]
    for i in range(len(values)):
        step = np.zeros(len(values))
        step[i] = 1e-6 * abs(values[i])
        up, down = (at((values + s * step)[None]).value[0] for s in (1, -1))
        assert gradient[i] == pytest.approx((up - down) / (2 * step[i]), rel=1e-4, abs=1e-3)


def test_the_fit_is_where_another_optimiser_ends():
    series = _one(3, **SPREAD)
    peak = cardinal.fitted(LOG_LOGISTIC, "linear", series, thermal.one_for_all(series))

    def minus(x):
        return -_plain_loglik(series, x[0], np.exp(x[1]), np.exp(x[2]), 1 / (1 + np.exp(-x[3])))

    other = optimize.minimize(
        minus, [7.5, np.log(1500), np.log(0.2), 1.5], method="Nelder-Mead", options={"xatol": 1e-8}
    )
    assert peak.loglik == pytest.approx(-other.fun, abs=1e-5)
    base = peak.model.response.anchor - 1 / peak.parameters[1]
    assert base == pytest.approx(other.x[0], abs=1e-3)
    assert peak.parameters[3] == pytest.approx(1 / (1 + np.exp(-other.x[3])), abs=1e-4)


def test_at_or_below_the_base_silence_is_certain_and_germination_impossible():
    series = _one(4, (5, 15, 20, 25))
    model = _line(series)
    at = thermal.surface(model, series)
    silent = series.take(series.regime > 0)
    with_base_at = [np.array([[-5, 1 / (20 - base), np.log(0.2), 0.8]]) for base in (5.0, 16.0)]
    alone = thermal.surface(_line(silent), silent)(with_base_at[0]).value
    assert at(with_base_at[0]).value == pytest.approx(alone)
    assert at(with_base_at[1]).value == -np.inf


def test_a_temperature_without_germination_speaks_through_its_survivors():
    series = _one(5, (10, 15, 20, 25), base=9.6)
    assert series.germinated[0] == 0
    base = []
    for kept in (series, series.germinating()):
        peak = cardinal.fitted(LOG_LOGISTIC, "linear", kept, thermal.one_for_all(kept))
        rise, _ = cardinal.profile(peak, kept)(np.array([1 / (peak.model.response.anchor - 6)]), 1)
        base.append(rise[0])
    # with the cool dishes a base of 6 °C is far less likely than without them
    assert base[0] > base[1] + 5


def test_dishes_of_one_temperature_and_schedule_may_be_added_up():
    series = _one(6)
    pool = thermal.pooled(series)
    assert len(pool.cells.count) == len(TEMPERATURES)
    values = np.array([[-5, 0.08, np.log(0.2), 0.8]])
    ends = [thermal.surface(_line(s), s)(values) for s in (series, pool)]
    assert ends[0].value == pytest.approx(ends[1].value)
    np.testing.assert_allclose(ends[0].information, ends[1].information, rtol=1e-9)


def test_the_order_of_dishes_does_not_matter():
    series = _one(7, **SPREAD)
    shuffled = series.take(np.random.default_rng(1).permutation(len(series.regime)))
    both = [
        cardinal.fitted(LOG_LOGISTIC, "plateau", s, thermal.one_for_all(s)).parameters
        for s in (series, shuffled)
    ]
    np.testing.assert_allclose(*both, rtol=1e-6)


@pytest.mark.parametrize("optimum", [np.inf, 20.0, 22.5])
def test_no_other_start_climbs_higher(optimum):
    rng = np.random.default_rng(8)
    series = thermal.pooled(_one(9, (10, 12.5, 15, 20, 25, 30, 35), optimum=optimum, **SPREAD))
    shared = thermal.one_for_all(series)
    for family in FAMILIES:
        for shape in SHAPES:
            peak = cardinal.fitted(family, shape, series, shared)
            assert _highest_of_random_starts(peak, series, rng) < peak.loglik + 1e-5


def _highest_of_random_starts(peak, series, rng, starts=6):
    low, high = (np.repeat(bound, starts, axis=0) for bound in (peak.low, peak.high))
    start = np.tile(peak.parameters, (len(low), 1))
    start += rng.normal(size=start.shape) * 0.3 * np.abs(start)
    for bend in peak.model.response.breaks:
        start[:, bend] = rng.uniform(low[:, bend], high[:, bend])
    at = thermal.surface(peak.model, series)
    return at(climb(at, start, low, high)).value.max()


def test_the_profile_holds_its_parameter_and_fits_the_rest():
    series = thermal.pooled(_one(10, **SPREAD))
    peak = cardinal.fitted(LOG_LOGISTIC, "linear", series, thermal.one_for_all(series))
    held = cardinal.profile(peak, series)
    base = np.array([7.0, 7.5, 8.5])
    rise, points = held(1 / (peak.model.response.anchor - base), 1)
    assert held(peak.parameters[1:2], 1)[0] == pytest.approx(0, abs=1e-7)
    for b, found, point in zip(base, rise, points, strict=True):
        best = optimize.minimize(
            lambda x, b=b: -_plain_loglik(series, b, np.exp(x[0]), np.exp(x[1]), x[2]),
            [7.3, np.log(0.2), 0.85],
            method="Nelder-Mead",
        )
        assert found == pytest.approx(2 * (peak.loglik + best.fun), abs=1e-3)
        assert peak.model.response.anchor - 1 / point[1] == pytest.approx(b)


def test_the_slope_may_stand_in_for_the_relative_rise():
    series = thermal.pooled(_one(11, optimum=22))
    peak = cardinal.fitted(LOG_LOGISTIC, "plateau", series, thermal.one_for_all(series))
    other = cardinal.absolute(peak, series)
    value = thermal.surface(other.model, series)(other.parameters[None]).value[0]
    assert value == pytest.approx(peak.loglik, rel=1e-12)


def test_a_fraction_may_be_exactly_one():
    (series,) = warmth.studies((15, 20, 25), rng=np.random.default_rng(1), fraction=1.0)
    peak = cardinal.fitted(LOG_LOGISTIC, "linear", series, thermal.one_for_all(series))
    assert peak.parameters[-1] == 1.0


def test_climbing_ends_at_the_top_or_at_a_bound():
    centre, curvature = np.array([1.0, -2.0]), np.array([[2.0, 0.6], [0.6, 1.0]])

    def at(x):
        away = x - centre
        return Surface(
            -0.5 * np.einsum("bi,ij,bj->b", away, curvature, away),
            -away @ curvature,
            np.broadcast_to(curvature, (len(x), 2, 2)).copy(),
        )

    low, high = np.full((2, 2), -9.0), np.array([[9.0, 9.0], [9.0, -3.0]])
    found = climb(at, np.array([[0.0, -5.0], [0.0, -5.0]]), low, high)
    np.testing.assert_allclose(found[0], centre, atol=1e-4)
    # with y held at −3, 2(x − 1) + 0.6·(−1) = 0
    np.testing.assert_allclose(found[1], [1.3, -3.0], atol=1e-4)


def test_dishes_that_vary_twice_as_much_halve_the_ratio():
    model, contrasts = np.diag([1.0, 4.0, 9.0]), np.array([[1.0, -1.0, 0.0], [0.0, 1.0, -1.0]])
    assert candidates.contrast_scale(model, 2 * model, contrasts) == pytest.approx(2)
    assert candidates.scaled_aic(-100, 4, 2) == 108
    test = candidates.ratio_test(-105, -100, extra=2, scale=2, dof=1e9)
    # −2·log ratio of 10, halved, on 2 degrees of freedom: exp(−5/2)
    assert test.p == pytest.approx(np.exp(-2.5), rel=1e-6)

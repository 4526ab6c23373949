"""Rate curves: published worked numbers, their nesting, and derivatives held against differences."""

import numpy as np
import pytest
from scipy.special import ndtri

from hilum.stats import response
from hilum.stats.response import Response

TEMPERATURES = np.array([5, 9, 12, 15, 17, 20, 23, 26, 30, 33, 36, 42.0])
PARAMETERS = {
    "linear": [-4, 0.08],
    "plateau": [-4, 0.08, 22],
    "triangle": [-4, 0.08, 24, 0.1],
    "trapezoid": [-4, 0.08, 18, 27, 0.1],
}


def _at(shape, absolute, parameters):
    curve = Response(shape=shape, anchor=16, top=31, absolute=absolute)
    values = np.array(parameters, dtype=float)
    values[1] *= np.exp(values[0]) if absolute else 1
    return curve, values


@pytest.mark.parametrize("absolute", [False, True])
@pytest.mark.parametrize("shape", response.SHAPES)
def test_derivatives_agree_with_differences(shape, absolute):
    curve, values = _at(shape, absolute, PARAMETERS[shape])
    found = response.rates(curve, values, TEMPERATURES)
    for i in range(len(values)):
        step = np.zeros(len(values))
        step[i] = 1e-6 * abs(values[i])
        up, down = (response.rates(curve, values + s * step, TEMPERATURES) for s in (1, -1))
        slope = (up.value - down.value) / (2 * step[i])
        np.testing.assert_allclose(found.gradient[:, i], slope, atol=1e-8 * abs(slope).max())


def test_fennel_by_the_published_cardinal_temperatures():
    # Heidari, Kamkar & Sinaki (2014), doi 10.15406/apar.2014.01.00032, Hamedan: Tb 5, To 12.53 and 25,
    # Tc 40.12 °C, 165.5 h at the optimum; hours at 10 and 35 °C by own arithmetic
    curve = Response(shape="trapezoid", anchor=12.53, top=35)
    rise, fall = 1 / (12.53 - 5), 1 / (40.12 - 35)
    values = np.array([np.log(1 / 165.5), rise, 12.53, 25, fall])
    rate = response.rates(curve, values, np.array([10, 20, 35, 5, 41.0])).value
    np.testing.assert_allclose(1 / rate[:3], [249.2, 165.5, 488.7], atol=0.05)
    assert rate[3:].tolist() == [0, 0]
    assert response.base_temperature(curve, values) == pytest.approx(5)
    assert response.ceiling_temperature(curve, values) == pytest.approx(40.12)


def test_onion_by_the_published_thermal_time():
    # Brewster (2008), ch. 4: Tb 2.5 °C, 80 °C d: 4 days at 22.5 °C, 16 days at 7.5 °C
    curve = Response(shape="linear", anchor=15, top=25)
    values = np.array([np.log((15 - 2.5) / 80), response.rise_at_base(curve, np.array(2.5))])
    rate = response.rates(curve, values, np.array([22.5, 7.5])).value
    np.testing.assert_allclose(1 / rate, [4, 16])
    assert response.thermal_time(curve, values) == pytest.approx(80)


@pytest.mark.parametrize(
    # own arithmetic on the published equations: thermal time (°C d), ceiling, optimum, days at 15 °C
    ("share", "thermal", "ceiling", "optimum", "days"),
    [
        (0.1, 28.05, 44.20, 27.39, 2.439),
        (0.5, 48.34, 34.49, 25.50, 4.204),
        (0.9, 83.30, 24.77, 20.70, 7.243),
    ],
)
def test_onion_whose_seeds_differ_in_their_ceiling(share, thermal, ceiling, optimum, days):
    """Take the two published lines through the triangle, whose limbs must be those lines.

    Ellis and Butcher 1988, onion 'White Lisbon', by Brewster 2008, equations 4.8 and 4.9 (read in a scan in
    which the sign and point of K = -9.134 are lost): Tb 3.5 °C, sigma 0.1844; 1/t = ((4.55 - probit) 7.58 - T)/19.75.
    """
    probit = ndtri(share)
    theta, top = 10 ** ((probit + 9.134) * 0.1844), (4.55 - probit) * 7.58
    meet = (top / 19.75 + 3.5 / theta) / (1 / 19.75 + 1 / theta)
    curve = Response(shape="triangle", anchor=15, top=meet + 1)
    fall = 1 / (top - meet - 1)
    values = np.array([np.log(11.5 / theta), 1 / 11.5, meet, fall])
    warm = meet + np.array([0.5, 2, 4])
    rate = response.rates(curve, values, np.array([15, *warm])).value
    assert 1 / rate[0] == pytest.approx(days, abs=2e-3)
    np.testing.assert_allclose(rate[1:], np.maximum(top - warm, 0) / 19.75, rtol=1e-9)
    assert response.thermal_time(curve, values) == pytest.approx(thermal, abs=0.02)
    assert response.base_temperature(curve, values) == pytest.approx(3.5)
    assert response.ceiling_temperature(curve, values) == pytest.approx(ceiling, abs=6e-3)
    assert meet == pytest.approx(optimum, abs=6e-3)


def test_each_response_holds_the_simpler_one():
    def rate(shape, values):
        return response.rates(Response(shape=shape, anchor=16, top=31), values, TEMPERATURES).value

    line, far = np.array([-4, 0.08]), 60.0
    np.testing.assert_allclose(rate("plateau", np.array([*line, far])), rate("linear", line))
    plateau = np.array([*line, 22.0])
    flat = rate("trapezoid", np.array([*plateau, 31.0, 0.0]))
    np.testing.assert_allclose(flat, rate("plateau", plateau))
    triangle = rate("triangle", np.array([*line, 24.0, 0.1]))
    np.testing.assert_allclose(triangle, rate("trapezoid", np.array([*line, 24.0, 24.0, 0.1])))


@pytest.mark.parametrize("shape", response.SHAPES)
def test_the_slope_may_be_absolute_or_relative(shape):
    rates = [
        response.rates(*_at(shape, absolute, PARAMETERS[shape]), TEMPERATURES).value
        for absolute in (False, True)
    ]
    np.testing.assert_allclose(*rates, rtol=1e-12)


def test_no_base_and_no_ceiling_are_ordinary_points():
    curve = Response(shape="trapezoid", anchor=16, top=31)
    values = np.array([-4, 0, 18, 27, 0.0])
    assert response.base_temperature(curve, values) == -np.inf
    assert response.thermal_time(curve, values) == np.inf
    assert response.ceiling_temperature(curve, values) == np.inf
    found = response.rates(curve, values, TEMPERATURES)
    np.testing.assert_allclose(found.value, np.exp(-4))
    assert np.isfinite(found.gradient).all()

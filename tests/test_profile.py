"""Limits of a profile likelihood, on curves whose limits can be written down."""

import numpy as np
import pytest

from hilum.stats.profile import limit, open_as_none

THREE = np.array([3.84, 3.84, 6.63])


def test_a_parabola_has_walds_limits():
    estimate, error = np.array([0.0, 2.0, -1.0]), np.array([1.0, 0.1, 30.0])

    def rise(x):
        return ((x - estimate) / error) ** 2

    for side in (-1, 1):
        found = limit(rise, estimate, side * error, THREE)
        np.testing.assert_allclose(found, estimate + side * error * np.sqrt(THREE), rtol=1e-6)


def test_a_skewed_likelihood_has_its_own_limits():
    """A Poisson count of 7: rise 2(m − 7 − 7 ln(m/7)); limits checked by putting them back."""

    def rise(m):
        return 2 * (m - 7 - 7 * np.log(m / 7))

    at = np.full(3, 7.0)
    for step in (np.full(3, 1.0), np.full(3, -1.0)):
        found = limit(rise, at, step, THREE, edge=1e-9 if step[0] < 0 else None)
        np.testing.assert_allclose(rise(found), THREE, rtol=1e-5)


@pytest.mark.parametrize("step", [1e-4, 1.0, 1e4])
def test_a_bad_first_step_costs_only_time(step):
    found = limit(lambda x: x**2, np.zeros(1), np.array([step]), np.array([4.0]), tolerance=1e-10)
    assert found[0] == pytest.approx(2, rel=1e-6)


def test_an_end_that_never_falls_far_enough_is_open():
    def rise(x):
        return 3 * x**2 / (1 + x**2)  # rises to 3, not to 3.84

    found = limit(rise, np.zeros(1), np.ones(1), np.array([3.84]))
    assert open_as_none(found) == [None]
    assert open_as_none(limit(rise, np.zeros(1), np.ones(1), np.array([2.0])))[0] == pytest.approx(
        np.sqrt(2), rel=1e-5
    )


def test_an_interval_that_reaches_the_edge_is_open():
    found = limit(
        lambda x: x**2, np.zeros(2), np.ones(2), np.array([4.0, 4.0]), edge=np.array([1.0, 3.0])
    )
    assert open_as_none(found) == [None, pytest.approx(2, rel=1e-6)]


def test_an_impossible_value_lies_outside():
    def rise(x):
        return np.where(x < 1, x**2, np.nan)

    found = limit(rise, np.zeros(1), np.ones(1), np.array([4.0]))
    assert found[0] == pytest.approx(1, abs=1e-4)

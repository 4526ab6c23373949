"""Curves of uptake and what is read from them: closed forms and published values."""

import numpy as np
import pytest

from hilum.stats import bulk_uptake, uptake
from hilum.stats import imbibition_quantities as quantities
from hilum.stats.bulk_uptake import Bulks
from hilum.stats.imbibition_curves import Candidate

SHAPES = ("exponential", "peleg")


def _own(**values):
    own = {"film": 0.02, "film_spread": 0.5, "balance": 1.0, "plateau": 1.0, "half_time": 8.0}
    own = [values.get(name, usual) for name, usual in own.items()] + [0.15, 0.3]
    lag = values.get("lag", 0.0)
    return np.array([*np.log(own), 0.0, 0.0, np.log(lag) if lag else -np.inf])


@pytest.mark.parametrize("shape", SHAPES)
def test_half_of_the_water_is_in_after_one_half_time(shape):
    np.testing.assert_allclose(uptake.share([0.0, 1.0, 1e9], shape), [0.0, 0.5, 1.0], atol=1e-8)


@pytest.mark.parametrize("shape", SHAPES)
def test_the_slope_is_that_of_the_share(shape):
    x = np.linspace(0.01, 9, 50)
    rise = (uptake.share(x + 1e-6, shape) - uptake.share(x - 1e-6, shape)) / 2e-6
    np.testing.assert_allclose(uptake.share_and_slope(x, shape)[1], rise, rtol=1e-6)


def test_peleg_of_soaked_chickpea():
    # k1 96.28 s/%, k2 7.45e-3 and 5.94e-3 1/% (dry basis): Yildirim, Öner and Bayram (2010), Journal of Agricultural
    # Sciences (Ankara); gains are our own arithmetic on them
    cold = uptake.Peleg(k1=96.28, k2=7.45e-3)
    assert cold.gain(3600.0) == pytest.approx(29.245, abs=5e-4)
    assert cold.plateau == pytest.approx(134.23, abs=5e-3)
    assert uptake.Peleg(k1=5.43, k2=5.94e-3).plateau == pytest.approx(168.35, abs=5e-3)


def test_peleg_is_the_same_curve_by_its_constants_and_by_its_half_time():
    curve = uptake.peleg(plateau=134.23, half_time_h=3.5)
    hours = np.array([0.0, 1.0, 3.5, 20.0])
    np.testing.assert_allclose(curve.gain(hours), 134.23 * uptake.share(hours / 3.5, "peleg"))
    assert curve.half_time == pytest.approx(3.5)
    assert curve.initial_rate == pytest.approx((curve.gain(1e-6) / 1e-6).item(), rel=1e-5)


def test_t_over_gain_of_peleg_is_a_straight_line():
    # Eq. 2 of Peleg (1988): t/(M − M0) = k1 + k2 t
    curve = uptake.Peleg(k1=2.0, k2=0.5)
    t = np.array([1.0, 2.0, 7.0])
    np.testing.assert_allclose(t / curve.gain(t), 2.0 + 0.5 * t)


def test_what_is_read_from_a_curve():
    own = _own(plateau=1.2, half_time=6.0)
    assert np.exp(quantities.plateau(own, "exponential")) == pytest.approx(120.0)
    assert np.exp(quantities.half_time(own, "exponential")) == pytest.approx(6.0)
    # 1/k1 of Peleg is plateau/half-time; an exponential begins ln 2 times as fast
    assert np.exp(quantities.initial_rate(own, "peleg")) == pytest.approx(20.0)
    assert np.exp(quantities.initial_rate(own, "exponential")) == pytest.approx(20.0 * np.log(2))


def test_a_lag_is_part_of_the_soaking_time_to_half():
    own = _own(half_time=6.0, lag=1.5)
    assert np.exp(quantities.half_time(own, "peleg")) == pytest.approx(7.5)


def test_the_smallest_gain_of_a_seed_of_200_mg():
    # two weighings of 1 mg error and a film of 2 ± 1 %: 3.29·√(0.005²(1 + 1.02²) + 0.01²) = 4.043 %
    gain = quantities.smallest_gain(200.0)(_own(), "exponential")
    assert np.exp(gain) == pytest.approx(4.043, abs=5e-4)


def test_an_estimate_widens_by_the_curves_that_the_data_allow():
    own, other = _own(half_time=8.0), _own(half_time=10.0)
    covariance = np.zeros((10, 10))
    covariance[4, 4] = 0.1**2
    alone = quantities.estimate(quantities.half_time, own, covariance, "exponential")
    assert alone.sd == pytest.approx(0.1, rel=1e-3)
    others = [("exponential", 0.75, own), ("peleg", 0.25, other)]
    both = quantities.estimate(quantities.half_time, own, covariance, "exponential", others)
    assert both.sd == pytest.approx(np.sqrt(0.1**2 + 0.25 * np.log(1.25) ** 2), rel=1e-3)
    assert both.value == alone.value


def test_akaike_weights():
    # AIC 2 apart: exp(−1) to 1
    first, second, *_ = uptake.CANDIDATES
    found = [
        Candidate(first, 10.0, np.zeros(3), _own()),
        Candidate(second, 12.0, np.zeros(3), _own()),
    ]
    np.testing.assert_allclose(
        quantities.weights(found), np.array([1, np.exp(-1)]) / (1 + np.exp(-1))
    )


def test_half_the_gain_beyond_the_film_is_half_of_the_seeds():
    opened = Bulks(np.array([0.92]), np.array([50.0]))
    half = Bulks(np.array([0.47]), np.array([50.0]))
    found = bulk_uptake.impermeable(half, opened, confidence=0.95, correlation_when_unknown=0.05)
    assert found.value == pytest.approx(0.5)
    assert found.low < 0.4 < 0.6 < found.high


def test_bulks_without_any_uptake_still_have_an_interval():
    opened = Bulks(np.array([0.9, 1.0]), np.array([25.0, 25.0]))
    dry = Bulks(np.array([0.01, 0.02]), np.array([25.0, 25.0]))
    found = bulk_uptake.impermeable(dry, opened, confidence=0.95, correlation_when_unknown=0.05)
    assert found.value == found.high == 1.0
    assert 0.7 < found.low < 0.97


@pytest.mark.parametrize(("closed", "seed"), [(0.2, 1), (0.5, 2), (0.9, 3)])
def test_the_interval_of_bulks_covers(closed, seed):
    """Seeds differ in plateau, bulks in film, and the opened bulk is weighed as well."""
    rng = np.random.default_rng(seed)
    studies, bulks, seeds = 300, 3, 25

    def gain(open_seeds):
        water = [[rng.normal(1.0, 0.15, k).sum() / seeds for k in row] for row in open_seeds]
        return np.array(water) + rng.gamma(4, 0.005, (studies, 1))

    mixed = gain(rng.binomial(seeds, 1 - closed, (studies, bulks)))
    full = gain(np.full((studies, bulks), seeds))
    each = np.full(bulks, float(seeds))
    found = [
        bulk_uptake.impermeable(
            Bulks(a, each), Bulks(b, each), confidence=0.95, correlation_when_unknown=0.05
        )
        for a, b in zip(mixed, full, strict=True)
    ]
    covered = np.mean([f.low <= closed <= f.high for f in found])
    assert covered >= 0.93 - 2 * np.sqrt(0.93 * 0.07 / studies)

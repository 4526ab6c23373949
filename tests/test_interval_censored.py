"""The likelihood of dish counts, its score and its expected information."""

import numpy as np
import pytest

from hilum.stats.families import FAMILIES, LOG_LOGISTIC
from hilum.stats.interval_censored import Cells, dish_terms

POINT = (np.array([4.6, 4.9, 5.1]), np.array([-1.2, -0.8, -1.0]), np.array([0.8, 0.55, 0.95]))


def cells():
    """Return three dishes with their own inspections; the second lost three seeds early."""
    end = np.array([[48.0, 96, 144, 192], [60, 120, 180, 180], [72, 100, 150, 240]])
    start = np.hstack([np.zeros((3, 1)), end[:, :-1]])
    count = np.array([[1.0, 9, 7, 2], [2, 5, 4, 0], [0, 8, 11, 3]])
    look = np.array([[192.0, 0], [180, 60], [240, 0]])
    left = np.array([[6.0, 0], [11, 3], [3, 0]])
    return Cells(start, end, count, look, left)


@pytest.mark.parametrize("family", FAMILIES, ids=lambda f: f.name)
def test_the_likelihood_is_the_product_of_its_cells(family):
    c = cells()
    terms = dish_terms(c, *POINT, family)
    for j in range(3):
        mu, sigma, G = POINT[0][j], np.exp(POINT[1][j]), POINT[2][j]

        def reached(t, mu=mu, sigma=sigma, G=G):
            return G * np.exp(family.log_cdf((np.log(np.maximum(t, 1e-9)) - mu) / sigma))

        by_hand = sum(
            n * np.log(reached(b) - reached(a))
            for a, b, n in zip(c.start_h[j], c.end_h[j], c.count[j], strict=True)
            if n
        )
        by_hand += (c.censored[j] * np.log1p(-reached(c.censor_h[j]))).sum()
        assert terms.loglik[j] == pytest.approx(by_hand, rel=1e-10)


@pytest.mark.parametrize("family", FAMILIES, ids=lambda f: f.name)
def test_the_score_is_the_derivative_of_the_likelihood(family):
    terms, h = dish_terms(cells(), *POINT, family), 1e-6
    for k in range(3):
        up, down = ([p + s * h * (i == k) for i, p in enumerate(POINT)] for s in (1, -1))
        slope = dish_terms(cells(), *up, family).loglik - dish_terms(cells(), *down, family).loglik
        np.testing.assert_allclose(terms.score[:, k], slope / (2 * h), rtol=2e-6, atol=1e-6)


@pytest.mark.parametrize("family", FAMILIES, ids=lambda f: f.name)
def test_the_information_is_the_variance_of_the_score(family):
    """Simulated: many dishes from the model, without any seed lost."""
    rng = np.random.default_rng(11)
    mu, sigma, G, n, B = 4.7, 0.3, 0.7, 25, 4000
    edges = np.array([0.0, 48, 80, 110, 150, 200, 300])
    z = (np.log(np.maximum(edges, 1e-9)) - mu) / sigma
    p = np.diff(G * np.exp(family.log_cdf(z)))
    counts = rng.multinomial(n, [*p, 1 - p.sum()], size=B).astype(float)
    many = Cells(
        np.tile(edges[:-1], (B, 1)),
        np.tile(edges[1:], (B, 1)),
        counts[:, :-1],
        np.full((B, 1), edges[-1]),
        counts[:, -1:],
    )
    terms = dish_terms(many, np.full(B, mu), np.full(B, np.log(sigma)), np.full(B, G), family)
    seen = np.cov(terms.score.T)
    expected = terms.information[0]
    size = np.sqrt(np.outer(np.diag(expected), np.diag(expected)))
    # the error of a covariance of B draws is about √(2/B) of it; three of them
    np.testing.assert_allclose(seen / size, expected / size, atol=3 * np.sqrt(2 / B))
    mean_error = np.sqrt(np.diag(expected) / B)
    assert (np.abs(terms.score.mean(0)) < 4 * mean_error).all()


def test_cells_that_fill_up_a_row_cost_nothing():
    c = cells()
    wider = Cells(
        np.hstack([c.start_h, c.end_h[:, -1:]]),
        np.hstack([c.end_h, c.end_h[:, -1:]]),
        np.hstack([c.count, np.zeros((3, 1))]),
        np.hstack([c.censor_h, np.zeros((3, 1))]),
        np.hstack([c.censored, np.zeros((3, 1))]),
    )
    plain, filled = (dish_terms(x, *POINT, LOG_LOGISTIC) for x in (c, wider))
    np.testing.assert_allclose(filled.loglik, plain.loglik, rtol=1e-14)
    np.testing.assert_allclose(filled.score, plain.score, rtol=1e-12)
    np.testing.assert_allclose(filled.information, plain.information, rtol=1e-12)


def test_parameters_may_have_leading_axes():
    shifts = np.array([-0.1, 0.0, 0.1])[:, None]
    many = dish_terms(cells(), POINT[0] + shifts, POINT[1], POINT[2], LOG_LOGISTIC)
    assert many.loglik.shape == (3, 3)
    assert many.information.shape == (3, 3, 3, 3)
    one = dish_terms(cells(), *POINT, LOG_LOGISTIC)
    np.testing.assert_array_equal(many.score[1], one.score)


def test_survivors_long_after_the_last_seed_do_not_underflow():
    """1 − F would be 0 here, and its logarithm −inf: all seeds germinate, and one had not."""
    late = Cells(*(np.array([[x]]) for x in (90.0, 110.0, 24.0, 1e6, 1.0)))
    terms = dish_terms(late, np.log([100.0]), np.log([0.01]), np.ones(1), LOG_LOGISTIC)
    # log S = −(ln 1e6 − ln 100)/0.01
    assert terms.loglik[0] == pytest.approx(-100 * np.log(1e4), rel=1e-2)
    assert np.isfinite(terms.score[:, :2]).all()


def test_a_seed_lost_at_sowing_says_nothing():
    c = cells()
    lost = Cells(c.start_h, c.end_h, c.count, c.censor_h, c.censored + [[0.0, 5.0]] * 3)
    first = np.array([True, False, True])  # the second dish holds another early look there
    plain, more = (
        dish_terms(x.take(first), *(p[first] for p in POINT), LOG_LOGISTIC) for x in (c, lost)
    )
    np.testing.assert_allclose(more.loglik, plain.loglik, rtol=1e-14)
    np.testing.assert_allclose(more.information, plain.information, rtol=1e-12)

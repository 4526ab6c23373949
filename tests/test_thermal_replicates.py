"""Refits of many replicates: the same maxima as one by one, by ourselves and by scipy."""

import numpy as np
import pytest
from scipy.optimize import minimize

from hilum.stats import cardinal, spread, thermal, thermal_replicates
from hilum.stats.families import LOG_LOGISTIC
from hilum.stats.replicate_surface import Counts, Design, curvature
from tests import warmth

TEMPERATURES = (10, 12.5, 15, 20, 25, 30)


def _drawn(number, seed=1, temperatures=TEMPERATURES, **truth):
    """Return the fit of one study, its dishes added up, and the counts of further studies of its design."""
    rng = np.random.default_rng(seed)
    studies = warmth.studies(temperatures, rng=rng, number=number + 1, **truth)
    pools = [thermal.pooled(study) for study in studies]
    peak = _fitted(pools[0])
    count, censored = (
        np.array([getattr(pool.cells, part) for pool in pools[1:]])
        for part in ("count", "censored")
    )
    return peak, pools, count, censored


def _fitted(series):
    return cardinal.fitted(LOG_LOGISTIC, "linear", series, thermal.one_for_all(series))


def _at_anchor(found, anchor):
    """Return base, thermal time, log sigma and G, which mean the same at every anchor."""
    log_rate, rise, log_sigma, G = np.moveaxis(found, -1, 0)
    return np.stack((anchor - 1 / rise, np.exp(-log_rate) / rise, log_sigma, G), axis=-1)


@pytest.mark.parametrize(
    "truth",
    [{}, {"fraction": 1.0}, {"dishes": 1, "seeds": 10}, {"base": 9.8, "dishes": 2, "seeds": 15}],
    ids=["usual", "all germinable", "ten seeds", "some silent in the cold"],
)
def test_they_reach_the_maxima_of_single_fits(truth):
    peak, pools, count, censored = _drawn(12, **truth)
    refits = thermal_replicates.refit(peak, pools[0], count, censored)
    for i, pool in enumerate(pools[1:]):
        if refits.outcome[i] not in ("fitted", "all germinable"):
            continue
        alone = _fitted(pool)
        assert refits.loglik[i] == pytest.approx(alone.loglik, abs=1e-6)
        ours = _at_anchor(refits.parameters[i], peak.model.response.anchor)
        theirs = _at_anchor(alone.parameters, alone.model.response.anchor)
        np.testing.assert_allclose(ours, theirs, rtol=1e-4)
    assert np.isin(refits.outcome, ("fitted", "all germinable")).sum() >= 8
    assert ((refits.parameters[:, 3] == 1) == (refits.outcome == "all germinable")).all()


def _on_logit(parameters):
    return np.array([*parameters[:3], np.log(parameters[3] / (1 - parameters[3]))])


def _loss(x, model, pool):
    G = 1 / (1 + np.exp(-x[3]))
    here = thermal.surface(model, pool)(np.array([[*x[:3], G]]))
    return -here.value[0], -here.gradient[0] * (1, 1, 1, G * (1 - G))


def test_they_reach_the_maxima_of_scipy():
    peak, pools, count, censored = _drawn(5)
    refits = thermal_replicates.refit(peak, pools[0], count, censored)
    for i, pool in enumerate(pools[1:]):
        best = minimize(_loss, _on_logit(peak.parameters), (peak.model, pool), "BFGS", jac=True)
        assert refits.loglik[i] == pytest.approx(-best.fun, abs=1e-6)


def test_derivatives_agree_with_differences():
    _, pools, count, censored = _drawn(2)
    flat = [array.reshape(2, -1) for array in (count, censored)]
    design = Design.of(pools[0], 15.0, flat[0].any(0), flat[1].any(0))
    counts = Counts.of(design, *flat)
    point = np.array([[-5.3], [0.15], [-1.4], [1.2]])
    here = curvature(design, counts, point)
    for i in range(4):
        step = np.zeros((4, 1))
        step[i] = 1e-5
        up, down = (curvature(design, counts, point + s * step) for s in (1, -1))
        by_value = (up.value() - down.value()) / 2e-5
        np.testing.assert_allclose(here.gradient[i], by_value, rtol=1e-6, atol=1e-4)
        by_gradient = -(up.gradient - down.gradient) / 2e-5
        np.testing.assert_allclose(here.information[i], by_gradient, rtol=1e-6, atol=1e-4)


def test_the_value_is_that_of_the_likelihood_over_temperatures():
    peak, pools, count, censored = _drawn(3)
    flat = [array.reshape(3, -1) for array in (count, censored)]
    design = Design.of(pools[0], peak.model.response.anchor, flat[0].any(0), flat[1].any(0))
    point = _on_logit(peak.parameters)[:, None]
    found = curvature(design, Counts.of(design, *flat), point).value()
    for value, pool in zip(found, pools[1:], strict=True):
        other = thermal.surface(peak.model, pool)(peak.parameters[None]).value[0]
        assert value == pytest.approx(other, rel=1e-10)


def test_the_standard_error_is_the_spread_of_two_thousand_refits():
    """Binomial dishes: the likelihood's own variance of the base is that of new experiments, to their sampling error."""
    rng = np.random.default_rng(4)
    peak, pools, *_ = _drawn(0, seed=4)
    pool = pools[0]
    anchor = peak.model.response.anchor
    rate = np.exp(peak.parameters[0]) * (1 + peak.parameters[1] * (pool.mean_temperature - anchor))
    z = np.log(pool.cells.end_h * rate[:, None]) / np.exp(peak.parameters[2])
    reached = peak.parameters[3] / (1 + np.exp(-z))
    p = np.concatenate((np.diff(reached, prepend=0.0), 1 - reached[:, -1:]), axis=1)
    drawn = rng.multinomial(pool.cells.seeds.astype(int), p, size=(2000, len(p))).astype(float)
    refits = thermal_replicates.refit(peak, pool, drawn[..., :-1], drawn[..., -1:])
    base = anchor - 1 / refits.parameters[:, 1]
    scores = thermal.dish_scores(peak.model, pool, peak.parameters)
    nothing = spread.Components(np.zeros(2), np.full(2, 60.0))
    error = np.sqrt(spread.variances(scores, nothing)[0][1, 1]) / peak.parameters[1] ** 2
    # the standard deviation of 2,000 has an error of 1.6 %; the curve in between adds a little
    assert base.std() == pytest.approx(error, rel=0.06)
    assert base.mean() == pytest.approx(anchor - 1 / peak.parameters[1], abs=0.1 * error)


def test_what_has_no_line_says_why():
    peak, pools, count, censored = _drawn(3)
    warmest = pools[0].regime == pools[0].regimes - 1
    count[0] = 0.0
    count[1, ~warmest] = 0.0
    censored[0], censored[1] = 100.0, 100.0
    refits = thermal_replicates.refit(peak, pools[0], count, censored)
    assert refits.outcome.tolist() == ["nothing germinated", "one temperature", "fitted"]
    assert np.isnan(refits.loglik).tolist() == [True, True, False]


def test_another_model_is_refused():
    _, pools, count, censored = _drawn(1, optimum=20)
    pool = pools[0]
    bent = cardinal.fitted(LOG_LOGISTIC, "plateau", pool, thermal.one_for_all(pool))
    with pytest.raises(ValueError, match="line"):
        thermal_replicates.refit(bent, pool, count, censored)

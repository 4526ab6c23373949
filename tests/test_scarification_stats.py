"""The dose engine against published fits, against a general optimiser, and against the truth it drew."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.special import expit, logit
from scipy.stats import binom, norm

from hilum.stats import scarification, scarification_harm, scarification_residuals, spread
from hilum.stats.residuals import LIMIT
from hilum.stats.scarification import Units, Weak
from hilum.stats.scarification_curves import NAMES, best, curves, measured

DOSES = (0.0, 30.0, 60.0, 120.0, 240.0, 360.0, 480.0)
LOW, HIGH = np.log(20.0), np.log(900.0)


def _truth(p0=0.08, opens=90.0, b=2.0, v0=0.6, v1=0.9, harms=500.0, c=3.0):
    return np.array(
        [logit(p0), np.log(opens), np.log(b), logit(v0), logit(v1), np.log(harms), np.log(c)]
    )


ORDINARY = _truth()
SOFT = _truth(p0=0.55, opens=60, v0=0.5, harms=420, c=2.5)


def _draw(rng, truth, *, dishes=4, seeds=25, sd=0.3):
    dose = np.repeat([*DOSES, 0.0], dishes)
    opened = np.repeat([False] * len(DOSES) + [True], dishes)
    log_dose = np.where(dose > 0, np.log(np.maximum(dose, 1)), -np.inf)
    found = curves(truth, log_dose, opened)
    shift = sd * rng.normal(size=(2, len(dose)))
    permeable = rng.binomial(seeds, expit(logit(found.permeable) + shift[0]))
    permeable = np.where(opened, seeds, permeable)
    germinated = rng.binomial(permeable, expit(logit(found.germinated) + shift[1]))
    sown = np.full(len(dose), float(seeds))
    return Units(log_dose, opened, sown, permeable * 1.0, germinated * 1.0)


def _measure(name):
    return lambda parameters: measured(parameters, LOW, HIGH, name)


def _held(free: dict[str, float], held: dict[str, float]) -> tuple[Weak, np.ndarray]:
    """Return terms that hold some parameters and leave the others free, and the start."""
    start = np.array([{**free, **held}[name] for name in NAMES])
    tight = np.array([1e8 if name in held else 0.0 for name in NAMES])
    return Weak(np.eye(len(NAMES)), start, tight), start


def test_the_falling_curve_is_the_logistic_fit_of_the_pesticide_example():
    # n = 20 at 0 to 800, counted in hundreds here; logit 6.992127 − 0.015196 dose, LC50 460.1353, SE 18.16643: output of a published worked example
    dose, alive = np.arange(9.0), np.array([20.0, 20, 20, 18, 13, 8, 3, 0, 0])
    sown = np.full(9, 20.0)
    units = Units(dose, np.zeros(9, dtype=bool), sown, sown, alive)
    alive_surely = {"logit_p0": 20.0, "m": 0.0, "log_b": 0.0, "logit_v0": 25.0, "logit_v1": 25.0}
    fitted = scarification.fit(units, *_held({"h": 4.0, "log_c": 0.5}, alive_surely))
    h, c = fitted.parameters[5], np.exp(fitted.parameters[6])
    assert 100 * h == pytest.approx(460.1353, abs=2e-3)
    assert c / 100 == pytest.approx(0.015196, abs=1e-6)
    assert 100 * np.sqrt(fitted.inverse[5, 5]) == pytest.approx(18.16643, rel=1e-3)


def test_the_rising_curve_is_the_logistic_fit_of_bliss_s_insects():
    # n = 30; logit −2.3238 + 1.1619 dose, LD50 2.0000 (published output), its SE 0.17844 derived from the published ones
    dose, dead = np.arange(5.0), np.array([2.0, 8, 15, 23, 27])
    sown = np.full(5, 30.0)
    units = Units(dose, np.zeros(5, dtype=bool), sown, dead, dead)
    none_before = {"logit_p0": -25.0, "logit_v0": 25.0, "logit_v1": 25.0, "h": 99.0, "log_c": 3.0}
    fitted = scarification.fit(units, *_held({"m": 1.5, "log_b": 0.0}, none_before))
    b = float(np.exp(fitted.parameters[2]))
    assert b == pytest.approx(1.1619, abs=1e-4)
    assert -b * fitted.parameters[1] == pytest.approx(-2.3238, abs=1e-4)
    assert np.sqrt(fitted.inverse[1, 1]) == pytest.approx(0.17844, abs=1e-4)
    assert curves(fitted.parameters, np.array([2.5])).permeable[0] == pytest.approx(
        0.6413, abs=1e-4
    )


@pytest.mark.parametrize("truth", [ORDINARY, SOFT])
def test_derivatives_are_those_of_the_curves(truth):
    log_dose = np.array([-np.inf, *np.log(DOSES[1:]), -np.inf])
    opened = np.array([False] * 7 + [True])
    exact = curves(truth, log_dose, opened)
    for k, step in enumerate(1e-6 * np.eye(len(NAMES))):
        up, down = (curves(truth + s * step, log_dose, opened) for s in (1, -1))
        slope = (up.germinated - down.germinated) / 2e-6
        assert exact.on_germinated[:, k] == pytest.approx(slope, abs=1e-6)
        slope = (logit(up.permeable) - logit(down.permeable)) / 2e-6
        assert exact.on_logit[:7, k] == pytest.approx(slope[:7], abs=1e-6)


@pytest.mark.parametrize("name", ["best", "germinated", "window_low", "window_high"])
def test_gradients_of_what_is_measured_are_its_differences(name):
    _, slope = _measure(name)(ORDINARY)
    moved = 1e-4 * np.eye(len(NAMES))
    seen = [
        (_measure(name)(ORDINARY + d)[0] - _measure(name)(ORDINARY - d)[0]) / 2e-4 for d in moved
    ]
    assert slope == pytest.approx(np.array(seen), abs=2e-4)


def test_the_best_is_the_highest_point_and_the_window_ends_five_points_below():
    found = best(ORDINARY, LOW, HIGH)
    grid = np.linspace(LOW, HIGH, 20001)
    G = curves(ORDINARY, grid).of_sown
    assert found.log_dose == pytest.approx(grid[G.argmax()], abs=2e-4)
    ends = curves(ORDINARY, np.array(found.window)).of_sown
    assert ends == pytest.approx(found.germinated - 0.05, abs=1e-6)


def test_limits_are_those_of_a_general_optimiser():
    fitted = scarification.fit(_draw(np.random.default_rng(5), ORDINARY))
    pooled = spread.components(spread.moments(fitted.scores))
    root = np.linalg.cholesky(fitted.inverse)
    for name in ("best", "germinated"):
        measure = _measure(name)
        value, slope = measure(fitted.parameters)
        threshold = float(spread.threshold(fitted.scores, pooled, slope, confidence=0.95).value)

        def room(y, fitted=fitted, threshold=threshold):
            at = fitted.parameters + root @ y
            return threshold - 2 * (
                fitted.loglik - scarification._loglik(fitted.units, fitted.weak, at)
            )

        ends = scarification.limits(fitted, pooled, measure, confidence=0.95)
        for sign, end in ((-1, ends.low), (1, ends.high)):
            start = (
                sign * 0.9 * np.sqrt(threshold) * root.T @ slope / np.linalg.norm(root.T @ slope)
            )
            found = minimize(
                lambda y, s=sign, m=measure: -s * m(fitted.parameters + root @ y)[0],
                start,
                constraints=[{"type": "ineq", "fun": room}],
                method="SLSQP",
            )
            assert measure(fitted.parameters + root @ found.x)[0] == pytest.approx(end, abs=0.02)
        assert ends.low < value < ends.high


def test_intervals_hold_the_truth_under_dish_spread():
    # 60 studies; the calibration has more of them
    rng = np.random.default_rng(11)
    names = ("best", "germinated", "window_low", "window_high")
    true = {name: _measure(name)(ORDINARY)[0] for name in names}
    held = dict.fromkeys(names, 0)
    for _ in range(60):
        fitted = scarification.fit(_draw(rng, ORDINARY))
        pooled = spread.components(spread.moments(fitted.scores))
        for name in names:
            ends = scarification.limits(fitted, pooled, _measure(name), confidence=0.95)
            held[name] += ends.low <= true[name] <= ends.high
    assert min(held.values()) >= binom.ppf(0.01, 60, 0.94)


def test_one_viability_for_all_seeds_overstates_the_best_dose_of_a_soft_lot_and_two_do_not():
    rng = np.random.default_rng(3)
    true = best(SOFT, LOW, HIGH).log_dose
    two, one = [], []
    for _ in range(30):
        units = _draw(rng, SOFT, sd=0.0)
        free = scarification.weak(units)
        same = replace(free, precision=np.where(np.arange(7) == 3, 1e6, free.precision))
        two.append(best(scarification.fit(units).parameters, LOW, HIGH).log_dose)
        one.append(best(scarification.fit(units, same).parameters, LOW, HIGH).log_dose)
    assert abs(np.mean(two) - true) < 0.05
    assert np.mean(one) - true > 0.08


def _limited(hits, seeds):
    return scarification_harm.limited(hits, seeds, unknown=0.05, confidence=0.95)


def _harm(rng, *, harm):
    """Return the harm estimated after an acid that opens 10 … 100 % of coats in a lot of which 30 % are dead."""
    share, dead_before, hard_before = np.array([0.1, 0.5, 0.9, 1.0]), 0.3, 0.9
    hard = np.array([*(hard_before * (1 - share)), hard_before, 0.0])
    permeable = 1 - hard
    gone = permeable * (dead_before + (1 - dead_before) * np.array([*([harm] * 4), 0.0, 0.0]))
    n = np.full((6, 4), 25.0)
    counts = np.array(
        [
            [rng.multinomial(25, [h, d, 1 - h - d]) for _ in range(4)]
            for h, d in zip(hard, gone, strict=True)
        ]
    )
    closed, dead = _limited(counts[..., 0] * 1.0, n), _limited(counts[..., 1] * 1.0, n)
    opened = scarification_harm.opened_share(closed.take(slice(4)), closed.take(4))
    return scarification_harm.beyond(dead.take(slice(4)), dead.take(4), dead.take(5), opened)


def test_an_acid_that_harms_no_seed_is_not_accused_of_the_dead_that_it_brings_to_light():
    rng = np.random.default_rng(1)
    found = [_harm(rng, harm=0.0) for _ in range(200)]
    accused = np.mean([h.low > 0 for h in found])
    assert accused < 0.05
    assert np.mean([h.value for h in found], axis=0) == pytest.approx(0, abs=0.015)


def test_an_acid_that_harms_seeds_is_seen_to_do_so():
    rng = np.random.default_rng(2)
    found = [_harm(rng, harm=0.4) for _ in range(100)]
    true = 0.4 * 0.7 * (1 - 0.9 * (1 - np.array([0.1, 0.5, 0.9, 1.0])))
    assert np.mean([h.value for h in found], axis=0) == pytest.approx(true, abs=0.02)
    held = np.mean([(h.low <= true) & (true <= h.high) for h in found])
    assert held > 0.92
    assert np.mean([h.low[3] > 0 for h in found]) > 0.7


def _residuals(sd, studies, seed):
    rng = np.random.default_rng(seed)
    fitted = [scarification.fit(_draw(rng, ORDINARY, sd=sd)) for _ in range(studies)]
    found = [scarification_residuals.of_units(one) for one in fitted]
    return {
        name: np.array([getattr(one, name) for one in found]) for name in ("not_hard", "germinated")
    }


def test_by_chance_alone_one_unit_in_twenty_lies_off_the_dose_curves_and_more_where_units_differ():
    for values in _residuals(0.0, 40, seed=1).values():
        told = values[np.isfinite(values)]
        assert 0.85 < told.std() < 1.1
        assert 0.02 < (np.abs(told) > LIMIT).mean() < 0.07
    for values in _residuals(0.8, 25, seed=2).values():
        assert (np.abs(values[np.isfinite(values)]) > LIMIT).mean() > 0.12


def test_a_unit_far_off_the_dose_curve_has_the_residual_of_its_binomial_chance():
    units = _draw(np.random.default_rng(3), ORDINARY, sd=0.0)
    j = int(np.flatnonzero((units.log_dose == np.log(240.0)) & ~units.opened)[0])
    germinated = units.germinated.copy()
    germinated[j] = 5.0
    fitted = scarification.fit(replace(units, germinated=germinated))
    found = scarification_residuals.of_units(fitted)
    share = curves(fitted.parameters, units.log_dose).of_sown[j]
    alone = norm.ppf(binom.cdf(4, 25, share) + binom.pmf(5, 25, share) / 2)
    # one of four dishes of one of eight groups takes up a part of the curve, but less than half of it
    assert 1.0 < found.germinated[j] / alone < np.sqrt(2)
    assert found.germinated[j] == np.nanmin(found.germinated)
    assert np.isnan(found.not_hard[units.opened]).all()

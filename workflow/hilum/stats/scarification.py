"""The best dose of a treatment that opens coats: likelihood, dish or bath spread, intervals.

Of the n seeds of a unit (a dish, or all dishes of one bath) n − y stay hard, y ~ Bin(n, p), and of the y that took up
water g germinate normally, g ~ Bin(y, q), with p and q of `scarification_curves`. What the data cannot tell is held
by weak normal terms (`Weak`), which weigh less than one seed where there are data.

Intervals are profile likelihood intervals: all a quantity can be where −2 log likelihood ratio stays below the threshold
of `spread.py`: the wider of pooled
components and CR2. There slot 0 is logit p, slot 2 is q, and slot 1, which has no unit effect, carries the weak terms.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import logit

from hilum.stats import spread
from hilum.stats.arrays import Array
from hilum.stats.scarification_curves import NAMES, curves

_STEPS = 60
_CLIMBS = 14
_STRIDE = 0.8  # of any parameter in one step
_DAMPED = 0.6
_HALVINGS = 8
# what is wanted of the parameters, with its gradient
Measure = Callable[[Array], tuple[float, Array]]


@dataclass(frozen=True)
class Units:
    """Seeds of each unit, shape (J,): `log_dose` (minus infinity for none), seeds `sown`, `permeable`, `germinated`.

    `opened` marks seeds opened by hand, the reference: how many of those are hard is left out.
    """

    log_dose: Array
    opened: np.ndarray
    sown: Array
    permeable: Array
    germinated: Array


@dataclass(frozen=True)
class Weak:
    """Normal terms on sums of parameters: `sums` (k, 7) have `mean` (k,) with `precision` (k,)."""

    sums: Array
    mean: Array
    precision: Array


@dataclass(frozen=True)
class DoseFit:
    """The maximum: parameters (7,), log likelihood with its weak terms, scores as spread.py reads them."""

    units: Units
    weak: Weak
    parameters: Array
    loglik: float
    scores: spread.DishScores
    inverse: Array


def weak(units: Units) -> Weak:
    """Return terms that say little: slopes near 2, harm beyond the doses, both kinds of seed about as viable."""
    dosed = units.log_dose[np.isfinite(units.log_dose) & ~units.opened]
    sums = np.eye(len(NAMES))
    sums[3, 4] = -1.0  # of logit v0 only its distance from logit v1
    mean = np.array([-2.0, dosed.mean(), np.log(2.0), 0.0, 1.5, dosed.max() + 1.0, np.log(2.0)])
    sd = np.array([4.0, 4.0, 1.5, 4.0, 4.0, 4.0, 1.5])
    return Weak(sums, mean, sd**-2.0)


def fit(units: Units, terms: Weak | None = None, start: Array | None = None) -> DoseFit:
    """Return the maximum by Fisher scoring with halved steps, from the best of a few starts."""
    terms = weak(units) if terms is None else terms
    starts = _starts(units) if start is None else [start]
    found = max((_climb(units, terms, s) for s in starts), key=lambda pair: pair[1])
    return _as_fit(units, terms, *found)


def _starts(units: Units) -> list[Array]:
    """Return starts: coats open and harm begins early, in the middle or late among the doses."""
    dosed = units.log_dose[np.isfinite(units.log_dose) & ~units.opened]
    low, high = float(dosed.min()), float(dosed.max())
    plain = (
        units.sown[~np.isfinite(units.log_dose)].sum(),
        units.permeable[~np.isfinite(units.log_dose)].sum(),
    )
    p0 = (plain[1] + 0.5) / (plain[0] + 1.0) if plain[0] else 0.05
    share = units.germinated.sum() / max(units.permeable.sum(), 1.0)
    v = float(logit(np.clip(share, 0.3, 0.95)))
    return [
        np.array([logit(np.clip(p0, 0.01, 0.95)), low + f * (high - low), 0.7, v, v, h, 0.7])
        for f, h in (
            (0.2, high),
            (0.5, high + 0.5),
            (0.6, high + 1.5),
            (0.2, low + 0.5 * (high - low)),
        )
    ]


def _loglik(units: Units, terms: Weak, parameters: Array) -> float:
    found = curves(parameters, units.log_dose, units.opened)
    p, q = found.permeable, found.germinated
    coat = units.permeable * np.log(p) + (units.sown - units.permeable) * np.log1p(-p)
    grown = units.germinated * np.log(q) + (units.permeable - units.germinated) * np.log1p(-q)
    away = terms.sums @ parameters - terms.mean
    total = np.where(units.opened, 0.0, coat).sum() + grown.sum()
    return float(total - 0.5 * (terms.precision * away**2).sum())


def _scores(units: Units, terms: Weak, parameters: Array) -> spread.DishScores:
    found = curves(parameters, units.log_dose, units.opened)
    p, q = found.permeable, found.germinated
    J, k = len(p), len(terms.mean)
    score, information = np.zeros((J + k, 3)), np.zeros((J + k, 3, 3))
    jacobian, fraction = np.zeros((J + k, 3, len(NAMES))), np.zeros(J + k)
    sown = np.where(units.opened, 0.0, units.sown)
    score[:J, 0] = np.where(units.opened, 0.0, units.permeable - units.sown * p)
    information[:J, 0, 0] = sown * p * (1 - p)
    score[:J, 2] = (units.germinated - units.permeable * q) / (q * (1 - q))
    information[:J, 2, 2] = units.permeable / (q * (1 - q))
    jacobian[:J, 0], jacobian[:J, 2] = found.on_logit, found.on_germinated
    fraction[:J] = q
    score[J:, 1] = -terms.precision * (terms.sums @ parameters - terms.mean)
    information[J:, 1, 1] = terms.precision
    jacobian[J:, 1] = terms.sums
    # the weak terms are no dishes
    single = np.concatenate((units.sown <= 1, np.ones(k, dtype=bool)))
    return spread.DishScores(score, information, jacobian, fraction, single)


def _information(s: spread.DishScores) -> Array:
    return np.asarray(np.einsum("jap,jab,jbq->pq", s.jacobian, s.information, s.jacobian))


def _climb(units: Units, terms: Weak, start: Array) -> tuple[Array, float]:
    parameters, value = start, _loglik(units, terms, start)
    for _ in range(_STEPS):
        s = _scores(units, terms, parameters)
        slope = np.einsum("jap,ja->p", s.jacobian, s.score)
        step = np.linalg.lstsq(_information(s), slope, rcond=None)[0]
        step *= min(1.0, 1.5 / max(float(np.abs(step).max()), 1e-12))
        for _ in range(12):
            trial = _loglik(units, terms, parameters + step)
            if trial >= value - 1e-12:
                break
            step = step / 2
        else:
            break
        gained, parameters, value = trial - value, parameters + step, trial
        if gained < 1e-9 and float(np.abs(step).max()) < 1e-6:
            break
    return parameters, value


def _as_fit(units: Units, terms: Weak, parameters: Array, value: float) -> DoseFit:
    s = _scores(units, terms, parameters)
    return DoseFit(units, terms, parameters, value, s, spread.inverse_information(_information(s)))


def assumed(fitted: DoseFit, correlation: float) -> spread.Components:
    """Return the components of an assumed correlation of the seeds of a unit: rho over the mean p(1 − p), q(1 − q)."""
    units = fitted.units
    found = curves(fitted.parameters, units.log_dose, units.opened)
    p, q = found.permeable, found.germinated
    kept = ~units.opened
    on_p = correlation / max(float(np.average((p * (1 - p))[kept], weights=units.sown[kept])), 0.02)
    weights = np.maximum(units.permeable, 1e-9)
    on_q = correlation / max(float(np.average(q * (1 - q), weights=weights)), 0.02)
    return spread.Components(np.array([on_p, on_q]), np.full(2, spread.MOST_DEGREES_OF_FREEDOM))


@dataclass(frozen=True)
class Ends:
    """The limits of a quantity on its own scale, minus or plus infinity where the likelihood sets none."""

    low: float
    high: float
    standard_error: float


def limits(
    fitted: DoseFit, pooled: spread.Components, measure: Measure, *, confidence: float
) -> Ends:
    """Return the profile likelihood interval of what `measure` tells of the parameters."""
    value, slope = measure(fitted.parameters)
    if not (np.isfinite(value) and np.isfinite(slope).all()):
        return Ends(-np.inf, np.inf, np.inf)
    threshold = float(spread.threshold(fitted.scores, pooled, slope, confidence=confidence).value)
    return within(fitted, measure, threshold)


def within(fitted: DoseFit, measure: Measure, threshold: float) -> Ends:
    """Return all that `measure` can be where −2 log likelihood ratio is at most the threshold."""
    _, slope = measure(fitted.parameters)
    variance = float(slope @ fitted.inverse @ slope)
    if not (variance > 0 and np.isfinite(threshold)):
        return Ends(-np.inf, np.inf, np.inf)
    low = _furthest(fitted, measure, -1, max(threshold, 1e-6))
    high = _furthest(fitted, measure, 1, max(threshold, 1e-6))
    return Ends(low, high, float(np.sqrt(variance)))


def _furthest(fitted: DoseFit, measure: Measure, sign: int, threshold: float) -> float:
    """Return how far a quantity gets where −2 log likelihood ratio is at most the threshold.

    There the score is lambda times the quantity's gradient: Fisher scoring with lambda scaled until the ratio is met.
    """
    at, inverse = fitted.parameters, fitted.inverse
    value, slope = measure(at)
    push = np.sqrt(threshold / float(slope @ inverse @ slope))
    middle, ends, score = value, list[float](), np.zeros(len(at))
    for turn in range(_CLIMBS):
        # the quantity bends, which Fisher scoring leaves out: whole steps would go to and fro
        step = inverse @ (score + sign * push * slope) * (1.0 if turn == 0 else _DAMPED)
        step = step * min(1.0, _STRIDE / max(float(np.abs(step).max()), 1e-12))
        for _ in range(_HALVINGS):
            value, slope_there = measure(at + step)
            lost = 2 * (fitted.loglik - _loglik(fitted.units, fitted.weak, at + step))
            if np.isfinite(value) and np.isfinite(slope_there).all():
                break
            if lost <= threshold:
                return float(sign * np.inf)
            step = step / 2
        else:
            break
        at, slope = at + step, slope_there
        # an end that is hardly beyond the threshold is brought back in proportion
        if lost <= threshold * 1.1:
            ends.append(_brought_back(middle, value, lost, threshold))
        if abs(lost - threshold) < 1e-2 * threshold and float(np.abs(step).max()) < 0.02:
            break
        s = _scores(fitted.units, fitted.weak, at)
        score = np.einsum("jap,ja->p", s.jacobian, s.score)
        inverse = spread.inverse_information(_information(s))
        push *= float(np.clip(np.sqrt(threshold / max(lost, 1e-9)), 0.6, 1.6))
    return float(sign * max((sign * e for e in ends), default=np.inf))


def _brought_back(middle: float, end: float, lost: float, threshold: float) -> float:
    """Return the end where the ratio meets the threshold, on the parabola through the end."""
    return middle + (end - middle) * float(min(1.0, np.sqrt(threshold / max(lost, 1e-12))))

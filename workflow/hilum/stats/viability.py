"""Viability of stored seeds: a falling probit against storage time, and what follows from it.

Of the n seeds of a dish stored for p days y are alive, y ~ Bin(n, v), probit v = Ki − p/sigma (Ellis and Roberts 1980,
Annals of Botany 45:13–30, from memory): the lives of the seeds of a lot are normal with standard deviation sigma, and Ki is
the probit of its viability before storage. The parameters here are Ki and the fall p_last/sigma over the whole
storage, so that both are near 1. What the data cannot tell is held by weak normal terms on the two, which weigh as
much as a seed or two: with them a lot that lost no seed has a finite fit.

Intervals hold all that a quantity can be where −2 log likelihood ratio stays below the threshold of `spread.py`, the
wider of pooled components and CR2. There slot 2 is v, and slot 1, which no dish effect touches, carries the weak terms.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc, log_ndtr, ndtr, ndtri

from hilum.stats import profile, spread
from hilum.stats.arrays import Array

_WEAK_MEAN = np.array([2.0, 1.0])
_WEAK_PRECISION = np.full(2, 2.5**-2.0)
_STEPS = 50
_DIRECTIONS, _CLOSER = 90, 17
_LEAST_INFORMED = 0.02  # of v(1 − v): where all seeds live, or none, a correlation says nothing
# parameters (…, 2) to a quantity (…)
Measure = Callable[[Array], Array]


@dataclass(frozen=True)
class Stored:
    """Dishes of one lot and store, shape (J,): `days` stored, `seeds` looked at, of which `alive` were alive."""

    days: Array
    seeds: Array
    alive: Array

    @property
    def last(self) -> float:
        """Return the longest storage in days; a lot that was never stored counts as stored for a day."""
        return float(self.days.max()) or 1.0


@dataclass(frozen=True)
class ViabilityFit:
    """The maximum: `parameters` (Ki, fall over the whole storage), log likelihood with its weak terms, dish scores."""

    stored: Stored
    parameters: Array
    loglik: float
    scores: spread.DishScores
    inverse: Array


def probit(stored: Stored, parameters: Array, days: Array | float) -> Array:
    """Return the probit of viability; `parameters` (…, 2) and `days` have shapes that broadcast to (…)."""
    return np.asarray(parameters[..., 0] - parameters[..., 1] * np.asarray(days) / stored.last)


def fit(stored: Stored) -> ViabilityFit:
    """Return the maximum by Fisher scoring with halved steps: the log likelihood has no other top."""
    at = _WEAK_MEAN.copy()
    value = float(_loglik(stored, at))
    for _ in range(_STEPS):
        s = _scores(stored, at)
        slope = np.einsum("jap,ja->p", s.jacobian, s.score)
        step = np.linalg.solve(_information(s), slope)
        while (trial := float(_loglik(stored, at + step))) < value and np.abs(step).max() > 1e-12:
            step = step / 2
        if trial < value:
            break
        at, value = at + step, trial
        if float(np.abs(step).max()) < 1e-10:
            break
    s = _scores(stored, at)
    return ViabilityFit(stored, at, value, s, spread.inverse_information(_information(s)))


def _loglik(stored: Stored, parameters: Array) -> Array:
    """Return the log likelihood with its weak terms of parameters (…, 2)."""
    z = probit(stored, parameters[..., None, :], stored.days)
    dead = stored.seeds - stored.alive
    told = (stored.alive * log_ndtr(z) + dead * log_ndtr(-z)).sum(-1)
    return np.asarray(told - 0.5 * (_WEAK_PRECISION * (parameters - _WEAK_MEAN) ** 2).sum(-1))


def _scores(stored: Stored, parameters: Array) -> spread.DishScores:
    # beyond 7 probits a fraction is 0 or 1 but for rounding
    z = np.clip(probit(stored, parameters, stored.days), -7.0, 7.0)
    v, dead = ndtr(z), ndtr(-z)
    density = np.exp(-0.5 * z**2) / np.sqrt(2 * np.pi)
    J = len(z)
    score, information = np.zeros((J + 2, 3)), np.zeros((J + 2, 3, 3))
    jacobian, fraction = np.zeros((J + 2, 3, 2)), np.zeros(J + 2)
    score[:J, 2] = stored.alive / v - (stored.seeds - stored.alive) / dead
    information[:J, 2, 2] = stored.seeds / (v * dead)
    jacobian[:J, 2] = density[:, None] * np.stack((np.ones(J), -stored.days / stored.last), axis=-1)
    fraction[:J] = v
    score[J:, 1] = -_WEAK_PRECISION * (parameters - _WEAK_MEAN)
    information[J:, 1, 1] = _WEAK_PRECISION
    jacobian[J:, 1] = np.eye(2)
    # the weak terms are no dishes
    single = np.append(stored.seeds <= 1, [True, True])
    return spread.DishScores(score, information, jacobian, fraction, single)


def _information(s: spread.DishScores) -> Array:
    return np.asarray(np.einsum("jap,jab,jbq->pq", s.jacobian, s.information, s.jacobian))


def components(fits: Sequence[ViabilityFit], correlation: float) -> tuple[spread.Components, bool]:
    """Return the dish effects that lots of one experiment share, and whether they had to be assumed.

    Dishes alone at their times show it by how far they lie from the curve. With hardly more dishes than parameters a
    `correlation` of the seeds of a dish is the least that is used.
    """
    parts = [spread.moments(f.scores) for f in fits]
    names = ("seen", "expected", "gain", "weight", "squared_weight")
    pooled = spread.Moments(*(np.sum([getattr(m, n) for m in parts], axis=0) for n in names))
    found = spread.components(pooled)
    if found.dof[1] >= spread.FEW_DISHES:
        return found, False
    v = np.concatenate([ndtr(probit(f.stored, f.parameters, f.stored.days)) for f in fits])
    seeds = np.concatenate([f.stored.seeds for f in fits])
    varied = max(float(np.average(v * (1 - v), weights=seeds)), _LEAST_INFORMED)
    least = np.array([0.0, correlation / varied])
    dof = np.full(2, spread.MOST_DEGREES_OF_FREEDOM)
    return spread.Components(np.maximum(found.variance, least), dof), True


def together(stored: Stored) -> Stored:
    """Return the dishes of each storage time as one."""
    days, place = np.unique(stored.days, return_inverse=True)
    seeds, alive = (
        np.asarray(np.bincount(place, weights=x), dtype=float) for x in (stored.seeds, stored.alive)
    )
    return Stored(days, seeds, alive)


def misfit(fitted: ViabilityFit, scale: Array, dof: float) -> float:
    """Return the p value of a fall that is the fitted one, from the shares alive at T storage times.

    Their distances are squared over binomial variances times `scale` (T,), how much wider dishes of one time make these
    (known with `dof`), and their mean over T − 2 is held against F; 1 where T < 3.
    """
    at = together(fitted.stored)
    free = len(at.days) - 2
    if free < 1:
        return 1.0
    v = ndtr(probit(at, fitted.parameters, at.days))
    # a time at which hardly one seed could have died, or lived, says as much as one
    variance = np.maximum(at.seeds * v * (1 - v), 1.0) * scale
    ratio = float(((at.alive - at.seeds * v) ** 2 / variance).sum()) / free
    return float(fdtrc(free, dof, ratio))


@dataclass(frozen=True)
class Bend:
    """Whether the shares alive bend away from a falling probit: the p value that they do not, and the way they go.

    `slows` where late seeds live longer than the curve says, so that the fall slows down.
    """

    p: float
    slows: bool


def bend(fitted: ViabilityFit, scale: Array, dof: float) -> Bend:
    """Return the score test of a term in the square of time, from the shares alive at T storage times; 1 where T < 3.

    It looks one way alone, where `misfit` looks everywhere: of simulated stores whose ages are lognormal (six times of four
    samples of 50) it refuses the curve in 35 of 100 at 0.05, `misfit` in 7. `scale` and `dof` as there.
    """
    at = together(fitted.stored)
    if len(at.days) < 3:
        return Bend(1.0, slows=False)
    z = np.clip(probit(at, fitted.parameters, at.days), -7.0, 7.0)
    v, x = ndtr(z), at.days / fitted.stored.last
    variance = np.maximum(at.seeds * v * (1 - v), 1.0) * scale
    density = at.seeds * np.exp(-0.5 * z**2) / np.sqrt(2 * np.pi)
    line, square = density[:, None] * np.stack((np.ones_like(x), x), axis=-1), density * x**2
    known = line.T / variance
    # what of the square no straight probit could follow
    alone = square - line @ np.linalg.lstsq(known @ line, known @ square, rcond=None)[0]
    score = float((alone / variance) @ (at.alive - at.seeds * v))
    information = float((alone**2 / variance).sum())
    if information <= 0:
        return Bend(1.0, slows=False)
    return Bend(float(fdtrc(1, dof, score**2 / information)), slows=score > 0)


@dataclass(frozen=True)
class Ends:
    """The interval of a quantity, minus or plus infinity where the likelihood sets no limit."""

    low: float
    high: float


def limits(
    fitted: ViabilityFit,
    pooled: spread.Components,
    measure: Measure,
    contrasts: Sequence[Array],
    *,
    confidence: float,
) -> Ends:
    """Return all that `measure` can be within the widest threshold of the `contrasts`, (2,) each.

    The region of parameters is convex, so that a ray from the maximum leaves it once: its rim is searched in all directions,
    and once more, closer, about the lowest and the highest value.
    """
    threshold = max(
        float(spread.threshold(fitted.scores, pooled, c, confidence=confidence).value)
        for c in contrasts
    )
    step = 2 * np.pi / _DIRECTIONS
    angles = np.linspace(0, 2 * np.pi, _DIRECTIONS, endpoint=False, dtype=np.float64)
    values = measure(_rim(fitted, threshold, angles))
    ends = []
    for sign in (-1.0, 1.0):
        best = angles[np.argmax(sign * values)]
        close = measure(_rim(fitted, threshold, best + np.linspace(-step, step, _CLOSER)))
        ends.append(float(sign * max((sign * values).max(), (sign * close).max())))
    return Ends(*ends)


def _rim(fitted: ViabilityFit, threshold: float, angles: Array) -> Array:
    """Return the parameters (k, 2) at which the ratio meets the threshold, along each direction (k,)."""
    root = np.linalg.cholesky(fitted.inverse)
    ways = np.stack((np.cos(angles), np.sin(angles)), axis=-1) @ root.T

    def rise(far: Array) -> Array:
        at = fitted.parameters + far[:, None] * ways
        return np.asarray(2 * (fitted.loglik - _loglik(fitted.stored, at)))

    start, step = np.zeros(len(angles)), np.full(len(angles), np.sqrt(threshold))
    far = profile.limit(rise, start, step, np.full(len(angles), threshold), tolerance=1e-5)
    return np.asarray(fitted.parameters + far[:, None] * ways)


def ki(parameters: Array) -> Array:
    """Return the probit of the viability before storage, shape (…) for parameters (…, 2)."""
    return np.asarray(parameters[..., 0])


def sigma(stored: Stored, parameters: Array) -> Array:
    """Return the days in which viability falls by one probit, infinity where it does not fall."""
    fall = parameters[..., 1]
    falls = fall > 0
    return np.where(falls, stored.last / np.where(falls, fall, 1.0), np.inf)


def days_to(stored: Stored, parameters: Array, drop: Array) -> Array:
    """Return the days in which the probit falls by `drop` (…): infinity where it never does, 0 where it need not."""
    with np.errstate(invalid="ignore"):
        days = np.maximum(drop, 0.0) * sigma(stored, parameters)
    return np.where(drop <= 0, 0.0, days)


def half_viability_period(stored: Stored, parameters: Array) -> Array:
    """Return the days after which half of the seeds are alive: p50 = Ki·sigma."""
    return days_to(stored, parameters, ki(parameters))


def drop_to(share: float, probits: Array) -> Array:
    """Return by how many probits viability falls until `share` of that at `probits` is left."""
    return np.asarray(probits - ndtri(share * ndtr(probits)))


def time_to_share(stored: Stored, parameters: Array, share: float) -> Array:
    """Return the days after which `share` of the viability before storage is left: [Ki − Φ⁻¹(share·Φ(Ki))]·sigma."""
    return days_to(stored, parameters, drop_to(share, ki(parameters)))


def along_days(stored: Stored, days: float) -> Array:
    """Return the gradient of the probit at a time in the parameters, shape (2,)."""
    return np.array([1.0, -days / stored.last])

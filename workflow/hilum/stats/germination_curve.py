"""Fit many germination curves at once: G·F0((ln t − ln t50)/sigma), on counts between inspections.

Newton's method in (log t50, log sigma) with the analytic Hessian of curve_terms, damped where it is not
concave. Curves that cannot be fitted are outcomes with a name, not errors.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import xlogy

from hilum.stats.arrays import Array
from hilum.stats.curve_terms import (
    CurveTerms,
    LogCells,
    best_fraction,
    curve_terms,
    full_hessian,
    pack,
)
from hilum.stats.families import Family
from hilum.stats.interval_censored import Cells
from hilum.stats.spread import inverse_information

FITTED = "fitted"
NONE_GERMINATED = "none_germinated"
TOO_FEW_INSPECTIONS = "too_few_inspections"  # all within one or two of them: sigma could be 0
NOT_INSPECTED = "not_inspected"

_MOST_STEPS = 200
_SIGMA_RANGE = (-13.0, 4.0)  # ln sigma: from all at once to a curve that is flat over any test
_CHUNK = 512  # curves at a time: their arrays stay in the cache
_LONGEST_STEP = 1.5
# beyond this z the curvature of a tail is lost in the rounding of its likelihood
_FARTHEST = 6.0


@dataclass(frozen=True)
class CurveFits:
    """Fits of B curves: log t50 (hours), log sigma, G, log likelihood, all (B,), and Hessian (B, 3, 3).

    Where `outcome` is not "fitted", t50 and sigma are nan, and the
    log likelihood is the highest that any curve can reach.
    """

    log_t50: Array
    log_sigma: Array
    fraction: Array
    loglik: Array
    hessian: Array
    outcome: np.ndarray

    @property
    def covariance(self) -> Array:
        """Return the covariance of (log t50, log sigma, G), (B, 3, 3), seeds taken as independent.

        It is the inverse of the observed information; a G of exactly 1 has none.
        """
        return inverse_information(-self.hessian)

    @property
    def fitted(self) -> np.ndarray:
        """Return the marks of the curves that have a fit."""
        return np.asarray(self.outcome == FITTED)

    def take(self, curves: np.ndarray) -> CurveFits:
        """Return the fits of some curves."""
        return CurveFits(*(value[curves] for value in vars(self).values()))


def pool(cells: Cells, curves: Sequence[np.ndarray]) -> Cells:
    """Return one row for each curve: the cells of all its dishes, equal ones added up."""
    inside = [_added(cells.count[rows], cells.start_h[rows], cells.end_h[rows]) for rows in curves]
    outside = [_added(cells.censored[rows], cells.censor_h[rows]) for rows in curves]
    start, end, count = _padded(inside, 3)
    look, left = _padded(outside, 2)
    return Cells(start, end, count, look, left)


def _added(seeds: Array, *hours: Array) -> Array:
    """Return the distinct hours and the seeds at each, shape (1 + len(hours), k)."""
    where = np.stack([h.ravel() for h in hours])
    distinct, place = np.unique(where, axis=1, return_inverse=True)
    return np.vstack((distinct, np.bincount(place.ravel(), seeds.ravel(), distinct.shape[1])))


def _padded(parts: Sequence[Array], rows: int) -> tuple[Array, ...]:
    widest = max((part.shape[1] for part in parts), default=0)
    full = np.zeros((rows, len(parts), widest))
    for j, part in enumerate(parts):
        full[:, j, : part.shape[1]] = part
    return tuple(full)


@dataclass(frozen=True)
class Window:
    """Where a curve would have to rise if it rose all at once, for B curves, hours.

    Every seed germinated within reach of `at_h`; `before` seeds in cells that end there, `after` in cells that
    begin there. It rises somewhere between `low_h` and `high_h`. Where no single time is within reach of all
    seeds, `steep` is false.
    """

    steep: np.ndarray
    at_h: Array
    low_h: Array
    high_h: Array
    before: Array
    after: Array


def window(cells: Cells) -> Window:
    """Return the window of each curve: the cells that hold seeds share it, or meet in one hour."""
    held = cells.count > 0
    start, end = np.where(held, cells.start_h, 0.0), np.where(held, cells.end_h, np.inf)
    latest, at = start.max(-1, initial=0.0), end.min(-1, initial=np.inf)
    ends, begins = held & (end == at[:, None]), held & (start == at[:, None])
    low = np.where(begins, 0.0, start).max(-1, initial=0.0)
    high = np.where(ends & begins.any(-1, keepdims=True), np.inf, end).min(-1, initial=np.inf)
    meet = latest == at
    seeds = ((cells.count * part * meet[:, None]).sum(-1) for part in (ends, begins))
    return Window((latest <= at) & held.any(-1), at, low, high, *seeds)


def outcomes(cells: Cells) -> np.ndarray:
    """Return the named outcome of each curve, shape (B,), before any fit."""
    found = np.where(window(cells).steep, TOO_FEW_INSPECTIONS, FITTED)
    found = np.where(cells.germinated == 0, NONE_GERMINATED, found)
    return np.where(cells.last_h <= 0, NOT_INSPECTED, found)


def fit(cells: Cells, family: Family) -> CurveFits:
    """Return the maximum likelihood fit of each of B curves (one row of `cells` each)."""
    outcome = outcomes(cells)
    B = len(outcome)
    point, fraction, loglik = np.full((B, 2), np.nan), np.zeros(B), np.zeros(B)
    hessian = np.zeros((B, 3, 3))
    for chunk in np.array_split(np.flatnonzero(outcome == FITTED), -(-B // _CHUNK) or 1):
        packed = pack(cells.take(chunk))
        if not len(chunk):
            continue
        found, terms = climb(packed, start(packed, family), family)
        point[chunk], fraction[chunk], loglik[chunk] = found, terms.fraction, terms.loglik
        hessian[chunk] = full_hessian(packed, found[:, 0], found[:, 1], terms.fraction, family)
    other = np.flatnonzero(outcome != FITTED)
    if len(other):
        fraction[other], loglik[other] = _step_curves(cells.take(other))
    return CurveFits(point[:, 0], point[:, 1], fraction, loglik, hessian, outcome)


def start(cells: LogCells, family: Family) -> Array:
    """Return starting values (B, 2): mean and spread of the log times of the seeds that germinated."""
    begin = np.maximum(cells.start, cells.end - 1.5)  # the first cell begins at ln 0
    middle, width = (begin + cells.end) / 2, cells.end - begin
    n = cells.germinated
    mean = np.einsum("bk,bk->b", cells.count, middle) / n
    square = np.einsum("bk,bk->b", cells.count, (middle - mean[:, None]) ** 2 + width**2 / 12) / n
    sigma = np.sqrt(square) / family.sd
    # a few seeds long after ten thousand others would lie so far out that no step could be told from there
    farthest = np.where(cells.count > 0, begin, -np.inf).max(-1) - mean
    return np.stack((mean, np.log(np.maximum(sigma, farthest / _FARTHEST))), axis=-1)


def _step_curves(cells: Cells) -> tuple[Array, Array]:
    """Return G and the log likelihood of a curve that rises all at once, which no other curve can exceed."""
    some, rise = cells.germinated > 0, window(cells)
    N = np.where(some, cells.germinated, 1.0)
    split = rise.before + rise.after
    share = np.where(split > 0, rise.before / np.where(split > 0, split, 1.0), 1.0)
    reached = np.where(cells.censor_h > rise.at_h[:, None], 1.0, 0.0)
    reached = np.where(cells.censor_h == rise.at_h[:, None], share[:, None], reached)
    left = cells.censored
    G = best_fraction(N, left, reached)
    loglik = xlogy(rise.before, share) + xlogy(rise.after, 1 - share) + N * np.log(G)
    loglik = loglik + (left * np.log(np.where(left > 0, 1 - G[:, None] * reached, 1.0))).sum(-1)
    return np.where(some, G, 0.0), np.where(some, loglik, 0.0)


@dataclass(frozen=True)
class Held:
    """What a profile holds still, for B curves.

    The coordinates are (eta, ln sigma) with eta = log t50 + at·sigma, the log time of the quantile whose z is `at`
    (B,). `free` says which of the two may move; `fraction` (B,) holds G.
    """

    at: Array
    free: tuple[bool, bool] = (True, True)
    fraction: Array | None = None

    def take(self, curves: np.ndarray) -> Held:
        """Return what is held for some curves."""
        fraction = None if self.fraction is None else self.fraction[curves]
        return Held(self.at[curves], self.free, fraction)


def climb(
    cells: LogCells, begin: Array, family: Family, held: Held | None = None
) -> tuple[Array, CurveTerms]:
    """Return the highest points (B, 2) in (eta, ln sigma) of Held, and the terms there in the same coordinates."""
    held = Held(np.zeros(len(begin))) if held is None else held
    point = begin.copy()
    point[:, 1] = np.clip(point[:, 1], *_SIGMA_RANGE)
    terms = _terms(cells, point, family, held)
    damping = np.full(len(point), 1e-4)
    active, cells_left, held_left = np.arange(len(point)), cells, held
    for _ in range(_MOST_STEPS):
        here = _at_the_edge(terms.take(active), point[active, 1])
        step, gain = _newton_step(here, np.exp(point[active, 1]), damping[active], held.free)
        moving = gain > 1e-11
        if not moving.all():
            active, step = active[moving], step[moving]
            cells_left, held_left = cells_left.take(moving), held_left.take(moving)
        if not len(active):
            break
        trial = point[active] + step
        trial[:, 1] = np.clip(trial[:, 1], *_SIGMA_RANGE)
        found = _terms(cells_left, trial, family, held_left)
        better = found.loglik > terms.loglik[active]
        _put(terms, point, active[better], found.take(better), trial[better])
        damping[active] = np.where(
            better, np.maximum(damping[active] / 30, 1e-10), damping[active] * 12
        )
        stuck = damping[active] > 1e9
        if stuck.any():
            active = active[~stuck]
            cells_left, held_left = cells_left.take(~stuck), held_left.take(~stuck)
    return point, terms


def _at_the_edge(terms: CurveTerms, log_sigma: Array) -> CurveTerms:
    """Return the terms with sigma held where the slope leads out of its range, so that t50 still moves."""
    low, high = _SIGMA_RANGE
    slope = terms.gradient[:, 1]
    out = ((log_sigma <= low) & (slope < 0)) | ((log_sigma >= high) & (slope > 0))
    if not out.any():
        return terms
    held = out[:, None] & np.array([False, True])
    gradient = np.where(held, 0.0, terms.gradient)
    hessian = np.where(held[:, :, None] | held[:, None, :], -np.eye(2), terms.hessian)
    return CurveTerms(terms.loglik, terms.fraction, gradient, hessian)


def _put(
    terms: CurveTerms, point: Array, where: np.ndarray, found: CurveTerms, trial: Array
) -> None:
    point[where] = trial
    for name, value in vars(found).items():
        getattr(terms, name)[where] = value


def _newton_step(
    terms: CurveTerms, sigma: Array, damping: Array, free: tuple[bool, bool]
) -> tuple[Array, Array]:
    """Return a damped Newton step (b, 2) and the gain that it promises, (b,).

    Lengths are measured in sigma on log time and in 1 on ln sigma.
    """
    unit = np.stack((sigma, np.ones_like(sigma)), axis=-1)
    g = terms.gradient * unit * free
    H = -terms.hessian * unit[:, :, None] * unit[:, None, :]
    a, b, c = (H[:, 0, 0] * free[0], H[:, 1, 1] * free[1], H[:, 0, 1] * (free[0] and free[1]))
    lowest = (a + b) / 2 - np.sqrt((a - b) ** 2 / 4 + c * c)
    size = np.maximum(np.abs(a), np.abs(b)) + 1e-12
    # where the surface is not concave the step follows the slope, damped as far as the curvature is wrong
    extra = damping * size + 1.5 * np.maximum(-lowest, 0)
    a, b = a + extra, b + extra
    a, b = (a if free[0] else np.ones_like(a)), (b if free[1] else np.ones_like(b))
    determinant = np.maximum(a * b - c * c, 1e-12 * a * b)
    step = np.stack((b * g[:, 0] - c * g[:, 1], a * g[:, 1] - c * g[:, 0]), axis=-1)
    step = step / determinant[:, None]
    longest = np.abs(step).max(-1)
    step = step * np.minimum(1.0, _LONGEST_STEP / np.maximum(longest, 1e-12))[:, None]
    return step * unit, (step * g).sum(-1)


def _terms(cells: LogCells, point: Array, family: Family, held: Held) -> CurveTerms:
    """Return the terms in (eta, ln sigma), by the chain rule from (log t50, ln sigma)."""
    shift = held.at * np.exp(point[:, 1])
    terms = curve_terms(cells, point[:, 0] - shift, point[:, 1], family, held.fraction)
    if not held.at.any():
        return terms
    (g, k), H = terms.gradient.T, terms.hessian
    hessian = H.copy()
    hessian[:, 0, 1] = hessian[:, 1, 0] = H[:, 0, 1] - shift * H[:, 0, 0]
    hessian[:, 1, 1] = H[:, 1, 1] - 2 * shift * H[:, 0, 1] + shift**2 * H[:, 0, 0] - shift * g
    gradient = np.stack((g, k - shift * g), axis=-1)
    return CurveTerms(terms.loglik, terms.fraction, gradient, hessian)

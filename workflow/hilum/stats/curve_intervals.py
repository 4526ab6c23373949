"""Intervals of germination curves that hold although dishes differ: profile likelihood, widened.

Times, slope and germinable fraction of each curve have the profile likelihood interval at the threshold of
spread.threshold. Curves of one study share their dish components; where no curve has two dishes, an intra-dish
correlation is assumed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hilum.stats import profile, spread
from hilum.stats.arrays import Array
from hilum.stats.curve_terms import LogCells, pack
from hilum.stats.families import Family
from hilum.stats.germination_curve import CurveFits, Held, climb, pool
from hilum.stats.interval_censored import Cells, dish_terms, log_hours

# a time this much (log hours) beyond the test, or before its first inspection, is beyond what it can say
_FARTHEST = 3.0


@dataclass(frozen=True)
class Curves:
    """Dishes and the curves that they belong to.

    `cells` has a row for each dish, `rows` (C, J) the dishes of each curve, filled up with −1, and `study`
    (C,) numbers the curves that share their dish components.
    """

    cells: Cells
    rows: np.ndarray
    study: np.ndarray

    def pooled(self) -> Cells:
        """Return the cells of each curve, its dishes added up, (C, …)."""
        there = self.rows >= 0
        dishes = self.cells.take(np.where(there, self.rows, self.rows[:, :1]))
        hours = (dishes.start_h, dishes.end_h, dishes.censor_h)
        if all((x == x[:, :1]).all() for x in hours):  # all dishes inspected together
            start, end, look = (x[:, 0] for x in hours)
            count, left = (
                np.einsum("cjk,cj->ck", seeds, there) for seeds in (dishes.count, dishes.censored)
            )
            return Cells(start, end, count, look, left)
        return pool(self.cells, [rows[rows >= 0] for rows in self.rows])


@dataclass(frozen=True)
class DishSpread:
    """How the dishes of each curve differ: their scores, components (C, 2), and whether these were seen."""

    scores: spread.DishScores
    components: spread.Components
    known: np.ndarray


@dataclass(frozen=True)
class Limits:
    """Limits of one quantity of each curve, (C,); nan where that end is open."""

    low: Array
    high: Array
    threshold: spread.Threshold


@dataclass(frozen=True)
class Band:
    """A fitted fraction of the seeds sown and its pointwise limits, (C, T) each."""

    fraction: Array
    low: Array
    high: Array


def dish_spread(
    curves: Curves, fits: CurveFits, family: Family, *, correlation_when_unknown: float
) -> DishSpread:
    """Return the dishes' scores at the fits, and their components pooled over each study."""
    scores = _scores(curves, fits, family)
    pooled = _by_study(spread.moments(scores), curves.study)
    found = spread.components(pooled)
    sd = family.sd * np.exp(np.where(fits.fitted, fits.log_sigma, 0.0))
    assumed = spread.assumed(correlation_when_unknown, sd, fits.fraction)
    known = found.dof > 0
    few = ~known | ((found.dof < spread.FEW_DISHES) & (found.variance < assumed.variance))
    components = spread.Components(
        np.where(few, assumed.variance, found.variance), np.where(few, assumed.dof, found.dof)
    )
    return DishSpread(scores, components, known[:, 0])


def _scores(curves: Curves, fits: CurveFits, family: Family) -> spread.DishScores:
    there = (curves.rows >= 0) & fits.fitted[:, None]
    curve, place = np.nonzero(there)
    terms = dish_terms(
        curves.cells.take(curves.rows[curve, place]),
        fits.log_t50[curve],
        fits.log_sigma[curve],
        fits.fraction[curve],
        family,
    )
    score, information = np.zeros((*there.shape, 3)), np.zeros((*there.shape, 3, 3))
    score[there], information[there] = terms.score, terms.information
    jacobian = np.zeros((*there.shape, 3, 3))
    jacobian[there] = np.eye(3)
    jacobian[..., 2, 2] *= (fits.fraction < 1)[:, None]
    fraction = np.broadcast_to(fits.fraction[:, None], there.shape)
    single = there & (curves.cells.seeds[curves.rows] <= 1)
    return spread.DishScores(score, information, jacobian, fraction, single)


def _by_study(moments: spread.Moments, study: np.ndarray) -> spread.Moments:
    """Return for each curve the moment equations summed over its study."""
    sums = []
    for value in vars(moments).values():
        total = np.zeros((study.max(initial=0) + 1, *value.shape[1:]))
        np.add.at(total, study, value)
        sums.append(total[study])
    return spread.Moments(*sums)


def thresholds(dishes: DishSpread, contrast: Array, *, confidence: float) -> spread.Threshold:
    """Return the threshold of one contrast (C, 3) in (log t50, log sigma, G) of each curve."""
    return spread.threshold(dishes.scores, dishes.components, contrast, confidence=confidence)


def quantile_limits(
    curves: Curves,
    fits: CurveFits,
    dishes: DishSpread,
    family: Family,
    part: float,
    *,
    confidence: float,
) -> Limits:
    """Return the limits in hours of the time by which `part` of the germinable seeds germinated."""
    (found,) = all_quantile_limits(curves, fits, dishes, family, (part,), confidence=confidence)
    return found


def all_quantile_limits(
    curves: Curves,
    fits: CurveFits,
    dishes: DishSpread,
    family: Family,
    parts: Sequence[float],
    *,
    confidence: float,
) -> list[Limits]:
    """Return the limits in hours of the times by which each of `parts` of the germinable seeds germinated.

    The limits of all parts are searched at once.
    """
    z, C = family.quantile(np.asarray(parts, dtype=float)), len(fits.fraction)
    sigma = np.exp(fits.log_sigma)
    told = []
    for one in z:
        contrast = np.stack((np.ones_like(sigma), one * sigma, np.zeros_like(sigma)), axis=-1)
        told.append(thresholds(dishes, contrast, confidence=confidence))
    cells = curves.pooled()
    first = np.where(cells.end_h > 0, cells.end_h, np.inf).min(-1, initial=np.inf)
    edges = log_hours(first) - _FARTHEST, log_hours(cells.last_h) + _FARTHEST
    curve = np.tile(np.arange(C), len(z))
    held = Held(np.repeat(z, C), (False, True))
    ends = _limits(
        cells.take(curve),
        fits.take(curve),
        family,
        held,
        (fits.log_t50 + z[:, None] * sigma).ravel(),
        spread.Threshold(*map(np.concatenate, zip(*map(_fields, told), strict=True))),
        (edges[0][curve], edges[1][curve]),
    )
    low, high = (np.exp(end).reshape(len(z), C) for end in ends)
    return [Limits(*one) for one in zip(low, high, told, strict=True)]


def _fields(threshold: spread.Threshold) -> tuple[Array, ...]:
    return tuple(vars(threshold).values())


def slope_limits(
    curves: Curves, fits: CurveFits, dishes: DishSpread, family: Family, *, confidence: float
) -> Limits:
    """Return the limits of the slope 1/sigma."""
    contrast = np.broadcast_to(np.array([0.0, 1.0, 0.0]), (len(fits.fraction), 3))
    limit = thresholds(dishes, contrast, confidence=confidence)
    cells = curves.pooled()
    held = Held(np.zeros(len(contrast)), (True, False))
    edges = np.full(len(contrast), -9.0), np.full(len(contrast), 3.0)
    low, high = _limits(cells, fits, family, held, fits.log_sigma, limit, edges)
    return Limits(np.exp(-high), np.exp(-low), limit)


def fraction_limits(
    curves: Curves, fits: CurveFits, dishes: DishSpread, family: Family, *, confidence: float
) -> Limits:
    """Return the limits of the germinable fraction; they can be exactly 0 and 1."""
    contrast = np.broadcast_to(np.array([0.0, 0.0, 1.0]), (len(fits.fraction), 3))
    limit = thresholds(dishes, contrast, confidence=confidence)
    cells = curves.pooled()
    # a G on its boundary has no information of its own; any first step will do
    held = Held(np.zeros(len(contrast)), (True, True), fits.fraction)
    edges = np.full(len(contrast), 1e-9), np.ones(len(contrast))
    low, high = _limits(cells, fits, family, held, fits.fraction, limit, edges)
    low, high = (
        np.where(np.isnan(end) & fits.fitted, bound, end)
        for end, bound in ((low, 0.0), (high, 1.0))
    )
    return Limits(low, high, limit)


def band(
    fits: CurveFits, dishes: DishSpread, family: Family, hours: Array, *, confidence: float
) -> Band:
    """Return the fitted fraction of the seeds sown at some hours (C, T), with its pointwise interval.

    The interval is made on logit F by the delta method, at the threshold of each point. F never falls, so a
    high end also bounds every earlier time, and a low end every later one. Curves without a fit are 0.
    """
    known = fits.fitted[:, None]
    sigma = np.exp(np.where(known[:, 0], fits.log_sigma, 0.0))[:, None]
    G = np.where(known, fits.fraction[:, None], 0.5)
    z = (np.log(hours) - np.where(known, fits.log_t50[:, None], 0.0)) / sigma
    F = np.clip(G * np.exp(family.log_cdf(z)), 1e-12, 1 - 1e-12)
    density = G * np.exp(family.log_pdf(z))
    gradient = np.stack((-density / sigma, -z * density, F / G), axis=-1)
    gradient = gradient / (F * (1 - F))[..., None]
    half = np.sqrt(_point_variance(dishes, gradient, confidence))
    logit = np.log(F / (1 - F))
    low, high = (1 / (1 + np.exp(-np.clip(logit + s * half, -30, 30))) for s in (-1, 1))
    high = np.minimum.accumulate(high[:, ::-1], axis=1)[:, ::-1]
    low = np.maximum.accumulate(low, axis=1)
    return Band(*(np.where(known, x, 0.0) for x in (F, low, high)))


def _point_variance(dishes: DishSpread, gradient: Array, confidence: float) -> Array:
    """Return variance times threshold of each contrast (C, T, 3)."""
    scores = spread.DishScores(*(value[:, None] for value in vars(dishes.scores).values()))
    shared = spread.Components(*(value[:, None] for value in vars(dishes.components).values()))
    limit = spread.threshold(scores, shared, gradient, confidence=confidence)
    known = np.isfinite(limit.model_variance)
    return np.where(known, limit.value * np.where(known, limit.model_variance, 0.0), 0.0)


def surely_over(
    curves: Curves, fits: CurveFits, family: Family, part: float, threshold: Array
) -> np.ndarray:
    """Return which curves surely had `part` of their germinable seeds germinated at the last inspection.

    F0(last) ≥ part is the same as t_part ≤ last, so the profile of t_part is asked there. Curves without a fit are
    asked too: theirs is the likelihood of a curve so steep that it fits exactly.
    """
    cells = curves.pooled()
    z = float(family.quantile(np.asarray(part)))
    asked = (cells.germinated > 0) & (cells.last_h > 0)
    sure = np.zeros(len(asked), dtype=bool)
    if not asked.any():
        return sure
    some = pack(cells.take(asked))
    sigma = np.where(fits.fitted, np.exp(fits.log_sigma), 0.05)[asked]
    eta = np.log(cells.last_h[asked])
    held = Held(np.full(len(eta), z), (False, True))
    at_limit = np.where(fits.fitted, fits.log_t50 + z * np.exp(fits.log_sigma), -np.inf)[asked]
    _, terms = climb(some, np.stack((eta, np.log(sigma)), axis=-1), family, held)
    rise = 2 * (fits.loglik[asked] - terms.loglik)
    sure[asked] = (rise > threshold[asked]) & (at_limit < eta)
    return sure


def _limits(
    cells: Cells,
    fits: CurveFits,
    family: Family,
    held: Held,
    estimate: Array,
    limit: spread.Threshold,
    edges: tuple[Array, Array],
) -> tuple[Array, Array]:
    """Return both limits of the quantity that `held` holds, (C,), nan where open or without a fit.

    Both sides of all curves are searched at once.
    """
    C = np.flatnonzero(fits.fitted)
    low, high = np.full(len(fits.fraction), np.nan), np.full(len(fits.fraction), np.nan)
    if not len(C):
        return low, high
    both = np.concatenate((C, C))
    step = np.sqrt(np.where(np.isfinite(limit.model_variance), limit.model_variance, 0.01))
    reach = (step * np.sqrt(limit.value))[C]
    rise = _Rise(pack(cells.take(both)), family, held.take(both), fits, both)
    found = profile.limit(
        rise,
        estimate[both],
        np.concatenate((-reach, reach)),
        limit.value[both],
        edge=np.concatenate((edges[0][C], edges[1][C])),
    )
    low[C], high[C] = np.split(found, 2)
    return low, high


class _Rise:
    """−2 log likelihood ratio with one quantity held, each search begun where the last one ended."""

    def __init__(
        self, cells: LogCells, family: Family, held: Held, fits: CurveFits, curves: np.ndarray
    ) -> None:
        self.cells, self.family, self.held = cells, family, held
        self.top = fits.loglik[curves]
        sigma = np.exp(fits.log_sigma[curves])
        eta = fits.log_t50[curves] + held.at * sigma
        self.point = np.stack((eta, fits.log_sigma[curves]), axis=-1)

    def __call__(self, x: Array) -> Array:
        """Return the rise at the held values x, shape (n,)."""
        held, begin = self.held, self.point.copy()
        if held.fraction is not None:
            held = Held(held.at, held.free, x)
        elif held.free[0]:
            begin[:, 1] = x
        else:
            begin[:, 0] = x
        point, terms = climb(self.cells, begin, self.family, held)
        self.point = point
        return np.asarray(2 * (self.top - terms.loglik))

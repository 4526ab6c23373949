"""How long something lasts, where its beginning and its end were both seen only between two looks.

Span i began in (began_low, began_high] and ended in (ended_low, ended_high], infinity where it had not ended when it was
last seen. A beginning is taken to be anywhere between its looks with the same chance, so the likelihood of a span is the
mean over s of F(ended_high − s) − F(ended_low − s) (doubly interval-censored data: De Gruttola and Lagakos 1989,
Biometrics 45:1–11, with a family of distributions in the place of theirs). F is log-logistic, log-normal or Weibull with
median exp(m) and spread sigma of the logarithm.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri_exp, stdtr, stdtrit

from hilum.stats import profile
from hilum.stats.ascent import Surface, climb
from hilum.stats.families import FAMILIES, Array, Family, ratio
from hilum.stats.interval_censored import log_hours

# Gauss and Legendre's points: the mean of a smooth function between two looks
_PLACES, _WEIGHTS = (np.asarray(x / 2, dtype=float) for x in np.polynomial.legendre.leggauss(5))
_LOG_TIME, _LOG_SIGMA = (np.log(1e-3), np.log(1e6)), (np.log(0.01), 2.0)
_LOWEST, _HIGHEST = (np.array([side]) for side in zip(_LOG_TIME, _LOG_SIGMA, strict=True))
_NEARLY = 4.0  # of AIC: a family this close to the best may well be the true one
_DIRECTIONS, _TOLERANCE = 72, 1e-3
FEWEST = 5  # ended spans, below which a family says more than the spans do


@dataclass(frozen=True)
class Spans:
    """Between which times each span began and ended, arrays (n,) in one unit of time."""

    began_low: Array
    began_high: Array
    ended_low: Array
    ended_high: Array

    def __len__(self) -> int:
        """Return how many spans there are."""
        return len(self.began_low)

    @property
    def shortest(self) -> Array:
        """Return how long each lasted at least, (n,)."""
        return np.maximum(self.ended_low - self.began_high, 0.0)

    @property
    def longest(self) -> Array:
        """Return how long each lasted at most, infinity where it had not ended, (n,)."""
        return np.asarray(self.ended_high - self.began_low)

    @property
    def ended(self) -> np.ndarray:
        """Return which spans ended, (n,)."""
        return np.isfinite(self.ended_high)


def since_start(left: Array, right: Array) -> Spans:
    """Return spans that all began at 0 and ended in (left, right], both (n,)."""
    zero = np.zeros(len(left))
    return Spans(zero, zero, np.maximum(left, 0.0), right)


@dataclass(frozen=True)
class _Cells:
    """The distinct spans with each place s where they may have begun: log(ended − s), (k, m), and log weights (m,)."""

    log_low: Array
    log_high: Array
    ended: np.ndarray
    log_weight: Array
    kind: np.ndarray
    count: Array


def _cells(spans: Spans) -> _Cells:
    rows = np.stack((spans.began_low, spans.began_high, spans.ended_low, spans.ended_high), axis=1)
    kinds, kind, count = np.unique(rows, axis=0, return_inverse=True, return_counts=True)
    low, high, ended_low, ended_high = kinds.T[:, :, None]
    exact = bool((low == high).all())
    places, weights = (np.zeros(1), np.ones(1)) if exact else (_PLACES, _WEIGHTS)
    s = (low + high) / 2 + (high - low) * places
    after = np.maximum(ended_low - s, 0.0)
    # who begins and ends at one look lasted for a moment
    before = np.maximum(np.where(np.isfinite(ended_high), ended_high, 1.0) - s, 1e-6)
    ended = np.broadcast_to(np.isfinite(ended_high), s.shape)
    before = np.where(ended, np.maximum(before, after * (1 + 1e-9)), 2 * after + 1.0)
    return _Cells(
        log_hours(after), np.log(before), ended, np.log(weights), kind.ravel(), count.astype(float)
    )


def _surface(cells: _Cells, family: Family, point: Array, count: Array) -> Surface:
    """Return the log likelihood at points (log median, log sigma), (b, 2), with spans counted as in `count`, (k,) or (b, k).

    The information is the sum of squared scores.
    """
    m, sigma = point[:, :1, None], np.exp(point[:, 1:, None])
    z1, z2 = (cells.log_low - m) / sigma, (cells.log_high - m) / sigma
    log_p, r1, r2 = family.cell(z1, z2)
    log_s = family.log_sf(z1)
    log_p = np.where(cells.ended, log_p, log_s) + cells.log_weight
    r1 = np.where(cells.ended, r1, ratio(family.log_pdf(z1), log_s))
    r2 = np.where(cells.ended, r2, 0.0)
    top = log_p.max(-1, keepdims=True)
    share = np.exp(log_p - top)
    whole = share.sum(-1, keepdims=True)
    share, total = share / whole, top + np.log(whole)
    by_m = (share * (r1 - r2)).sum(-1) / sigma[..., 0]
    by_sigma = (share * (z1 * r1 - z2 * r2)).sum(-1)
    score = np.stack((by_m, by_sigma), axis=-1)
    weighed = np.asarray(count)[..., None] * score
    return Surface(
        np.asarray((count * total[..., 0]).sum(-1)),
        np.asarray(weighed.sum(-2)),
        np.einsum("bki,bkj->bij", np.broadcast_to(weighed, score.shape), score),
    )


@dataclass(frozen=True)
class Lasting:
    """The fit of one family: log median, log sigma, the root of their covariance, and log likelihood.

    `events` spans had ended. `steep` where the spread is too small to be seen between looks.
    """

    family: Family
    log_median: float
    log_sigma: float
    loglik: float
    root: Array
    events: int
    cells: _Cells

    @property
    def steep(self) -> bool:
        """Return whether the looks are too far apart to see any spread."""
        return bool(self.log_sigma <= _LOG_SIGMA[0] + 1e-6)

    def quantile(self, level: Array) -> Array:
        """Return the times by which these shares have ended, the shape of `level`."""
        z = self.family.quantile(np.asarray(level, dtype=float))
        return np.asarray(np.exp(self.log_median + np.exp(self.log_sigma) * z))


def fit(spans: Spans) -> tuple[Lasting, ...]:
    """Return the families that fit about as well as the best, the best first; at least one span must have ended."""
    fits = sorted(_each(spans), key=lambda f: -f.loglik)
    return tuple(f for f in fits if 2 * (fits[0].loglik - f.loglik) <= _NEARLY)


def _each(spans: Spans) -> list[Lasting]:
    cells, events = _cells(spans), int(spans.ended.sum())
    return [_fitted(cells, family, events) for family in FAMILIES]


def _start(cells: _Cells) -> Array:
    """Return a first log median and log sigma from the middles of the spans that ended."""
    ended = cells.ended[:, 0]
    low = np.maximum(cells.log_low[ended].mean(-1), cells.log_high[ended].mean(-1) - 2.0)
    middle = np.repeat((low + cells.log_high[ended].mean(-1)) / 2, cells.count[ended].astype(int))
    return np.array([np.median(middle), np.log(max(float(middle.std()), 0.15))])


def _fitted(cells: _Cells, family: Family, events: int) -> Lasting:
    point = climb(
        lambda p: _surface(cells, family, p, cells.count), _start(cells)[None], _LOWEST, _HIGHEST
    )
    top = _surface(cells, family, point, cells.count)
    m, s = (float(x) for x in point[0])
    return Lasting(family, m, s, float(top.value[0]), _root(top.information[0]), events, cells)


def _root(information: Array) -> Array:
    """Return the root of the covariance, (2, 2); what the spans hardly tell is held to a spread of e²."""
    value, vector = np.linalg.eigh(information)
    return np.asarray(vector / np.sqrt(np.clip(value, 0.25, 1e8)))


def threshold(events: int, confidence: float) -> float:
    """Return what −2 log likelihood ratio may reach: n·ln(1 + t²/(n − 1)), exact for the mean of n normal values."""
    n = max(events, 2)
    t = float(stdtrit(n - 1, 0.5 + confidence / 2))
    return float(n * np.log1p(t * t / (n - 1)))


def limits(fits: tuple[Lasting, ...], levels: Array, confidence: float) -> tuple[Array, Array]:
    """Return limits (k,) of the quantiles at `levels` (k,), nan where an end is open.

    Those of the profile likelihood, and the widest of all families that fit about as well.
    """
    ends = [_limits(f, levels, confidence) for f in fits]
    low, high = (np.stack(side) for side in zip(*ends, strict=True))
    # an end that is open in one family is open
    return low.min(0), high.max(0)


def _limits(fitted: Lasting, levels: Array, confidence: float) -> tuple[Array, Array]:
    """Return the least and the largest value of each quantile on the edge of the region of this confidence."""
    edge = _edge(fitted, threshold(fitted.events, confidence))
    z = fitted.family.quantile(levels)
    log_q = edge[:, :1] + np.exp(edge[:, 1:]) * z
    high = log_q.max(0)
    return np.exp(log_q.min(0)), np.where(high < _LOG_TIME[1], np.exp(high), np.nan)


def _edge(fitted: Lasting, wide: float) -> Array:
    """Return points (d, 2) all around the maximum at which −2 log likelihood ratio is `wide`, or a bound is reached."""
    angle = np.linspace(0, 2 * np.pi, _DIRECTIONS, endpoint=False)
    circle = np.stack((np.cos(angle), np.sin(angle)), axis=1)
    top = np.array([fitted.log_median, fitted.log_sigma])
    # the curvature sets the scale, so that all sides of a long region are met alike
    ray = circle @ fitted.root.T
    room = np.where(ray < 0, _LOWEST - top, _HIGHEST - top)
    reach = np.abs(room / np.where(ray == 0, 1e-300, ray)).min(-1)

    def rise(radius: Array) -> Array:
        point = top + radius[:, None] * ray
        at = _surface(fitted.cells, fitted.family, point, fitted.cells.count)
        return 2 * (fitted.loglik - at.value)

    zero, step = np.zeros(_DIRECTIONS), np.full(_DIRECTIONS, np.sqrt(wide))
    far = profile.limit(
        rise, zero, step, np.full(_DIRECTIONS, wide), edge=reach, tolerance=_TOLERANCE
    )
    return top + np.where(np.isnan(far), reach, far)[:, None] * ray


def chance_beyond(spans: Spans, rows: np.ndarray, times: Array) -> Array:
    """Return the chance that a span lasts longer than `times` (b,), each judged by all spans but that in its row of `rows` (b,).

    Of the families that fit the others about as well the one that is most patient counts, and what is not known of the
    spread widens it as Student's t does a normal forecast. It is 1 where fewer than five other spans have ended.
    """
    if not len(rows):
        return np.ones(0)
    others = spans.ended.sum() - spans.ended[rows]
    enough = others >= FEWEST
    if not enough.any():
        return np.ones(len(rows))
    each = [_beyond(f, rows, times, others) for f in _each(spans)]
    chance, loglik = (np.stack(part) for part in zip(*each, strict=True))
    nearly = 2 * (loglik.max(0) - loglik) <= _NEARLY
    return np.where(enough, np.where(nearly, chance, 0.0).max(0), 1.0)


def _beyond(fitted: Lasting, rows: np.ndarray, times: Array, others: Array) -> tuple[Array, Array]:
    """Return the chance by one family, and its log likelihood of the other spans, both (b,)."""
    cells = fitted.cells
    count = np.tile(cells.count, (len(rows), 1))
    count[np.arange(len(rows)), cells.kind[rows]] -= 1
    point, loglik = _climbed(fitted, count)
    z = (log_hours(times) - point[:, 0]) / np.exp(point[:, 1])
    n = np.maximum(others, 2.0)
    score = -ndtri_exp(np.minimum(fitted.family.log_sf(z), -1e-12)) / np.sqrt(1 + 1 / n)
    return np.asarray(stdtr(n - 1, -score)), loglik


def _climbed(fitted: Lasting, count: Array) -> tuple[Array, Array]:
    """Return the maximum (b, 2) for each way of counting the kinds of span, (b, k), and its log likelihood (b,)."""
    top = np.array([fitted.log_median, fitted.log_sigma])
    # a third coordinate, held by its bounds, says whose counts a point belongs to
    whose = np.arange(len(count), dtype=float)[:, None]

    def at(point: Array) -> Surface:
        own = count[point[:, 2].astype(int)]
        found = _surface(fitted.cells, fitted.family, point[:, :2], own)
        return Surface(
            found.value,
            np.pad(found.gradient, ((0, 0), (0, 1))),
            np.pad(found.information, ((0, 0), (0, 1), (0, 1))),
        )

    start, low, high = (
        np.hstack((np.tile(ends, (len(count), 1)), whose)) for ends in (top, _LOWEST, _HIGHEST)
    )
    found = climb(at, start, low, high)
    return found[:, :2], at(found).value

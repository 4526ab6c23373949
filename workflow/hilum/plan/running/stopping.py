"""Whether to go on inspecting: the chance that further inspections of a running test change its answer.

The parameters of each curve are drawn from what the counts so far let them be: the likelihood on a grid, divided by the design effect
of dishes, times a prior: flat in √G, sigma near 0.2, and log t50 near that of the other curves at the same place, since seeds that a
treatment lets germinate take about as long as others. Early in a test, when a curve has not turned, that is a wide range, which no
normal approximation has. Then the seeds are drawn that each dish has left: one that has not germinated
by t does so by t + d with the probability

    G·(F0(t + d) − F0(t))/(1 − G·F0(t)).

With the counts so completed the shares germinated and their differences are taken anew.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.special import expit, logit

from hilum.analyses.dishes import DishCounts, Key, assemble
from hilum.analyses.estimate import Tables
from hilum.analyses.time_course.finals import Shares, by_group, shares
from hilum.stats import germination_curve, proportions, spread
from hilum.stats.arrays import Array
from hilum.stats.families import LOG_LOGISTIC
from hilum.stats.interval_censored import Cells, log_hours

_DRAWS = 400
_GRID = (61, 21, 40)  # log t50, log sigma, G
_EARLIEST, _LATEST = 3.5, 1.5  # of log t50, before and after the last inspection
_ALIKE = 0.35  # of log t50 among treatments at one place (common practice, no source)
_SIGMA, _SIGMA_SD = 0.2, 0.6  # of seed lots of many kinds (common practice, no source)
_WIDEST = 3.0  # standard deviations of a logit; with more, any share would be as likely
_EDGE = 1e-6
_LEAST = 1e-3  # of a correlation


@dataclass(frozen=True, kw_only=True)
class Group:
    """What further inspections would do to one lot, treatment and place.

    `more` seeds of 100 are expected to germinate, between `low` and `high`; with chance `moves` the share germinated comes to lie
    outside its interval of today.
    """

    key: Key
    at_h: float
    germinated: float
    seeds: float
    more: float
    low: float
    high: float
    moves: float


@dataclass(frozen=True, kw_only=True)
class Pair:
    """Two treatments at one place: whether they surely differ today, and the chance that this answer changes."""

    one: Key
    other: Key
    differs: bool
    changes: float


@dataclass(frozen=True, kw_only=True)
class Outlook:
    """The chances for all groups of an experiment within `days`; `changes` that any answer changes, `going` where dishes still run."""

    days: float
    going: bool
    groups: tuple[Group, ...]
    pairs: tuple[Pair, ...]
    changes: float


def outlook(
    tables: Tables, *, days: float, unknown: float, confidence: float, rng: np.random.Generator
) -> Outlook | None:
    """Return the chances that `days` more of inspections change the answers; None where nothing was inspected."""
    dishes = assemble(tables).first_phase()
    dishes = dishes.take(dishes.cells.last_h > 0)
    groups = dishes.groups()
    if not groups:
        return None
    seeds = by_group(dishes.seeds, groups)
    now = by_group(dishes.cells.germinated, groups)
    today = shares(now, seeds, unknown=unknown, confidence=confidence)
    rho = max(float(today.correlation.rho), _LEAST)
    later = now + _further(dishes, groups, days, rho, rng)
    then = shares(
        later, np.broadcast_to(seeds, later.shape), unknown=unknown, confidence=confidence
    )
    moved = (then.fraction < today.low) | (then.fraction > today.high)
    pairs, changed = _pairs(tuple(groups), today, then)
    changes = moved.any(-1) if not pairs else changed.any(-1)
    return Outlook(
        days=days,
        going=bool((~dishes.finished).any()),
        groups=tuple(
            _group(key, i, dishes.take(rows), today, then, moved)
            for i, (key, rows) in enumerate(groups.items())
        ),
        pairs=tuple(pairs),
        changes=float(changes.mean()),
    )


def _group(
    key: Key, i: int, dishes: DishCounts, today: Shares, then: Shares, moved: np.ndarray
) -> Group:
    more = 100 * (then.fraction[:, i] - today.fraction[i])
    low, high = np.quantile(more, (0.05, 0.95))
    return Group(
        key=key,
        at_h=float(dishes.cells.last_h.max()),
        germinated=float(today.fraction[i]),
        seeds=float(today.groups.total[i]),
        more=float(more.mean()),
        low=float(low),
        high=float(high),
        moves=float(moved[:, i].mean()),
    )


def _pairs(keys: tuple[Key, ...], today: Shares, then: Shares) -> tuple[list[Pair], np.ndarray]:
    """Return the pairs of treatments of one lot and place, and in which draws (draws, pairs) their answer changes."""
    made, changed = [], []
    for i, j in combinations(range(len(keys)), 2):
        one, other = keys[i], keys[j]
        if (one[0], f"{one[2]:g}", one[3]) != (other[0], f"{other[2]:g}", other[3]):
            continue
        before, after = _verdict(today, i, j), _verdict(then, i, j)
        changes = after != before
        changed.append(changes)
        made.append(
            Pair(one=one, other=other, differs=bool(before != 0), changes=float(changes.mean()))
        )
    return made, np.stack(changed, axis=-1) if changed else np.zeros((_DRAWS, 0), dtype=bool)


def _verdict(share: Shares, i: int, j: int) -> Array:
    """Return 1 or −1 where the first surely has more or less, 0 where that is not known, (…)."""
    told = (share.fraction, share.low, share.high)
    _, low, high = proportions.difference(*((x[..., i], x[..., j]) for x in told))
    return np.asarray(np.where(low > 0, 1.0, np.where(high < 0, -1.0, 0.0)))


# seeds still to come


def _further(
    dishes: DishCounts,
    groups: Mapping[Key, np.ndarray],
    days: float,
    correlation: float,
    rng: np.random.Generator,
) -> Array:
    """Return drawn seeds that germinate within `days`, (draws, C, D); none of finished dishes."""
    widest = max(len(rows) for rows in groups.values())
    made = np.zeros((_DRAWS, len(groups), widest))
    told = [_told(dishes.cells.take(rows), dishes, correlation) for rows in groups.values()]
    near = _near(tuple(groups), told)
    for i, rows in enumerate(groups.values()):
        cells = dishes.cells.take(rows)
        at = _drawn(told[i] + near[i][:, None, None], dishes, rng)
        chance = _chances(at, cells.last_h, 24 * days, correlation, rng)
        left = np.where(dishes.finished[rows], 0.0, dishes.seeds[rows] - cells.germinated)
        made[:, i, : len(rows)] = rng.binomial(left.astype(int), chance)
    return made


def _axes(dishes: DishCounts) -> tuple[Array, Array, Array]:
    """Return the grid of log t50, log sigma and G, the same for all curves of an experiment."""
    last = float(np.log(dishes.cells.last_h.max()))
    G = (np.arange(_GRID[2]) + 0.5) / _GRID[2]
    return (
        last + np.linspace(-_EARLIEST, _LATEST, _GRID[0]),
        np.log(_SIGMA) + _SIGMA_SD * np.linspace(-2.5, 2.5, _GRID[1]),
        # squares lie close together near 0, where a hard lot has its G: the prior is that of √G being flat
        G**2,
    )


def _told(cells: Cells, dishes: DishCounts, correlation: float) -> Array:
    """Return what the counts of one curve tell of the grid, with the prior of sigma: a log likelihood (m, s, g)."""
    mu, log_sigma, G = _axes(dishes)
    effect = 1 + max(float(cells.germinated.mean()) - 1, 0.0) * correlation
    pooled = germination_curve.pool(cells, [np.arange(len(cells.seeds))])
    inside, look = _by_place(pooled, mu[:, None], np.exp(log_sigma))
    told = inside[..., None] + float(pooled.germinated[0]) * np.log(G)
    told = told + (pooled.censored[0][:, None] * np.log1p(-G * look[..., None])).sum(-2)
    prior = -0.5 * ((log_sigma - np.log(_SIGMA)) / _SIGMA_SD)[:, None] ** 2
    return np.asarray(told / effect + prior)


def _near(keys: tuple[Key, ...], told: Sequence[Array]) -> list[Array]:
    """Return the log prior of log t50 of each curve, (m,): near that of the other curves at its place, which share a middle.

    With l_i(mu) what curve i tells, m_i(c) = Σ l_i(mu) N(mu; c, tau²) of a middle c, and the prior is Σ N(mu; c, tau²) Π m_j(c)
    over the others j.
    """
    steps = np.linspace(0, _EARLIEST + _LATEST, _GRID[0])
    kernel = np.exp(-0.5 * ((steps[:, None] - steps) / _ALIKE) ** 2)
    marginal = [np.exp(t - t.max()).sum((1, 2)) for t in told]
    middle = [np.log(np.maximum(kernel @ m, 1e-300)) for m in marginal]
    places = [(f"{key[2]:g}", key[3]) for key in keys]
    made = []
    for i in range(len(keys)):
        others = sum(
            (middle[j] for j in range(len(keys)) if j != i and places[j] == places[i]),
            start=np.zeros(len(steps)),
        )
        made.append(np.log(kernel @ np.exp(others - others.max()) + 1e-300))
    return made


def _drawn(told: Array, dishes: DishCounts, rng: np.random.Generator) -> Array:
    """Return drawn (log t50, log sigma, G) of one curve, (draws, 3), from its log posterior on the grid."""
    mu, log_sigma, G = _axes(dishes)
    weight = np.exp(told - told.max()).ravel()
    picked = rng.choice(weight.size, _DRAWS, p=weight / weight.sum())
    a, b, c = np.unravel_index(picked, told.shape)
    # within a cell of the grid every value is as likely
    shake = rng.uniform(-0.5, 0.5, size=(_DRAWS, 3))
    root = (np.sqrt(G[c]) + shake[:, 2] / _GRID[2]) ** 2
    at = mu[a] + shake[:, 0] * (mu[1] - mu[0])
    scale = log_sigma[b] + shake[:, 1] * (log_sigma[1] - log_sigma[0])
    return np.asarray(np.stack((at, scale, root), axis=-1))


def _by_place(cells: Cells, mu: Array, sigma: Array) -> tuple[Array, Array]:
    """Return Σ n log(F0(end) − F0(start)) and F0 at the last looks, (m, s) and (m, s, M), for medians and sigmas."""
    held = cells.count[0] > 0
    start, end = (log_hours(x[0][held]) for x in (cells.start_h, cells.end_h))
    log_p, _, _ = LOG_LOGISTIC.cell(
        (start - mu[..., None]) / sigma[:, None], (end - mu[..., None]) / sigma[:, None]
    )
    look = np.exp(
        LOG_LOGISTIC.log_cdf((log_hours(cells.censor_h[0]) - mu[..., None]) / sigma[:, None])
    )
    return (cells.count[0][held] * log_p).sum(-1), look


def _chances(
    at: Array, last: Array, more: float, correlation: float, rng: np.random.Generator
) -> Array:
    """Return the chances of seeds left at `last` (D,) to germinate within `more` hours, (draws, D), for parameters (draws, 3)."""
    mu, sigma, G = at[:, :1], np.exp(at[:, 1:2]), np.clip(at[:, 2:], _EDGE, 1 - _EDGE)
    dish = spread.assumed(correlation, sigma * LOG_LOGISTIC.sd, G).variance
    shape = (len(at), len(last))
    mu = mu + np.sqrt(dish[..., 0]) * rng.normal(size=shape)
    G = expit(logit(G) + np.minimum(np.sqrt(dish[..., 1]), _WIDEST) * rng.normal(size=shape))
    by_now, by_then = (
        G * np.exp(LOG_LOGISTIC.log_cdf((np.log(hours) - mu) / sigma))
        for hours in (last, last + more)
    )
    return np.clip((by_then - by_now) / np.maximum(1 - by_now, _EDGE), 0.0, 1.0)

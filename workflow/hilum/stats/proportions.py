"""Fractions of seeds in dishes that differ more than a binomial: intervals, differences, equivalence.

The number x of n seeds in a dish has the variance n p q [1 + (n − 1) rho] of a beta-binomial, rho the intra-dish
correlation, shared by the groups of an experiment and estimated by moments. Intervals are Wilson's and
Newcombe's with z² replaced by a threshold c·t²: c is the variance of the group's fraction over p q/n. Of the
pooled c and the group's own (cluster-robust CR2, Bell–McCaffrey degrees of freedom) the wider counts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import betainc, gammaincinv, stdtr

from hilum.stats.arrays import Array
from hilum.stats.spread import (
    FEW_DISHES,
    FEWEST_DEGREES_OF_FREEDOM,
    MOST_DEGREES_OF_FREEDOM,
    satterthwaite,
    t_squared,
)

_HALVINGS = 50  # of the way from 0 to 1: to the last digit


@dataclass(frozen=True)
class Groups:
    """Seeds with a property, `hits` of `seeds`, in each dish of each group, shape (…, D); filled up with 0."""

    hits: Array
    seeds: Array

    @property
    def total(self) -> Array:
        """Return the seeds of each group, (…)."""
        return np.asarray(self.seeds.sum(-1))

    @property
    def fraction(self) -> Array:
        """Return the fraction of each group, (…); 0 where it has no seeds."""
        total = self.total
        return np.asarray(self.hits.sum(-1) / np.where(total > 0, total, 1.0))


@dataclass(frozen=True)
class Correlation:
    """Intra-dish correlation and its degrees of freedom; `known` is false where it had to be assumed."""

    rho: Array
    dof: Array
    known: np.ndarray


@dataclass(frozen=True)
class Spread:
    """The scale c and degrees of freedom of both methods, shape (…)."""

    pooled_scale: Array
    pooled_dof: Array
    own_scale: Array
    own_dof: Array

    def take(self, groups: np.ndarray) -> Spread:
        """Return the spread of some groups."""
        return Spread(*(value[groups] for value in vars(self).values()))

    def _both(self, confidence: Array | float) -> tuple[Array, Array]:
        pooled = self.pooled_scale * t_squared(self.pooled_dof, confidence)
        own = self.own_scale * t_squared(self.own_dof, confidence)
        return pooled, np.where(self.own_dof >= FEWEST_DEGREES_OF_FREEDOM, own, 0.0)

    def threshold(self, confidence: Array | float) -> Array:
        """Return c·t² of the wider method at this confidence."""
        return np.asarray(np.maximum(*self._both(confidence)))

    @property
    def own_is_wider(self) -> np.ndarray:
        """Return where the dishes of a group differ more than the pooled correlation says."""
        known = self.own_dof >= FEWEST_DEGREES_OF_FREEDOM
        return np.asarray(known & (self.own_scale > self.pooled_scale))

    def shared_threshold(self, confidence: Array | float) -> Array:
        """Return c·t² for groups that are compared: the larger scale, with the degrees of freedom of the pool.

        Three degrees of freedom of a group's own four dishes would make t so large at the small p values that many
        comparisons ask for that no difference could be shown. Simulated (2 to 8 groups, 2 and 4 dishes, correlation 0,
        0.03 and 0.1): 94 to 99 % of 95 % intervals hold, also where the correlation of one group is 16 times that of
        another, but for two such groups alone (85 to 88 %, where nothing holds); p at 5 % is right in 2 to 4 %.
        """
        scale = np.where(self.own_is_wider, self.own_scale, self.pooled_scale)
        return np.asarray(scale * t_squared(self.pooled_dof, confidence))


def correlation(groups: Groups, *, unknown: float) -> Correlation:
    """Return rho shared by the groups on the last axis but one, by moments and cut at 0.

    Σ (x − n p)²/(n p q) has the mean Σ [1 − n/N + rho·gain] under the beta-binomial. Without two dishes in any
    group that shows both seeds with and without the property, rho is `unknown`, an assumption; and it is at
    least that where very few dishes speak.
    """
    n, N = groups.seeds, np.where(groups.total > 0, groups.total, 1.0)[..., None]
    p = groups.fraction[..., None]
    # p̂q̂ is short of pq by about 1/N
    pq = p * (1 - p) * N / np.maximum(N - 1, 1)
    # a dish of one seed has no others that could be like it
    shows = (pq > 0) & (n > 0) & (n > 1).any(-1, keepdims=True)
    scale = np.where(shows, n * pq, 1.0)
    seen = np.where(shows, (groups.hits - n * p) ** 2 / scale, 0.0)
    expected = np.where(shows, 1 - n / N, 0.0)
    own, all_dishes = n * (n - 1), (n * (n - 1)).sum(-1, keepdims=True)
    pull = np.where(shows, own * (1 - 2 * n / N) + (n / N) ** 2 * all_dishes, 0.0)
    gain = pull / np.where(shows, n, 1.0)
    seen, expected, gain = (x.sum((-2, -1)) for x in (seen, expected, gain))
    dof = (shows.sum(-1) - shows.any(-1)).sum(-1)
    known = (dof > 0) & (gain > 0)
    rho = np.clip((seen - expected) / np.where(known, gain, 1.0), 0.0, 1.0)
    few = ~known | ((dof < FEW_DISHES) & (rho < unknown))
    return Correlation(
        np.where(few, unknown, rho), np.where(few, MOST_DEGREES_OF_FREEDOM, dof * 1.0), known
    )


def spread(groups: Groups, rho: Correlation) -> Spread:
    """Return how much wider than a binomial the fraction of each group is."""
    n, N = groups.seeds, np.where(groups.total > 0, groups.total, 1.0)[..., None]
    scale = 1 + (n * (n - 1)).sum(-1) / N[..., 0] * rho.rho[..., None]
    nu_pool = np.broadcast_to(rho.dof[..., None], scale.shape)
    own_scale, own_dof = _robust(groups, n, N)
    single = (n <= 1).all(-1)
    own_dof = np.where(single, 0.0, own_dof)
    # a pool that no group of three dishes can check has its own degrees of freedom, as in spread.py
    checked = own_dof >= FEWEST_DEGREES_OF_FREEDOM
    pooled_dof = np.where(checked, satterthwaite(scale, nu_pool), nu_pool)
    pooled_dof = np.where(single, MOST_DEGREES_OF_FREEDOM, pooled_dof)
    return Spread(scale, pooled_dof, own_scale, own_dof)


def _robust(groups: Groups, n: Array, N: Array) -> tuple[Array, Array]:
    """Return CR2's variance over p q/N, and Bell–McCaffrey's degrees of freedom.

    H_jk = √(n_j n_k)/N and c_j = √n_j/√(1 − n_j/N), so P_jk = c_j(delta_jk − H_jk)c_k.
    """
    p = groups.fraction[..., None]
    pq = (p * (1 - p))[..., 0]
    rest = 1 - n / N
    alone = rest < 1e-9
    rest = np.where(alone, 1.0, rest)
    squares = np.where(alone, 0.0, (groups.hits - n * p) ** 2 / rest).sum(-1)
    scale = np.where(pq > 0, squares / np.where(pq > 0, N[..., 0] * pq, 1.0), 0.0)
    c = np.where(alone, 0.0, np.sqrt(n / rest))
    lean = c * np.sqrt(n / N)
    P = np.eye(n.shape[-1]) * (c**2)[..., None] - lean[..., :, None] * lean[..., None, :]
    trace, total = np.einsum("...jj->...", P), (P**2).sum((-2, -1))
    return scale, np.where(total > 0, trace**2 / np.where(total > 0, total, 1.0), 0.0)


def wilson(hits: Array, seeds: Array, threshold: Array) -> tuple[Array, Array]:
    """Return Wilson's limits of hits/seeds, with z² = `threshold`; 0 and 1 without any seeds.

    The limits are the p at which (x/n − p)² = threshold·p q/n. # Wilson (1927), score interval
    """
    n = np.where(seeds > 0, seeds, 1.0)
    p = hits / n
    middle = p + threshold / (2 * n)
    half = np.sqrt(threshold * (p * (1 - p) + threshold / (4 * n)) / n)
    low, high = (middle - half) / (1 + threshold / n), (middle + half) / (1 + threshold / n)
    low = np.where((seeds <= 0) | (hits <= 0), 0.0, np.maximum(low, 0.0))
    return low, np.where((seeds <= 0) | (hits >= seeds), 1.0, np.minimum(high, 1.0))


def held_near_ends(
    hits: Array, seeds: Array, threshold: Array, confidence: float
) -> tuple[Array, Array]:
    """Return Wilson's limits, further out where only a few seeds have the property or lack it.

    There Wilson's coverage dips: a share just below its limit for one hit in 100, 0.0018, shows a hit in 16 of 100 samples.
    """
    low, high = wilson(hits, seeds, threshold)
    low = np.minimum(low, _rare(hits, seeds, confidence))
    return low, np.maximum(high, 1 - _rare(seeds - hits, seeds, confidence))


def _rare(hits: Array, seeds: Array, confidence: float) -> Array:
    """Return the lower limit of a share of so few hits that Wilson's is too high, 1 for any other.

    With up to 2 hits, 3 beyond 50 seeds, it is lambda/n, where a Poisson count of the mean lambda stays below the hits with the
    confidence. # Brown, Cai and DasGupta (2001), Statistical Science 16:101–133, section 4.1.1, from memory
    """
    few = (hits >= 1) & (hits <= np.where(seeds > 50, 3, 2))
    rate = gammaincinv(np.where(few, hits, 1.0), 1 - confidence)
    return np.where(few, rate / np.where(seeds > 0, seeds, 1.0), 1.0)


def mid_p(hits: float, seeds: float, confidence: float) -> tuple[float, float]:
    """Return the mid-P limits of hits/seeds; hits may be expected ones, between two numbers.

    At each limit as many hits or more extreme ones, those themselves counted half, have a chance of
    (1 − confidence)/2. # Lancaster (1961); for seeds that are few it holds where Jeffreys' and Wilson's fall short
    """
    side = (1 - confidence) / 2
    low = _mid_p(hits, seeds, side) if hits > 0 else 0.0
    return low, 1 - _mid_p(seeds - hits, seeds, side) if hits < seeds else 1.0


def _mid_p(hits: float, seeds: float, side: float) -> float:
    """Return the fraction at which `hits` or more, those themselves counted half, have the chance `side`."""
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        p = (low + high) / 2
        # the chance of x or more in n is I_p(x, n − x + 1)
        more = betainc(hits + 1, seeds - hits, p) if hits < seeds else 0.0
        chance = (betainc(hits, seeds - hits + 1, p) + more) / 2
        low, high = (p, high) if chance < side else (low, p)
    return (low + high) / 2


def difference(
    value: tuple[Array, Array], low: tuple[Array, Array], high: tuple[Array, Array]
) -> tuple[Array, Array, Array]:
    """Return a difference (first minus second) and its limits from the limits of both.

    # Newcombe (1998), method 10; any pair of limits can enter: Zou and Donner (2008), MOVER
    """
    delta = value[0] - value[1]
    down = np.hypot(value[0] - low[0], high[1] - value[1])
    up = np.hypot(high[0] - value[0], value[1] - low[1])
    return delta, delta - down, delta + up


def chance_of_none(delta: Array, reach: Array, dof: Array, confidence: float) -> Array:
    """Return the two-sided p value of no difference, from the limit's distance `reach` towards 0."""
    t = np.abs(delta) / np.maximum(reach, 1e-300) * np.sqrt(t_squared(dof, confidence))
    return np.asarray(2 * stdtr(dof, -t))


def holm(p: Array) -> Array:
    """Return Holm's (1979) adjusted p values of one family of comparisons, shape (k,)."""
    order = np.argsort(p, kind="stable")
    stepped = np.maximum.accumulate(p[order] * np.arange(len(p), 0, -1))
    adjusted = np.empty_like(p)
    adjusted[order] = np.minimum(stepped, 1.0)
    return adjusted

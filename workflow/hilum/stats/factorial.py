"""Two or more factors crossed over dishes of seeds: the analysis of deviance, scaled for dish spread.

Each main effect is tested beside the other main effects, each interaction of two beside everything but itself.
F is the mean deviance of a term over the mean deviance between dishes of one combination. On 1000 simulated
experiments each (2 × 3 combinations, 2 to 4 dishes of 25 seeds, germination about a half or nine tenths) main
effects that were absent came out at 5 % in 3.1 to 5.5 % for dish correlations of 0 and 0.05 and 3.1 to 7.2 % for 0.2;
interactions in 2.5 to 5.4 %, and 1.0 to 5.1 % for 0.2. The likelihood ratio of a beta-binomial came out in 11 to
22 % (three designs, 80 each), and Pearson's X² as the scale, all combinations counted, in up to 11 % of 300 each.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.special import fdtrc

from hilum.stats.arrays import Array
from hilum.stats.dish_counts import BinomialFit, DishCounts, binomial

_FEWEST_DISHES = 2  # degrees of freedom between dishes; with one the F has no use
_NO_SPREAD = 1e-9
Term = tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class Tested:
    """One term: the factors in it, its deviance and degrees of freedom, F with `dishes_dof` below it, and p."""

    term: Term
    deviance: float
    dof: int
    f: float
    dishes_dof: int
    p: float


def analysis_of_deviance(hits: Array, seeds: Array, levels: np.ndarray) -> tuple[Tested, ...]:
    """Return main effects, then interactions of two; empty where dishes cannot show their spread.

    `hits` and `seeds` are (J,), `levels` (J, F) whole numbers from 0, every combination of which has dishes.
    Dishes of a combination in which none or all germinated show no spread and are not counted for it.
    """
    spread, dishes_dof = _between_dishes(hits, seeds, levels)
    if dishes_dof < _FEWEST_DISHES or spread <= _NO_SPREAD:
        return ()
    mains: list[Term] = [(i,) for i in range(levels.shape[1])]
    pairs: list[Term] = list(combinations(range(levels.shape[1]), 2))

    def fitted(terms: Iterable[Term]) -> BinomialFit:
        return binomial(DishCounts(hits, seeds, _design(levels, terms)))

    found = []
    for among, beside in ((mains, []), (pairs, mains)):
        full = fitted([*beside, *among])
        for term in among:
            without = fitted([*beside, *(other for other in among if other != term)])
            deviance, dof = max(0.0, without.deviance - full.deviance), without.dof - full.dof
            f = deviance / dof / spread
            p = float(fdtrc(dof, dishes_dof, f))
            found.append(
                Tested(term=term, deviance=deviance, dof=dof, f=f, dishes_dof=dishes_dof, p=p)
            )
    return tuple(found)


def _between_dishes(hits: Array, seeds: Array, levels: np.ndarray) -> tuple[float, int]:
    """Return the mean deviance between dishes of one combination, and its degrees of freedom."""
    deviance, dof = 0.0, 0
    for combination in np.unique(levels, axis=0):
        here = (levels == combination).all(axis=1)
        r, n = hits[here], seeds[here]
        if 0 < r.sum() < n.sum() and here.sum() > 1:
            found = binomial(DishCounts(r, n, np.ones((len(r), 1))))
            deviance, dof = deviance + found.deviance, dof + found.dof
    return deviance / max(dof, 1), dof


def _design(levels: np.ndarray, terms: Iterable[Term]) -> Array:
    parts = [np.ones((len(levels), 1))]
    for term in terms:
        parts.append(_columns([_contrasts(levels[:, factor]) for factor in term]))
    return np.concatenate(parts, axis=1)


def _contrasts(level: np.ndarray) -> Array:
    """Return deviations from the last level, (J, k − 1): main effects then mean the same at every level."""
    count = int(level.max()) + 1
    sums = np.concatenate((np.eye(count - 1), -np.ones((1, count - 1))))
    return np.asarray(sums[level])


def _columns(factors: Sequence[Array]) -> Array:
    made = factors[0]
    for other in factors[1:]:
        made = (made[:, :, None] * other[:, None, :]).reshape(len(made), -1)
    return made

"""How far the baths of one treatment differed in a finished study, from its checked tables."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from hilum.analyses.dishes import DishCounts, assemble
from hilum.analyses.estimate import Tables
from hilum.plan.asked.design import Plan
from hilum.plan.asked.material import BATH_SD
from hilum.stats import proportions
from hilum.stats.arrays import Array

# a few baths say little of how far baths differ, often that they do not: what is found is drawn to what holds where nothing is
# known, as if so many baths had said that (six beyond the first of their treatment)
_BATHS_BEFORE = 6.0
_LEAST_VARIED = 0.02
# shares of which seeds among which
_COATS, _GERMINATION = ("permeable", "sown"), ("germinated", "permeable")


def bath_sd(plan: Plan, tables: Mapping[str, Tables]) -> float | None:
    """Return how far the baths of one treatment differ on a logit, None where no treatment had several.

    It is that of the seeds that took up water and of those among them that germinated normally, together.
    """
    treated = [own for one in tables.values() for own in _in_baths(plan, assemble(one))]
    unknown = plan.guesses.dish_correlation
    told = [_between(treated, *of, unknown) for of in (_COATS, _GERMINATION)]
    if not any(dof for _, dof in told):
        return None
    before = (BATH_SD**2, _BATHS_BEFORE)
    variances, dofs = zip(*told, before, strict=True)
    return float(f"{np.sqrt(np.average(variances, weights=dofs)):.2g}")


def _between(
    treated: Sequence[_Treated], hits: str, seeds: str, unknown: float
) -> tuple[float, float]:
    """Return the variance of the logit of a share between baths, and its degrees of freedom.

    By moments: rho between baths, less what their dishes add, over the mean of p(1 − p).
    """
    baths = _groups([(t.by_bath(hits), t.by_bath(seeds)) for t in treated])
    dishes = _groups(
        [
            tuple(getattr(t, of)[t.bath == b] for of in (hits, seeds))
            for t in treated
            for b in set(t.bath.tolist())
        ]
    )
    rho = proportions.correlation(baths, unknown=0.0)
    if not rho.known:
        return 0.0, 0.0
    alike = float(proportions.correlation(dishes, unknown=unknown).rho)
    in_bath = (dishes.seeds > 0).sum() / len(dishes.seeds)
    varied = float((baths.fraction * (1 - baths.fraction)).mean())
    return max(float(rho.rho) - alike / in_bath, 0.0) / max(varied, _LEAST_VARIED), float(rho.dof)


@dataclass(frozen=True)
class _Treated:
    """Dishes of one treatment that lay in several baths, arrays (dishes,): the number of each one's bath, and seeds."""

    bath: np.ndarray
    sown: Array
    permeable: Array
    germinated: Array

    def by_bath(self, seeds: str) -> Array:
        """Return such seeds of each bath, (baths,)."""
        return np.bincount(self.bath, getattr(self, seeds)).astype(float)


def _in_baths(plan: Plan, dishes: DishCounts) -> Iterator[_Treated]:
    """Yield the treatments that had several baths."""
    of_lot = plan.guesses.lot is None or dishes.lot == plan.guesses.lot
    # the fates of a dish that was changed during the test are not those of its treatment
    whole = (dishes.phase == 1) & dishes.last & dishes.fates.known & (dishes.batch != "")
    own = dishes.take(whole & of_lot)
    for rows in own.groups().values():
        fates, (names, bath) = own.fates.take(rows), np.unique(own.batch[rows], return_inverse=True)
        if len(names) > 1:
            sown = own.seeds[rows] - fates.lost
            yield _Treated(bath, sown, sown - fates.hard, fates.germinated - fates.abnormal)


def _groups(rows: Sequence[tuple[Array, ...]]) -> proportions.Groups:
    """Return groups of unequal numbers, filled up with nothing."""
    widest = max((len(seeds) for _, seeds in rows), default=1)
    hits, seeds = (
        np.array([np.pad(row[i], (0, widest - len(row[i]))) for row in rows]).reshape(-1, widest)
        for i in (0, 1)
    )
    return proportions.Groups(hits, seeds)

"""Candidates: one response and one family of times fitted to a series, and whether the data pin it down."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hilum.stats import cardinal, thermal
from hilum.stats.arrays import Array
from hilum.stats.candidates import scaled_aic
from hilum.stats.cardinal import Peak, Wanted
from hilum.stats.families import Family
from hilum.stats.response import SHAPES, Shape
from hilum.stats.thermal import Model, Series, Shared

_FEWEST_GERMINATING = {"linear": 1, "plateau": 3, "triangle": 3, "trapezoid": 4}
_FEWEST_TESTED = {"linear": 2, "plateau": 3, "triangle": 4, "trapezoid": 5}
_SINGULAR = 1e-7
_NOTHING = 1e-12  # an information from which a parameter is known to a million million of its units


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """One fitted model.

    `rising` and `falling` count the germinating temperatures that stand on either slope in every curve that the data
    allow; `identifiable` where two stand on each slope that the response has.
    """

    shape: Shape
    peak: Peak
    aic: float
    rising: int
    falling: int
    identifiable: bool


class Peaks:
    """Fit models to pooled series, many at once and each only once: the tests on the way ask for the same ones as the choice."""

    def __init__(self) -> None:
        """Begin without any fit."""
        self._free: dict[tuple[bytes, Family, Shared], Peak] = {}
        self._fitted: dict[tuple[bytes, Wanted], Peak] = {}

    def free_rates(self, pool: Series, wanted: Sequence[tuple[Family, Shared]]) -> list[Peak]:
        """Return the fits with a rate of its own at each regime that germinated; who shares is numbered for all regimes."""
        live = pool.germinating()
        own = [(family, thermal.among_germinating(pool, shared)) for family, shared in wanted]
        new = [one for one in dict.fromkeys(own) if (live.key, *one) not in self._free]
        for one, peak in zip(new, cardinal.free_rates(new, live), strict=True):
            self._free[live.key, *one] = peak
        return [self._free[live.key, *one] for one in own]

    def fitted(self, pool: Series, wanted: Sequence[Wanted]) -> list[Peak]:
        """Return the best fit of each model."""
        new = [one for one in dict.fromkeys(wanted) if (pool.key, one) not in self._fitted]
        known = self.free_rates(pool, [(one.family, one.shared) for one in new])
        for one, peak in zip(new, cardinal.all_fitted(new, pool, known), strict=True):
            self._fitted[pool.key, one] = peak
        return [self._fitted[pool.key, one] for one in wanted]


@dataclass(frozen=True, kw_only=True)
class Candidates:
    """Fit candidates: `scale` is that of their AIC, `reach` how far −2 log likelihood may lie below the best."""

    shapes: Sequence[Shape]
    scale: float
    reach: float
    peaks: Peaks

    def __call__(
        self,
        series: Series,
        families: Sequence[Family],
        shared: Shared,
        *,
        own_bases: bool = False,
    ) -> tuple[Candidate, ...]:
        """Return every candidate that the temperatures suffice for, and a straight line in any case.

        With `own_bases` seeds differ in their base.
        """
        pool = thermal.pooled(series)
        wanted = self.wanted(pool, families, shared, own_bases=own_bases)
        peaks = self.peaks.fitted(pool, wanted)
        return tuple(
            _candidate(one.shape, peak, pool, self.reach, self.scale)
            for one, peak in zip(wanted, peaks, strict=True)
        )

    def wanted(
        self, pool: Series, families: Sequence[Family], shared: Shared, *, own_bases: bool = False
    ) -> list[Wanted]:
        """Return the models of these candidates, which a pooled series suffices for."""
        warm = len(cardinal.sprouting_temperatures(pool))
        enough = [
            shape
            for shape in self.shapes
            if warm >= _FEWEST_GERMINATING[shape] and pool.regimes >= _FEWEST_TESTED[shape]
        ]
        return [
            Wanted(family, shape, shared, own_bases)
            for family in families
            for shape in enough or SHAPES[:1]
        ]


def _candidate(shape: Shape, peak: Peak, pool: Series, reach: float, scale: float) -> Candidate:
    # the data allow the stretches whose peak lies within `reach` (of −2 log likelihood) of the best one
    near = peak.peaks[2 * (peak.loglik - peak.values) <= reach]
    rising, falling = (int(count.min()) for count in limbs(peak.model, near, pool))
    held = rising >= 2 and (falling >= 2 or shape in ("linear", "plateau"))
    return Candidate(
        shape=shape,
        peak=peak,
        aic=scaled_aic(peak.loglik, peak.model.size, scale),
        rising=rising,
        falling=falling,
        identifiable=held and bool(peak.parameters[1] > 0) and regular(peak, pool),
    )


def limbs(model: Model, parameters: Array, pool: Series) -> tuple[Array, Array]:
    """Return how many germinating temperatures lie on the rising and on the falling limb, shapes (…)."""
    response = model.response
    assert response is not None  # noqa: S101
    warm = cardinal.sprouting_temperatures(pool)
    none = np.zeros(parameters.shape[:-1])
    if not response.breaks:
        return none + len(warm), none
    first, last = (parameters[..., response.breaks[i], None] for i in (0, -1))
    falling = (warm > last).sum(-1) if "fall" in response.names else none
    return (warm < first).sum(-1), falling


def regular(peak: Peak, pool: Series) -> bool:
    """Return whether the data inform every direction of the parameters at the peak."""
    scores = thermal.dish_scores(peak.model, pool, peak.parameters)
    A: Array = scores.jacobian
    total = np.einsum("jap,jab,jbq->pq", A, scores.information, A)
    size = np.sqrt(np.diag(total))
    live = size > _NOTHING
    unit = (total / np.outer(np.where(live, size, 1), np.where(live, size, 1)))[live][:, live]
    return bool(
        live[: peak.model.rate_parameters].all() and np.linalg.eigvalsh(unit)[0] > _SINGULAR
    )

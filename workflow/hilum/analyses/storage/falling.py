"""How viability falls in each store: the fits, and what limits they set whatever the unknown seeds were."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from hilum.analyses.storage.stored import Kept
from hilum.analyses.storage.words import FAR, NEARLY, OPEN, VAGUE, Outcome
from hilum.stats import proportions, spread, viability
from hilum.stats.families import Array
from hilum.stats.viability import Ends, Stored, ViabilityFit

# the lot and parameters (…, 2) to a quantity (…)
Measure = Callable[[Stored, Array], Array]
_NONE = spread.Components(np.zeros(2), np.zeros(2))
_STEP = 1e-4  # of a probit: how far a parameter is moved to see the slope of a quantity


@dataclass(frozen=True)
class Falling:
    """One store, its outcome, and the fits of what its units may be; none where no fall can be fitted.

    The first fit takes seeds of which nobody knows as dead. `assumed` where the spread of dishes had to be, from
    `correlation`.
    """

    kept: Kept
    outcome: Outcome
    fits: tuple[ViabilityFit, ...]
    pooled: spread.Components
    assumed: bool
    correlation: float
    confidence: float

    @property
    def sure(self) -> bool:
        """Return whether there is a curve, and so few seeds of which nobody knows that it means something."""
        return bool(self.fits) and self.kept.unknown_share <= VAGUE

    def value(self, measure: Measure) -> float:
        """Return the value of the first fit."""
        return float(measure(self.fits[0].stored, self.fits[0].parameters))

    def ends(self, measure: Measure) -> Ends:
        """Return the limits that hold whatever the seeds were of which nobody knows."""
        found = [self._of_fit(fitted, measure) for fitted in self.fits]
        return Ends(min(e.low for e in found), max(e.high for e in found))

    def _of_fit(self, fitted: ViabilityFit, measure: Measure) -> Ends:
        stored, contrast = fitted.stored, _slope(fitted, measure)

        def of(parameters: Array) -> Array:
            return measure(stored, parameters)

        return viability.limits(fitted, self.pooled, of, [contrast], confidence=self.confidence)


def _slope(fitted: ViabilityFit, measure: Measure) -> Array:
    """Return the gradient of a quantity in the parameters, (2,); that of the fall where it has none."""
    moves = np.array([[_STEP, 0.0], [-_STEP, 0.0], [0.0, _STEP], [0.0, -_STEP]])
    with np.errstate(invalid="ignore"):
        at = measure(fitted.stored, fitted.parameters + moves)
        slope = np.array([at[0] - at[1], at[2] - at[3]]) / (2 * _STEP)
    return slope if np.isfinite(slope).all() and slope.any() else np.array([0.0, 1.0])


def find(kept: Sequence[Kept], *, unknown: float, confidence: float) -> list[Falling]:
    """Return how each store falls; units of one kind of test share their spread."""
    tried = [_fits(one, unknown, confidence) for one in kept]
    found = []
    for one, (outcome, own) in zip(kept, tried, strict=True):
        alike = [f[0] for k, (_, f) in zip(kept, tried, strict=True) if f and k.test == one.test]
        pooled, assumed = viability.components(alike, unknown) if own else (_NONE, False)
        fall = Falling(one, outcome, own, pooled, assumed, unknown, confidence)
        found.append(replace(fall, outcome=_after(fall)) if own else fall)
    return found


def _fits(
    kept: Kept, unknown: float, confidence: float
) -> tuple[Outcome, tuple[ViabilityFit, ...]]:
    """Return the fits of what the units may be, or why there is none."""
    outcome = _before(kept)
    if outcome != "estimated":
        return outcome, ()
    fits = tuple(viability.fit(stored) for stored in kept.extremes())
    return ("bent", ()) if _bent(kept, fits[0], unknown, confidence) else (outcome, fits)


def _bent(kept: Kept, fitted: ViabilityFit, unknown: float, confidence: float) -> bool:
    """Return whether the shares alive surely lie further from the curve than dishes of one time from each other."""
    if not kept.replicated:
        return False
    alive, _, seeds = kept.by_time()
    groups = proportions.Groups(alive, seeds)
    rho = proportions.correlation(groups, unknown=unknown)
    scale = proportions.spread(groups, rho).pooled_scale
    return viability.misfit(fitted, scale, float(rho.dof)) < 1 - confidence


def _before(kept: Kept) -> Outcome:
    """Return why no fall can be fitted, or `estimated`."""
    if not kept.told:
        return "not_assessed"
    if not any(u.alive + u.unknown for u in kept.told):
        return "all_dead"
    return "single_time" if len(kept.times) == 1 else "estimated"


def _after(found: Falling) -> Outcome:
    """Return what the fall tells of the half-viability period."""
    if found.ends(lambda _, at: at[..., 1]).high < 0:
        return "rising"
    if found.value(lambda _, at: at[..., 0]) <= 0:
        return "low_start"
    last, half = found.kept.last, found.value(viability.half_viability_period)
    high = found.ends(viability.half_viability_period).high
    near = half <= FAR * NEARLY * last
    if np.isinf(high) or (near and high > OPEN * last):
        return "unsure" if near else "no_fall"
    return "estimated" if near else "far"

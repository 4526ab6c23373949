"""How viability falls in each store: the fits, and what limits they set whatever the unknown seeds were."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from hilum.analyses.storage.stored import Kept
from hilum.analyses.storage.words import FAR, NEARLY, OPEN, VAGUE, Outcome
from hilum.stats import proportions, spread, viability
from hilum.stats.arrays import Array
from hilum.stats.viability import Bend, Ends, Stored, ViabilityFit

# the lot and parameters (…, 2) to a quantity (…)
Measure = Callable[[Stored, Array], Array]
_NONE = spread.Components(np.zeros(2), np.zeros(2))
# of a bend: a p value below this is no proof, but reason enough to doubt the curve
_DOUBT = 0.2
_STEP = 1e-4  # of a probit: how far a parameter is moved to see the slope of a quantity


@dataclass(frozen=True)
class Shape:
    """How far the shares alive lie from the curve, beside how far units of one time lie from each other.

    `anywhere` is the p value that they follow it, against any distance, `bend` that against a bend alone.
    """

    anywhere: float
    bend: Bend

    def refused(self, level: float) -> bool:
        """Return whether the seeds surely do not die as the curve says."""
        return min(self.anywhere, self.bend.p) < level

    @property
    def doubtful(self) -> bool:
        """Return whether the shares bend more than in four of five studies that follow the curve."""
        return self.bend.p < _DOUBT


@dataclass(frozen=True)
class Falling:
    """One store, its outcome, and the fits of what its units may be; none where no fall can be fitted.

    The first fit takes seeds of which nobody knows as dead. `shape` is none where nothing tells of it. `assumed` where the
    spread of dishes had to be, from `correlation`.
    """

    kept: Kept
    outcome: Outcome
    fits: tuple[ViabilityFit, ...]
    shape: Shape | None
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
    for one, (outcome, own, shape) in zip(kept, tried, strict=True):
        alike = [f[0] for k, (_, f, _) in zip(kept, tried, strict=True) if f and k.test == one.test]
        pooled, assumed = viability.components(alike, unknown) if own else (_NONE, False)
        fall = Falling(one, outcome, own, shape, pooled, assumed, unknown, confidence)
        found.append(replace(fall, outcome=_after(fall)) if own else fall)
    return found


def _fits(
    kept: Kept, unknown: float, confidence: float
) -> tuple[Outcome, tuple[ViabilityFit, ...], Shape | None]:
    """Return the fits of what the units may be, or why there is none; and how far these lie from the curve."""
    outcome = _before(kept)
    if outcome != "estimated":
        return outcome, (), None
    fits = tuple(viability.fit(stored) for stored in kept.extremes())
    shape = _shape(kept, fits, unknown)
    if shape is not None and shape.refused(1 - confidence):
        return "bent", (), shape
    return outcome, fits, shape


def _shape(kept: Kept, fits: Sequence[ViabilityFit], unknown: float) -> Shape | None:
    """Return how far the shares alive lie from the curve, none where no time has two units, or fewer than three were tested.

    Seeds of which nobody knows may be what makes them lie on it.
    """
    if not kept.replicated or len(kept.times) < 3:
        return None
    shapes = [_shape_of(kept, fitted, unknown) for fitted in fits]
    return max(shapes, key=lambda s: min(s.anywhere, s.bend.p))


def _shape_of(kept: Kept, fitted: ViabilityFit, unknown: float) -> Shape:
    alive, seeds = (kept.by_time(x) for x in (fitted.stored.alive, fitted.stored.seeds))
    groups = proportions.Groups(alive, seeds)
    rho = proportions.correlation(groups, unknown=unknown)
    scale = proportions.spread(groups, rho).pooled_scale
    dof = float(rho.dof)
    return Shape(viability.misfit(fitted, scale, dof), viability.bend(fitted, scale, dof))


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

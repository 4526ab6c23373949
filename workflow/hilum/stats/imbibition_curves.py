"""Choose the curve of water uptake by the seeds that surely began to imbibe together."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import expit

from hilum.stats import hierarchy, uptake
from hilum.stats.arrays import Array
from hilum.stats.hierarchy import Layout
from hilum.stats.imbibition_likelihood import (
    CLOSED,
    HALF_TIME,
    LAG,
    LATE,
    MASS,
    MASS_SPREAD,
    Seeds,
    of_courses,
)
from hilum.stats.uptake_courses import AT_ONCE, LATER

_SURELY = 0.9  # the least probability of having imbibed, and of not having done so late
_FEWEST_SEEDS, _FEWEST_SOAKED = 3, 3
_FEWEST_ALIKE, _MOST = 5, 0.7  # seeds, and part of the imbibed ones, that show a lag of their group
_SHORT_LAG = 0.05  # h, from where a lag is sought: hardly different from none


@dataclass(frozen=True)
class Candidate:
    """A curve, its AIC, and what fits it best: the effects (p,), and the parameters of seeds (seeds, 12)."""

    curve: uptake.Curve
    aic: float
    effects: Array
    own: Array


def compare(model: Seeds, layout: Layout, effects: Array) -> tuple[Candidate, ...]:
    """Return each candidate curve with its AIC, best first.

    Empty where too few seeds imbibed, or were weighed too seldom, to tell curves apart.
    """
    own = layout.of_units(effects[None])
    together, lags = _together(model, own[0])
    soaked = np.isfinite(model.weighings.mass_mg[:, 1:]).sum(1)
    if together.sum() < _FEWEST_SEEDS or soaked[together].max() < _FEWEST_SOAKED:
        return ()
    start = layout.with_groups(effects, LAG, np.log(lags))
    at_once = replace(model, courses=model.courses.take(model.courses.kind == AT_ONCE))
    found = [_fit(replace(at_once, curve=c), together, layout, start) for c in uptake.CANDIDATES]
    return tuple(sorted(found, key=lambda candidate: candidate.aic))


def _together(model: Seeds, own: Array) -> tuple[np.ndarray, Array]:
    """Return the seeds (seeds,) that surely began to imbibe together, and a lag of each group, h, to begin with.

    Seeds that share a lag look late under a curve without one. So a group's seeds count if a quarter of them began
    early on the scale of the curve, and most of them little after that.
    """
    kinds, courses = model.kinds(own[None]), model.courses
    late = np.exp(kinds.late - kinds.imbibed)[0]
    middle = np.where(courses.kind == LATER, courses.middle_h, 0.0)
    onset = late * np.bincount(courses.seed, kinds.share[0] * middle)
    surely = expit(kinds.imbibed - kinds.never)[0] > _SURELY
    together = surely & (late < 1 - _SURELY)
    lags = np.full(int(model.weighings.group.max()) + 1, _SHORT_LAG)
    for group in np.unique(model.weighings.group[surely]):
        member = surely & (model.weighings.group == group)
        half = float(np.exp(own[member, HALF_TIME][0]))
        early = float(np.quantile(onset[member], 0.25))
        alike = member & (onset <= 2 * early + half / 10)
        if early < half and alike.sum() >= max(_FEWEST_ALIKE, _MOST * member.sum()):
            together |= alike
            lags[group] = max(early, _SHORT_LAG)
    return together, lags


@dataclass(frozen=True)
class _Pooled:
    """The log likelihood of seeds that began to imbibe together; the others add nothing."""

    model: Seeds
    together: np.ndarray

    @property
    def moves(self) -> tuple[int, ...]:
        """Return which of a seed's parameters may move: no odds of a kind, nor the masses, which are known by then."""
        held = (CLOSED, LATE, MASS, MASS_SPREAD)
        return tuple(k for k in self.model.moves if k not in held)

    def __call__(self, own: Array) -> Array:
        own = self.model.within_bounds(own)
        each, _ = of_courses(self.model.weighings, self.model.courses, own, self.model.curve.shape)
        return np.asarray(self.model.courses.totals(each) * self.together)


def _fit(model: Seeds, together: np.ndarray, layout: Layout, start: Array) -> Candidate:
    top = start
    for steps in (6, 20):
        model = model.with_speeds(layout.of_units(top[None])[0])
        top = hierarchy.climb(_Pooled(model, together), layout, top, steps=steps)
    own = layout.of_units(top[None])
    groups = len(np.unique(model.weighings.group[together]))
    size = groups * (3 if model.curve.lag else 2)
    aic = -2 * float(_Pooled(model, together)(own).sum()) + 2 * size
    return Candidate(model.curve, aic, top, model.within_bounds(own[0]))

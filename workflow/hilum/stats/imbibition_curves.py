"""Choose the curve of water uptake by the seeds that surely imbibed from the start."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import expit

from hilum.stats import hierarchy, uptake
from hilum.stats.families import Array
from hilum.stats.hierarchy import Layout
from hilum.stats.imbibition_likelihood import (
    LAG,
    Seeds,
    of_courses,
    without_lag,
)
from hilum.stats.uptake_courses import AT_ONCE

_SURELY = 0.9  # the least probability of having imbibed from the start
_FEWEST_SEEDS, _FEWEST_SOAKED = 3, 3
_SHORT_LAG = 0.05  # h, from where a lag is sought: hardly different from none


@dataclass(frozen=True)
class Candidate:
    """A curve, its AIC, and the parameters (seeds, 10) that fit it best."""

    curve: uptake.Curve
    aic: float
    own: Array


def compare(model: Seeds, layout: Layout, effects: Array) -> tuple[Candidate, ...]:
    """Return each candidate curve with its AIC, best first, the errors of weighing being known from all seeds.

    Empty where too few seeds imbibed, or were weighed too seldom, to tell curves apart.
    """
    kinds = model.kinds(layout.of_units(effects[None]))
    sure = expit(kinds.start - np.logaddexp(kinds.never, kinds.late))[0] > _SURELY
    soaked = np.isfinite(model.weighings.mass_mg[:, 1:]).sum(1)
    if sure.sum() < _FEWEST_SEEDS or soaked[sure].max() < _FEWEST_SOAKED:
        return ()
    at_once = replace(model, courses=model.courses.take(model.courses.kind == AT_ONCE))
    found = [_fit(replace(at_once, curve=c), sure, layout, effects) for c in uptake.CANDIDATES]
    return tuple(sorted(found, key=lambda candidate: candidate.aic))


@dataclass(frozen=True)
class _Pooled:
    """The log likelihood of seeds known to imbibe from the start; the others add nothing."""

    model: Seeds
    sure: np.ndarray

    def __call__(self, own: Array) -> Array:
        own = without_lag(own, self.model.curve)
        each, _ = of_courses(self.model.weighings, self.model.courses, own, self.model.curve.shape)
        return np.asarray(self.model.courses.totals(each) * self.sure)


def _fit(model: Seeds, sure: np.ndarray, layout: Layout, effects: Array) -> Candidate:
    top = effects.copy()
    top[LAG] = np.log(_SHORT_LAG)  # the first effects are those of the whole experiment, in order
    for steps in (6, 20):
        model = model.with_speeds(layout.of_units(top[None])[0])
        top = hierarchy.climb(_Pooled(model, sure), layout, top, steps=steps)
    own = layout.of_units(top[None])
    groups = len(np.unique(model.weighings.group[sure]))
    size = groups * (3 if model.curve.lag else 2)
    aic = -2 * float(_Pooled(model, sure)(own).sum()) + 2 * size
    return Candidate(model.curve, aic, without_lag(own[0], model.curve))

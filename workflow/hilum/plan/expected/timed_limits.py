"""Limits of a curve to come: those of the analysis, on expected dishes, at the thresholds of drawn studies.

The likelihood of a curve is no parabola as far out as dish spread pushes its limits: by the curvature alone they came out 5 to 10 %
too narrow.
"""

from __future__ import annotations

import numpy as np

from hilum.plan.expected.prospect import middle
from hilum.plan.simulated.sown import Kind
from hilum.stats import curve_intervals, germination_curve, spread
from hilum.stats.arrays import Array
from hilum.stats.curve_intervals import Curves, DishSpread, Limits
from hilum.stats.families import LOG_LOGISTIC
from hilum.stats.interval_censored import Cells
from hilum.stats.spread import Components, DishScores

_NEAREST = 5  # studies about the middle one


def of_t50(
    kind: Kind, drawn: DishScores, components: Components, confidence: float
) -> tuple[float, float]:
    """Return the middle limits of t50 (h) of drawn studies, whose scores are `drawn` and components (draws, 2) `components`."""
    given = _middle_studies(kind, drawn, components, np.array([1.0, 0.0, 0.0]), confidence)
    return _ends(curve_intervals.quantile_limits(*given, LOG_LOGISTIC, 0.5, confidence=confidence))


def of_fraction(
    kind: Kind, drawn: DishScores, components: Components, confidence: float
) -> tuple[float, float]:
    """Return the middle limits of the germinable fraction."""
    given = _middle_studies(kind, drawn, components, np.array([0.0, 0.0, 1.0]), confidence)
    return _ends(curve_intervals.fraction_limits(*given, LOG_LOGISTIC, confidence=confidence))


def _ends(limits: Limits) -> tuple[float, float]:
    return middle(limits.low, limits.high)


def _middle_studies(
    kind: Kind, drawn: DishScores, components: Components, contrast: Array, confidence: float
) -> tuple[Curves, germination_curve.CurveFits, DishSpread]:
    """Return the studies whose thresholds of a contrast are about the middle, all with the expected dishes of a kind."""
    value = spread.threshold(drawn, components, contrast, confidence=confidence).value
    first = (len(value) - _NEAREST) // 2
    at = np.argsort(value, kind="stable")[first : first + _NEAREST]
    dishes = _expected(kind)
    J = len(dishes.seeds)
    cells = dishes.take(np.tile(np.arange(J), len(at)))
    rows = np.arange(len(at) * J).reshape(len(at), J)
    curves = Curves(cells, rows, np.arange(len(at)))
    each = len(at)
    scores = DishScores(
        drawn.score[at],
        np.repeat(drawn.information, each, 0),
        np.repeat(drawn.jacobian, each, 0),
        np.repeat(drawn.fraction, each, 0),
        np.repeat(drawn.single, each, 0),
    )
    dof = np.broadcast_to(components.dof, components.variance.shape)
    own = Components(components.variance[at], dof[at])
    fits = germination_curve.fit(curves.pooled(), LOG_LOGISTIC)
    return curves, fits, DishSpread(scores, own, np.ones(len(at), dtype=bool))


def _expected(kind: Kind) -> Cells:
    """Return the dishes of a kind as one expects them, in fractions of seeds."""
    J, hours = kind.place.dishes, np.array(kind.hours)
    end = np.tile(hours, (J, 1))
    start = np.concatenate((np.zeros((J, 1)), end[:, :-1]), axis=1)
    newly = kind.seeds * kind.shares[0] * np.diff(kind.reached, prepend=0.0)
    count = np.tile(newly, (J, 1))
    return Cells(start, end, count, end[:, -1:].copy(), (kind.seeds - count.sum(1))[:, None])

"""What the chart and the page of this analysis draw and say of each store."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from scipy.special import ndtr

from hilum.analyses.printer import number_or_none
from hilum.analyses.quantities import DAYS_A_MONTH
from hilum.analyses.storage import reference
from hilum.analyses.storage.falling import Falling
from hilum.analyses.storage.printed import claim, probit_at
from hilum.analyses.storage.words import FAR, NEARLY, span
from hilum.stats.arrays import Array

_POINTS = 41


def store(found: Falling, months: Sequence[float], plain: set[str]) -> dict[str, Any]:
    """Return one store for JSON; days as in the raw tables."""
    kept, (lot, treatment, degrees, words) = found.kept, found.kept.key
    one = kept.units[-1]
    days = _days(found, months)
    half, p85 = (claim(found, name) for name in ("half_viability_period", "p85"))
    return {
        "lot": lot,
        "treatment": treatment,
        "temperature_c": number_or_none(degrees),
        "condition": words,
        "untreated": treatment in plain,
        "test": kept.test,
        "at_c": number_or_none(one.at_c),
        "moisture_pct": number_or_none(one.moisture_pct),
        "outcome": found.outcome,
        "last": kept.last,
        "tested": span(kept.last),
        "tested_months": NEARLY * kept.last / DAYS_A_MONTH,
        "first": kept.times[0] if kept.times else 0.0,
        "reach": number_or_none(half.value / kept.last if kept.last else np.nan),
        "sow_within": span(min(p85.low, kept.last)) if p85.low > 0 and found.sure else "",
        "one_each": bool(found.fits) and not kept.replicated,
        "assumed": found.assumed,
        "times": len(kept.times),
        "shape": _shape(found),
        "going_on": kept.going_on,
        "undated": kept.undated,
        "unassessed": kept.unassessed,
        "unknown_share": kept.unknown_share,
        "units": [
            {"days": u.days, "seeds": u.seeds, "alive": u.alive, "unknown": u.unknown}
            for u in kept.told
        ],
        "curve": _curve(found, days),
        "reference": reference.crops(found, days) | {"days": days.tolist()},
    }


def _shape(found: Falling) -> dict[str, Any] | None:
    """Return what the tests of the shape say, for a store whose curve was not refused."""
    shape = found.shape
    if shape is None or not found.sure:
        return None
    bend = shape.bend
    return {
        "anywhere": shape.anywhere,
        "bend": bend.p,
        "slows": bend.slows,
        "doubtful": shape.doubtful,
    }


def _days(found: Falling, months: Sequence[float]) -> Array:
    """Return the days at which the curve is drawn: through the tests, and on to the months asked for, as far as is claimed."""
    last = found.kept.last
    furthest = min(max(last, max(months) * DAYS_A_MONTH), FAR * NEARLY * last)
    return np.unique([*np.linspace(0.0, furthest, _POINTS), last])


def _curve(found: Falling, days: Array) -> list[dict[str, float]]:
    if not found.sure or found.outcome == "rising":
        return []
    made = []
    for day in days.tolist():
        ends = found.ends(probit_at(day))
        value = found.value(probit_at(day))
        made.append(
            {
                "days": day,
                "share": float(ndtr(value)),
                "low": float(ndtr(ends.low)),
                "high": float(ndtr(ends.high)),
            }
        )
    return made

"""What crops of which the constants are published would do in the same store: a line to hold the seeds against."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.special import ndtr

from hilum.analyses.storage.falling import Falling
from hilum.stats import viability, viability_equation
from hilum.stats.arrays import Array

# constants and equation from memory, none was looked up again
SOURCES = {
    "barley": "Ellis and Roberts 1980",
    "onion": "Ellis and Roberts 1981",
    "soybean": "Ellis, Osei-Bonsu and Roberts 1982",
}


def crops(found: Falling, days: Array) -> dict[str, Any]:
    """Return whether the equation speaks of this store, and each crop with the same start: its times, its share by day."""
    one = found.kept.units[-1]
    given = not (np.isnan(one.at_c) or np.isnan(one.moisture_pct))
    holds = given and viability_equation.holds(one.moisture_pct, one.at_c)
    if not (holds and found.sure) or (ki := found.value(lambda _, at: viability.ki(at))) <= 0:
        return {"given": given, "holds": holds, "crops": []}
    made = []
    for name, constants in viability_equation.PUBLISHED.items():
        sigma = viability_equation.sigma(constants, one.moisture_pct, one.at_c)
        share = ndtr(ki - days / sigma)
        half = ki * sigma
        made.append(
            {
                "crop": name,
                "source": SOURCES[name],
                "sigma": sigma,
                "half": half,
                "share": share.tolist(),
            }
        )
    return {"given": given, "holds": holds, "crops": made}

"""What crops of which the constants are published would do in the same store: a line to hold the seeds against."""

from __future__ import annotations

from dataclasses import dataclass

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


@dataclass(frozen=True, kw_only=True)
class Crop:
    """One crop in the same store: its standard deviation and half-viability period in days, its share alive by day."""

    crop: str
    source: str
    sigma: float
    half: float
    share: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class Reference:
    """Crops in the same store: whether its temperature and moisture were given, and the equation holds there."""

    given: bool
    holds: bool
    crops: tuple[Crop, ...]
    days: tuple[float, ...]


def crops(found: Falling, days: Array) -> Reference:
    """Return whether the equation speaks of this store, and each crop with the same start as its seeds."""
    one = found.kept.units[-1]
    given = not (np.isnan(one.at_c) or np.isnan(one.moisture_pct))
    holds = given and viability_equation.holds(one.moisture_pct, one.at_c)
    at_days = tuple(days.tolist())
    if not (holds and found.sure) or (ki := found.value(lambda _, at: viability.ki(at))) <= 0:
        return Reference(given=given, holds=holds, crops=(), days=at_days)
    made = []
    for name, constants in viability_equation.PUBLISHED.items():
        sigma = viability_equation.sigma(constants, one.moisture_pct, one.at_c)
        share = tuple(ndtr(ki - days / sigma).tolist())
        own = Crop(crop=name, source=SOURCES[name], sigma=sigma, half=ki * sigma, share=share)
        made.append(own)
    return Reference(given=given, holds=holds, crops=tuple(made), days=at_days)

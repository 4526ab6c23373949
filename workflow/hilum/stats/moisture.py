"""Moisture of seeds on the wet and on the dry basis, and what follows from it.

The wet basis divides the water by the seed as it is, the dry basis by its dry matter. Seed testing
reports the wet basis; uptake curves of food science use the dry one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtrit

Array = NDArray[np.float64]
# largest difference between duplicates, points of moisture: International Rules for Seed Testing, chapter 9, from memory
DUPLICATES_PCT = 0.2


@dataclass(frozen=True)
class Moisture:
    """The same water on both bases, %."""

    wet_basis_pct: Array
    dry_basis_pct: Array


def from_wet_basis(wet_basis_pct: ArrayLike) -> Moisture:
    """Return both bases from the wet one, % (0 to below 100)."""
    wet = np.asarray(wet_basis_pct, dtype=float)
    return Moisture(wet, 100 * wet / (100 - wet))


def from_dry_basis(dry_basis_pct: ArrayLike) -> Moisture:
    """Return both bases from the dry one, % (0 or more)."""
    dry = np.asarray(dry_basis_pct, dtype=float)
    return Moisture(100 * dry / (100 + dry), dry)


def by_oven(container: ArrayLike, before: ArrayLike, after: ArrayLike) -> Moisture:
    """Return the moisture found by drying, from three masses in one unit.

    `container` with its lid, `before` and `after` drying with the seeds in it. The water driven off is
    before − after; the wet basis divides it by before − container (International Rules for Seed
    Testing, chapter 9, from memory), the dry basis by after − container.
    """
    empty, full, dried = (np.asarray(m, dtype=float) for m in (container, before, after))
    return Moisture(100 * (full - dried) / (full - empty), 100 * (full - dried) / (dried - empty))


def two_stage(first_pct: ArrayLike, second_pct: ArrayLike) -> Array:
    """Return the moisture (wet basis, %) of seeds dried in two stages, each loss as % of its start.

    From memory: S1 + S2 − S1·S2/100, since the second loss is taken of what the first one left.
    """
    first, second = np.asarray(first_pct, dtype=float), np.asarray(second_pct, dtype=float)
    return np.asarray(first + second - first * second / 100)


def duplicates_agree(first_pct: ArrayLike, second_pct: ArrayLike, *, tolerance_pct: float) -> Array:
    """Return whether two determinations differ by no more than the tolerance, % moisture."""
    apart = np.abs(np.asarray(first_pct, dtype=float) - np.asarray(second_pct, dtype=float))
    # 10.3 − 10.1 exceeds 0.2 by a rounding error of the machine, which is no disagreement
    return np.asarray(apart <= tolerance_pct + 1e-9)


def mean_of(determined_pct: ArrayLike, *, confidence: float) -> tuple[float, float, float]:
    """Return the mean of several determinations, %, with its limits by Student's t, nan for one alone."""
    found = np.asarray(determined_pct, dtype=float)
    mean, k = float(found.mean()), len(found)
    if k < 2:
        return mean, np.nan, np.nan
    half = float(stdtrit(k - 1, (1 + confidence) / 2) * found.std(ddof=1) / np.sqrt(k))
    return mean, mean - half, mean + half


def mass_at(target_pct: ArrayLike, *, mass: ArrayLike, moisture_pct: ArrayLike) -> Array:
    """Return the mass that seeds will have at another moisture (wet basis, %): dry matter is kept."""
    dry_matter = np.asarray(mass, dtype=float) * (100 - np.asarray(moisture_pct, dtype=float))
    return np.asarray(dry_matter / (100 - np.asarray(target_pct, dtype=float)))


def after_uptake(uptake_pct: ArrayLike, *, moisture_pct: ArrayLike) -> Moisture:
    """Return the moisture of seeds that gained `uptake_pct` of a mass that held `moisture_pct` water.

    Uptake is counted on the mass before soaking, which already holds water: 100 g at 10 % that gain
    80 % hold 10 + 80 g of water on 90 g of dry matter.
    """
    water = np.asarray(moisture_pct, dtype=float) + np.asarray(uptake_pct, dtype=float)
    return from_dry_basis(100 * water / (100 - np.asarray(moisture_pct, dtype=float)))

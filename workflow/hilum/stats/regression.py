"""The classical way to a base temperature: a straight line through germination rates.

Kept beside the likelihood because readers of the literature expect it. It ignores the seeds that did
not germinate and the inspections' width, so its interval is about the line, not about the seeds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import stdtrit

Region = Literal["bounded", "open below", "unbounded", "unknown"]
LOOSE = 0.9  # below this R² a rate line is commonly not accepted (common practice, no source)


@dataclass(frozen=True, kw_only=True)
class RateLine:
    """A line through rates: base temperature and thermal time with standard errors.

    `region` tells what Fieller's set for the base is: an interval (`bounded`), everything below `high`
    (`open below`, where the slope may be 0), the whole line (`unbounded`), or `unknown` with fewer than
    three points. `low` and `high` are None where that end does not exist.
    """

    points: int
    slope: float
    base: float | None
    base_error: float | None
    thermal_time: float | None
    thermal_time_error: float | None
    r_squared: float | None
    region: Region
    low: float | None
    high: float | None


def rate_line(temperature: np.ndarray, rate: np.ndarray, *, confidence: float = 0.95) -> RateLine:
    """Return the least-squares line of rate (1/time) on temperature, both shape (n,).

    Needs two different temperatures. Base = −a/b and thermal time = 1/b of rate = a + b·T, with the
    standard errors of Campbell et al. (1974, from memory; they are the delta method's).
    """
    n, mean_x, mean_y = len(rate), float(temperature.mean()), float(rate.mean())
    sxx = float(((temperature - mean_x) ** 2).sum())
    slope = float(((temperature - mean_x) * (rate - mean_y)).sum() / sxx)
    total = float(((rate - mean_y) ** 2).sum())
    left = max(0.0, total - slope**2 * sxx)
    noise = left / (n - 2) if n > 2 else np.nan
    line = _Line(n, mean_x, mean_y, sxx, slope, noise)
    region, low, high = _fieller(line, confidence)
    rises = slope > 0
    base = mean_x - mean_y / slope if rises else None
    return RateLine(
        points=n,
        slope=slope,
        base=base,
        base_error=_base_error(line) if rises and n > 2 else None,
        thermal_time=1 / slope if rises else None,
        thermal_time_error=(noise / sxx) ** 0.5 / slope**2 if rises and n > 2 else None,
        r_squared=1 - left / total if n > 2 and total > 0 else None,
        region=region,
        low=low,
        high=high,
    )


@dataclass(frozen=True)
class _Line:
    points: int
    mean_x: float
    mean_y: float
    sxx: float
    slope: float
    noise: float


def _base_error(line: _Line) -> float:
    # Campbell et al. (1974): (ȳ/b) √(s²/(N ȳ²) + (SE_b/b)²)
    relative = line.noise / line.points / line.mean_y**2 + line.noise / line.sxx / line.slope**2
    return float(abs(line.mean_y / line.slope) * relative**0.5)


def _fieller(line: _Line, confidence: float) -> tuple[Region, float | None, float | None]:
    """Return Fieller's set: all x with (ȳ + b(x − x̄))² ≤ t² s² (1/N + (x − x̄)²/Sxx)."""
    if line.points < 3:
        return "unknown", None, None
    if line.slope <= 0:
        return "unbounded", None, None
    t2s2 = float(stdtrit(line.points - 2, (1 + confidence) / 2)) ** 2 * line.noise
    a = line.slope**2 - t2s2 / line.sxx
    b = line.mean_y * line.slope
    c = line.mean_y**2 - t2s2 / line.points
    reach = b**2 - a * c
    if reach <= 0 or a == 0:
        return "unbounded", None, None
    low, high = sorted(line.mean_x + (-b + sign * reach**0.5) / a for sign in (-1, 1))
    # where the slope may be 0 the set is two rays; only the cold one can hold a base temperature
    return ("bounded", low, high) if a > 0 else ("open below", None, low)


def doubts(line: RateLine) -> tuple[str, ...]:
    """Return why the line should not be trusted, a sentence each; empty where nothing speaks against it."""
    found = []
    if line.base is None:
        found.append("The rate does not rise with temperature, so the line meets no base.")
    if line.base is not None and line.base < 0:
        found.append("The base lies below 0 °C, where hydrated seeds freeze.")
    if line.r_squared is not None and line.r_squared < LOOSE:
        found.append(
            f"The line leaves {100 * (1 - line.r_squared):.0f} % of the variance unexplained."
        )
    if line.region == "unknown":
        found.append("With fewer than three points the line has no interval.")
    if line.region in ("open below", "unbounded"):
        found.append("The slope may be nothing, so the interval has no end.")
    return tuple(found)


def crossing_time(times: np.ndarray, counts: np.ndarray, target: float) -> float | None:
    """Return when the cumulative count reaches `target`, or None where it never does.

    `times` (n,) are the inspections in order, `counts` (n,) the seeds newly germinated at each;
    between inspections germination is taken as even.
    """
    reached = np.concatenate(([0.0], np.cumsum(counts)))
    hours = np.concatenate(([0.0], times))
    if target <= 0 or reached[-1] < target:
        return None
    after = int(np.searchsorted(reached, target))
    share = (target - reached[after - 1]) / (reached[after] - reached[after - 1])
    return float(hours[after - 1] + share * (hours[after] - hours[after - 1]))

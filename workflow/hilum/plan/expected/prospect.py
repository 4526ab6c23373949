"""What a planned experiment is expected to tell of one quantity, and what simulated studies make of that."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from hilum.stats.arrays import Array

# expected and simulated half-widths that differ by no more than this agree
AGREED = 0.1
# a simulated half-width is known to this part of itself, unless that would take more than so many studies
KNOWN_TO, MOST_STUDIES = 0.04, 400
# of studies; what fewer can tell is not to be counted on
SURELY = 0.9


class Question(Protocol):
    """Dishes at several places (temperatures, durations, times of storage) that are to tell one quantity."""

    def limits(self, *, seed: int) -> tuple[float, float, str]:
        """Return the middle limits of the quantity in many studies, or why there are none."""
        ...

    def simulated(self, *, studies: int, rng: np.random.Generator) -> Array:
        """Return the half-widths of simulated studies, (studies,), infinite where a study could not tell."""
        ...

    def resized(self, dishes: int, seeds: int) -> Question:
        """Return the same with other dishes at each place, and other seeds in each dish."""
        ...

    def with_place(self, at: float) -> Question:
        """Return the same with as many dishes at one more place."""
        ...


def half_width(question: Question, *, seed: int) -> float:
    """Return the half-width that is expected, infinite where the quantity cannot be told."""
    low, high, why = question.limits(seed=seed)
    return np.inf if why else (high - low) / 2


@dataclass(frozen=True, kw_only=True)
class Prospect:
    """One interval to come: `value` is the guess, `low` and `high` its limits in the middle one of many studies.

    Without a prospect `why` says what is missing. `simulated` are the half-widths of simulated studies, infinite
    where a study could not tell.
    """

    quantity: str
    unit: str
    lot: str
    treatment: str
    experiment: str
    temperature_c: float | None = None
    versus: str = ""
    value: float = np.nan
    low: float = np.nan
    high: float = np.nan
    wanted: float | None = None
    why: str = ""
    simulated: Array | None = None

    @property
    def half_width(self) -> float:
        """Return half of the width of the interval, infinite where there is none."""
        return np.inf if self.why else (self.high - self.low) / 2

    @property
    def enough(self) -> bool | None:
        """Return whether the interval is as narrow as wanted, None where nothing was wanted."""
        return None if self.wanted is None else self.half_width <= self.wanted

    def checked(self, simulated: Array) -> Prospect:
        """Return the prospect with the half-widths of simulated studies."""
        return replace(self, simulated=simulated)

    @property
    def in_simulations(self) -> float:
        """Return the middle one of the simulated half-widths."""
        assert self.simulated is not None  # noqa: S101
        return float(np.quantile(self.simulated, 0.5, method="higher"))

    @property
    def middle_half(self) -> tuple[float, float]:
        """Return the half-widths between which half of the simulated studies lie."""
        assert self.simulated is not None  # noqa: S101
        low, high = np.quantile(self.simulated, (0.25, 0.75), method="nearest")
        return float(low), float(high)

    @property
    def told(self) -> float:
        """Return the share of simulated studies that could tell the quantity."""
        assert self.simulated is not None  # noqa: S101
        return float(np.isfinite(self.simulated).mean())

    @property
    def agrees(self) -> bool:
        """Return whether simulated studies have the half-width that was expected."""
        if self.why:
            return self.told < SURELY
        return abs(self.in_simulations / self.half_width - 1) <= AGREED


def simulated(question: Question, *, studies: int, rng: np.random.Generator) -> Array:
    """Return the half-widths of at least so many studies: of more where their middle one is not well known yet."""
    found = question.simulated(studies=studies, rng=rng)
    while len(found) < MOST_STUDIES and error_of_middle(found) > KNOWN_TO:
        found = np.append(found, question.simulated(studies=studies, rng=rng))
    return found


def error_of_middle(widths: Array) -> float:
    """Return the standard error of the middle one of half-widths, of itself; 0 where none is finite.

    The number of studies below the middle has the standard deviation √n/2, so that the middle lies one standard error from the
    quantiles at ½ ± ½/√n.
    """
    n = len(widths)
    low, mid, high = np.quantile(
        widths, np.clip(0.5 + np.array([-0.5, 0, 0.5]) / np.sqrt(n), 0, 1), method="nearest"
    )
    return float((high - low) / (2 * mid)) if np.isfinite(high) else 0.0


def middle(low: Array, high: Array) -> tuple[float, float]:
    """Return the middle limits of many studies: the medians of how far either side reaches."""
    return float(np.median(low)), float(np.median(high))

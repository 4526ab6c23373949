"""Curves of water uptake by a seed that is imbibing, and what people read from them.

A curve is written by its half-time, so that both shapes share their parameters: `share` is the part of
the final uptake reached after some hours, 0 at the onset, ½ after one half-time, 1 in the end.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Shape = Literal["exponential", "peleg"]


@dataclass(frozen=True)
class Curve:
    """One candidate: its shape, and whether uptake begins after a lag."""

    shape: Shape
    lag: bool

    @property
    def name(self) -> str:
        """Return the candidate in words."""
        shape = {"exponential": "exponential", "peleg": "Peleg"}[self.shape]
        return f"{shape} with a lag" if self.lag else shape


CANDIDATES = (
    Curve("exponential", False),
    Curve("peleg", False),
    Curve("exponential", True),
    Curve("peleg", True),
)


def share_and_slope(half_times: ArrayLike, shape: Shape) -> tuple[Array, Array]:
    """Return the share of the final uptake reached after so many half-times (0 or more), and its slope."""
    x = np.asarray(half_times, dtype=float)
    if shape == "exponential":
        left = np.exp(-np.log(2) * x)
        return 1 - left, np.log(2) * left
    left = 1 / (1 + x)
    return x * left, left * left


def share(half_times: ArrayLike, shape: Shape) -> Array:
    """Return the share of the final uptake reached after so many half-times (0 or more)."""
    return share_and_slope(half_times, shape)[0]


@dataclass(frozen=True)
class Peleg:
    """The two constants of Peleg (1988): hours per unit of gain, and 1 per unit of gain."""

    k1: float
    k2: float

    def gain(self, hours: ArrayLike) -> Array:
        """Return the gain after so many hours, in the unit of 1/k2."""
        t = np.asarray(hours, dtype=float)
        # Eq. 1 of Peleg (1988): M(t) = M0 + t/(k1 + k2 t)
        return np.asarray(t / (self.k1 + self.k2 * t))

    @property
    def plateau(self) -> float:
        """Return the gain after unlimited time, 1/k2."""
        return 1 / self.k2

    @property
    def initial_rate(self) -> float:
        """Return the gain per hour at the onset, 1/k1."""
        return 1 / self.k1

    @property
    def half_time(self) -> float:
        """Return the hours to half of the plateau, k1/k2."""
        return self.k1 / self.k2


def peleg(plateau: float, half_time_h: float) -> Peleg:
    """Return the constants of the Peleg curve with this plateau and half-time."""
    return Peleg(k1=half_time_h / plateau, k2=1 / plateau)

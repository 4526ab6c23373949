"""Shares of the seeds sown with their limits, and what may be done with them.

Sums and differences keep the confidence of their terms (MOVER, Zou and Donner 2008, Statistics in Medicine
27:1693–1702); products and the smaller of two take the ends as they are, which is never too narrow.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot


@dataclass(frozen=True)
class Share:
    """A fraction of seeds, from 0 to 1, and its limits."""

    value: float
    low: float
    high: float

    def __sub__(self, other: Share) -> Share:
        """Return the difference, not below 0."""
        value = self.value - other.value
        low = value - hypot(self.value - self.low, other.high - other.value)
        high = value + hypot(self.high - self.value, other.value - other.low)
        return _within(value, low, high)

    def __add__(self, other: Share) -> Share:
        """Return the sum, not above 1."""
        value = self.value + other.value
        low = value - hypot(self.value - self.low, other.value - other.low)
        high = value + hypot(self.high - self.value, other.high - other.value)
        return _within(value, low, high)

    def __mul__(self, other: Share) -> Share:
        """Return the share of a share."""
        return Share(self.value * other.value, self.low * other.low, self.high * other.high)

    def rest(self) -> Share:
        """Return the share of the seeds without the property."""
        return Share(1 - self.value, 1 - self.high, 1 - self.low)

    def at_most(self, other: Share) -> Share:
        """Return this share, or the other where that is smaller."""
        return Share(*map(min, zip(_ends(self), _ends(other), strict=True)))

    def at_least(self, other: Share) -> Share:
        """Return this share, or the other where that is larger."""
        return Share(*map(max, zip(_ends(self), _ends(other), strict=True)))


def _ends(share: Share) -> tuple[float, float, float]:
    return share.value, share.low, share.high


def _within(value: float, low: float, high: float) -> Share:
    # what is left of rounding errors is nothing
    return Share(*(round(min(max(x, 0.0), 1.0), 12) for x in (value, low, high)))


NONE = Share(0.0, 0.0, 0.0)
ALL = Share(1.0, 1.0, 1.0)
UNKNOWN = Share(0.5, 0.0, 1.0)

"""How an estimate is written: the seeds it belongs to, its unit, its sentences."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from hilum.analyses.dishes import Key
from hilum.analyses.estimate import Estimate
from hilum.analyses.quantities import QUANTITIES, clock
from hilum.analyses.rounding import short


@dataclass(frozen=True)
class Printer:
    """Write estimates of one group of dishes at one confidence."""

    key: Key
    confidence: float

    def _row(self, quantity: str, **numbers: Any) -> Estimate:
        lot, treatment, degrees, words = self.key
        filled = {
            "temperature_c": None if np.isnan(degrees) else degrees,
            "unit": QUANTITIES[quantity].unit,
            "confidence": self.confidence,
        }
        return Estimate(
            lot=lot, treatment=treatment, condition=words, quantity=quantity, **filled | numbers
        )

    def estimated(
        self, quantity: str, value: float, low: float, high: float, *, method: str, **more: Any
    ) -> Estimate:
        """Return a figure with its interval."""
        ends = {"value": float(value), "low": float(low), "high": float(high)}
        return self._row(quantity, status="estimated", method=method, **ends, **more)

    def bracketed(
        self, quantity: str, low: float, high: float, *, method: str, needs: str, **more: Any
    ) -> Estimate:
        """Return a bracket, nan for an open end; without any end the figure is not identified."""
        ends = {"low": number_or_none(low), "high": number_or_none(high)}
        if ends == {"low": None, "high": None}:
            return self.not_identified(quantity, method=method, needs=needs, **more)
        return self._row(quantity, status="bracketed", method=method, needs=needs, **ends, **more)

    def not_identified(self, quantity: str, *, method: str, needs: str, **more: Any) -> Estimate:
        """Return the reason why there is no figure."""
        return self._row(quantity, status="not_identified", method=method, needs=needs, **more)


def number_or_none(value: float) -> float | None:
    """Return a number, None where it is not one."""
    return float(value) if np.isfinite(value) else None


def hours(value: float) -> str:
    """Return hours as people write them in a sentence: `36 h`, `18 d`."""
    parts, unit = clock(value)
    return f"{short(value / parts, 4)} {unit}"

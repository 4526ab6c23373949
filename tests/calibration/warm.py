"""Studies of dishes over temperatures, and what is true of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from tests import generator
from tests.calibration.design import Key
from tests.calibration.sown import Place, Sown, of_many

NEVER_H = 1e12
LOT, TREATMENT = "lot", "chipped"


@dataclass(frozen=True, kw_only=True)
class Response:
    """How fast the median seed germinates: temperatures in °C, `time` in °C h above the base.

    The rate rises above `base` up to `optimum`, stays, and falls from `optimum_end` to nothing at `ceiling`.
    """

    base: float = 8.0
    time: float = 1500.0
    optimum: float = np.inf
    optimum_end: float = np.inf
    ceiling: float = np.inf

    def hours(self, temperature: float) -> float:
        """Return the time to half at a constant temperature."""
        if not self.base < temperature < self.ceiling:
            return NEVER_H
        rate = (min(temperature, self.optimum) - self.base) / self.time
        if temperature > self.optimum_end:
            rate *= (self.ceiling - temperature) / (self.ceiling - self.optimum_end)
        return 1 / rate


def series(
    response: Response,
    temperatures: tuple[float, ...],
    *,
    fraction: float | tuple[float, ...] = 0.85,
    **dishes: Any,
) -> Sown:
    """Return the study of one lot over temperatures; `dishes` goes to the generator."""
    each = fraction if isinstance(fraction, tuple) else (fraction,) * len(temperatures)
    given = {"fraction": each, "sd_log": 0.29, **dishes}
    days = tuple(24.0 * day for day in range(1, 29))
    drawn = generator.Dishes(
        t50_h=tuple(response.hours(t) for t in temperatures), inspections_h=days, **given
    )
    return Sown(dishes=drawn, places=tuple(Place(LOT, TREATMENT, t) for t in temperatures))


def cardinals(response: Response, sown: Sown) -> dict[Key, float]:
    """Return the truths of a temperature series; none of a bend that lies beyond every temperature."""
    halves = of_many(sown)["t50"]
    warmest = max(place.temperature_c for place in sown.places)
    true = {
        Key("t50", LOT, TREATMENT, place.temperature_c): float(half)
        for place, median, half in zip(sown.places, sown.dishes.t50_h, halves, strict=True)
        if median < NEVER_H and np.isfinite(half)
    }
    bends = {
        "base_temperature": response.base,
        "thermal_time_50": response.time * _median_seed(sown),
        "ceiling_temperature": response.ceiling,
    }
    if response.optimum < warmest:
        flat = response.optimum_end > response.optimum
        bends["plateau_low" if flat else "optimum_temperature"] = response.optimum
    if response.optimum < response.optimum_end < warmest:
        bends["plateau_high"] = response.optimum_end
    finite = {name: value for name, value in bends.items() if np.isfinite(value)}
    return true | {Key(name, LOT, TREATMENT): value for name, value in finite.items()}


def _median_seed(sown: Sown) -> float:
    """Return the time of the median seed in relation to the generator's: 1 but where seeds are of two kinds."""
    if sown.dishes.times != "two_kinds":
        return 1.0
    warmest = int(np.argmin(sown.dishes.t50_h))
    return float(of_many(sown)["t50"][warmest] / sown.dishes.t50_h[warmest])

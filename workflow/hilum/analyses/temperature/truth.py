"""Temperature series drawn from a known truth: dishes at several temperatures, their counts and outcomes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from hilum.analyses.simulated import as_table
from hilum.stats.families import named


@dataclass(frozen=True, kw_only=True)
class TrueSeries:
    """What is true of one lot and treatment over temperatures (°C).

    Seeds germinate above `base`, fastest from `optimum` to `optimum_end`, not at and above `ceiling`. Half of the
    germinable seeds need `thermal_time_50` °C h. Of the other seeds `hard` stay hard, the rest is dead. `germinable`
    falls by `cold_loss` for each degree below `cold_below`, where a lot loses seeds in the cold. `nights` are
    the night temperatures of alternating regimes, as many as `temperatures`.
    """

    lot: str = "first"
    treatment: str = "opened"
    temperatures: tuple[float, ...] = (10.0, 12.5, 15.0, 20.0, 25.0, 30.0)
    nights: tuple[float, ...] = ()
    warm_h: float = 12.0
    base: float = 8.0
    thermal_time_50: float = 1500.0
    optimum: float = 60.0
    optimum_end: float = 60.0
    ceiling: float = 90.0
    germinable: float = 0.85
    cold_below: float = 0.0
    cold_loss: float = 0.0
    hard: float = 0.0


@dataclass(frozen=True, kw_only=True)
class TemperatureTruth:
    """What is true of an experiment: its series, and how seeds, dishes and chambers differ.

    `sigma` is the scale of log time among seeds in the `family`; dishes differ by `dish_sd_log_time` on log time and
    `dish_sd_logit` on logit germinable, and stand in chamber number `chambers` or fewer for each temperature.
    """

    series: tuple[TrueSeries, ...] = (TrueSeries(),)
    family: str = "log_logistic"
    sigma: float = 0.15
    dishes: int = 4
    seeds: int = 25
    chambers: int = 1
    inspections_h: tuple[float, ...] = tuple(24.0 * day for day in range(1, 29))
    dish_sd_log_time: float = 0.05
    dish_sd_logit: float = 0.3
    assessed: bool = True


TRUTH = TemperatureTruth()


def rate(series: TrueSeries, temperature: float) -> float:
    """Return the germination rate (1/h) of the median germinable seed at a constant temperature."""
    if not series.base < temperature < series.ceiling:
        return 0.0
    rising = (min(temperature, series.optimum) - series.base) / series.thermal_time_50
    left = (series.ceiling - temperature) / (series.ceiling - series.optimum_end)
    return rising * min(1.0, left)


def simulate(
    truth: TemperatureTruth, *, rng: np.random.Generator
) -> dict[str, dict[str, np.ndarray]]:
    """Return the checked tables dishes, counts and (where assessed) outcomes of one experiment."""
    rows: dict[str, list[dict[str, Any]]] = {"dishes": [], "counts": [], "outcomes": []}
    for place, series in enumerate(truth.series):
        for number, degrees in enumerate(series.temperatures):
            night = series.nights[number] if series.nights else float("nan")
            for dish in range(truth.dishes):
                name = f"{place + 1}-{degrees:g}{chr(ord('a') + dish)}"
                rows["dishes"].append(_dish(truth, series, degrees, night, dish) | {"dish": name})
                newly, outcomes = _counts(truth, series, degrees, night, rng)
                rows["counts"] += [
                    {"dish": name, "elapsed_h": hour, "germinated": float(n)}
                    for hour, n in zip(truth.inspections_h, newly, strict=True)
                ]
                rows["outcomes"] += [{"dish": name} | outcome for outcome in outcomes]
    if not truth.assessed:
        del rows["outcomes"]
    return {name: as_table(name, made) for name, made in rows.items()}


def _dish(
    truth: TemperatureTruth, series: TrueSeries, degrees: float, night: float, dish: int
) -> dict[str, Any]:
    chamber = f"C{degrees:g}" + ("" if truth.chambers == 1 else f"-{dish % truth.chambers + 1}")
    return {
        "lot": series.lot,
        "treatment": series.treatment,
        "temperature_c": degrees,
        "night_temperature_c": night,
        "warm_h": float("nan") if np.isnan(night) else series.warm_h,
        "chamber": chamber,
        "seeds": float(truth.seeds),
    }


def _counts(
    truth: TemperatureTruth,
    series: TrueSeries,
    degrees: float,
    night: float,
    rng: np.random.Generator,
) -> tuple[np.ndarray, list[dict[str, Any]]]:
    """Return the newly germinated seeds of one dish, and its outcomes."""
    mean = degrees
    speed = rate(series, degrees)
    if not np.isnan(night):
        warm = series.warm_h / 24
        mean = warm * degrees + (1 - warm) * night
        speed = warm * speed + (1 - warm) * rate(series, night)
    fraction = series.germinable - series.cold_loss * max(0.0, series.cold_below - mean)
    odds = fraction / max(1 - fraction, 1e-12) * float(np.exp(truth.dish_sd_logit * rng.normal()))
    germinable = int(rng.binomial(truth.seeds, odds / (1 + odds) if fraction < 1 else 1.0))
    z = named(truth.family).quantile(rng.uniform(size=germinable))
    slow = truth.dish_sd_log_time * rng.normal()
    times = np.exp(slow + truth.sigma * z) / speed if speed > 0 else np.full(germinable, np.inf)
    newly = np.histogram(times, bins=np.array((0.0, *truth.inspections_h)))[0]
    return newly, _outcomes(series, truth.seeds - germinable, germinable - int(newly.sum()), rng)


def _outcomes(
    series: TrueSeries, others: int, waiting: int, rng: np.random.Generator
) -> list[dict[str, Any]]:
    hard = int(rng.binomial(others, series.hard))
    found = (("hard", hard), ("fresh", waiting), ("dead", others - hard))
    return [
        {"outcome": outcome, "seeds": float(n), "assessed_by": "pressing"}
        for outcome, n in found
        if n
    ]

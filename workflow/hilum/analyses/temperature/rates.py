"""What the chart of rates draws: the fitted curve, the rates of single dishes, and the classical lines through them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hilum.analyses.temperature import answers
from hilum.analyses.temperature.choice import Certainty, Choice
from hilum.analyses.temperature.classical import Percentile
from hilum.stats import response as curves
from hilum.stats.arrays import Array

SHARES = (0.1, 0.5, 0.9)
_POINTS = 61


@dataclass(frozen=True, kw_only=True)
class Rate:
    """The rate, 1/h, to a share of the germinable seeds at a temperature, °C."""

    temperature: float
    share: float
    rate: float


@dataclass(frozen=True, kw_only=True)
class FittedRate(Rate):
    """A rate of the fitted curve, with its limits where there are any."""

    low: float | None
    high: float | None


@dataclass(frozen=True, kw_only=True)
class Line:
    """The classical line through the rates to one share: base, °C, with Fieller's limits, thermal time, °C h."""

    share: float
    points: int
    base: float | None
    base_error: float | None
    low: float | None
    high: float | None
    region: str
    thermal_time: float | None
    r_squared: float | None
    doubts: tuple[str, ...]


def curve(choice: Choice, certainty: Certainty) -> tuple[FittedRate, ...]:
    """Return the rate curve, 1/h, of a tenth, half and nine tenths of the germinable seeds."""
    model, parameters = choice.chosen.peak.model, choice.chosen.peak.parameters
    assert model.response is not None  # noqa: S101
    temperature = drawn_temperatures(choice)
    rate = curves.rates(model.response, parameters[: model.rate_parameters], temperature).value
    band = answers.rate_band(choice, temperature, certainty)
    reach = np.full(len(rate), np.nan)
    if band is not None:
        reach = np.minimum(band, 5.0)
        # towards the base the rate goes to 0 and its relative error to infinity: no band is drawn there
        reach[temperature < choice.pool.warmest[choice.pool.germinated > 0].min()] = np.nan
    return tuple(
        FittedRate(
            temperature=float(t),
            share=share,
            rate=float(r * np.exp(-_delay(choice, share))),
            low=None if share != 0.5 or np.isnan(w) else float(r * np.exp(-w)),
            high=None if share != 0.5 or np.isnan(w) else float(r * np.exp(w)),
        )
        for share in SHARES
        for t, r, w in zip(temperature, rate, reach, strict=True)
    )


def drawn_temperatures(choice: Choice) -> Array:
    """Return temperatures a little beyond the tested ones, with every bend of the curve among them."""
    model, parameters = choice.chosen.peak.model, choice.chosen.peak.parameters
    assert model.response is not None  # noqa: S101
    warm = choice.pool.warmest
    base = _base(choice, float(warm.min()))
    even = np.linspace(min(warm.min(), base) - 1, warm.max() + 1, _POINTS)
    bends = parameters[list(model.response.breaks)]
    return np.unique(np.concatenate((even, bends, [base + 1e-3])))


def _base(choice: Choice, otherwise: float) -> float:
    model, parameters = choice.chosen.peak.model, choice.chosen.peak.parameters
    assert model.response is not None  # noqa: S101
    base = float(curves.base_temperature(model.response, parameters[: model.rate_parameters]))
    # a base far below anything tested would squeeze the chart
    return base if base > otherwise - 15 else otherwise


def _delay(choice: Choice, share: float) -> float:
    """Return by how much the log time of a share lies above that of half."""
    model, parameters = choice.chosen.peak.model, choice.chosen.peak.parameters
    sigma = np.exp(parameters[model.rate_parameters])
    return float(sigma * model.family.quantile(np.array(share)))


def seen(lines: Sequence[Percentile]) -> tuple[Rate, ...]:
    """Return the rates of single dishes."""
    return tuple(
        Rate(temperature=float(t), share=line.share, rate=float(r))
        for line in lines
        if line.share in SHARES
        for t, r in zip(line.temperature, line.rate, strict=True)
    )


def classical(lines: Sequence[Percentile]) -> tuple[Line, ...]:
    """Return the classical line of each share that has one."""
    return tuple(
        Line(
            share=one.share,
            points=line.points,
            base=line.base,
            base_error=line.base_error,
            low=line.low,
            high=line.high,
            region=line.region,
            thermal_time=line.thermal_time,
            r_squared=line.r_squared,
            doubts=one.doubts,
        )
        for one in lines
        if (line := one.line) is not None
    )

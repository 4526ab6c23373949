"""The straight line through the rates of single dishes, beside the likelihood."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hilum.analyses.temperature.choice import Choice
from hilum.stats import regression
from hilum.stats.arrays import Array
from hilum.stats.regression import RateLine
from hilum.stats.thermal import Series

SHARES = tuple(round(0.1 * i, 1) for i in range(1, 10))


@dataclass(frozen=True, kw_only=True)
class Percentile:
    """One share g of the germinable seeds: `temperature` and `rate` (1/h) of the dishes that reached it, (n,).

    The line is that of the rising limb alone.
    """

    share: float
    temperature: Array
    rate: Array
    line: RateLine | None
    doubts: tuple[str, ...]


def lines(series: Series, choice: Choice, *, confidence: float) -> tuple[Percentile, ...]:
    """Return the rate line of 10 to 90 % of the germinable seeds, on the rising limb of the chosen response.

    A dish that did not reach the share has no rate, and is left out, as is usual with this method.
    """
    top = _top_of_rise(choice)
    fraction = fractions(choice, series)[series.regime]
    dish_temperature = series.mean_temperature[series.regime]
    found = []
    for share in SHARES:
        time = np.array([_crossing(series, j, share * fraction[j]) for j in range(len(fraction))])
        reached = np.isfinite(time)
        temperature, rate = dish_temperature[reached], 1 / time[reached]
        rising = temperature <= top
        line = None
        if len(set(temperature[rising].tolist())) > 1:
            line = regression.rate_line(temperature[rising], rate[rising], confidence=confidence)
        found.append(
            Percentile(
                share=share,
                temperature=temperature,
                rate=rate,
                line=line,
                doubts=regression.doubts(line) if line else (),
            )
        )
    return tuple(found)


def fractions(choice: Choice, series: Series) -> Array:
    """Return the germinable fraction of each regime of `series`, 0 where the ability to germinate was lost."""
    values = choice.chosen.peak.model.fraction_of(choice.chosen.peak.parameters)
    if not choice.left_out:
        return np.asarray(values)
    found = np.zeros(series.regimes)
    found[series.germinated > 0] = values
    return found


def _top_of_rise(choice: Choice) -> float:
    response = choice.chosen.peak.model.response
    assert response is not None  # noqa: S101
    breaks = response.breaks
    return float(choice.chosen.peak.parameters[breaks[0]]) if breaks else np.inf


def _crossing(series: Series, dish: int, share: float) -> float:
    cells = series.cells
    real = cells.end_h[dish] > cells.start_h[dish]
    found = regression.crossing_time(
        cells.end_h[dish][real], cells.count[dish][real], share * float(cells.seeds[dish])
    )
    return np.nan if found is None else found

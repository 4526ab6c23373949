"""Where the climbs to a rate curve start, and within which bounds.

A curve bends at temperatures between those that were tested, and its likelihood has a kink wherever a bend
passes a tested one. So every *stretch* between two neighbouring temperatures is climbed on its own, and from
several starts where there may be more than one peak.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from hilum.stats import own_base
from hilum.stats.arrays import Array
from hilum.stats.families import Family
from hilum.stats.response import Response
from hilum.stats.thermal import Model, Series, Shared

if TYPE_CHECKING:
    from hilum.stats.cardinal import Peak

_INSIDE = 1e-6  # °C; a bend stays this far from the tested temperatures, so that derivatives are one-sided
_LOG_RATE = (-20.0, 5.0)  # of 1/h: half the seeds in 50,000 years, or within half a minute
_SIGMA = (
    0.01,
    5.0,
)  # in the narrower of them all seeds germinate within hours, in the wider never together
_FRACTION = (1e-4, 1.0)
_STEEPEST = (
    1e3  # 1/°C: a base or ceiling a thousandth of a degree away from the nearest temperature
)


@dataclass(frozen=True)
class Climb:
    """A model, its n starts (n, S, p) in each of S stretches, and the bounds of these, `low` and `high` (S, p)."""

    model: Model
    start: Array
    low: Array
    high: Array


def of_free_rates(family: Family, series: Series, shared: Shared) -> Climb:
    """Return the climb to a rate of its own for each regime; a rate is unknown where nothing germinated."""
    model = Model(family, None, shared)
    seen = np.clip(series.germinated / series.seeds, 0.05, 0.98)
    fractions = [seen[np.array(shared) == number].max() for number in range(model.fractions)]
    start = np.concatenate((_crude_log_rates(series), [np.log(0.25)], fractions))
    low = np.full(model.size, -np.inf)
    return Climb(model, start[None, None], *_bounded(model, low, -low))


def of_response(model: Model, series: Series, known: Peak) -> Climb:
    """Return the climb to a response, which starts from the free rates that are `known`."""
    assert model.response is not None  # noqa: S101
    low, high = _stretches(model, series)
    start = _starts(model, series, known, low, high)
    if not model.response.breaks:
        return Climb(model, _from_four_bases(model, series, start, known), low, high)
    return Climb(model, _with_near_bases(model, series, start), low, high)


def sprouting_temperatures(series: Series) -> Array:
    """Return the temperatures at which seeds germinated, rising, without repeats; of alternating ones the day's.

    The base lies below the coolest of them.
    """
    return np.unique(series.warmest[series.germinated > 0])


def _kinks(series: Series) -> Array:
    """Return the temperatures between which the likelihood is smooth in a bend: nights too."""
    lived = series.germinating().temperature
    coolest = sprouting_temperatures(series)[0]
    return np.unique(lived[lived >= coolest])


def _from_four_bases(model: Model, series: Series, start: Array, known: Peak) -> Array:
    """Return starts (4, 1, p) of a straight line: through a bent curve it has more than one peak."""
    assert model.response is not None  # noqa: S101
    starts = np.repeat(start[None], 4, axis=0)
    away = model.response.anchor - sprouting_temperatures(series)[0]
    starts[1:, 0, 1] = 1 / (away + 1), 1 / (away + 5), 0.0
    starts[3, 0, 0] = known.parameters[: known.model.rate_parameters].mean()
    return starts


def _with_near_bases(model: Model, series: Series, start: Array) -> Array:
    """Return each start (S, p) beside two with a base 1 and 5 °C below the coolest germination, (3, S, p).

    From a base far in the cold a climb does not reach one above the temperatures at which nothing germinated.
    """
    response = model.response
    assert response is not None  # noqa: S101
    first = start[:, response.breaks[0]] - response.anchor
    at_bend = start[:, 0] + np.log(np.maximum(1 + start[:, 1] * first, 1e-3))
    starts = np.repeat(start[None], 3, axis=0)
    away = response.anchor - sprouting_temperatures(series)[0]
    for near, below in zip(starts[1:], (1.0, 5.0), strict=True):
        near[:, 1] = 1 / (away + below)
        near[:, 0] = at_bend - np.log(1 + near[:, 1] * first)
    return starts


def _crude_log_rates(series: Series) -> Array:
    """Return minus the mean log time of the seeds that germinated at each regime: a place to start."""
    cells = series.cells
    middle = np.log(np.maximum((cells.start_h + cells.end_h) / 2, 1e-3))
    total = np.bincount(series.regime, (cells.count * middle).sum(-1), series.regimes)
    return np.asarray(-total / series.germinated)


def _bounded(model: Model, low: Array, high: Array) -> tuple[Array, Array]:
    """Return the bounds (S, p) with those of the log rates, sigma and G filled in."""
    low, high = np.atleast_2d(low).copy(), np.atleast_2d(high).copy()
    q = model.rate_parameters
    logarithms = slice(q if model.response is None else 1)
    low[:, logarithms], high[:, logarithms] = _LOG_RATE
    low[:, q], high[:, q] = np.log(_SIGMA[0]), np.log(_SIGMA[1])
    low[:, q + 1 :], high[:, q + 1 :] = _FRACTION
    return low, high


def _stretches(model: Model, series: Series) -> tuple[Array, Array]:
    """Return the bounds (S, p) of every combination of stretches in which the bends can lie."""
    response = model.response
    assert response is not None  # noqa: S101
    warm = _kinks(series)
    # two bends lie in different stretches: between them the plateau must pass a temperature
    chosen = list(combinations(range(len(warm) - 1), len(response.breaks)))
    low, high = (
        np.full((len(chosen), model.size), -np.inf),
        np.full((len(chosen), model.size), np.inf),
    )
    low[:, 1], high[:, 1] = 0.0, _STEEPEST
    if response.breaks:
        low[:, response.breaks] = warm[np.array(chosen)] + _INSIDE
        high[:, response.breaks] = warm[np.array(chosen) + 1] - _INSIDE
    if "fall" in response.names:
        column = response.names.index("fall")
        low[:, column], high[:, column] = 0.0, _STEEPEST
    return _bounded(model, low, high)


def _starts(model: Model, series: Series, known: Peak, low: Array, high: Array) -> Array:
    """Return a start (S, p) in each stretch: a line through the free rates, bent where it may bend."""
    response = model.response
    assert response is not None  # noqa: S101
    live = series.germinating()
    order = np.argsort(live.warmest, kind="stable")
    temperature = live.warmest[order]
    rate = np.exp(known.parameters[: live.regimes])[order]
    start = np.zeros((len(low), model.size))
    start[:, model.rate_parameters :] = _other_starts(model, series, known)
    for row, (floor, roof) in enumerate(zip(low, high, strict=True)):
        bends = (floor[list(response.breaks)] + roof[list(response.breaks)]) / 2
        start[row, : model.rate_parameters] = _bent_line(response, temperature, rate, bends, series)
    return start


def _other_starts(model: Model, series: Series, known: Peak) -> Array:
    """Return sigma and G of the free rates; where nothing germinated the mean G is a start."""
    of_regime = known.model.fraction_of(known.parameters)
    numbers = np.array(model.shared)[series.germinated > 0]
    fractions = [
        of_regime[numbers == number].mean() if (numbers == number).any() else of_regime.mean()
        for number in range(model.fractions)
    ]
    rates, log_sigma = np.split(known.parameters[: known.model.rate_parameters + 1], [-1])
    if model.own_bases:
        # a step of ln t is one of 1/t, times 1/t
        log_sigma = log_sigma + np.log(own_base.UNIT_H) + rates.mean()
    return np.array([*log_sigma, *fractions])


def _bent_line(
    response: Response, temperature: Array, rate: Array, bends: Array, series: Series
) -> Array:
    """Return rate parameters of a line through the rates, relative errors alike, with given bends."""
    first = bends[0] if len(bends) else np.inf
    level_part = np.ones(len(rate), dtype=bool)
    if "fall" in response.names:
        # the temperature next above the last bend still stands for the flat part
        level_part = np.arange(len(rate)) <= np.searchsorted(temperature, bends[-1])
    x, y = (np.minimum(temperature, first) - response.anchor)[level_part], rate[level_part]
    # least squares of (a + b·x)/y = 1
    design = np.stack((1 / y, x / y), axis=1)
    level, slope = np.linalg.lstsq(design, np.ones(len(y)), rcond=1e-9)[0]
    level = max(level, 0.2 * y.min())
    coolest = response.anchor - temperature.min()
    rise = min(slope / level, 0.9 / coolest if coolest > 0 else 1.0)
    found = [np.log(level), max(rise, 0.01), *bends]
    if "fall" in response.names:
        found.append(
            _fall(response, level * (1 + rise * (first - response.anchor)), rate, bends[-1], series)
        )
    return np.array(found)


def _fall(response: Response, flat: float, rate: Array, bend: float, series: Series) -> float:
    """Return a fall that meets the rate at the warmest germinating temperature, and none above it."""
    fall = max(flat / rate[-1] - 1, 0.0) / (response.top - bend)
    hotter = series.warmest[series.warmest > response.top]
    return float(max(fall, 1 / (hotter.min() - response.top) if len(hotter) else 0.01))

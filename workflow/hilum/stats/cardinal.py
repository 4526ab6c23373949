"""Find the rate curve that fits best, and how far each of its temperatures may move.

A curve bends at temperatures between those that were tested, and its likelihood has a kink wherever a bend
passes a tested one. So every *stretch* between two neighbouring temperatures is climbed on its own, all in
one batch, and the highest peak is taken.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from hilum.stats import own_base
from hilum.stats.ascent import HOPELESS, tops
from hilum.stats.families import Array, Family
from hilum.stats.response import Response, Shape, rates
from hilum.stats.thermal import Model, Series, Shared, among_germinating, surface

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
class Peak:
    """The best fit of one model: `parameters` (p,) with log likelihood `loglik`.

    `peaks` (S, p) and `values` (S,) are the best in each stretch, `low` and `high` (S, p) its bounds.
    """

    model: Model
    parameters: Array
    loglik: float
    peaks: Array
    values: Array
    low: Array
    high: Array


def free_rates(family: Family, series: Series, shared: Shared) -> Peak:
    """Return the fit in which each regime has a rate of its own: no response is assumed.

    `series` holds germinating regimes only; a rate is unknown where nothing germinated.
    """
    model = Model(family, None, shared)
    seen = np.clip(series.germinated / series.seeds, 0.05, 0.98)
    fractions = [seen[np.array(shared) == number].max() for number in range(model.fractions)]
    start = np.concatenate((_crude_log_rates(series), [np.log(0.25)], fractions))
    low = np.full(model.size, -np.inf)
    return _best(model, series, start[None], *_bounded(model, low, -low))


def fitted(
    family: Family,
    shape: Shape,
    series: Series,
    shared: Shared,
    *,
    known: Peak | None = None,
    own_bases: bool = False,
) -> Peak:
    """Return the best fit of a response, starting from the free rates where they are `known`."""
    model = Model(family, response_for(shape, series), shared, own_bases)
    known = known or free_rates(family, series.germinating(), among_germinating(series, shared))
    low, high = _stretches(model, series)
    start = _starts(model, series, known, low, high)
    if shape == "linear":
        return _best_line(model, series, start, known)
    return _best_of_starts(model, series, _with_near_bases(model, series, start), low, high)


def response_for(shape: Shape, series: Series, *, absolute: bool = False) -> Response:
    """Return the response of that shape, anchored inside the temperatures that germinated.

    With an absolute slope the anchor is the coolest of them, where every line with a rate has one.
    """
    warm = sprouting_temperatures(series)
    anchor = warm[min(1, len(warm) - 1)] if not absolute else warm[0]
    return Response(shape=shape, anchor=float(anchor), top=float(warm[-1]), absolute=absolute)


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


def absolute(peak: Peak, series: Series) -> Peak:
    """Return the same fit with the slope itself, not its ratio to the rate, as a parameter."""
    response = peak.model.response
    assert response is not None  # noqa: S101
    # where seeds differ in their base the median one may not move at the coolest temperature that others germinate at
    other = response_for(response.shape, series, absolute=True)
    if peak.model.own_bases:
        other = replace(response, absolute=True)
    at_anchor = np.array([other.anchor])

    def turned(parameters: Array) -> Array:
        result = parameters.copy()
        rate = rates(response, parameters[..., : len(response.names)], at_anchor).value[..., 0]
        # a lesser peak may stand still at the anchor of the other spelling
        result[..., 0] = np.log(np.maximum(rate, np.finfo(float).tiny))
        result[..., 1] = parameters[..., 1] * np.exp(parameters[..., 0])
        return result

    return replace(
        peak,
        model=replace(peak.model, response=other),
        parameters=turned(peak.parameters),
        peaks=turned(peak.peaks),
    )


Held = Callable[[Array, "int | np.ndarray"], tuple[Array, Array]]


def profile(peak: Peak, series: Series) -> Held:
    """Return a function that holds one parameter at given values (n,) and fits the others.

    Its second argument is the column of that parameter, one for all values or one for each. It gives −2 log likelihood
    ratio (n,), infinite where impossible, and the parameters (n, p).
    """
    at = surface(peak.model, series)
    live = peak.values > peak.loglik - HOPELESS  # the others lie outside any interval
    low, high = peak.low[live], peak.high[live]
    found = _Found(peak.peaks[live])

    def held(values: Array, column: int | np.ndarray) -> tuple[Array, Array]:
        columns = np.broadcast_to(column, values.shape)
        inside = (values[:, None] >= low[:, columns].T) & (values[:, None] <= high[:, columns].T)
        which, stretch = np.nonzero(inside)
        bounds, place = (low[stretch], high[stretch]), (np.arange(len(which)), columns[which])
        start = found.nearest(columns[which], values[which], stretch)
        for array in (*bounds, start):
            array[place] = values[which]
        points = np.full((*inside.shape, peak.model.size), np.nan)
        rise = np.full(inside.shape, np.inf)
        points[which, stretch], value = tops(at, start, *bounds, which)
        rise[which, stretch] = 2 * (peak.loglik - value)
        found.add(columns, np.where(inside, values[:, None], np.inf), points)
        best = rise.argmin(1)
        rows = np.arange(len(values))
        return rise[rows, best], points[rows, best]

    return held


class _Found:
    """Where each stretch was climbed before: `column` held (k,) at `value` (k, S), and the `point` (k, S, p) that was found."""

    def __init__(self, peaks: Array) -> None:
        """Begin with the peak of each stretch, whatever is held there."""
        size = peaks.shape[1]
        self.column, self.value = np.arange(size), peaks.T
        self.point = np.broadcast_to(peaks, (size, *peaks.shape))

    def nearest(self, column: np.ndarray, value: Array, stretch: np.ndarray) -> Array:
        """Return what each stretch found nearest to the value now held, shape (b, p)."""
        away = np.abs(self.value[:, stretch] - value)
        away[self.column[:, None] != column] = np.inf
        return np.asarray(self.point[away.argmin(0), stretch])

    def add(self, column: np.ndarray, value: Array, point: Array) -> None:
        """Remember points; values that lie outside a stretch are infinite."""
        self.column = np.concatenate((self.column, column))
        self.value = np.concatenate((self.value, value))
        self.point = np.concatenate((self.point, point))


def _best(
    model: Model,
    series: Series,
    start: Array,
    low: Array,
    high: Array,
    stretch: np.ndarray | None = None,
) -> Peak:
    """Return the best fit from some starts (S, p); of those in one `stretch` (S,) only the highest is wanted."""
    at = surface(model, series)
    peaks, values = tops(at, start, low, high, np.zeros(len(start), dtype=int), stretch)
    best = int(values.argmax())
    return Peak(model, peaks[best], float(values[best]), peaks, values, low, high)


def _best_line(model: Model, series: Series, start: Array, known: Peak) -> Peak:
    """Return the best straight line, climbed from four bases: through a bent curve it has more than one peak."""
    assert model.response is not None  # noqa: S101
    starts = np.repeat(start, 4, axis=0)
    away = model.response.anchor - sprouting_temperatures(series)[0]
    starts[1:, 1] = 1 / (away + 1), 1 / (away + 5), 0.0
    starts[3, 0] = known.parameters[: known.model.rate_parameters].mean()
    low, high = (np.repeat(bound, 4, axis=0) for bound in _stretches(model, series))
    peak = _best(model, series, starts, low, high, np.zeros(4, dtype=int))
    top = np.array([peak.values.argmax()])
    return replace(peak, peaks=peak.peaks[top], values=peak.values[top], low=low[:1], high=high[:1])


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


def _best_of_starts(model: Model, series: Series, starts: Array, low: Array, high: Array) -> Peak:
    """Return the best fit, climbed in each stretch from several starts (n, S, p)."""
    n, S, p = starts.shape
    floor, roof = (np.tile(bound, (n, 1)) for bound in (low, high))
    stretch = np.tile(np.arange(S), n)
    peak = _best(model, series, starts.reshape(n * S, p), floor, roof, stretch)
    values = peak.values.reshape(n, S)
    top = values.argmax(0), np.arange(S)
    return replace(
        peak, peaks=peak.peaks.reshape(n, S, p)[top], values=values[top], low=low, high=high
    )


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

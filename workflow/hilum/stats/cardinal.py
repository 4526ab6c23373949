"""Find the rate curve that fits best, and how far each of its temperatures may move.

A curve bends at temperatures between those that were tested, and its likelihood has a kink wherever a bend
passes a tested one. So every *stretch* between two neighbouring temperatures is climbed on its own, all in
one batch with those of other models, and the highest peak of each is taken.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from hilum.stats import climbs
from hilum.stats.arrays import Array
from hilum.stats.ascent import HOPELESS, tops
from hilum.stats.climbs import Climb, sprouting_temperatures
from hilum.stats.families import Family
from hilum.stats.response import Response, Shape, rates
from hilum.stats.thermal import Model, Series, Shared, among_germinating, surface
from hilum.stats.thermal_together import surfaces

__all__ = [
    "Peak",
    "Wanted",
    "absolute",
    "all_fitted",
    "fitted",
    "free_rates",
    "profile",
    "profiles",
    "response_for",
    "sprouting_temperatures",
]


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


@dataclass(frozen=True)
class Wanted:
    """A model that is to be fitted; with `own_bases` seeds differ in their base."""

    family: Family
    shape: Shape
    shared: Shared
    own_bases: bool = False


def free_rates(wanted: Sequence[tuple[Family, Shared]], series: Series) -> list[Peak]:
    """Return the fits in which each regime has a rate of its own: no response is assumed.

    `series` holds germinating regimes only; a rate is unknown where nothing germinated.
    """
    return _highest([climbs.of_free_rates(family, series, own) for family, own in wanted], series)


def fitted(
    family: Family, shape: Shape, series: Series, shared: Shared, *, own_bases: bool = False
) -> Peak:
    """Return the best fit of a response."""
    own = among_germinating(series, shared)
    known = free_rates([(family, own)], series.germinating())
    return all_fitted([Wanted(family, shape, shared, own_bases)], series, known)[0]


def all_fitted(wanted: Sequence[Wanted], series: Series, known: Sequence[Peak]) -> list[Peak]:
    """Return the best fit of each model, all climbed at once from the free rates that are `known` of each."""
    models = [
        Model(one.family, response_for(one.shape, series), one.shared, one.own_bases)
        for one in wanted
    ]
    started = zip(models, known, strict=True)
    return _highest([climbs.of_response(model, series, rates) for model, rates in started], series)


def response_for(shape: Shape, series: Series, *, absolute: bool = False) -> Response:
    """Return the response of that shape, anchored inside the temperatures that germinated.

    With an absolute slope the anchor is the coolest of them, where every line with a rate has one.
    """
    warm = sprouting_temperatures(series)
    anchor = warm[min(1, len(warm) - 1)] if not absolute else warm[0]
    return Response(shape=shape, anchor=float(anchor), top=float(warm[-1]), absolute=absolute)


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
HeldOfMany = Callable[[Array, "int | np.ndarray", np.ndarray], tuple[Array, Array]]


def profile(peak: Peak, series: Series) -> Held:
    """Return a function that holds one parameter at given values (n,) and fits the others.

    Its second argument is the column of that parameter, one for all values or one for each. It gives −2 log likelihood
    ratio (n,), infinite where impossible, and the parameters (n, p).
    """
    of_one = profiles([peak], series)
    return lambda values, column: of_one(values, column, np.zeros(len(values), dtype=int))


def profiles(peaks: Sequence[Peak], series: Series) -> HeldOfMany:
    """Return the same function of several peaks with as many parameters each, all followed at once.

    Its third argument is the number of the peak that each value belongs to.
    """
    # stretches far below the best one of their peak lie outside any interval
    live = [peak.values > peak.loglik - HOPELESS for peak in peaks]
    each = list(zip(peaks, live, strict=True))
    low = np.concatenate([peak.low[here] for peak, here in each])
    high = np.concatenate([peak.high[here] for peak, here in each])
    owner = np.repeat(np.arange(len(peaks)), [here.sum() for here in live])
    top = np.array([peak.loglik for peak in peaks])
    found = _Found(np.concatenate([peak.peaks[here] for peak, here in each]))
    climbed = _climbed(peaks, series)

    def held(values: Array, column: int | np.ndarray, whose: np.ndarray) -> tuple[Array, Array]:
        columns = np.broadcast_to(column, values.shape)
        inside = (values[:, None] >= low[:, columns].T) & (values[:, None] <= high[:, columns].T)
        inside &= whose[:, None] == owner
        which, stretch = np.nonzero(inside)
        bounds, place = (low[stretch], high[stretch]), (np.arange(len(which)), columns[which])
        start = found.nearest(columns[which], values[which], stretch)
        for array in (*bounds, start):
            array[place] = values[which]
        points = np.full((*inside.shape, low.shape[1]), np.nan)
        rise = np.full(inside.shape, np.inf)
        points[which, stretch], value = climbed(owner[stretch], start, *bounds, which)
        rise[which, stretch] = 2 * (top[owner[stretch]] - value)
        found.add(columns, np.where(inside, values[:, None], np.inf), points)
        best = rise.argmin(1)
        rows = np.arange(len(values))
        return rise[rows, best], points[rows, best]

    return held


def _climbed(
    peaks: Sequence[Peak], series: Series
) -> Callable[[np.ndarray, Array, Array, Array, np.ndarray], tuple[Array, Array]]:
    """Return a function that climbs from starts (b, p), each of the peak of its number (b,), within bounds."""
    if len(peaks) == 1:
        alone = surface(peaks[0].model, series)
        return lambda _, start, low, high, rival: tops(alone, start, low, high, rival)
    at = surfaces([peak.model for peak in peaks], series)

    def climbed(
        number: np.ndarray, start: Array, low: Array, high: Array, rival: np.ndarray
    ) -> tuple[Array, Array]:
        start, low, high = (np.column_stack((number, x)) for x in (start, low, high))
        points, value = tops(at, start, low, high, rival)
        return points[:, 1:], value

    return climbed


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


def _highest(wanted: Sequence[Climb], series: Series) -> list[Peak]:
    """Return the best fit of each model, all climbed at once; of the starts in one stretch only the highest is wanted."""
    if not wanted:
        return []
    most = max(climb.model.size for climb in wanted)
    start, low, high, stretch = (
        np.concatenate(part) for part in zip(*_numbered(wanted, most), strict=True)
    )
    number = start[:, 0].astype(int)
    at = surfaces([climb.model for climb in wanted], series)
    points, values = tops(at, start, low, high, number, stretch)
    return [
        _peak(climb, points[number == i, 1 : 1 + climb.model.size], values[number == i])
        for i, climb in enumerate(wanted)
    ]


def _numbered(
    wanted: Sequence[Climb], most: int
) -> Iterator[tuple[Array, Array, Array, np.ndarray]]:
    """Yield the starts of each climb and their bounds with its number before them, and the numbers of its stretches."""
    stretches = 0
    for number, climb in enumerate(wanted):
        n, S, p = climb.start.shape
        points = (
            climb.start.reshape(n * S, p),
            np.tile(climb.low, (n, 1)),
            np.tile(climb.high, (n, 1)),
        )
        wide = np.zeros((3, n * S, 1 + most))
        wide[:, :, 0], wide[:, :, 1 : 1 + p] = number, points
        start, low, high = wide
        yield start, low, high, stretches + np.tile(np.arange(S), n)
        stretches += S


def _peak(climb: Climb, points: Array, values: Array) -> Peak:
    """Return the best of what was reached from all starts of a model, (n·S, p) and (n·S,)."""
    n, S, p = climb.start.shape
    top = values.reshape(n, S).argmax(0), np.arange(S)
    peaks, heights = points.reshape(n, S, p)[top], values.reshape(n, S)[top]
    best = int(heights.argmax())
    return Peak(
        climb.model, peaks[best], float(heights[best]), peaks, heights, climb.low, climb.high
    )

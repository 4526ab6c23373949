"""Which temperature to add: the one that is expected to narrow the base temperature most."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hilum.analyses.temperature.answers import Answer, Path
from hilum.analyses.temperature.choice import Choice
from hilum.analyses.temperature.fractions import HALFWAY
from hilum.stats import cardinal
from hilum.stats import response as curves
from hilum.stats.arrays import Array
from hilum.stats.families import Family
from hilum.stats.thermal import Series

_STEP = 0.5  # °C; what an incubator can be set to
_COLDEST = 1.0  # °C; below it water in the seed may freeze
_LEAST = 1e-12  # a probability that no experiment of this size tells from 0


@dataclass(frozen=True, kw_only=True)
class Advice:
    """What one more temperature would do: `now` and `then` are widths of the interval in °C.

    `temperatures` (n,) with the width expected of each in `widths` (n,); the best is `temperature`. `seeds` are as many
    as one temperature had so far.
    """

    temperature: float
    now: float
    then: float
    seeds: int
    temperatures: Array
    widths: Array


@dataclass(frozen=True, kw_only=True)
class Width:
    """The width of the interval of the base, °C, that one more temperature is expected to leave."""

    temperature: float
    width: float


@dataclass(frozen=True, kw_only=True)
class Added:
    """The temperature to add, °C: widths of the interval of the base now and then, and the seeds it is sown with."""

    temperature: float
    now: float
    then: float
    seeds: int
    widths: tuple[Width, ...]


def advise(choice: Choice, base: Answer, path: Path, series: Series) -> Advice | None:
    """Return the temperature to add to `series`, None where the profile of the base cannot be followed.

    Nor is there one where seeds germinated below the coolest temperature that is ever advised.

    For every base that the data still allow, seeds are imagined at the new temperature; what they would say
    about every other base is the Kullback–Leibler divergence of their counts, added to the profile.
    """
    threshold = base.threshold
    allowed = path.rise <= threshold
    if allowed.sum() < 3:
        return None
    warmest = float(series.warmest[series.germinated > 0].max())
    coolest = max(_COLDEST, np.floor(path.base[allowed].min()))
    if coolest > warmest:
        return None
    temperatures = np.arange(coolest, warmest + _STEP / 2, _STEP)
    hours, seeds = _schedule(series)
    told = _divergence(choice, path.parameters, temperatures, hours, seeds)
    weight = np.where(allowed, np.exp(-path.rise / 2 / choice.scale), 0.0)
    widths = _widths(path, told, threshold, weight)
    best = int(widths.argmin())
    now = float(_widths(path, 0 * told[..., :1], threshold, weight)[0])
    return Advice(
        temperature=float(temperatures[best]),
        now=now,
        then=float(widths[best]),
        seeds=seeds,
        temperatures=temperatures,
        widths=widths,
    )


def added(advice: Advice | None) -> Added | None:
    """Return what charts and page need of the temperature to add, None where there is none."""
    if advice is None:
        return None
    return Added(
        temperature=advice.temperature,
        now=advice.now,
        then=advice.then,
        seeds=advice.seeds,
        widths=tuple(
            Width(temperature=float(t), width=float(w))
            for t, w in zip(advice.temperatures, advice.widths, strict=True)
        ),
    )


def _schedule(series: Series) -> tuple[Array, int]:
    """Return the inspections of the dish that was watched longest, and the seeds of a typical temperature."""
    longest = int(series.cells.last_h.argmax())
    start, end = series.cells.start_h[longest], series.cells.end_h[longest]
    return np.asarray(end[end > start]), int(np.median(series.seeds))


def _divergence(
    choice: Choice, parameters: Array, temperatures: Array, hours: Array, seeds: int
) -> Array:
    """Return twice the divergence between the counts of each two points of the path, (truth, other, temperature)."""
    model = choice.chosen.peak.model
    assert model.response is not None  # noqa: S101
    q = model.rate_parameters
    rate = curves.rates(model.response, parameters[:, :q], temperatures).value
    sigma = np.exp(parameters[:, q])
    fraction = parameters[:, q + 1 :].mean(1)[:, None, None]
    reached = _reached(model.family, rate, sigma, hours)
    # where G is free only the times of the seeds that germinate tell anything
    end = np.maximum(reached[..., -1:], _LEAST)
    by_times = _information(np.diff(reached, axis=-1) / end, fraction * reached[..., -1:])
    cells = np.concatenate(
        (fraction * np.diff(reached, axis=-1), 1 - fraction * reached[..., -1:]), axis=-1
    )
    by_counts = _information(cells, np.ones((*rate.shape, 1)))
    # a coolest temperature at which some germinate, yet not half within the test, would get a G of its own
    coolest = cardinal.sprouting_temperatures(choice.pool)[0]
    some = (seeds * fraction * reached[..., -1:])[..., 0] >= 1
    apart = (temperatures < coolest) & some & (reached[..., -1] < HALFWAY)
    return 2 * seeds * np.where((apart | choice.free)[:, None], by_times, by_counts)


def _reached(family: Family, rate: Array, sigma: Array, hours: Array) -> Array:
    """Return the share of the germinable seeds that has germinated by 0 and each inspection, (m, c, k + 1)."""
    moving = rate > 0
    log_rate = np.log(np.where(moving, rate, 1.0))
    z = (log_rate[..., None] + np.log(hours)) / sigma[:, None, None]
    share = np.where(moving[..., None], np.exp(family.log_cdf(z)), 0.0)
    return np.concatenate((np.zeros((*rate.shape, 1)), share), axis=-1)


def _information(cells: Array, weight: Array) -> Array:
    log_p = np.log(np.maximum(cells, _LEAST))
    own = np.einsum("mck,mck->mc", cells, log_p)
    cross = np.einsum("mck,nck->mnc", cells, log_p)
    return np.asarray(weight[..., 0][:, None, :] * np.maximum(own[:, None, :] - cross, 0.0))


def _widths(path: Path, told: Array, threshold: float, weight: Array) -> Array:
    """Return the expected width (°C) of the interval with each added temperature, shape (c,)."""
    rise = path.rise[None, :, None] + told
    inside = rise - rise.min(1, keepdims=True) - threshold
    low = _first_crossing(path.base, inside)
    high = _first_crossing(path.base[::-1], inside[:, ::-1])
    return np.asarray(np.einsum("m,mc->c", weight / weight.sum(), high - low))


def _first_crossing(base: Array, above: Array) -> Array:
    """Return where `above` (m, n, c) first falls to 0 along `base` (n,), on the straight line between points."""
    first = (above <= 0).argmax(1)
    before = np.maximum(first - 1, 0)
    there = np.take_along_axis(above, first[:, None], 1)[:, 0]
    here = np.take_along_axis(above, before[:, None], 1)[:, 0]
    gap = here - there
    share = np.where((first > 0) & (gap > 0), here / np.where(gap > 0, gap, 1.0), 1.0)
    return np.asarray(base[before] + share * (base[first] - base[before]))

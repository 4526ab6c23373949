"""What to expect of the seeds: germination at any constant temperature, and how many to sow.

A prediction is offered where the base temperature is a number, between the lowest base that the data allow and the warmest
temperature tested, and no longer after sowing than the tests ran.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from hilum.analyses.temperature.answers import Answer
from hilum.analyses.temperature.candidate import Candidate, regular
from hilum.analyses.temperature.choice import Certainty, Choice, dish_components
from hilum.analyses.temperature.series import Sown
from hilum.stats import proportions, sowing, spread
from hilum.stats.arrays import Array
from hilum.stats.expectation import Grid, Outlook, band, constant, outlook, thinned
from hilum.stats.spread import Components, DishScores

_ALIKE = 2.0  # of the AIC; families no further apart than this fit about as well
_COLDEST = 1.0  # °C; below it water in the seed may freeze
_DAYS = (0.05, 0.1, 0.25, 0.5, 1.0, 2.0, 5.0, 7.0)  # steps between days that read well
_MOST_DAYS = 30  # times on the grid
_MOST_SOWINGS = 9  # temperatures of the sowing table
_STEPS = (1.0, 2.5, 5.0, 10.0)  # °C between them
_LEVELS = np.array(
    (0, 0.002, 0.005, *np.arange(0.01, 0.1, 0.01), 0.125, 0.15, *np.arange(0.2, 1.01, 0.1))
)  # dense where a sowing falls short
_DIGITS = 4


@dataclass(frozen=True)
class Wish:
    """How many germinated seeds to have, one number or several, and how surely a sowing has them."""

    wanted: tuple[int, ...]
    sure: float


@dataclass(frozen=True, kw_only=True)
class Prediction:
    """Germinated share of the seeds sown at temperatures (°C, (n,)) by days (m,), (n, m), with its limits.

    `seeds` (3, i, j) are those to sow to have each wanted number germinated at `sown_at` (°C, (i,)) by `sown_by` (days,
    (j,)), in dishes of `dish` seeds; nan where no reasonable number is enough.
    """

    temperature: Array
    days: Array
    share: Array
    low: Array
    high: Array
    sown_at: Array
    sown_by: Array
    seeds: Array
    dish: int


@dataclass(frozen=True, kw_only=True)
class Sowing:
    """What a table of sowings says of its wish: seeds `wanted` germinated after `days`, how surely, from dishes of `dish` seeds."""

    days: tuple[float, ...]
    dish: int
    wanted: tuple[int, ...]
    sure: float
    most_per_seed: float


@dataclass(frozen=True, kw_only=True)
class SowingAt(Sowing):
    """Seeds to sow for each wanted number at each temperature, °C, by each day."""

    temperatures: tuple[float, ...]
    seeds: tuple[tuple[tuple[int | None, ...], ...], ...]


@dataclass(frozen=True, kw_only=True)
class Expected:
    """Germinated share of the seeds sown with its limits, at each temperature, °C, by each day."""

    temperatures: tuple[float, ...]
    days: tuple[float, ...]
    germinated: tuple[tuple[float, ...], ...]
    low: tuple[tuple[float, ...], ...]
    high: tuple[tuple[float, ...], ...]
    sowing: SowingAt


def why_not(sown: Sown, choice: Choice, base: Answer) -> str:
    """Return why there is no prediction, empty where there is one."""
    if not np.isnan(sown.night).all():
        return (
            "Germination at a constant temperature is not predicted from alternating temperatures."
        )
    held = base.status == "estimated" and choice.chosen.identifiable
    if not held or not regular(choice.chosen.peak, choice.pool):
        return (
            "Germination at other temperatures is not predicted: it hangs on the base temperature, which is not "
            "pinned down."
        )
    return ""


def predict(choice: Choice, base: Answer, certainty: Certainty, wish: Wish) -> Prediction:
    """Return the prediction of a series whose base temperature is a number."""
    temperature = _temperatures(choice, base)
    days = even_days(float(choice.series.cells.last_h.max()) / 24)
    grid = _constant(choice, temperature, days)
    found, _, _ = looked_out(choice, choice.chosen, certainty, grid)
    low, high = band_of_all(choice, certainty, grid)
    sown_at, sown_by = _sowings(temperature, base), sowing_days(days)
    return Prediction(
        temperature=temperature,
        days=days,
        share=found.best.share,
        low=low,
        high=high,
        sown_at=sown_at,
        sown_by=sown_by,
        seeds=to_sow(choice, certainty, _constant(choice, sown_at, sown_by), wish),
        dish=usual_dish(choice),
    )


def _constant(choice: Choice, temperature: Array, days: Array) -> Grid:
    return constant(temperature, days * 24, mixing(choice, temperature))


def usual_dish(choice: Choice) -> int:
    """Return how many seeds a dish has."""
    return int(np.median(choice.series.cells.seeds))


def _temperatures(choice: Choice, base: Answer) -> Array:
    assert base.low is not None  # noqa: S101
    warm = choice.pool.warmest
    coolest, warmest = float(warm.min()), float(warm.max())
    if choice.free:
        # each tested temperature has its own germinable fraction, known in between at most
        return np.arange(np.ceil(coolest), np.floor(warmest) + 1)
    return np.arange(max(_COLDEST, np.floor(base.low)), np.floor(warmest) + 1)


def even_days(last: float) -> Array:
    """Return evenly spaced days after sowing, to the end of the longest test."""
    # a test of an hour ends before the smallest of these steps
    step = next((s for s in _DAYS if 1 <= last / s <= _MOST_DAYS), last / _MOST_DAYS)
    return np.arange(1, np.floor(last / step + 1e-9) + 1) * step


def _sowings(temperature: Array, base: Answer) -> Array:
    """Return the temperatures of the sowing table: round ones above the base, not too many."""
    assert base.value is not None  # noqa: S101
    low, high = max(base.value, temperature[0]), temperature[-1]
    round_ones = (np.arange(np.floor(low / s) + 1, np.floor(high / s) + 1) * s for s in _STEPS)
    return next((t for t in round_ones if len(t) <= _MOST_SOWINGS), temperature[-1:])


def sowing_days(days: Array) -> Array:
    """Return an eighth, a quarter, half, three quarters and all of the days, as far as the grid has them."""
    place = np.ceil(len(days) * np.array((0.125, 0.25, 0.5, 0.75, 1.0))).astype(int) - 1
    return np.asarray(days[np.unique(place)])


def band_of_all(choice: Choice, certainty: Certainty, grid: Grid) -> tuple[Array, Array]:
    """Return the limits that hold the bands of every family of times that fits about as well as the chosen one.

    Families differ in their tails: in when the first seeds germinate. Where the coolest germinating temperature has a fraction of
    its own only because its test was too short to tell, the limits hold the band without it too.
    """
    near = [
        c
        for c in choice.candidates
        if c.shape == choice.chosen.shape and c.identifiable and c.aic <= choice.chosen.aic + _ALIKE
    ]
    lows, highs = [], []
    for candidate, places in product(near, _fractions_possible(choice, grid)):
        found, _, _ = looked_out(choice, candidate, certainty, places)
        low, high = band(found)
        lows.append(_lowered(low, found, choice, certainty))
        highs.append(high)
    return np.min(lows, axis=0), np.max(highs, axis=0)


def _fractions_possible(choice: Choice, grid: Grid) -> tuple[Grid, ...]:
    if choice.sharing != "cold apart":
        return (grid,)
    coolest = np.arange(grid.mixing.shape[1]) == choice.chosen.peak.model.shared[0]
    return grid, replace(grid, mixing=np.broadcast_to(1.0 * ~coolest, grid.mixing.shape))


def looked_out(
    choice: Choice, candidate: Candidate, certainty: Certainty, grid: Grid
) -> tuple[Outlook, Components, DishScores]:
    """Return the outlook of a fit on a grid, and the dishes that say how sure it is."""
    peak = candidate.peak
    components, scores, _ = dish_components(peak, choice.series, certainty.correlation)
    found = outlook(
        peak.model,
        peak.parameters,
        grid,
        scores=scores,
        components=components,
        confidence=certainty.confidence,
    )
    return found, components, scores


def mixing(choice: Choice, temperature: Array) -> Array:
    """Return the share of each germinable fraction at each temperature: on straight lines between tested ones."""
    fractions = choice.chosen.peak.model.fractions
    tested = choice.pool.mean_temperature
    shared = np.array(choice.chosen.peak.model.shared)[:, None] == np.arange(fractions)
    each = [np.interp(temperature, tested, own) for own in shared.T.astype(float)]
    return np.stack(each, axis=1)


def _full(choice: Choice, found: Outlook) -> tuple[np.ndarray, Array]:
    """Return which germinable fractions are 1, all seeds having germinated, and the seeds that say so."""
    model, parameters = found.model, found.parameters
    number, pool = np.array(model.shared), choice.pool
    # at a temperature without germination seeds tell nothing of those that can
    seeds = np.bincount(number, pool.seeds * (pool.germinated > 0), model.fractions)
    return parameters[model.rate_parameters + 1 :] >= 1, seeds.astype(float)


def _lowered(low: Array, found: Outlook, choice: Choice, certainty: Certainty) -> Array:
    """Return lower limits that allow for fractions of 1, about which the likelihood is silent.

    Wilson's limit of the fraction, its seeds divided by the design effect of an assumed correlation, comes in as the
    square of its distance, as does that of the rest.
    """
    full, seeds = _full(choice, found)
    dish = float(np.median(choice.series.cells.seeds))
    alike = seeds / (1 + (dish - 1) * certainty.correlation)
    z2 = spread.t_squared(np.array(spread.MOST_DEGREES_OF_FREEDOM), certainty.confidence)
    least, _ = proportions.wilson(alike, alike, z2)
    missing = found.grid.mixing @ np.where(full, 1 - least, 0.0)
    best = found.best.share
    # Zou and Donner (2008): limits of a product from those of its factors, distances added as squares
    return np.asarray(best - np.hypot(best - low, best * missing[:, None]))


def to_sow(choice: Choice, certainty: Certainty, grid: Grid, wish: Wish) -> Array:
    """Return the fewest seeds for each wanted number at each place and time of a grid, (wanted, n, m)."""
    found, components, _ = looked_out(choice, choice.chosen, certainty, grid)
    full, seeds = _full(choice, found)
    given = found.parameters[found.model.rate_parameters + 1 :]
    # Laplace's rule: after n of n the next does so with (n + 1)/(n + 2)
    likely = thinned(found, np.where(full, (seeds + 1) / (seeds + 2), given))
    nodes = [likely.at(level) for level in (_LEVELS[1:] + _LEVELS[:-1]) / 2]
    chances = sowing.Chances(
        share=np.stack([node.share for node in nodes]),
        correlation=np.stack([node.correlation(components) for node in nodes]),
        weight=np.diff(_LEVELS),
    )
    dish = usual_dish(choice)
    return np.stack(
        [sowing.needed(k, chances, dish=dish, confidence=wish.sure) for k in wish.wanted]
    )


def expected(choice: Choice, base: Answer, certainty: Certainty, wish: Wish) -> Expected:
    """Return what charts and page need of the prediction of a series whose base temperature is a number."""
    found = predict(choice, base, certainty, wish)
    return Expected(
        temperatures=tuple(found.temperature.tolist()),
        days=tuple(found.days.tolist()),
        germinated=tuple(map(rounded, found.share)),
        low=tuple(map(rounded, found.low)),
        high=tuple(map(rounded, found.high)),
        sowing=SowingAt(
            temperatures=tuple(found.sown_at.tolist()),
            days=tuple(found.sown_by.tolist()),
            seeds=tuple(tuple(map(whole, table)) for table in found.seeds),
            dish=found.dish,
            wanted=wish.wanted,
            sure=wish.sure,
            most_per_seed=sowing.MOST_PER_SEED,
        ),
    )


def rounded(share: Array) -> tuple[float, ...]:
    """Return shares (n,) with the digits that a chart can show."""
    return tuple(np.round(share, _DIGITS).tolist())


def whole(seeds: Array) -> tuple[int | None, ...]:
    """Return numbers of seeds (n,), None where no reasonable one is enough."""
    return tuple(None if np.isnan(n) else int(n) for n in seeds)

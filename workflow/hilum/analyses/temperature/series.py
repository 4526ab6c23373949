"""Put the dishes of a lot, a treatment and a condition together over temperatures."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from hilum.analyses import condition, dishes
from hilum.analyses.dishes import DishCounts
from hilum.analyses.estimate import Tables
from hilum.stats.arrays import Array
from hilum.stats.thermal import Series

HALF_A_DAY = 12.0  # h; the warm part of a day where a night temperature came without it


@dataclass(frozen=True, kw_only=True)
class Sown:
    """One lot and treatment under one condition: its dishes over temperatures, in their first phase.

    `hard` is the share of the assessed seeds that stayed hard, None where no dish was assessed. `chambers`
    counts the chambers at the temperature that had most, 0 where none is named. `half_day_assumed` where
    nights had a temperature of their own but the hours of day were not given.
    """

    lot: str
    treatment: str
    condition: str
    series: Series
    temperature: Array
    night: Array
    dish: np.ndarray
    chamber: np.ndarray
    sown_at: np.ndarray
    hard: float | None
    chambers: int
    half_day_assumed: bool


def of_tables(tables: Tables) -> tuple[Sown, ...]:
    """Return the series of an experiment, in order of appearance."""
    counts = dishes.assemble(tables).first_phase()
    counts = counts.take((counts.cells.last_h > 0) & ~np.isnan(counts.temperature_c))
    words = _conditions(tables["dishes"], counts)
    keys = list(zip(counts.lot.tolist(), counts.treatment.tolist(), words, strict=True))
    opened = _opened(tables)
    return tuple(
        _sown(key, counts.take(np.array([k == key for k in keys])), opened)
        for key in dict.fromkeys(keys)
    )


def _conditions(table: Mapping[str, np.ndarray], counts: DishCounts) -> list[str]:
    """Return the condition of each dish without its temperatures, which are what a series is over.

    Alternating temperatures can break a dormancy that constant ones leave, so they are a series of their own.
    """
    blank = np.full(len(table["dish"]), np.nan)
    plain = condition.of_dishes({**table, "night_temperature_c": blank, "warm_h": blank})
    alternating = ~np.isnan(table["night_temperature_c"])
    words = [
        ", ".join(part for part in ("alternating temperatures" * bool(a), str(w)) if part)
        for w, a in zip(plain, alternating, strict=True)
    ]
    return [words[index] for index in counts.index]


def _opened(tables: Tables) -> frozenset[str]:
    events = tables.get("events")
    if not events:
        return frozenset()
    return frozenset(str(d) for d in events["dish"][events["event"] == "opened"])


def _sown(key: tuple[str, str, str], counts: DishCounts, opened: frozenset[str]) -> Sown:
    night = counts.night_temperature_c
    constant = np.isnan(night)
    warm = np.where(np.isnan(counts.warm_h), HALF_A_DAY, counts.warm_h) / 24
    warm = np.where(constant, 1.0, warm)
    at_night = np.where(constant, counts.temperature_c, night)
    temperature = np.stack((counts.temperature_c, at_night), axis=1)
    weight = np.stack((warm, 1 - warm), axis=1)
    regime = _regimes(temperature, weight)
    return Sown(
        lot=key[0],
        treatment=key[1],
        condition=key[2],
        series=Series(counts.cells, temperature, weight, regime),
        temperature=counts.temperature_c,
        night=night,
        dish=counts.dish,
        chamber=counts.chamber,
        sown_at=counts.sown_at,
        hard=_hard_share(counts, opened),
        chambers=_most_chambers(counts.chamber, regime),
        half_day_assumed=bool((~constant & np.isnan(counts.warm_h)).any()),
    )


def _regimes(temperature: Array, weight: Array) -> np.ndarray:
    """Return the number of each dish's temperature regime, coolest mean first."""
    mean = (temperature * weight).sum(1)
    rows = np.column_stack((mean, temperature, weight))
    return np.unique(rows, axis=0, return_inverse=True)[1].ravel()


def _hard_share(counts: DishCounts, opened: frozenset[str]) -> float | None:
    """Return the share of hard seeds, of all whose fate is known; seeds left when a dish was opened count as hard.

    None where seeds were left and nobody scored any: dishes in which nothing was left would stand for all.
    """
    cut = np.array([str(dish) in opened for dish in counts.dish], dtype=bool)
    left = counts.seeds - counts.cells.germinated
    scored = (counts.fates.known & counts.last) | cut
    if not (scored & (left > 0)).any() and not scored.all():
        return None
    hard = np.where(cut, left, np.where(counts.last, counts.fates.hard, 0.0))
    unscored = np.where(cut | ~counts.last, 0.0, counts.fates.unscored)
    return float(hard.sum() / (counts.seeds - unscored).sum())


def _most_chambers(chamber: np.ndarray, regime: np.ndarray) -> int:
    named = {(int(r), str(c)) for r, c in zip(regime, chamber, strict=True) if str(c)}
    return max((sum(r == i for r, _ in named) for i in range(int(regime.max()) + 1)), default=0)

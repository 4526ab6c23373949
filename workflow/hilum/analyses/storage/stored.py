"""The seeds of one lot, treatment and store: how many of each dish or sample were alive after how long."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from hilum.analyses import condition
from hilum.analyses.dishes import DishCounts, Fates, assemble
from hilum.analyses.estimate import Tables
from hilum.stats.arrays import Array
from hilum.stats.viability import Stored

SOWN = "germination test"
# with more of the seeds than this germinated between the last two looks a test may have ended too early
_GOING_ON = 0.02  # common practice, no source
_TESTS = {"tetrazolium": "tetrazolium", "cutting": "cutting", "hand_opened": "opened by hand"}


@dataclass(frozen=True)
class Unit:
    """Seeds that were tested together: a dish or a sample.

    `seeds` leaves out lost ones; `alive` were shown alive, of `unknown` nobody knows. Without `assessed` (nobody looked at any), or
    with nan for `days`, the unit tells nothing. `late` germinated between the last two looks, 0 where none is left that could be taken for
    dead, or where there was one look alone.
    """

    lot: str
    treatment: str
    temperature_c: float
    tested_in: str
    test: str
    days: float
    at_c: float
    moisture_pct: float
    seeds: float
    alive: float
    unknown: float = 0.0
    assessed: bool = True
    late: float = 0.0

    @property
    def kind(self) -> tuple[str, str, str, str]:
        """Return what is shared by the units of a lot and treatment that were tested alike, whatever their store."""
        return self.lot, self.treatment, f"{self.temperature_c:g}", self.tested_in

    @property
    def store(self) -> str:
        """Return the store in words, empty where nothing is known of it."""
        return condition.store(self.at_c, self.moisture_pct)

    @property
    def told(self) -> bool:
        """Return whether the unit tells how many seeds were alive after how long."""
        return self.assessed and self.seeds > 0 and not np.isnan(self.days)


@dataclass(frozen=True)
class Kept:
    """One lot and treatment in one store, tested in one way; `undated` and `unassessed` units were left out."""

    units: tuple[Unit, ...]
    store: str
    undated: int
    unassessed: int

    @property
    def key(self) -> tuple[str, str, float, str]:
        """Return lot, treatment, temperature of the test, and store and test in words."""
        one = self.units[-1]
        stored = f"stored {self.store}" if self.store else ""
        words = ", ".join(part for part in (one.tested_in, stored) if part)
        return one.lot, one.treatment, one.temperature_c, words

    @property
    def test(self) -> str:
        """Return how life was tested."""
        return self.units[-1].test

    @property
    def told(self) -> list[Unit]:
        """Return the units that tell something."""
        return [u for u in self.units if u.told]

    @property
    def times(self) -> list[float]:
        """Return the storage times that were tested, in days."""
        return sorted({u.days for u in self.told})

    @property
    def last(self) -> float:
        """Return the longest storage that was tested, in days."""
        return max(self.times, default=0.0)

    @property
    def replicated(self) -> bool:
        """Return whether any storage time has two units."""
        return len(self.told) > len(self.times)

    @property
    def unknown_share(self) -> float:
        """Return the share of the seeds of which nobody knows whether they were alive."""
        seeds = sum(u.seeds for u in self.told)
        return sum(u.unknown for u in self.told) / seeds if seeds else 0.0

    @property
    def going_on(self) -> float:
        """Return the largest share of the seeds of one time that germinated between the last two looks, 0 where it is small."""
        shares = []
        for days in self.times:
            own = [u for u in self.told if u.days == days]
            shares.append(sum(u.late for u in own) / sum(u.seeds for u in own))
        most = max(shares, default=0.0)
        return most if most > _GOING_ON else 0.0

    def counts(self) -> tuple[Array, Array, Array, Array]:
        """Return days, seeds, seeds shown alive, and seeds of which nobody knows, of each unit (J,)."""
        rows = [(u.days, u.seeds, u.alive, u.unknown) for u in self.told]
        days, seeds, alive, unknown = np.array(rows, dtype=float).reshape(-1, 4).T
        return days, seeds, alive, unknown

    def extremes(self) -> list[Stored]:
        """Return what the units may be: seeds not shown alive as dead; then all alive, or only the early or the late ones."""
        days, seeds, alive, unknown = self.counts()
        early = days <= self.last / 2
        none, every = np.zeros(len(days)), np.ones(len(days))
        marks = [none, every, every * early, every * ~early] if unknown.any() else [none]
        return [Stored(days, seeds, alive + mark * unknown) for mark in marks]

    def by_time(self, values: Array) -> Array:
        """Return values of the units (J,) by time, (T, D), filled up with 0."""
        days, *_ = self.counts()
        places = [np.flatnonzero(days == time) for time in self.times]
        table = np.zeros((len(places), max((len(p) for p in places), default=0)))
        for row, place in zip(table, places, strict=True):
            row[: len(place)] = values[place]
        return table


def gather(tables: Tables) -> list[Kept]:
    """Return every lot, treatment, store and way of testing; seeds tested before storage begin each of their stores."""
    kinds: dict[tuple[str, str, str, str], list[Unit]] = {}
    for unit in (*_of_dishes(tables), *_of_samples(tables)):
        kinds.setdefault(unit.kind, []).append(unit)
    return [kept for units in kinds.values() for kept in _by_store(units)]


def _by_store(units: Sequence[Unit]) -> Iterator[Kept]:
    undated = sum(bool(np.isnan(u.days)) for u in units)
    dated = [u for u in units if not np.isnan(u.days)]
    # before storage there is no store yet, and its columns are often empty
    stores = dict.fromkeys(u.store for u in dated if u.days > 0 or u.store)
    for store in stores or [""]:
        own = [u for u in dated if u.store == store or (u.days == 0 and not u.store)]
        unassessed = sum(not u.told for u in own)
        yield Kept(tuple(own or units), store, undated, unassessed)


def _of_dishes(tables: Tables) -> Iterator[Unit]:
    if "dishes" not in tables:
        return
    found = assemble(tables)
    late = _late(found)
    for index in np.flatnonzero(found.phase == 1):
        row = found.index[index]
        dish = {name: values[row] for name, values in tables["dishes"].items()}
        words = condition.spell(dish | dict.fromkeys(condition.STORAGE, float("nan")))
        yield _of_dish(dish, words, found.fates, int(index), late.get(int(row), 0.0))


def _late(found: DishCounts) -> dict[int, float]:
    """Return the seeds of each dish that germinated between its last two looks, where some were taken for dead in the end."""
    cells, last = found.cells, found.cells.last_h
    between = (cells.end_h == last[:, None]) & (cells.start_h > 0)
    seeds = (cells.count * between).sum(-1)
    rows = np.flatnonzero(found.last & (found.fates.dead > 0))
    return {int(found.index[row]): float(seeds[row]) for row in rows}


def _of_dish(dish: Mapping[str, Any], words: str, fates: Fates, index: int, late: float) -> Unit:
    hard, fresh = (_shown(fates, name, index) for name in ("hard", "fresh"))
    return Unit(
        **_named(dish),
        temperature_c=float(dish["temperature_c"]),
        tested_in=words,
        test=SOWN,
        seeds=float(fates.sown[index]) - float(fates.lost[index]),
        alive=float(fates.germinated[index]) + hard[0] + fresh[0],
        unknown=hard[1] + fresh[1] + float(fates.unscored[index]),
        assessed=bool(fates.unscored[index] < fates.sown[index]),
        late=late,
    )


def _shown(fates: Fates, name: str, index: int) -> tuple[float, float]:
    """Return the seeds of a fate that were shown alive, and those that nobody looked at."""
    seeds, alive = float(getattr(fates, name)[index]), float(getattr(fates, f"{name}_alive")[index])
    return (0.0, seeds) if np.isnan(alive) else (alive, 0.0)


def _of_samples(tables: Tables) -> Iterator[Unit]:
    table = tables.get("viability")
    if table is None:
        return
    for row in range(len(table["sample"])):
        sample = {name: values[row] for name, values in table.items()}
        test = _TESTS[str(sample["method"])]
        yield Unit(
            **_named(sample),
            temperature_c=float("nan"),
            tested_in=test,
            test=test,
            seeds=float(sample["seeds"]),
            alive=float(sample["alive"]),
        )


def _named(row: Mapping[str, Any]) -> dict[str, Any]:
    days, at_c, moisture = (float(row[name]) for name in condition.STORAGE)
    lot, treatment = str(row["lot"]), str(row["treatment"])
    return {
        "lot": lot,
        "treatment": treatment,
        "days": days,
        "at_c": at_c,
        "moisture_pct": moisture,
    }

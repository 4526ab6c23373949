"""Put the seeds of all experiments together: one row for each dish, or for seeds followed one by one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from hilum.analyses.dishes import STARTS_A_PHASE, DishCounts, Key, assemble
from hilum.analyses.estimate import Tables

# what lets a seed germinate later tells what had held it back
_AFTER = {
    "opened": "by_opening",
    "moved": "by_moving",
    "light_given": "by_moving",
    "agent_added": "by_agent",
}
_OUTCOMES = {
    "germinated": "germinated",
    "normal": "germinated",
    "dead": "dead",
    "empty": "empty",
    "insect_damaged": "insect_damaged",
}


@dataclass(frozen=True, kw_only=True)
class Dish:
    """Seeds that were sown together, or followed one by one under one name, and what became of them.

    `seeds` leaves out lost and sampled ones; `abnormal` seedlings are among the germinated. What germinated later is told by what was done before: coats opened,
    the dish moved or lit (`by_moving`), an agent added, or several of these (`by_several`). Without `assessed` only
    `germinated` and what germinated later is known. `storage` is days and °C.
    """

    experiment: str
    name: str
    key: Key
    storage: tuple[float, float]
    assessed: bool
    seeds: float
    germinated: float
    abnormal: float = 0.0
    by_opening: float = 0.0
    by_moving: float = 0.0
    by_agent: float = 0.0
    by_several: float = 0.0
    hard_alive: float = 0.0
    hard_dead: float = 0.0
    hard_unknown: float = 0.0
    fresh_alive: float = 0.0
    fresh_dead: float = 0.0
    fresh_unknown: float = 0.0
    dead: float = 0.0
    empty: float = 0.0
    insect_damaged: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Tested:
    """A viability test of a sample of a lot: seeds, and those alive among them; `starts_store` where its store begins with it."""

    experiment: str
    lot: str
    treatment: str
    method: str
    seeds: float
    alive: float
    starts_store: bool = False


def dishes(experiments: Mapping[str, Tables]) -> list[Dish]:
    """Return the dishes of all experiments, then the seeds followed one by one."""
    found: list[Dish] = []
    for name, tables in experiments.items():
        if "dishes" in tables and "counts" in tables:
            found += _of_dishes(name, tables)
        if "weighings" in tables:
            found += _of_seeds(name, tables)
    return [dish for dish in found if dish.seeds > 0]


def viability(experiments: Mapping[str, Tables]) -> list[Tested]:
    """Return the viability tests of all experiments; samples that were stored tell of the store, not of the lot."""
    names = ("lot", "treatment", "method", "seeds", "alive", "stored_d")
    return [
        Tested(
            experiment=experiment,
            lot=str(lot),
            treatment=str(treatment),
            method=str(method),
            seeds=float(seeds),
            alive=float(alive),
            starts_store=float(days) == 0,
        )
        for experiment, tables in experiments.items()
        for lot, treatment, method, seeds, alive, days in _rows(tables.get("viability"), names)
        if not float(days) > 0
    ]


def _rows(
    table: Mapping[str, np.ndarray] | None, names: Sequence[str]
) -> Iterable[tuple[Any, ...]]:
    return zip(*(table[name] for name in names), strict=True) if table else ()


# dishes


def _of_dishes(experiment: str, tables: Tables) -> Iterable[Dish]:
    counts = assemble(tables)
    starts = _starts(tables)
    storage = {
        str(dish): (float(days), float(at))
        for dish, days, at in _rows(tables["dishes"], ("dish", "stored_d", "stored_at_c"))
    }
    sown = dict(_rows(tables["dishes"], ("dish", "seeds")))
    keys = {row: key for key, rows in counts.groups().items() for row in rows}
    for row in np.flatnonzero(counts.phase == 1):
        name = str(counts.dish[row])
        later = _later(counts, name, starts.get(name, []))
        yield _dish(
            counts, int(row), keys[row], experiment, storage[name], float(sown[name]), later
        )


def _starts(tables: Tables) -> dict[str, list[str]]:
    found: dict[str, list[tuple[float, str]]] = {}
    for dish, at, event in _rows(tables.get("events"), ("dish", "elapsed_h", "event")):
        if event in STARTS_A_PHASE:
            found.setdefault(str(dish), []).append((float(at), str(event)))
    return {dish: [event for _, event in sorted(events)] for dish, events in found.items()}


def _later(counts: DishCounts, name: str, starts: Sequence[str]) -> dict[str, float]:
    """Return the seeds that germinated after something was done to their dish, by what it was."""
    found: dict[str, float] = {}
    for row in np.flatnonzero((counts.dish == name) & (counts.phase > 1)):
        done = {_AFTER[event] for event in starts[: counts.phase[row] - 1]}
        why = done.pop() if len(done) == 1 else "by_several"
        found[why] = found.get(why, 0.0) + float(counts.cells.germinated[row])
    return found


def _dish(
    counts: DishCounts,
    row: int,
    key: Key,
    experiment: str,
    storage: tuple[float, float],
    sown: float,
    later: Mapping[str, float],
) -> Dish:
    fates = counts.fates
    known = bool(fates.known[row])
    end = {
        name: float(getattr(fates, name)[row])
        for name in ("germinated", "hard", "hard_alive", "fresh", "fresh_alive", "dead", "empty")
    }
    return Dish(
        experiment=experiment,
        name=str(counts.dish[row]),
        key=key,
        storage=storage,
        assessed=known,
        seeds=sown - float(fates.lost[row]),
        germinated=end["germinated"] - sum(later.values()),
        abnormal=float(fates.abnormal[row]),
        dead=end["dead"],
        empty=end["empty"],
        insect_damaged=float(fates.insect_damaged[row]),
        **later,
        **_life("hard", end["hard"], end["hard_alive"]),
        **_life("fresh", end["fresh"], end["fresh_alive"]),
    )


def _life(fate: str, seeds: float, alive: float) -> dict[str, float]:
    """Return the seeds of a fate that were shown alive, shown dead, and those that nobody looked at."""
    if np.isnan(alive):
        return {f"{fate}_unknown": seeds}
    return {f"{fate}_alive": alive, f"{fate}_dead": seeds - alive}


# seeds followed one by one


def _of_seeds(experiment: str, tables: Tables) -> list[Dish]:
    """Return seeds that were weighed and never sown in a dish, where somebody wrote what became of them.

    A seed that was sown in a dish is counted there.
    """
    weighings = tables["weighings"]
    ends = {
        str(seed): (str(outcome), float(alive))
        for seed, outcome, alive in _rows(tables.get("outcomes"), ("seed", "outcome", "alive"))
        if seed
    }
    names = ("seed", "lot", "treatment", "dish", "radicle", "seeds")
    found: dict[tuple[str, str], dict[str, str]] = {}
    for seed, lot, treatment, dish, radicle, together in _rows(weighings, names):
        if dish or float(together) > 1:
            continue
        seen = found.setdefault((str(lot), str(treatment)), {})
        seen[str(seed)] = "yes" if radicle == 1 else seen.get(str(seed), "")
    made = (
        _single(experiment, (*group, float("nan"), ""), seeds, ends)
        for group, seeds in found.items()
    )
    return [dish for dish in made if dish.assessed or dish.germinated]


def _single(
    experiment: str, key: Key, seeds: Mapping[str, str], ends: Mapping[str, tuple[str, float]]
) -> Dish:
    count: dict[str, float] = {}
    for seed, radicle in seeds.items():
        outcome, alive = ends.get(seed, ("germinated" if radicle else "", 0.0))
        for fate, number in _fate(outcome, alive).items():
            count[fate] = count.get(fate, 0.0) + number
    lost = count.pop("lost", 0.0)
    germinated = count.pop("germinated", 0.0)
    missing = count.pop("", 0.0)
    return Dish(
        experiment=experiment,
        name="seeds followed one by one",
        key=key,
        storage=(float("nan"), float("nan")),
        assessed=missing == 0,
        seeds=len(seeds) - lost,
        germinated=germinated,
        **count,
    )


def _fate(outcome: str, alive: float) -> dict[str, float]:
    if outcome in ("hard", "fresh"):
        return _life(outcome, 1.0, alive)
    if outcome == "abnormal":
        return {"germinated": 1.0, "abnormal": 1.0}
    return {_OUTCOMES.get(outcome, outcome): 1.0}

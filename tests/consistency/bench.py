"""What people write down at the bench of dishes that stand before them: counts, events and outcomes as typed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from tests.consistency.world import Dish, Done, Lot, Place, grow

Row = dict[str, str]
SEEDLINGS = ("germinated", "normal", "abnormal")


@dataclass(frozen=True, kw_only=True)
class Sowing:
    """Seeds of one lot and treatment in one place: seeds of each dish, hours of the looks, and how people went about it."""

    lot: Lot
    done: Done
    place: Place
    sizes: tuple[int, ...]
    looks_h: tuple[float, ...]
    habits: frozenset[str] = frozenset()


@dataclass
class Sheets:
    """The tables of an experiment as typed."""

    dishes: list[Row] = field(default_factory=list)
    counts: list[Row] = field(default_factory=list)
    outcomes: list[Row] = field(default_factory=list)
    events: list[Row] = field(default_factory=list)
    viability: list[Row] = field(default_factory=list)
    weighings: list[Row] = field(default_factory=list)


def sow(into: Sheets, sowing: Sowing, *, rng: np.random.Generator) -> None:
    """Write all rows of a sowing into the tables of its experiment."""
    for place, size in enumerate(sowing.sizes):
        name = f"d{len(into.dishes) + 1}"
        told = {"dish": name, "lot": sowing.lot.name, "treatment": sowing.done.name}
        into.dishes.append(told | sowing.place.cells() | {"seeds": str(size)})
        if "never inspected" not in sowing.habits:
            _watch(into, name, sowing, place, _dish(sowing, place, size, rng), rng)


def _dish(sowing: Sowing, place: int, size: int, rng: np.random.Generator) -> Dish:
    """Return the seeds of a dish; one that has to be finished early is one of those that are."""
    first = "finished early" in sowing.habits and place == 0
    lot = (
        replace(sowing.lot, dead=0.0, empty=0.0, eaten=0.0, closed=0.0, dormant=0.0)
        if first
        else sowing.lot
    )
    dish = grow(lot, sowing.done, sowing.place, size, rng=rng)
    if first:
        # every seed is out within the first half of the test
        early = np.sort(rng.uniform(0.02, 0.4, size)) * sowing.looks_h[-1]
        dish = replace(dish, alive=np.ones(size, dtype=bool), out_h=early, water_h=np.zeros(size))
    return dish


def _watch(
    into: Sheets, name: str, sowing: Sowing, place: int, dish: Dish, rng: np.random.Generator
) -> None:
    habits, looks = sowing.habits, sowing.looks_h
    if "ends differ" in habits and place % 2:
        looks = looks[: max(len(looks) * 2 // 3, 1)]
    if "outcomes only" in habits:
        _score(into, name, dish, looks[-1], np.zeros(len(dish), dtype=bool), habits)
        return
    gone = np.zeros(len(dish), dtype=bool)
    end = _look(into, name, dish, looks, gone, habits)
    if "opened afterwards" in habits or "moved afterwards" in habits:
        opened = "opened afterwards" in habits
        into.events.append(
            {
                "dish": name,
                "elapsed_h": f"{end:g}",
                "event": "opened" if opened else "moved",
                "to": "" if opened else "27",
            }
        )
        later = np.where(
            dish.alive & (dish.out_h > end), end + rng.uniform(30, 200, len(dish)), dish.out_h
        )
        held = dish.water_h > end
        wakes = held if opened else ~held & (rng.random(len(dish)) < 0.7)
        dish = replace(
            dish,
            out_h=np.where(wakes, later, np.where(dish.out_h > end, np.inf, dish.out_h)),
            water_h=np.where(held & opened, end, dish.water_h),
        )
        end = _look(
            into, name, dish, tuple(end + h for h in (72, 168, 336)), gone, habits, since=end
        )
    scored = "unscored" not in habits and not (
        "partly scored" in habits and place >= len(sowing.sizes) / 2
    )
    if scored:
        _score(into, name, dish, end, gone, habits)


def _look(
    into: Sheets,
    name: str,
    dish: Dish,
    looks: Sequence[float],
    gone: np.ndarray,
    habits: frozenset[str],
    since: float = 0.0,
) -> float:
    """Write the looks at a dish, mark the seeds taken out, and return the hour of the last."""
    before = since
    for number, at in enumerate(looks):
        new = int((~gone & (dish.out_h > before) & (dish.out_h <= at)).sum())
        row = {"dish": name, "elapsed_h": f"{at:g}", "germinated": str(new)}
        why = "lost" if "seeds lost" in habits and number == 1 else ""
        if "mouldy taken out" in habits and number == 2:
            why = "mouldy"
        left = (dish.out_h > at) & ~gone
        able = np.flatnonzero(left if why == "lost" else left & ~dish.alive)
        if why and len(able):
            taken = able[: 1 if why == "lost" else max(len(able) // 2, 1)]
            gone[taken] = True
            row |= {"removed": str(len(taken)), "removed_as": why}
        into.counts.append(row)
        before = at
        accounted = int((gone | (dish.out_h <= at)).sum()) == len(dish)
        if accounted and habits & {"finished early", "one-seed cups"}:
            break
    return before


def _score(
    into: Sheets,
    name: str,
    dish: Dish,
    end: float,
    gone: np.ndarray,
    habits: frozenset[str],
) -> None:
    """Write what was left of a dish, and how people found out."""
    up = (dish.out_h <= end) & ~gone
    if "outcomes only" in habits:
        for fate, seeds in (
            ("normal", int((up & ~dish.abnormal).sum())),
            ("abnormal", int((up & dish.abnormal).sum())),
        ):
            into.outcomes.append({"dish": name, "outcome": fate, "seeds": str(seeds)})
    for fate, (seeds, alive) in dish.left(end, gone).items():
        if seeds:
            row = {"dish": name, "outcome": fate, "seeds": str(seeds)}
            if fate in ("hard", "fresh"):
                row |= _known(alive, habits)
            into.outcomes.append(row)


def _known(alive: int, habits: frozenset[str]) -> Row:
    if "cut, alive blank" in habits:
        return {"assessed_by": "cutting"}
    if "leftovers pressed" in habits:
        return {"assessed_by": "pressing"}
    return {"alive": str(alive), "assessed_by": "cutting"}

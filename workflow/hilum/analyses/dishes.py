"""Dishes, their counts, events and outcomes, put together: one row for each dish and each of its phases.

A phase begins when something is done that lets other seeds germinate (coats opened, the dish moved, an
agent added, light given); the clock starts anew, with the seeds that were left. Seeds removed as dead stay
among the seeds of their phase as seeds that never germinate; lost and sampled seeds are censored when they
were last seen, and at the start where nobody knows when that was.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from hilum.analyses import condition
from hilum.analyses.estimate import Tables
from hilum.stats.families import Array
from hilum.stats.interval_censored import Cells

STARTS_A_PHASE = ("opened", "moved", "agent_added", "light_given")
ENDS = ("germinated", "hard", "fresh", "dead", "empty", "insect_damaged")
_TEMPERATURES = ("temperature_c", "night_temperature_c", "warm_h")
_NESTED = ("cells", "fates")
# lot, treatment, temperature_c, condition
Key = tuple[str, str, float, str]


@dataclass(frozen=True)
class Fates:
    """What was found at the end of a dish, in seeds; every array of shape (D,).

    `known` where the dish was assessed. `hard_alive` and `fresh_alive` were shown alive, nan where nobody
    looked; `dead` includes seeds removed as dead; `lost` are seeds lost or sampled by then; `abnormal` seedlings are
    among the germinated.
    """

    known: np.ndarray
    germinated: Array
    hard: Array
    hard_alive: Array
    fresh: Array
    fresh_alive: Array
    dead: Array
    empty: Array
    insect_damaged: Array
    lost: Array
    abnormal: Array

    def take(self, rows: np.ndarray) -> Fates:
        """Return some rows: `rows` holds indices or marks."""
        return Fates(*(getattr(self, f.name)[rows] for f in fields(self)))


@dataclass(frozen=True)
class DishCounts:
    """Dishes and phases as arrays of shape (D,), text or numbers, in the order of the raw table.

    `phase` counts from 1, `seeds` were there when it began, `start_h` is when that was, after sowing.
    `cells` holds its counts, with times since that start; `early` seeds were lost or sampled before the
    phase's last inspection. `last` marks the last phase of a dish, whose `fates` are the dish's.
    """

    dish: np.ndarray
    lot: np.ndarray
    treatment: np.ndarray
    batch: np.ndarray
    chamber: np.ndarray
    sown_at: np.ndarray
    temperature_c: Array
    night_temperature_c: Array
    warm_h: Array
    condition: np.ndarray
    phase: np.ndarray
    start_h: Array
    seeds: Array
    early: Array
    finished: np.ndarray
    last: np.ndarray
    cells: Cells
    fates: Fates

    def __len__(self) -> int:
        """Return the number of rows D."""
        return len(self.dish)

    def take(self, rows: np.ndarray) -> DishCounts:
        """Return some rows: `rows` holds indices or marks."""
        parts = {f.name: getattr(self, f.name) for f in fields(self)}
        cells, fates = self.cells.take(rows), self.fates.take(rows)
        plain: dict[str, Any] = {n: v[rows] for n, v in parts.items() if n not in _NESTED}
        return DishCounts(cells=cells, fates=fates, **plain)

    def first_phase(self) -> DishCounts:
        """Return the rows of first phases only: dishes as they were sown."""
        return self.take(self.phase == 1)

    def groups(self) -> dict[Key, np.ndarray]:
        """Return the rows of each (lot, treatment, temperature, condition), in order of appearance."""
        found: dict[Key, list[int]] = {}
        for row, (lot, treatment, degrees, words) in enumerate(
            zip(self.lot, self.treatment, self.temperature_c, self.condition, strict=True)
        ):
            # nan is not equal to itself, so it could not be a key
            key = (
                str(lot),
                str(treatment),
                -999.0 if np.isnan(degrees) else float(degrees),
                str(words),
            )
            found.setdefault(key, []).append(row)
        return {
            (k[0], k[1], float("nan") if k[2] == -999.0 else k[2], k[3]): np.array(rows)
            for k, rows in found.items()
        }


@dataclass(frozen=True)
class _Inspection:
    elapsed_h: float
    germinated: float
    removed: float
    removed_as: str


@dataclass(frozen=True)
class _Setting:
    """Where a dish stands during one phase."""

    temperature_c: float
    night_temperature_c: float
    warm_h: float
    words: str


@dataclass(frozen=True)
class _Row:
    """One dish in one phase, before rows become arrays."""

    index: int
    phase: int
    start_h: float
    seeds: float
    setting: _Setting
    inspections: tuple[_Inspection, ...]
    discarded: bool
    last: bool = False
    lost: float = 0.0  # found missing at the end: nobody knows since when


def _rows_of(
    table: Mapping[str, np.ndarray] | None, names: Sequence[str]
) -> Iterable[tuple[Any, ...]]:
    return zip(*(table[name] for name in names), strict=True) if table else ()


def _inspections(tables: Tables) -> dict[str, list[_Inspection]]:
    found: dict[str, list[_Inspection]] = {}
    names = ("dish", "elapsed_h", "germinated", "removed", "removed_as")
    for dish, at, germinated, removed, removed_as in _rows_of(tables.get("counts"), names):
        gone = 0.0 if np.isnan(float(removed)) else float(removed)
        seen = _Inspection(float(at), float(germinated), gone, str(removed_as))
        found.setdefault(str(dish), []).append(seen)
    return {dish: sorted(seen, key=lambda i: i.elapsed_h) for dish, seen in found.items()}


def _events(tables: Tables) -> dict[str, list[tuple[float, str, str]]]:
    found: dict[str, list[tuple[float, str, str]]] = {}
    names = ("dish", "elapsed_h", "event", "to")
    for dish, at, event, to in _rows_of(tables.get("events"), names):
        found.setdefault(str(dish), []).append((float(at), str(event), str(to)))
    return {dish: sorted(seen) for dish, seen in found.items()}


def _degrees(text: str, dishes: Mapping[str, np.ndarray]) -> float | None:
    """Return the temperature that a move leads to: written as a number, or that of a named chamber."""
    try:
        return float(text.replace("°C", "").strip())
    except ValueError:
        there = set(dishes["temperature_c"][(dishes["chamber"] == text) & (text != "")])
        return float(there.pop()) if len(there) == 1 else None


def _after(setting: _Setting, event: str, to: str, dishes: Mapping[str, np.ndarray]) -> _Setting:
    degrees = _degrees(to, dishes) if event == "moved" else None
    if degrees is None:
        return replace(setting, words=condition.then(setting.words, event, to))
    words = condition.then(setting.words, event, "")
    return _Setting(degrees, float("nan"), float("nan"), words)


def _phases(
    index: int,
    seeds: float,
    setting: _Setting,
    seen: Sequence[_Inspection],
    events: Sequence[tuple[float, str, str]],
    dishes: Mapping[str, np.ndarray],
) -> list[_Row]:
    """Return the phases of one dish, but for those that nobody inspected."""
    starts = [e for e in events if e[1] in STARTS_A_PHASE]
    ends = [e[0] for e in starts] + [np.inf]
    discarded = any(event == "discarded" for _, event, _ in events)
    rows, start, phase = [], 0.0, 1
    for step, end in enumerate(ends):
        # an inspection on the hour of an event was made before it
        inside = tuple(i for i in seen if start < i.elapsed_h <= end)
        if inside or (not seen and step == 0):
            rows.append(_Row(index, phase, start, seeds, setting, inside, discarded))
            seeds -= sum(i.germinated + i.removed for i in inside)
        if step < len(starts):
            at, event, to = starts[step]
            setting, start, phase = _after(setting, event, to, dishes), at, phase + 1
    return rows


def _cells(rows: Sequence[_Row]) -> Cells:
    """Return the counts of each row as cells; lost seeds were last seen an inspection earlier."""
    counts = [_dish_cells(row) for row in rows]
    K = max((len(edges) - 1 for edges, _, _ in counts), default=0)
    M = max((len(gone) for _, _, gone in counts), default=0) + 1
    start, end, count = (np.zeros((len(rows), K)) for _ in range(3))
    censor_h, censored = np.zeros((len(rows), M)), np.zeros((len(rows), M))
    for j, (edges, germinated, gone) in enumerate(counts):
        k = len(germinated)
        start[j], end[j] = edges[-1], edges[-1]
        start[j, :k], end[j, :k], count[j, :k] = edges[:-1], edges[1:], germinated
        left = rows[j].seeds - sum(germinated) - sum(gone.values())
        censor_h[j, : len(gone) + 1] = [edges[-1], *gone]
        censored[j, : len(gone) + 1] = [left, *gone.values()]
    return Cells(start, end, count, censor_h, censored)


def _dish_cells(row: _Row) -> tuple[list[float], list[float], dict[float, float]]:
    """Return the inspection hours (from 0), the seeds newly germinated, and the seeds gone by hour."""
    edges, germinated, gone = [0.0], list[float](), dict[float, float]()
    if row.lost:
        gone[0.0] = row.lost
    for seen in row.inspections:
        hour = seen.elapsed_h - row.start_h
        if seen.removed and seen.removed_as in ("lost", "sampled"):
            last_seen = edges[-1] if seen.removed_as == "lost" else hour
            gone[last_seen] = gone.get(last_seen, 0.0) + seen.removed
        edges.append(hour)
        germinated.append(seen.germinated)
    return edges, germinated, gone


def _removed(seen: Sequence[_Inspection], reasons: Sequence[str]) -> float:
    return sum(i.removed for i in seen if i.removed_as in reasons)


def _outcomes(tables: Tables) -> dict[str, dict[str, tuple[float, float]]]:
    """Return seeds and seeds shown alive by dish and outcome; a seed weighed and sown is in its dish."""
    sown = {
        str(seed): str(dish)
        for seed, dish in _rows_of(tables.get("weighings"), ("seed", "dish"))
        if dish
    }
    found: dict[str, dict[str, tuple[float, float]]] = {}
    names = ("dish", "seed", "outcome", "seeds", "alive")
    for dish, seed, outcome, seeds, alive in _rows_of(tables.get("outcomes"), names):
        place = found.setdefault(str(dish) or sown.get(str(seed), ""), {})
        had, lived = place.get(str(outcome), (0.0, 0.0))
        place[str(outcome)] = (had + float(seeds), lived + float(alive))
    return found


def _fates(
    dishes: Sequence[str],
    sown: Array,
    seen: Mapping[str, list[_Inspection]],
    outcomes: Mapping[str, dict[str, tuple[float, float]]],
) -> Fates:
    """Return the fates of each dish; germinated seeds listed again in the outcomes are counted once.

    A dish is known when it has outcomes, or when its counts leave no seed.
    """
    columns: list[tuple[float, ...]] = []
    for dish in dishes:
        found, looks = outcomes.get(dish, {}), seen.get(dish, [])
        at = {name: found.get(name, (0.0, 0.0)) for name in (*ENDS, "normal", "abnormal", "lost")}
        listed = at["germinated"][0] + at["normal"][0] + at["abnormal"][0]
        germinated = max(sum(i.germinated for i in looks), listed)
        dead = at["dead"][0] + _removed(looks, ("dead", ""))
        lost = at["lost"][0] + _removed(looks, ("lost", "sampled"))
        rest = (at["empty"][0], at["insect_damaged"][0], lost, at["abnormal"][0])
        columns.append((germinated, *at["hard"], *at["fresh"], dead, *rest))
    values = np.array(columns, dtype=float).reshape(-1, 10).T
    germinated, dead, lost = values[0], values[5], values[8]
    assessed = np.array([dish in outcomes for dish in dishes], dtype=bool)
    return Fates(assessed | (germinated + dead + lost >= sown), *values)


def assemble(tables: Tables) -> DishCounts:
    """Return all dishes of an experiment by phase.

    `tables` needs dishes and counts; events, outcomes and weighings are used where they are given.
    """
    dishes = tables["dishes"]
    seen, events, outcomes = _inspections(tables), _events(tables), _outcomes(tables)
    words = condition.of_dishes(dishes)
    rows: list[_Row] = []
    for index, name in enumerate(dishes["dish"]):
        warm, night, hours = (float(dishes[n][index]) for n in _TEMPERATURES)
        setting = _Setting(warm, night, hours, str(words[index]))
        mine = seen.get(str(name), []), events.get(str(name), [])
        phases = _phases(index, float(dishes["seeds"][index]), setting, *mine, dishes)
        lost, _ = outcomes.get(str(name), {}).get("lost", (0.0, 0.0))
        rows += [*phases[:-1], *(replace(row, last=True, lost=lost) for row in phases[-1:])]
    names = [str(dishes["dish"][row.index]) for row in rows]
    sown = np.array([float(dishes["seeds"][row.index]) for row in rows])
    return _as_arrays(rows, dishes, _fates(names, sown, seen, outcomes))


def _as_arrays(rows: Sequence[_Row], dishes: Mapping[str, np.ndarray], fates: Fates) -> DishCounts:
    index = np.array([row.index for row in rows], dtype=int)
    cells = _cells(rows)
    settings = [row.setting for row in rows]
    discarded = np.array([row.discarded for row in rows], dtype=bool)
    return DishCounts(
        **{
            n: dishes[n][index] for n in ("dish", "lot", "treatment", "batch", "chamber", "sown_at")
        },
        temperature_c=np.array([s.temperature_c for s in settings], dtype=float),
        night_temperature_c=np.array([s.night_temperature_c for s in settings], dtype=float),
        warm_h=np.array([s.warm_h for s in settings], dtype=float),
        condition=np.array([s.words for s in settings], dtype=str),
        phase=np.array([row.phase for row in rows], dtype=int),
        start_h=np.array([row.start_h for row in rows], dtype=float),
        seeds=np.array([row.seeds for row in rows], dtype=float),
        early=np.asarray(cells.censored[:, 1:].sum(-1)),
        finished=fates.known | discarded,
        last=np.array([row.last for row in rows], dtype=bool),
        cells=cells,
        fates=fates,
    )

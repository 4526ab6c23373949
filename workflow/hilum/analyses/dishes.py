"""Dishes, their counts, events and outcomes, put together: one row for each dish and each of its phases.

A phase begins when something is done that lets other seeds germinate (coats opened, the dish moved, an
agent added, light given); the clock starts anew, with the seeds that were left. Seeds removed as dead stay
among the seeds of their phase as seeds that never germinate; lost and sampled seeds are censored when they
were last seen, and at the start where nobody knows when that was.

A dish in which no seed is left that could still germinate is complete: what it held by its last inspection it holds at
any later time. It is followed to the last inspection of its group, whether or not anybody looked at it again.

Dishes of one seed each stand alone: their seeds are independent. Where several batches of a group hold several such
seeds each, the batch is what was replicated, and takes the place of the dish.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from hilum import fates as fate
from hilum.analyses import condition
from hilum.analyses.estimate import Tables
from hilum.stats import germination_curve
from hilum.stats.arrays import Array
from hilum.stats.interval_censored import Cells

STARTS_A_PHASE = ("opened", "moved", "agent_added", "light_given")
_TEMPERATURES = ("temperature_c", "night_temperature_c", "warm_h")
_NESTED = ("cells", "fates")
# lot, treatment, temperature_c, condition
Key = tuple[str, str, float, str]


@dataclass(frozen=True)
class Fates:
    """What became of the seeds of D dishes, in seeds; every array of shape (D,).

    `sown` seeds have one fate each: `found` holds them by the names of fates.py, all seedlings as germinated;
    those that nobody scored are `unscored`. `abnormal` seedlings are among the germinated. `hard_alive` and `fresh_alive` were
    shown alive, nan where nobody looked; of `not_entered` somebody looked and did not write down what was seen.
    """

    sown: Array
    found: Mapping[str, Array]
    hard_alive: Array
    fresh_alive: Array
    not_entered: Array
    abnormal: Array

    def __post_init__(self) -> None:
        """Refuse seeds with two fates: the check lets none through, so that it is a bug."""
        if (self.unscored < 0).any():
            raise ValueError(f"more fates than seeds: {self.found} of {self.sown}")

    def __getitem__(self, name: str) -> Array:
        """Return the seeds of a fate."""
        return self.found[name]

    @property
    def germinated(self) -> Array:
        """Return the seeds that germinated."""
        return self.found["germinated"]

    @property
    def hard(self) -> Array:
        """Return the seeds that took up no water."""
        return self.found["hard"]

    @property
    def fresh(self) -> Array:
        """Return the seeds that took up water and did not germinate."""
        return self.found["fresh"]

    @property
    def dead(self) -> Array:
        """Return the seeds found dead, whatever killed them."""
        return np.asarray(sum(self.found[name] for name in fate.DEAD))

    @property
    def lost(self) -> Array:
        """Return the seeds lost or sampled before their end."""
        return self.found["lost"]

    @property
    def unscored(self) -> Array:
        """Return the seeds that were left and that nobody scored."""
        return np.asarray(self.sown - sum(self.found.values()))

    @property
    def known(self) -> np.ndarray:
        """Return where each seed has a fate."""
        return np.asarray(self.unscored == 0)

    @property
    def waiting(self) -> Array:
        """Return the seeds that may still germinate: neither shown dead, nor gone."""
        alive = [
            np.where(np.isnan(alive), seeds, alive)
            for seeds, alive in ((self.hard, self.hard_alive), (self.fresh, self.fresh_alive))
        ]
        return self.unscored + alive[0] + alive[1]

    def take(self, rows: np.ndarray) -> Fates:
        """Return some rows: `rows` holds indices or marks."""
        return self._each(lambda values: values[rows])

    def summed(self, groups: Sequence[np.ndarray]) -> Fates:
        """Return one row for each group of rows: its seeds."""
        return self._each(lambda values: np.array([values[rows].sum() for rows in groups]))

    def _each(self, change: Callable[[Array], Array]) -> Fates:
        plain = {f.name: change(getattr(self, f.name)) for f in fields(self) if f.name != "found"}
        return Fates(found={name: change(v) for name, v in self.found.items()}, **plain)


@dataclass(frozen=True)
class DishCounts:
    """Dishes and phases as arrays of shape (D,), text or numbers, in the order of the raw table.

    `index` is the row of the dish in its table (of the first one, where a batch takes the place of dishes). `phase` counts from 1, `seeds` were there when it began, `start_h` is when that was, after sowing.
    `cells` holds its counts, with times since that start; `early` seeds were lost or sampled before the
    phase's last inspection. `last` marks the last phase of a dish, whose `fates` are the dish's. `single` dishes hold one
    seed each, independent of all others.
    """

    dish: np.ndarray
    index: np.ndarray
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
    single: np.ndarray
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
    followed_h: float = 0.0  # since the start of the phase

    @property
    def last_h(self) -> float:
        """Return the last inspection, in hours since the start of the phase."""
        return max((i.elapsed_h - self.start_h for i in self.inspections), default=0.0)


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
        if seen.removed and seen.removed_as in fate.UNFOLLOWED:
            last_seen = edges[-1] if seen.removed_as == "lost" else hour
            gone[last_seen] = gone.get(last_seen, 0.0) + seen.removed
        edges.append(hour)
        germinated.append(seen.germinated)
    if row.followed_h > edges[-1]:
        edges.append(row.followed_h)
        germinated.append(0.0)
    return edges, germinated, gone


def _removed(seen: Sequence[_Inspection], reasons: Sequence[str]) -> float:
    return sum(i.removed for i in seen if i.removed_as in reasons)


# how living and dead seeds are told apart inside
LOOKED_INSIDE = ("cutting", "tetrazolium")


def _outcomes(tables: Tables) -> dict[str, dict[str, tuple[float, float]]]:
    """Return seeds and seeds shown alive by dish and outcome; a seed weighed and sown is in its dish.

    Under `not_entered` stand those that somebody looked into without writing down whether they were alive.
    """
    sown = {
        str(seed): str(dish)
        for seed, dish in _rows_of(tables.get("weighings"), ("seed", "dish"))
        if dish
    }
    found: dict[str, dict[str, tuple[float, float]]] = {}
    names = ("dish", "seed", "outcome", "seeds", "alive", "assessed_by")
    for dish, seed, outcome, seeds, alive, how in _rows_of(tables.get("outcomes"), names):
        place = found.setdefault(str(dish) or sown.get(str(seed), ""), {})
        if outcome in _OPEN_ENDS and np.isnan(float(alive)) and how in LOOKED_INSIDE:
            before, _ = place.get(_NOT_ENTERED, (0.0, 0.0))
            place[_NOT_ENTERED] = (before + float(seeds), 0.0)
        had, lived = place.get(str(outcome), (0.0, 0.0))
        place[str(outcome)] = (had + float(seeds), lived + float(alive))
    return found


def _fates(
    dishes: Sequence[str],
    sown: Array,
    seen: Mapping[str, list[_Inspection]],
    outcomes: Mapping[str, dict[str, tuple[float, float]]],
    *,
    normal_only: bool,
) -> Fates:
    """Return the fates of each dish; germinated seeds listed again in the outcomes are counted once.

    `normal_only` where only normal seedlings were counted as germinated, so that abnormal ones come on top.
    """
    each = [_ends(outcomes.get(d, {}), seen.get(d, []), normal_only=normal_only) for d in dishes]

    def column(name: str) -> Array:
        return np.array([one[name] for one in each], dtype=float)

    return Fates(
        sown=sown,
        found={name: column(name) for name in _FOUND},
        hard_alive=column("hard_alive"),
        fresh_alive=column("fresh_alive"),
        not_entered=column(_NOT_ENTERED),
        abnormal=column("abnormal"),
    )


_OPEN_ENDS = fate.of_kind("closed", "fresh")
_NOT_ENTERED = "not_entered"
_FOUND = ("germinated", *(name for name in fate.NAMES if name not in fate.GERMINATED))
# a seed removed for no reason that was written down is a dead one
_REMOVED_AS = {"dead": ("dead", ""), "mouldy": ("mouldy",), "lost": fate.UNFOLLOWED}


def _ends(
    listed: Mapping[str, tuple[float, float]], looks: Sequence[_Inspection], *, normal_only: bool
) -> dict[str, float]:
    """Return the seeds of one dish by what was found, and those shown alive or abnormal among them."""
    at = {name: listed.get(name, (0.0, 0.0)) for name in fate.NAMES}
    ends = {name: at[name][0] + _removed(looks, _REMOVED_AS.get(name, ())) for name in _FOUND}
    abnormal = at["abnormal"][0]
    counted = sum(i.germinated for i in looks) + (abnormal if normal_only and looks else 0.0)
    ends["germinated"] = max(counted, sum(at[name][0] for name in fate.GERMINATED))
    alive = {f"{name}_alive": at[name][1] for name in _OPEN_ENDS}
    silent, _ = listed.get(_NOT_ENTERED, (0.0, 0.0))
    return ends | alive | {_NOT_ENTERED: silent, "abnormal": abnormal}


def assemble(tables: Tables) -> DishCounts:
    """Return all dishes of an experiment by phase.

    `tables` needs dishes; counts, events, outcomes and weighings are used where they are given, and of the experiment the
    criterion by which seeds counted as germinated.
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
    criterion = tables.get("experiment", {}).get("germination_criterion", [""])[0]
    found = _fates(names, sown, seen, outcomes, normal_only=criterion == "normal_seedling")
    return _by_batch(_as_arrays(_followed(rows, dishes, found), dishes, found), sown == 1)


def _followed(rows: Sequence[_Row], dishes: Mapping[str, np.ndarray], found: Fates) -> list[_Row]:
    """Return the rows with complete dishes followed to the last inspection of their group."""

    def group(row: _Row) -> tuple[object, ...]:
        of_seeds = (str(dishes[name][row.index]) for name in ("lot", "treatment"))
        # no temperature is one, and nan is not equal to itself
        return (*of_seeds, str(row.setting), row.phase)

    ends: dict[tuple[object, ...], float] = {}
    for row in rows:
        ends[group(row)] = max(ends.get(group(row), 0.0), row.last_h)
    complete = found.waiting == 0
    return [
        replace(row, followed_h=ends[group(row)]) if done and row.last and row.inspections else row
        for row, done in zip(rows, complete, strict=True)
    ]


def _by_batch(found: DishCounts, one_seed: np.ndarray) -> DishCounts:
    """Return the dishes with single seeds put together by batch where a group has several batches of several seeds."""
    joined: dict[int, list[int]] = {}
    for rows in found.groups().values():
        own = [row for row in rows.tolist() if one_seed[row] and found.batch[row]]
        together = {b: [r for r in own if found.batch[r] == b] for b in found.batch[own].tolist()}
        if len(together) > 1 and any(len(batch) > 1 for batch in together.values()):
            joined |= {batch[0]: batch for batch in together.values()}
    found = replace(found, single=one_seed)
    if not joined:
        return found
    inside = {row for batch in joined.values() for row in batch}
    firsts = [row for row in range(len(found)) if row in joined or row not in inside]
    groups = [np.array(joined.get(row, [row])) for row in firsts]
    kept = found.take(np.array(firsts))
    several = np.array([len(rows) > 1 for rows in groups])
    return replace(
        kept,
        dish=np.where(several, kept.batch, kept.dish),
        seeds=np.array([found.seeds[rows].sum() for rows in groups]),
        early=np.array([found.early[rows].sum() for rows in groups]),
        finished=np.array([found.finished[rows].all() for rows in groups]),
        single=kept.single & ~several,
        cells=germination_curve.pool(found.cells, groups),
        fates=found.fates.summed(groups),
    )


def _as_arrays(rows: Sequence[_Row], dishes: Mapping[str, np.ndarray], fates: Fates) -> DishCounts:
    index = np.array([row.index for row in rows], dtype=int)
    cells = _cells(rows)
    settings = [row.setting for row in rows]
    discarded = np.array([row.discarded for row in rows], dtype=bool)
    return DishCounts(
        **{
            n: dishes[n][index] for n in ("dish", "lot", "treatment", "batch", "chamber", "sown_at")
        },
        index=index,
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
        single=np.zeros(len(rows), dtype=bool),
        cells=cells,
        fates=fates,
    )

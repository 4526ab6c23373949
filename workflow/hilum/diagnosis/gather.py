"""Put the seeds of all experiments together: one row for each dish, or for seeds followed one by one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from hilum import fates
from hilum.analyses.dishes import STARTS_A_PHASE, DishCounts, Key, assemble
from hilum.analyses.estimate import Tables

# what lets a seed germinate later tells what had held it back
_AFTER = {
    "opened": "by_opening",
    "moved": "by_moving",
    "light_given": "by_moving",
    "agent_added": "by_agent",
}
# each seed of a dish has one of these; those of hard and fresh seeds tell whether they were shown alive, or dead
ENDS = (
    "germinated",
    *_AFTER.values(),
    "by_several",
    *(f"{fate}_{life}" for fate in ("hard", "fresh") for life in ("alive", "dead", "unknown")),
    *fates.DEAD,
    "unscored",
)


@dataclass(frozen=True, kw_only=True)
class Dish:
    """Seeds that were sown together, or one that was followed by itself, and what became of them.

    `ends` holds seeds by the names of ENDS; `abnormal` seedlings are among the
    germinated. What germinated later is told by what was done before: coats opened, the dish moved or lit (`by_moving`), an agent
    added, or several of these (`by_several`). `scored` where somebody said what became of the seeds that were left; of `not_entered` hard and fresh
    seeds somebody looked inside, and did not write down what was seen. `lost` were lost or taken as samples. The last look of all that
    counted seeds was at `last_h`, nan without counts. `storage` is days and °C.
    """

    experiment: str
    name: str
    key: Key
    storage: tuple[float, float]
    scored: bool
    ends: Mapping[str, float]
    abnormal: float = 0.0
    not_entered: float = 0.0
    lost: float = 0.0
    looked_at: bool = True
    last_h: float = float("nan")

    def __post_init__(self) -> None:
        """Refuse an end that nobody counts: its seeds would vanish from every page."""
        if unknown := set(self.ends) - set(ENDS):
            raise ValueError(f"seeds of dish {self.name} have no end that is counted: {unknown}")

    @property
    def seeds(self) -> float:
        """Return the seeds whose end is told, or could have been."""
        return sum(self.ends.values())

    def total(self, *ends: str) -> float:
        """Return the seeds with any of these ends."""
        return sum(self.ends.get(end, 0.0) for end in ends)


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
        if "dishes" in tables and ("counts" in tables or "outcomes" in tables):
            found += _of_dishes(name, tables)
        if "weighings" in tables:
            found += _of_seeds(name, tables)
    return [dish for dish in found if dish.seeds > 0 and dish.looked_at]


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
    table = tables["dishes"]
    keys = {row: key for key, rows in counts.groups().items() for row in rows}
    for row in np.flatnonzero(counts.phase == 1):
        place = counts.index[row]
        later = _later(counts, int(row), starts.get(str(table["dish"][place]), []))
        store = float(table["stored_d"][place]), float(table["stored_at_c"][place])
        yield _dish(counts, int(row), keys[row], experiment, store, later)


def _starts(tables: Tables) -> dict[str, list[str]]:
    found: dict[str, list[tuple[float, str]]] = {}
    for dish, at, event in _rows(tables.get("events"), ("dish", "elapsed_h", "event")):
        if event in STARTS_A_PHASE:
            found.setdefault(str(dish), []).append((float(at), str(event)))
    return {dish: [event for _, event in sorted(events)] for dish, events in found.items()}


def _later(counts: DishCounts, first: int, starts: Sequence[str]) -> dict[str, float]:
    """Return the seeds that germinated after something was done to their dish, by what it was; `first` is its first phase."""
    found: dict[str, float] = {}
    for row in np.flatnonzero((counts.index == counts.index[first]) & (counts.phase > 1)):
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
    later: Mapping[str, float],
) -> Dish:
    found = counts.fates.take(np.array([row]))
    ends = {name: float(found[name][0]) for name in fates.DEAD}
    return Dish(
        experiment=experiment,
        name=str(counts.dish[row]),
        key=key,
        storage=storage,
        scored=bool(found.known[0]),
        ends={
            "germinated": float(found.germinated[0]) - sum(later.values()),
            "unscored": float(found.unscored[0]),
            **later,
            **_life("hard", float(found.hard[0]), float(found.hard_alive[0])),
            **_life("fresh", float(found.fresh[0]), float(found.fresh_alive[0])),
            **ends,
        },
        abnormal=float(found.abnormal[0]),
        not_entered=float(found.not_entered[0]),
        lost=float(found.lost[0]),
        looked_at=bool(counts.cells.last_h[row] > 0 or found.known[0]),
        last_h=float(counts.cells.last_h[row]) or float("nan"),
    )


def _life(fate: str, seeds: float, alive: float) -> dict[str, float]:
    """Return the seeds of a fate that were shown alive, shown dead, and those that nobody looked at."""
    if np.isnan(alive):
        return {f"{fate}_unknown": seeds}
    return {f"{fate}_alive": alive, f"{fate}_dead": seeds - alive}


# seeds followed one by one


def _of_seeds(experiment: str, tables: Tables) -> list[Dish]:
    """Return seeds that were weighed and never sown in a dish, of treatments of which somebody wrote what became of them.

    Each stands alone, as a dish of one seed does. A seed that was sown in a dish is counted there.
    """
    ends = {
        str(seed): (str(outcome), float(alive))
        for seed, outcome, alive in _rows(tables.get("outcomes"), ("seed", "outcome", "alive"))
        if seed
    }
    names = ("seed", "lot", "treatment", "dish", "radicle", "seeds")
    found: dict[tuple[str, str], dict[str, bool]] = {}
    for seed, lot, treatment, dish, radicle, together in _rows(tables["weighings"], names):
        if not dish and not float(together) > 1:
            group = found.setdefault((str(lot), str(treatment)), {})
            group[str(seed)] = bool(radicle == 1) or group.get(str(seed), False)
    made = []
    for key, seeds in found.items():
        own = [_single(experiment, key, seed, out, ends.get(seed)) for seed, out in seeds.items()]
        if all(dish.scored for dish in own) or any(dish.total("germinated") for dish in own):
            made += own
    return made


def _single(
    experiment: str,
    group: tuple[str, str],
    seed: str,
    radicle_out: bool,
    end: tuple[str, float] | None,
) -> Dish:
    outcome, alive = end or ("germinated" if radicle_out else "unscored", np.nan)
    return Dish(
        experiment=experiment,
        name=seed,
        key=(*group, float("nan"), ""),
        storage=(float("nan"), float("nan")),
        scored=outcome != "unscored",
        ends=_end(outcome, alive),
        abnormal=float(outcome == "abnormal"),
        lost=float(outcome == "lost"),
    )


def _end(outcome: str, alive: float) -> dict[str, float]:
    if outcome in ("hard", "fresh"):
        return _life(outcome, 1.0, alive)
    if outcome in fates.GERMINATED:
        return {"germinated": 1.0}
    return {} if outcome == "lost" else {outcome: 1.0}

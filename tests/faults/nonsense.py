"""Small random data sets, from sensible to absurd, in the tables that each analysis takes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from hilum.analyses.simulated import as_table
from tests.faults.kept import storage
from tests.faults.specimens import traits

Generator = np.random.Generator
Tables = dict[str, dict[str, np.ndarray]]
Rows = list[dict[str, Any]]
_SEEDS = (1, 2, 3, 5, 10, 25, 50, 100, 1000)
_GONE = ("dead", "lost", "sampled")
_LEFT = ("hard", "fresh", "dead", "empty", "insect_damaged", "lost")


def _hours(rng: Generator) -> np.ndarray:
    """Return the hours of some inspections: every day, or as nobody would look."""
    looks = int(rng.integers(1, 13))
    if rng.random() < 0.6:
        return 24.0 * np.arange(1, looks + 1) * rng.choice([1, 1, 2, 7])
    span = 10 ** rng.uniform(-2, 5)
    return np.unique(np.round(span * np.sort(rng.random(looks)), 6) + 1e-6)


def _share(rng: Generator, looks: int, best: float) -> np.ndarray:
    """Return the chance of each inspection to hold a seed's germination; what is left never germinates."""
    way = rng.integers(7)
    if way == 0:
        return np.zeros(looks)
    if way == 1:
        return np.eye(looks)[rng.integers(looks)] * rng.choice([best, 1.0])
    if way == 2:
        return np.eye(looks)[-1] * best
    if way == 3:
        return rng.dirichlet(np.full(looks, rng.choice([0.05, 1.0, 20.0]))) * rng.random()
    middle, width = rng.uniform(-0.5, 1.5) * looks, rng.uniform(0.05, 1.0) * looks
    reached = 1 / (1 + np.exp(-(np.arange(looks + 1) - middle) / width))
    return np.diff(reached) * best


def _dish(rng: Generator, rows: dict[str, Rows], name: str, share: np.ndarray, about: Any) -> None:
    """Sow one dish: its counts, removals, and sometimes what became of the other seeds."""
    hours, about = about["hours"], dict(about["dish"])
    sown = int(about.setdefault("seeds", rng.choice(_SEEDS)))
    parts = np.append(share, max(1 - share.sum(), 0.0))
    newly = rng.multinomial(sown, parts / parts.sum())
    left = sown - int(newly[:-1].sum())
    rows["dishes"].append(about | {"dish": name, "seeds": float(sown)})
    for hour, n in zip(hours, newly, strict=False):
        row = {"dish": name, "elapsed_h": float(hour), "germinated": float(n), "removed": 0.0}
        if left and rng.random() < 0.05:
            gone = int(rng.integers(1, left + 1))
            row, left = row | {"removed": float(gone), "removed_as": rng.choice(_GONE)}, left - gone
        rows["counts"].append(row)
    if rng.random() < 0.6:
        fates = rng.multinomial(left, rng.dirichlet(np.ones(len(_LEFT))))
        for fate, n in zip(_LEFT, fates, strict=True):
            if n:
                alive = {"alive": float(rng.integers(n + 1))} if rng.random() < 0.5 else {}
                end = {"dish": name, "outcome": fate, "seeds": float(n), "assessed_by": "cutting"}
                rows["outcomes"].append(end | alive)


def _empty() -> dict[str, Rows]:
    return {"dishes": [], "counts": [], "outcomes": [], "treatments": []}


def _tables(rows: dict[str, Rows]) -> Tables:
    """Return the rows as tables; without outcomes there is no such table."""
    return {name: as_table(name, found) for name, found in rows.items() if found}


def time_courses(rng: Generator, sets: int) -> Tables:
    """Return dishes of so many lots, one treatment or two, at one temperature."""
    rows = _empty()
    rows["treatments"] = [{"treatment": t, "step": 1.0, "method": "none"} for t in ("a", "b")]
    for lot in range(sets):
        for treatment in ("a", "b") if rng.random() < 0.1 else ("a",):
            hours = _hours(rng)
            share = _share(rng, len(hours), rng.choice([1.0, rng.random()]))
            for dish in range(int(rng.integers(1, 5))):
                about = {"lot": f"L{lot}", "treatment": treatment, "temperature_c": 20.0}
                _dish(rng, rows, f"{lot}{treatment}{dish}", share, {"hours": hours, "dish": about})
    return _tables(rows)


def temperatures(rng: Generator, sets: int) -> Tables:
    """Return dishes of so many lots at one to eight temperatures, warmth helping or not."""
    rows = _empty()
    for lot in range(sets):
        degrees = rng.choice(np.arange(-2, 46, rng.choice([1, 5])), int(rng.integers(1, 9)))
        hours, sense = _hours(rng), rng.random() < 0.7
        base, theta, top = rng.uniform(-5, 20), 10 ** rng.uniform(1, 4), rng.choice([1.0, 0.6])
        for place, warm in enumerate(degrees):
            reached = np.clip(np.append(0, hours) * max(warm - base, 0.0) / theta, 1e-9, 1e9)
            share = np.diff(1 / (1 + reached**-4.0)) * top
            share = share if sense else _share(rng, len(hours), top)
            for dish in range(int(rng.integers(1, 4))):
                about = {"lot": f"L{lot}", "treatment": "a", "temperature_c": float(warm)}
                _dish(rng, rows, f"{lot}-{place}-{dish}", share, {"hours": hours, "dish": about})
    return _tables(rows)


def doses(rng: Generator, sets: int) -> Tables:
    """Return dishes of so many lots after one to seven durations in acid, untreated and opened seeds beside."""
    rows = _empty()
    timed = sorted({float(np.round(10 ** rng.uniform(-1, 4), 1)) for _ in range(7)})
    rows["treatments"] = [
        {"treatment": "intact", "step": 1.0, "method": "none"},
        {"treatment": "chipped", "step": 1.0, "method": "chipping"},
    ] + [
        {
            "treatment": f"acid-{d:g}",
            "step": 1.0,
            "method": "acid",
            "agent": "acid",
            "duration": d,
            "duration_unit": "min",
        }
        for d in timed
    ]
    names = [row["treatment"] for row in rows["treatments"]]
    for lot in range(sets):
        used = rng.choice(names, int(rng.integers(1, len(names) + 1)), replace=False)
        hours, rise, sense = _hours(rng), rng.uniform(0, 7), rng.random() < 0.7
        for treatment in used:
            best = 1 / (1 + np.exp(rise - names.index(treatment))) if sense else rng.random()
            share = _share(rng, len(hours), float(best))
            for dish in range(int(rng.integers(1, 4))):
                about = {"lot": f"L{lot}", "treatment": str(treatment), "temperature_c": 25.0}
                about["batch"] = f"{treatment}-{rng.integers(2)}" if rng.random() < 0.3 else ""
                _dish(rng, rows, f"{lot}{treatment}{dish}", share, {"hours": hours, "dish": about})
    if not rows["outcomes"]:
        rows["outcomes"] = [{"dish": rows["dishes"][0]["dish"], "outcome": "hard", "seeds": 1.0}]
    return _tables(rows)


def weighings(rng: Generator, sets: int) -> Tables:
    """Return masses of the seeds of so many lots, dry and soaked, each lot a different story."""
    rows: Rows = []
    for lot in range(sets):
        hours = np.append(0.0, np.unique(np.round(10 ** rng.uniform(-1, 3, rng.integers(0, 9)), 2)))
        dry, step = 10 ** rng.uniform(0, 3.7), rng.choice([0.001, 0.1, 1.0, 10.0])
        share, film, gain = (
            rng.choice([0, 1, rng.random()]),
            rng.choice([0, 0.03]),
            rng.uniform(0, 2),
        )
        together = rng.random() < 0.1
        for seed in range(int(rng.integers(1, 21))):
            own, wet = dry * np.exp(0.2 * rng.normal()), rng.random() < share
            half = 10 ** rng.uniform(-1, 2)
            late = rng.uniform(0, hours[-1] + 1) * (rng.random() < 0.3)
            soaked = np.maximum(hours - late, 0)
            mass = own * (1 + film * (hours > 0) + wet * gain * soaked / (soaked + half))
            mass = np.maximum(np.round(mass * np.exp(0.01 * rng.normal(size=len(hours))) / step), 1)
            for hour, shown in zip(hours, mass * step, strict=True):
                row = {
                    "seed": f"{lot}-{seed}",
                    "lot": f"L{lot}",
                    "treatment": "a",
                    "soaked_h": hour,
                }
                row |= {"seeds": 10.0 if together else 1.0, "radicle": float(rng.random() < 0.02)}
                rows.append(row | ({"mass_mg": float(shown)} if rng.random() < 0.97 else {}))
    return {"weighings": as_table("weighings", rows)}


def floats(rng: Generator, sets: int) -> Tables:
    """Return what floated of so many lots, and what became of some of the seeds."""
    looks: Rows = []
    ends: Rows = []
    for lot in range(sets):
        hours = np.unique(np.round(10 ** rng.uniform(-1, 3, rng.integers(1, 8)), 2))
        told, alive = rng.choice([0, 0.5, 1]), rng.choice([0, 0.5, 1])
        for seed in range(int(rng.integers(1, 31))):
            up = rng.random(len(hours)) < rng.choice([0.05, 0.5, 0.95])
            about = {"seed": f"{lot}-{seed}", "lot": f"L{lot}", "treatment": "a", "seeds": 1.0}
            for hour, floating in zip(hours, up, strict=True):
                looks.append(about | {"soaked_h": float(hour), "floats": float(floating)})
            if rng.random() < told:
                outcome = "germinated" if rng.random() < alive else rng.choice(_LEFT)
                ends.append({"seed": f"{lot}-{seed}", "outcome": str(outcome), "seeds": 1.0})
    tables = {"weighings": as_table("weighings", looks)}
    return tables | ({"outcomes": as_table("outcomes", ends)} if ends else {})


def stages(rng: Generator, sets: int) -> Tables:
    """Return the leaves of the seedlings of so many lots, which grow, stop, lose leaves and die as they like."""
    rows: Rows = []
    for lot in range(sets):
        days = np.unique(np.round(10 ** rng.uniform(-1, 3, rng.integers(1, 20)), 2))
        if rng.random() < 0.6:
            days = float(rng.choice([1, 3, 7])) * np.arange(1, int(rng.integers(2, 25)))
        pace, stop, deaths = 10 ** rng.uniform(-2, 1), rng.integers(0, 6), rng.choice([0, 0.02, 1])
        for seedling in range(int(rng.choice([1, 2, 5, 12, 40]))):
            grown = pace * days * np.exp(rng.choice([0, 0.3]) * rng.normal())
            leaves = np.minimum(grown, 9_000) if rng.random() < 0.8 else np.minimum(grown, stop)
            if rng.random() < 0.1:
                leaves = rng.integers(0, 8, len(days))
            for day, n in zip(days, leaves, strict=True):
                alive = rng.random() >= deaths
                about = {"seedling": f"{lot}-{seedling}", "lot": f"L{lot}", "treatment": "a"}
                about |= {"elapsed_d": float(day), "leaves": float(int(n)), "alive": float(alive)}
                rows.append(about)
                if not alive:
                    break
    return {"stages": as_table("stages", rows)}


@dataclass(frozen=True)
class Drawn:
    """How the data sets of an analysis are drawn: so many lots to a study, so many studies in the long run."""

    draw: Callable[[Generator, int], Tables]
    lots: int
    studies: int


DRAWN = {
    "time_course": Drawn(time_courses, 100, 40),
    "temperature": Drawn(temperatures, 4, 25),
    "scarification": Drawn(doses, 20, 50),
    "imbibition": Drawn(weighings, 1, 1000),
    "buoyancy": Drawn(floats, 50, 80),
    "seedlings": Drawn(stages, 3, 60),
    "trueness_to_name": Drawn(traits, 10, 100),
    "storage": Drawn(storage, 10, 50),
}

"""Seed kept in stores and tested, by samples or dishes, from sensible to absurd."""

from __future__ import annotations

from typing import Any

import numpy as np

from hilum.analyses.simulated import as_table

Generator = np.random.Generator
Rows = list[dict[str, Any]]
_STEPS = {"intact": "none", "chipped": "chipping", "acid": "acid"}
_SEEDS = (1, 2, 3, 10, 25, 100, 10_000)
_METHODS = ("tetrazolium", "cutting", "hand_opened")
_LEFT = ("hard", "fresh", "dead", "empty", "insect_damaged", "lost")


def storage(rng: Generator, sets: int) -> dict[str, dict[str, np.ndarray]]:
    """Return tests of the seed of so many lots, each treated and kept as its person liked."""
    rows: dict[str, Rows] = {"dishes": [], "counts": [], "outcomes": [], "viability": []}
    rows["treatments"] = [{"treatment": t, "step": 1.0, "method": m} for t, m in _STEPS.items()]
    for lot in range(sets):
        used = rng.choice(list(_STEPS), int(rng.choice([1, 1, 1, 1, 2, 3])), replace=False)
        for treatment in used:
            _lot(rng, rows, {"lot": f"L{lot}", "treatment": str(treatment)})
    return {name: as_table(name, found) for name, found in rows.items() if found}


def _lot(rng: Generator, rows: dict[str, Rows], about: dict[str, Any]) -> None:
    days, stores = _days(rng), _stores(rng)
    sown = rng.choice([0.0, 1.0, 0.5])
    about = about | {
        "method": str(rng.choice(_METHODS)),
        "temperature_c": float(rng.choice([15, 25])),
    }
    for store in stores:
        alive = _alive(rng, days)
        for day, share in zip(days, alive, strict=True):
            for _ in range(int(rng.integers(1, 5))):
                kept = about | (store if day or rng.random() < 0.5 else {})
                # an empty day is a test of which nobody knows how long its seed was stored
                kept |= {"stored_d": float(day)} if rng.random() < 0.95 else {}
                (_sow if rng.random() < sown else _sample)(rng, rows, kept, float(share))


def _days(rng: Generator) -> np.ndarray:
    """Return the days of the tests: months apart, or an hour, or a century."""
    tests = int(rng.integers(1, 9))
    if rng.random() < 0.6:
        return float(rng.choice([1, 30, 180])) * np.arange(tests)
    span = 10 ** rng.uniform(-3, 5)
    return np.unique(np.round(span * rng.random(tests), 6))


def _stores(rng: Generator) -> Rows:
    known = {
        "stored_at_c": float(rng.choice([-200, -20, 5, 25, 90])),
        "stored_moisture_pct": float(rng.choice([0, 0.1, 5, 12, 100])),
    }
    told = [{}, known, known | {"stored_at_c": 15.0}, {"stored_at_c": 5.0}]
    return [told[i] for i in rng.choice(len(told), int(rng.choice([1, 1, 1, 2])), replace=False)]


def _alive(rng: Generator, days: np.ndarray) -> np.ndarray:
    """Return the share alive at each test: falling, all, none, rising, or at random."""
    way, last = rng.integers(6), max(float(days[-1]), 1e-9)
    if way < 2:
        fell = rng.uniform(-4, 8) * (days / last - rng.uniform(-0.5, 2))
        return np.asarray(1 / (1 + np.exp(fell)))
    if way == 2:
        return np.full(len(days), float(rng.choice([0, 1])))
    if way == 3:
        return np.where(days > last * rng.random(), float(rng.choice([0, 1])), rng.random())
    return rng.random(len(days))


def _sample(rng: Generator, rows: dict[str, Rows], kept: dict[str, Any], share: float) -> None:
    seeds = int(rng.choice(_SEEDS))
    empty = int(rng.binomial(seeds, rng.choice([0, 0, 0.5])))
    alive = int(rng.binomial(seeds - empty, share))
    told = {"seeds": float(seeds), "alive": float(alive), "dead": float(seeds - empty - alive)}
    told |= {"empty": float(empty)} if empty or rng.random() < 0.5 else {}
    other = {"method": str(rng.choice(_METHODS))} if rng.random() < 0.02 else {}
    sample = {"sample": f"s{len(rows['viability'])}"}
    rows["viability"].append(_without(kept, "temperature_c") | sample | other | told)


def _without(row: dict[str, Any], name: str) -> dict[str, Any]:
    return {key: value for key, value in row.items() if key != name}


def _sow(rng: Generator, rows: dict[str, Rows], kept: dict[str, Any], share: float) -> None:
    """Sow a dish, look at it up to three times, and note what became of the other seeds, or not."""
    seeds, name = int(rng.choice(_SEEDS)), f"d{len(rows['dishes'])}"
    other = {"temperature_c": float(rng.choice([10, 20]))} if rng.random() < 0.02 else {}
    sown = _without(kept, "method") | {"dish": name, "seeds": float(seeds)}
    rows["dishes"].append(sown | other)
    left = seeds
    for look in range(int(rng.integers(1, 4))):
        newly = int(rng.binomial(left, share * rng.random()))
        row = {"dish": name, "elapsed_h": 24.0 * (look + 1), "germinated": float(newly)}
        rows["counts"].append(row)
        left -= newly
    if rng.random() < 0.8:
        fates = rng.multinomial(left, rng.dirichlet(np.full(len(_LEFT), rng.choice([0.2, 1]))))
        for fate, n in zip(_LEFT, fates, strict=True):
            shown = {"alive": float(rng.integers(n + 1))} if n and rng.random() < 0.5 else {}
            if n:
                end = {"dish": name, "outcome": fate, "seeds": float(n)}
                rows["outcomes"].append(end | shown)

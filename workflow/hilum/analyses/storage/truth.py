"""Seeds that die in a store, drawn from a known truth: viability tests, or dishes that were sown."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import ndtr

from hilum.analyses.simulated import as_table


@dataclass(frozen=True, kw_only=True)
class TrueStorage:
    """What is true of one lot and treatment in its store.

    Its seeds die at normal ages: a share Φ(`ki`) is alive before storage, and the probit falls by one in `sigma_d` days.
    `method` is that of treatments.csv.
    """

    lot: str = "first"
    treatment: str = "acid"
    method: str = "acid"
    ki: float = 1.5
    sigma_d: float = 600.0


@dataclass(frozen=True, kw_only=True)
class StorageTruth:
    """What is true of an experiment: `samples` of `seeds` each at every time, which differ by `sample_sd` probits.

    `sown` where they were sown in dishes; there a share `fresh` of the living seeds does not germinate, and a share `cut` of
    these is cut at the end.
    """

    stores: tuple[TrueStorage, ...] = (
        TrueStorage(treatment="intact", method="none", ki=1.7, sigma_d=4000.0),
        TrueStorage(),
    )
    days: tuple[float, ...] = (0.0, 91.0, 182.0, 365.0, 547.0, 730.0)
    samples: int = 4
    seeds: int = 50
    sample_sd: float = 0.15
    at_c: float = 15.0
    moisture_pct: float = 9.0
    sown: bool = False
    fresh: float = 0.1
    cut: float = 1.0
    temperature_c: float = 25.0


TRUTH = StorageTruth()


def alive_after(true: TrueStorage, days: np.ndarray) -> np.ndarray:
    """Return the share of the seeds that is alive after some days, (n,), in samples that do not differ."""
    return np.asarray(ndtr(true.ki - days / true.sigma_d))


def simulate(truth: StorageTruth, *, rng: np.random.Generator) -> dict[str, dict[str, np.ndarray]]:
    """Return the checked tables of one experiment: treatments, and viability or dishes, counts and outcomes."""
    rows: dict[str, list[dict[str, Any]]] = {}
    for true in truth.stores:
        for days in truth.days:
            for number in range(truth.samples):
                name = f"{true.lot}-{true.treatment}-{days:g}-{number + 1}"
                z = true.ki - days / true.sigma_d + truth.sample_sd * rng.normal()
                alive = int(rng.binomial(truth.seeds, ndtr(z)))
                kept = {"lot": true.lot, "treatment": true.treatment, "stored_d": days}
                kept |= {"stored_at_c": truth.at_c, "stored_moisture_pct": truth.moisture_pct}
                made = _sown(truth, name, alive, rng) if truth.sown else _tested(truth, name, alive)
                for table, found in made.items():
                    own = kept if table in ("dishes", "viability") else {}
                    rows.setdefault(table, []).extend(row | own for row in found)
    done = {true.treatment: {"step": 1.0, "method": true.method} for true in truth.stores}
    rows["treatments"] = [{"treatment": name} | step for name, step in done.items()]
    return {name: as_table(name, found) for name, found in rows.items()}


def _tested(truth: StorageTruth, name: str, alive: int) -> dict[str, list[dict[str, Any]]]:
    counted = {
        "seeds": float(truth.seeds),
        "alive": float(alive),
        "dead": float(truth.seeds - alive),
    }
    return {"viability": [{"sample": name, "method": "tetrazolium"} | counted]}


def _sown(
    truth: StorageTruth, name: str, alive: int, rng: np.random.Generator
) -> dict[str, list[dict[str, Any]]]:
    fresh = int(rng.binomial(alive, truth.fresh))
    cut = rng.random() < truth.cut
    seen = {"alive": float(fresh), "assessed_by": "cutting"} if cut else {}
    ends = {"fresh": fresh, "dead": truth.seeds - alive}
    outcomes: list[dict[str, Any]] = [
        {"dish": name, "outcome": outcome, "seeds": float(n)} for outcome, n in ends.items() if n
    ]
    dish = {"dish": name, "seeds": float(truth.seeds), "temperature_c": truth.temperature_c}
    count = {"dish": name, "elapsed_h": 504.0, "germinated": float(alive - fresh)}
    return {
        "dishes": [dish],
        "counts": [count],
        "outcomes": [row | (seen if row["outcome"] == "fresh" else {}) for row in outcomes],
    }

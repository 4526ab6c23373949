"""Simulated lots whose seeds fail for a known cause, seed by seed; it shares no code with the diagnosis.

Each seed is dead or alive, its coat closed or open, its embryo dormant or not; a treatment opens coats and may kill
what it reaches, a place lets only a part of the ready seeds germinate. Dishes shift every chance on the logit.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from hilum.analyses.simulated import as_table

METHODS = {
    "intact": ("none",),
    "chipped": ("chipping",),
    "chipped-cold": ("chipping", "cold_moist"),
    "acid-long": ("acid",),
    "acid-short": ("acid",),
}


@dataclass(frozen=True, kw_only=True)
class Lot:
    """Chances of a seed of the lot: dead, closed by nature, dormant (of the living)."""

    dead: float = 0.08
    closed: float = 0.9
    dormant: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Sowing:
    """One treatment in one place: `opens` closed coats, `kills` seeds that are open then; `ready` may germinate here.

    `opened_after` dishes get their hard seeds opened at the end; where `look` is set people cut what was left.
    """

    treatment: str
    temperature_c: float = 25.0
    opens: float = 0.0
    kills: float = 0.0
    ready: float = 1.0
    breaks: bool = False
    look: bool = True
    score: bool = True
    dishes: int = 4
    seeds: int = 25


@dataclass(frozen=True, kw_only=True)
class Trial:
    """A lot, what was sown of it (the first sowing is the one asked about), and a viability test of some seeds."""

    lot: Lot
    sowings: tuple[Sowing, ...]
    tested: int = 0
    dish_sd_logit: float = field(default=0.35)


CAUSES = ("nonviable", "harmed", "impermeable_coat", "other_dormancy", "conditions")


def shares(trial: Trial, sowing: Sowing, *, rng: np.random.Generator) -> dict[str, float]:
    """Return the true share of each cause among very many seeds of a sowing, and of those that germinate."""
    many = Sowing(**{**sowing.__dict__, "dishes": 4000, "seeds": 50})
    cause = _causes(trial, many, rng)
    names = ("germinated", *CAUSES)
    return {name: float((cause == i).mean()) for i, name in enumerate(names)}


def _chance(p: float, shift: np.ndarray) -> np.ndarray:
    if p <= 0 or p >= 1:
        return np.full_like(shift, p)
    return np.asarray(1 / (1 + (1 - p) / p * np.exp(-shift)))


def _draw(trial: Trial, sowing: Sowing, rng: np.random.Generator) -> dict[str, np.ndarray]:
    shape = (sowing.dishes, sowing.seeds)

    def marks(p: float) -> np.ndarray:
        shift = trial.dish_sd_logit * rng.normal(size=(sowing.dishes, 1))
        return np.asarray(rng.random(shape) < _chance(p, shift))

    lot = trial.lot
    dead, closed, dormant = marks(lot.dead), marks(lot.closed), marks(lot.dormant)
    closed = closed & ~marks(sowing.opens)
    killed = marks(sowing.kills) & ~closed & ~dead
    dormant = dormant & (not sowing.breaks)
    return {
        "dead": dead,
        "closed": closed,
        "killed": killed,
        "dormant": dormant,
        "ready": marks(sowing.ready),
    }


def _causes(trial: Trial, sowing: Sowing, rng: np.random.Generator) -> np.ndarray:
    """Return 0 for a seed that germinates, else 1 + the place of its cause in CAUSES."""
    s = _draw(trial, sowing, rng)
    steps = [s["dead"], s["killed"], s["closed"], s["dormant"], ~s["ready"]]
    return np.asarray(np.select(steps, [1, 2, 3, 4, 5], 0))


def tables(trial: Trial, *, rng: np.random.Generator) -> dict[str, dict[str, np.ndarray]]:
    """Return checked tables: dishes, counts, outcomes, and viability where seeds were tested."""
    rows: dict[str, list[dict[str, object]]] = {
        name: [] for name in ("dishes", "counts", "outcomes", "viability")
    }
    for place, sowing in enumerate(trial.sowings):
        seeds = _draw(trial, sowing, rng)
        gone = seeds["dead"] | seeds["killed"]
        waits = ~gone & ~seeds["closed"] & (seeds["dormant"] | ~seeds["ready"])
        for number in range(sowing.dishes):
            name = f"{place}-{number}"
            own = {"dish": name, "lot": "L", "treatment": sowing.treatment}
            own |= {"temperature_c": sowing.temperature_c, "seeds": float(sowing.seeds)}
            rows["dishes"].append(own)
            hard = seeds["closed"][number]
            end = {
                "hard": (int(hard.sum()), int((hard & ~seeds["dead"][number]).sum())),
                "fresh": (int(waits[number].sum()),) * 2,
                "dead": (int((gone[number] & ~hard).sum()), 0),
            }
            up = sowing.seeds - sum(n for n, _ in end.values())
            rows["counts"].append({"dish": name, "elapsed_h": 672.0, "germinated": float(up)})
            if sowing.score:
                rows["outcomes"] += [
                    {"dish": name, "outcome": outcome, "seeds": float(n)}
                    | {"alive": float(alive) if sowing.look and outcome != "dead" else float("nan")}
                    for outcome, (n, alive) in end.items()
                    if n
                ]
    if trial.tested:
        alive = float(rng.binomial(trial.tested, 1 - trial.lot.dead))
        test = {"sample": "v", "lot": "L", "treatment": "intact", "method": "tetrazolium"}
        test |= {"seeds": float(trial.tested), "alive": alive, "dead": trial.tested - alive}
        rows["viability"].append(test)
    return {name: as_table(name, made) for name, made in rows.items() if made}


def treatment_table() -> dict[str, np.ndarray]:
    """Return the checked table of treatments."""
    steps = [
        {"treatment": t, "step": float(i + 1), "method": m}
        for t, methods in METHODS.items()
        for i, m in enumerate(methods)
    ]
    return as_table("treatments", steps)


def lot_table() -> dict[str, np.ndarray]:
    """Return the checked table of lots."""
    return as_table("lots", [{"lot": "L", "taxon": "invented", "expected_germination_pct": 85.0}])

"""Tables as an experiment would leave them: of expected seeds, or of seeds drawn with dishes that differ."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from hilum.analyses.simulated import as_table
from hilum.plan.asked.experiments import Ends, Place
from hilum.stats.arrays import Array
from hilum.stats.families import LOG_LOGISTIC

FATES = ("germinated", "hard_alive", "hard_dead", "fresh_alive", "fresh_dead", "dead")
Tables = dict[str, dict[str, np.ndarray]]


@dataclass(frozen=True, kw_only=True)
class Kind:
    """Seeds that are alike: `shares` of them by fate, in the order of FATES, and when those that germinate do.

    `sigma` is the scale of log time; seeds that would germinate after the last of `hours` are found fresh and alive.
    """

    place: Place
    seeds: int
    hours: tuple[float, ...]
    shares: tuple[float, ...]
    t50_h: float
    sigma: float
    ends_with: Ends

    @property
    def reached(self) -> Array:
        """Return the share of the germinable seeds that has germinated by each inspection."""
        z = np.log(np.array(self.hours) / self.t50_h) / self.sigma
        return np.asarray(np.exp(LOG_LOGISTIC.log_cdf(z)))


def expected(kinds: Iterable[Kind]) -> Tables:
    """Return the tables that one expects, in whole seeds."""
    rows: dict[str, list[dict[str, Any]]] = {"dishes": [], "counts": [], "outcomes": []}
    for number, kind in enumerate(kinds, start=1):
        fates, newly = _expected(kind)
        own = dict(zip(FATES, fates, strict=True))
        for letter in range(1, kind.place.dishes + 1):
            dish = f"{number}-{letter}"
            rows["dishes"].append(_dish(kind, dish))
            rows["counts"] += [
                {"dish": dish, "elapsed_h": hour, "germinated": float(n)}
                for hour, n in zip(kind.hours, newly, strict=True)
            ]
            rows["outcomes"] += [{"dish": dish} | row for row in _outcomes(kind, own)]
    return {name: as_table(name, made) for name, made in rows.items() if made}


def _expected(kind: Kind) -> tuple[Array, Array]:
    """Return seeds of one dish by fate, (6,), and at each inspection, (k,), in whole seeds.

    What rounding down leaves over goes to the fates that were cut short most.
    """
    late = 1 - kind.reached[-1]
    shares = np.array(kind.shares)
    shares[3] += shares[0] * late
    shares[0] *= 1 - late
    whole = np.floor(shares * kind.seeds + 1e-9)
    short = np.argsort(whole - shares * kind.seeds, kind="stable")
    whole[short[: kind.seeds - int(whole.sum())]] += 1
    cumulative = np.round(whole[0] * kind.reached / max(float(kind.reached[-1]), 1e-12))
    newly = np.diff(cumulative, prepend=0.0)
    return whole, newly


def draw(
    kind: Kind, correlation: float, sd_log_time: float, rng: np.random.Generator
) -> tuple[Array, Array]:
    """Return seeds of each dish by fate, (dishes, 6), and those that germinated at each inspection, (dishes, k).

    Dishes differ in their fates by an intra-dish correlation, and by `sd_log_time` in log time.
    """
    alike = 1 / correlation - 1
    edges = np.array((0.0, *kind.hours))
    seeds, newly = [], []
    for _ in range(kind.place.dishes):
        gamma = rng.gamma(np.maximum(np.array(kind.shares) * alike, 1e-9))
        fates = rng.multinomial(kind.seeds, gamma / gamma.sum()).astype(float)
        z = LOG_LOGISTIC.quantile(rng.uniform(size=int(fates[0])))
        times = kind.t50_h * np.exp(sd_log_time * rng.normal() + kind.sigma * z)
        seen = np.histogram(times, bins=edges)[0].astype(float)
        fates[3] += fates[0] - seen.sum()
        fates[0] = seen.sum()
        seeds.append(fates)
        newly.append(seen)
    return np.array(seeds), np.array(newly)


def _dish(kind: Kind, dish: str) -> dict[str, Any]:
    place = kind.place
    row: dict[str, Any] = {
        "dish": dish,
        "lot": place.lot,
        "treatment": place.treatment,
        "temperature_c": place.temperature_c,
        "seeds": float(kind.seeds),
    }
    return row if place.stored_d is None else row | {"stored_d": place.stored_d}


def _outcomes(kind: Kind, fates: Mapping[str, float]) -> list[dict[str, Any]]:
    if kind.ends_with == "nothing":
        return []
    cut = kind.ends_with == "cutting"
    found = []
    for outcome in ("hard", "fresh"):
        alive, dead = float(fates[f"{outcome}_alive"]), float(fates[f"{outcome}_dead"])
        known = alive if cut else float("nan")
        found.append({"outcome": outcome, "seeds": alive + dead, "alive": known})
    found.append({"outcome": "dead", "seeds": float(fates["dead"]), "alive": float("nan")})
    how = "cutting" if cut else "pressing"
    return [row | {"assessed_by": how} for row in found if row["seeds"]]

"""Studies of sown dishes: drawn by the generator, written as the checked tables that `fit` reads."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache, cached_property

import numpy as np

from hilum.stats.indices import INDICES
from tests import generator
from tests.calibration.design import Key, Tables

MANY = 20_000  # dishes, by which the truth about all seeds of a treatment is known to less than a hundredth of any width
_NUMBERS = ("night_temperature_c", "warm_h", "stored_d", "stored_at_c", "stored_moisture_pct")
_WORDS = ("batch", "chamber", "light", "medium", "sown_at")


@dataclass(frozen=True)
class Place:
    """The lot, the treatment and the temperature (°C) of one curve."""

    lot: str = "lot"
    treatment: str = "chipped"
    temperature_c: float = 25.0


@dataclass(frozen=True)
class Left:
    """What became of seeds that did not germinate: shares hard, fresh of the rest, and of both those alive."""

    hard: float
    fresh: float
    hard_alive: float
    fresh_alive: float


@dataclass(frozen=True, kw_only=True)
class Sown:
    """An experiment: one place for each curve of `dishes`, and where told what became of the other seeds."""

    dishes: generator.Dishes
    places: tuple[Place, ...]
    left: tuple[Left, ...] = ()

    def draw(self, rng: np.random.Generator) -> Tables:
        """Return one study as checked tables."""
        seen = generator.counts(self.dishes, studies=1, rng=rng)[0]
        tables = {name: dict(table) for name, table in self._blank.items()}
        tables["counts"]["germinated"] = seen.astype(float).ravel()
        if self.left:
            tables["outcomes"] = self._outcomes(seen, rng)
        return tables

    @cached_property
    def _blank(self) -> Mapping[str, Mapping[str, np.ndarray]]:
        """Return dishes and counts without the seeds that germinated."""
        n, hours = self.dishes.dishes, np.array(self.dishes.inspections_h)
        rows = [place for place in self.places for _ in range(n)]
        names = np.array([f"d{row + 1}" for row in range(len(rows))])
        size = len(names) * len(hours)
        dishes = {
            "line": np.arange(2.0, len(names) + 2),
            "dish": names,
            "lot": np.array([place.lot for place in rows]),
            "treatment": np.array([place.treatment for place in rows]),
            "temperature_c": np.array([place.temperature_c for place in rows]),
            "seeds": np.full(len(names), float(self.dishes.seeds)),
        }
        dishes |= {name: np.full(len(names), np.nan) for name in _NUMBERS}
        dishes |= {name: np.full(len(names), "") for name in _WORDS}
        counts = {
            "line": np.arange(2.0, size + 2),
            "dish": np.repeat(names, len(hours)),
            "elapsed_h": np.tile(hours, len(names)),
            "removed": np.full(size, np.nan),
            "removed_as": np.full(size, ""),
        }
        return {"dishes": dishes, "counts": counts}

    def _outcomes(self, seen: np.ndarray, rng: np.random.Generator) -> dict[str, np.ndarray]:
        shares = np.array([[f.hard, f.fresh, f.hard_alive, f.fresh_alive] for f in self.left])
        hard_share, fresh_share, hard_lives, fresh_lives = shares.T[:, :, None]
        rest = self.dishes.seeds - seen.sum(-1)
        hard = rng.binomial(rest, hard_share)
        fresh = rng.binomial(rest - hard, fresh_share)
        seeds = np.stack((hard, fresh, rest - hard - fresh), axis=-1).astype(float)
        lives = (rng.binomial(hard, hard_lives), rng.binomial(fresh, fresh_lives))
        alive = np.stack((*lives, np.zeros(rest.shape)), axis=-1)
        alive[..., 2] = np.nan
        n = seeds.size
        return {
            "line": np.arange(2.0, n + 2),
            "dish": np.repeat(self._blank["dishes"]["dish"], 3),
            "seed": np.full(n, ""),
            "outcome": np.tile(["hard", "fresh", "dead"], n // 3),
            "seeds": seeds.ravel(),
            "alive": alive.ravel(),
            "assessed_by": np.full(n, "cutting"),
        }


@cache
def of_many(sown: Sown) -> Mapping[str, np.ndarray]:
    """Return what is true of all seeds of each curve, by quantity, (curves,): of the seeds of very many dishes."""
    many = replace(sown.dishes, dishes=MANY, chamber_sd_log_time=0.0)
    hours = generator.times(many, studies=1, rng=np.random.default_rng(7))[0]
    ever = np.isfinite(hours)
    found = {"germinable_fraction": ever.mean((1, 2))}
    for name, part in (("t10", 0.1), ("t50", 0.5), ("t90", 0.9)):
        found[name] = np.array(
            # seeds of which none can germinate have no time
            [
                np.quantile(h[e], part) if e.any() else np.nan
                for h, e in zip(hours, ever, strict=True)
            ]
        )
    seen = generator.inspected(hours, many.inspections_h)
    found["germinated"] = seen.sum(-1).mean(-1) / many.seeds
    if sown.left:
        found |= _fates(found["germinated"], sown.left)
    return found


def _indices(sown: Sown) -> dict[str, np.ndarray]:
    """Return the mean of each index over dishes that have one: what its interval is about."""
    many, rng = replace(sown.dishes, dishes=MANY), np.random.default_rng(8)
    seen, hours = generator.counts(many, studies=1, rng=rng)[0], np.array(many.inspections_h)
    return {name: np.nanmean(index(seen, hours), axis=-1) for name, index in INDICES.items()}


def _fates(germinated: np.ndarray, left: tuple[Left, ...]) -> dict[str, np.ndarray]:
    rest = 1 - germinated
    hard = rest * [f.hard for f in left]
    fresh = (rest - hard) * [f.fresh for f in left]
    alive = hard * [f.hard_alive for f in left] + fresh * [f.fresh_alive for f in left]
    viability = germinated + alive
    return {
        "hard": hard,
        "fresh": fresh,
        "dead": rest - hard - fresh,
        "viability": viability,
        "germinated_of_viable": germinated / viability,
    }


def courses(sown: Sown) -> dict[Key, float]:
    """Return the truths of a time course: of each treatment, and of each against each other."""
    many = {**of_many(sown), **_indices(sown)}
    true = {
        Key(quantity, p.lot, p.treatment, p.temperature_c): float(value)
        for quantity, values in many.items()
        for p, value in zip(sown.places, values, strict=True)
    }
    for one, p in enumerate(sown.places):
        for other, q in enumerate(sown.places):
            if (p.lot, p.temperature_c) == (q.lot, q.temperature_c) and one != other:
                place = (p.lot, p.treatment, p.temperature_c, q.treatment)
                shares, times = many["germinated"], many["t50"]
                true[Key("difference", *place)] = float(shares[one] - shares[other])
                true[Key("time_ratio", *place)] = float(times[one] / times[other])
    return true

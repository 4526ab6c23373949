"""Seeds as nature has them, one by one; nothing of it is a state of the models that are tested.

A coat lets water in after some hours or never, an embryo wants some days of moist cold or none, and warmth above a base
of its own adds up until the radicle is out.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

NEVER = np.inf


@dataclass(frozen=True, kw_only=True)
class Lot:
    """What seeds of a lot are like: chances (fractions), days of cold that dormant ones want, °C and °C h."""

    name: str
    dead: float
    empty: float
    eaten: float
    closed: float
    dormant: float
    wants_d: float
    base_c: float
    warmth_c_h: float


@dataclass(frozen=True, kw_only=True)
class Done:
    """What was done to seeds: coats opened and seeds killed (chances), days of moist cold, and the rows that tell of it."""

    name: str
    steps: tuple[dict[str, str], ...]
    opens: float = 0.0
    kills: float = 0.0
    cold_d: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Place:
    """Where a dish stands; `night_c` is None where the temperature stays."""

    day_c: float
    night_c: float | None = None
    light: str = ""
    stored_d: float | None = None

    @property
    def mean_c(self) -> float:
        """Return the mean temperature of a day."""
        return self.day_c if self.night_c is None else (self.day_c + self.night_c) / 2

    def cells(self) -> dict[str, str]:
        """Return the cells of dishes.csv."""
        told = {"temperature_c": f"{self.day_c:g}"}
        if self.night_c is not None:
            told |= {"night_temperature_c": f"{self.night_c:g}", "warm_h": "12"}
        if self.light:
            told["light"] = self.light
        if self.stored_d is not None:
            told |= {"stored_d": f"{self.stored_d:g}", "stored_at_c": "5"}
        return told


@dataclass(frozen=True)
class Dish:
    """Seeds of one dish, every array of shape (n,): hours until the radicle is out, and what a knife would find."""

    out_h: np.ndarray
    alive: np.ndarray
    empty: np.ndarray
    eaten: np.ndarray
    water_h: np.ndarray
    abnormal: np.ndarray = field(repr=False)

    def __len__(self) -> int:
        """Return the number of seeds."""
        return len(self.out_h)

    def left(self, end_h: float, gone: np.ndarray) -> dict[str, tuple[int, int]]:
        """Return the seeds left at the end by fate, and those alive among them; `gone` marks seeds taken out before."""
        rest = (self.out_h > end_h) & ~gone
        hard = rest & (self.water_h > end_h) & ~self.eaten
        soft = rest & ~hard
        fates = {
            "hard": hard,
            "fresh": soft & self.alive,
            "empty": soft & self.empty & ~self.eaten,
            "insect_damaged": soft & self.eaten,
        }
        fates["dead"] = soft & ~self.alive & ~self.empty & ~self.eaten
        return {name: (int(f.sum()), int((f & self.alive).sum())) for name, f in fates.items()}


def grow(lot: Lot, done: Done, place: Place, seeds: int, *, rng: np.random.Generator) -> Dish:
    """Return one dish of seeds; its chances lie a little off those of the lot, as dishes do."""

    def chance(p: float) -> np.ndarray:
        if p <= 0 or p >= 1:
            return np.full(seeds, p >= 1)
        odds = np.log(p / (1 - p)) + 0.3 * rng.normal()
        return np.asarray(rng.random(seeds) < 1 / (1 + np.exp(-odds)))

    aged = 0.0 if place.stored_d is None else 1 - np.exp(-place.stored_d / 400)
    eaten, empty = chance(lot.eaten), chance(lot.empty)
    closed = chance(lot.closed) & ~chance(done.opens)
    killed = chance(done.kills) & ~closed
    alive = ~(chance(lot.dead) | empty | eaten | killed | chance(aged))
    slowly = rng.random(seeds) < 0.1  # some coats give way during a test
    water_h = np.where(
        closed, np.where(slowly, rng.uniform(100, 900, seeds), NEVER), rng.uniform(4, 30, seeds)
    )
    wants = np.where(chance(lot.dormant), lot.wants_d * rng.lognormal(0, 0.3, seeds), 0.0)
    warmth = place.mean_c - lot.base_c - rng.normal(0, 1.0, seeds)
    took = lot.warmth_c_h * rng.lognormal(0, 0.35, seeds) / np.maximum(warmth, 1e-9)
    ready = alive & (wants <= done.cold_d) & (warmth > 0.5)
    return Dish(
        out_h=np.where(ready, water_h + took, NEVER),
        alive=alive,
        empty=empty,
        eaten=eaten,
        water_h=water_h,
        abnormal=rng.random(seeds) < 0.04,
    )

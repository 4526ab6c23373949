"""Seeds in water drawn from a known truth: their air cavities, whether they live, and when they sink."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import expit, logit, ndtr

from hilum.analyses.simulated import as_table
from hilum.stats.arrays import Array

# a seed that comes up again is sunk between these parts of the time at which it sinks for good
_DOWN, _UP = 0.3, 0.6


@dataclass(frozen=True, kw_only=True)
class TrueFloating:
    """What is true of the seeds of one lot and treatment.

    `live` of them live. Live ones have an air cavity with the probability `cavity`, dead ones with `cavity_dead`: these
    float until water fills it, after a log-normal time (`median_h`, `spread`), and `comes_up` of them sink and come
    up again before. Of the dead seeds `hollow` float for ever. All others sink at once. What became of `known` of the seeds is
    written down. Common practice, no source: live seeds with an air cavity float, some sink and float again, and all
    live ones sink in the end.
    """

    lot: str = "first"
    treatment: str = "chipped"
    method: str = "chipping"
    seeds: int = 60
    live: float = 0.7
    cavity: float = 0.6
    cavity_dead: float = 0.3
    hollow: float = 0.4
    median_h: float = 24.0
    spread: float = 0.7
    comes_up: float = 0.25
    known: float = 1.0


@dataclass(frozen=True, kw_only=True)
class BuoyancyTruth:
    """What is true of an experiment: its seeds, the hours of looks, and dishes whose seeds live alike (sd on the logit)."""

    floating: tuple[TrueFloating, ...] = (TrueFloating(),)
    hours: tuple[float, ...] = (1.0, 3.0, 6.0, 12.0, 24.0, 48.0, 96.0, 168.0)
    dishes: int = 1
    dish_sd: float = 0.0


TRUTH = BuoyancyTruth()


def floats_at(true: TrueFloating, hours: Array, *, alive: bool) -> Array:
    """Return the share of the live or of the dead seeds that floats at each hour, (k,)."""
    cavity, hollow = _kinds(true, alive=alive)
    later = _later(true, hours)
    # a seed that comes up again floats until DOWN·T, and from UP·T on until T
    again = _later(true, hours / _DOWN) + later - _later(true, hours / _UP)
    return np.asarray(
        hollow + cavity * ((1 - true.comes_up) * later + true.comes_up * again), dtype=float
    )


def sunk_by(true: TrueFloating, hours: Array) -> Array:
    """Return the share of all seeds that has sunk for good by each hour, (k,)."""
    sunk = np.zeros(len(hours))
    for alive, share in ((True, true.live), (False, 1 - true.live)):
        cavity, hollow = _kinds(true, alive=alive)
        sunk = sunk + share * (1 - hollow - cavity * _later(true, hours))
    return np.asarray(sunk)


def _kinds(true: TrueFloating, *, alive: bool) -> tuple[float, float]:
    """Return the shares with an air cavity that fills, and with one that never does."""
    return (true.cavity, 0.0) if alive else ((1 - true.hollow) * true.cavity_dead, true.hollow)


def _later(true: TrueFloating, hours: Array) -> Array:
    """Return the share of the air cavities that fill after each hour."""
    with np.errstate(divide="ignore"):
        return np.asarray(ndtr(-np.log(hours / true.median_h) / true.spread))


def simulate(truth: BuoyancyTruth, *, rng: np.random.Generator) -> dict[str, dict[str, np.ndarray]]:
    """Return the checked tables weighings (without masses), outcomes and treatments."""
    looks: list[dict[str, Any]] = []
    ends: list[dict[str, Any]] = []
    for place, true in enumerate(truth.floating, start=1):
        shift = truth.dish_sd * rng.normal(size=truth.dishes)
        for number in range(true.seeds):
            dish = number % truth.dishes
            seed = f"{place:02d}-{number + 1:03d}"
            about = {"seed": seed, "lot": true.lot, "treatment": true.treatment, "seeds": 1.0}
            about["batch"] = f"{place}-{dish + 1}" if truth.dishes > 1 else ""
            alive = bool(rng.random() < expit(logit(true.live) + shift[dish]))
            floats = _floats(true, np.array(truth.hours), alive, rng)
            looks += [
                about | {"soaked_h": hour, "floats": float(up)}
                for hour, up in zip(truth.hours, floats, strict=True)
            ]
            ends += _end(true, seed, alive, rng)
    methods = dict.fromkeys((true.treatment, true.method) for true in truth.floating)
    steps = [{"treatment": name, "step": 1.0, "method": method} for name, method in methods]
    return {
        "weighings": as_table("weighings", looks),
        "outcomes": as_table("outcomes", ends),
        "treatments": as_table("treatments", steps),
    }


def _floats(true: TrueFloating, hours: Array, alive: bool, rng: np.random.Generator) -> np.ndarray:
    """Return whether one seed floats at each hour, (k,)."""
    cavity, hollow = _kinds(true, alive=alive)
    kind, again = rng.random(2)
    fills = true.median_h * np.exp(true.spread * rng.normal())
    if kind < hollow:
        return np.ones(len(hours), dtype=bool)
    if kind >= hollow + cavity:
        return np.zeros(len(hours), dtype=bool)
    down = (hours >= _DOWN * fills) & (hours < _UP * fills) & (again < true.comes_up)
    return np.asarray((hours < fills) & ~down)


def _end(
    true: TrueFloating, seed: str, alive: bool, rng: np.random.Generator
) -> list[dict[str, Any]]:
    """Return the outcome of a seed, nothing where nobody wrote it down."""
    written, which = rng.random(2)
    if written >= true.known:
        return []
    row: dict[str, Any] = {"seed": seed, "seeds": 1.0}
    if not alive:
        return [row | {"outcome": "dead" if which < 0.7 else "empty", "assessed_by": "cutting"}]
    if which < 0.9:
        return [row | {"outcome": "germinated", "assessed_by": "sight"}]
    return [row | {"outcome": "fresh", "alive": 1.0, "assessed_by": "tetrazolium"}]

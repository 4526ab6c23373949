"""Weighings drawn from a known truth: seeds of several lots and treatments, weighed dry and while they soak."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from hilum.analyses.simulated import as_table
from hilum.stats import uptake
from hilum.stats.arrays import Array


@dataclass(frozen=True, kw_only=True)
class TrueCoats:
    """What is true of the coats of one lot and treatment.

    Of the seeds, `impermeable` never let water in, and `late` let it in at some hour of the test; the others do
    after `lag_h`. `method` is that of the treatments table.
    """

    lot: str = "first"
    treatment: str = "intact"
    method: str = "none"
    impermeable: float = 0.8
    late: float = 0.1
    lag_h: float = 0.0
    seeds: int = 25
    batches: tuple[str, ...] = ("",)


@dataclass(frozen=True, kw_only=True)
class ImbibitionTruth:
    """What is true of an experiment: its coats, its seeds, its balance, and when seeds were weighed.

    `film` is what blotting leaves, of the mass; `plateau` the final uptake, of the mass before soaking. Spreads are those
    of the logarithm between seeds, that of the film its sd between readings, of the film. `mass_mg` is the
    median mass before soaking of each lot. Late seeds open until `late_until_h`, which is the last weighing where it is not given.
    """

    coats: tuple[TrueCoats, ...] = (
        TrueCoats(),
        TrueCoats(treatment="chipped", method="chipping", impermeable=0.02, late=0.0),
        TrueCoats(treatment="acid", method="acid", impermeable=0.3, late=0.1),
    )
    mass_mg: Mapping[str, float] = field(default_factory=lambda: {"first": 200.0})
    mass_spread: float = 0.15
    balance_sd_mg: float = 1.0
    balance_readability_mg: float = 1.0
    film: float = 0.02
    film_spread: float = 0.5
    plateau: float = 1.0
    plateau_spread: float = 0.12
    half_time_h: float = 8.0
    speed_spread: float = 0.25
    shape: uptake.Shape = "exponential"
    hours: tuple[float, ...] = (0.0, 2.0, 4.0, 8.0, 24.0, 48.0, 72.0)
    late_until_h: float | None = None


TRUTH = ImbibitionTruth()


def simulate(
    truth: ImbibitionTruth, *, rng: np.random.Generator
) -> dict[str, dict[str, np.ndarray]]:
    """Return the checked tables weighings and treatments, and what experiment.yaml says of the balance."""
    rows = [
        row
        for place, coats in enumerate(truth.coats)
        for row in _rows(truth, coats, f"{place + 1:02d}", rng)
    ]
    methods = dict.fromkeys((coats.treatment, coats.method) for coats in truth.coats)
    steps = [
        {"treatment": treatment, "step": 1.0, "method": method} for treatment, method in methods
    ]
    return {
        "weighings": as_table("weighings", rows),
        "treatments": as_table("treatments", steps),
        "experiment": {
            "balance_readability_mg": np.array([truth.balance_readability_mg]),
            "germination_criterion": np.array(["radicle"]),
        },
    }


def _rows(
    truth: ImbibitionTruth, coats: TrueCoats, start: str, rng: np.random.Generator
) -> list[dict[str, Any]]:
    mass = _masses(truth, coats, rng)
    return [
        {
            "seed": f"{start}-{seed + 1:03d}",
            "lot": coats.lot,
            "treatment": coats.treatment,
            "batch": coats.batches[seed % len(coats.batches)],
            "seeds": 1.0,
            "soaked_h": hour,
            "mass_mg": float(mass[seed, place]),
        }
        for seed in range(coats.seeds)
        for place, hour in enumerate(truth.hours)
    ]


def _masses(truth: ImbibitionTruth, coats: TrueCoats, rng: np.random.Generator) -> Array:
    """Return the masses, (seeds, weighings), rounded as the balance shows them."""
    n, hours = coats.seeds, np.array(truth.hours)
    own = np.exp(
        rng.normal(size=(3, n))
        * [[truth.mass_spread], [truth.plateau_spread], [truth.speed_spread]]
    )
    dry = truth.mass_mg[coats.lot] * own[0]
    end = hours[-1] if truth.late_until_h is None else truth.late_until_h
    elapsed = np.maximum(hours - _onsets(coats, end, rng)[:, None], 0.0)
    share = uptake.share(elapsed * own[2][:, None] / truth.half_time_h, truth.shape)
    # a film is never negative: gamma, with the mean and spread wanted
    alike = truth.film_spread**-2
    film = rng.gamma(alike, truth.film / alike, (n, len(hours))) * (hours > 0)
    wet = dry[:, None] * (1 + film + truth.plateau * own[1][:, None] * share)
    shown = wet + truth.balance_sd_mg * rng.normal(size=wet.shape)
    step = truth.balance_readability_mg
    # a seed that a coarse balance does not feel at all would not be written down as 0
    return np.asarray(np.maximum(np.round(shown / step), 1.0) * step)


def _onsets(coats: TrueCoats, end: float, rng: np.random.Generator) -> Array:
    """Return when water gets into each seed, infinite where it does not."""
    sort = rng.random(coats.seeds)
    late = rng.uniform(0.0, end, coats.seeds)
    opens = np.where(sort < coats.impermeable + coats.late, late, coats.lag_h)
    return np.where(sort < coats.impermeable, np.inf, opens)

"""Seedlings drawn from a known truth: when they open each leaf, where they pause, which die, and the days of looks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from hilum.analyses.simulated import as_table
from hilum.stats.arrays import Array


@dataclass(frozen=True, kw_only=True)
class TrueSeedlings:
    """What is true of the seedlings of one lot and treatment, times in days.

    The first leaf opens after `first_d`, each further one after `leaf_d`, but at `pause_leaves` leaves they stay `pause_d`
    (medians of log-normal times, `spread` and `pause_spread`); 0 for no pause. A seedling's own `vigour` (sd of the logarithm)
    shifts all its times. `dying` of them die, at a day evenly spread over the looks. Common practice, no source: seedlings
    live on the seed's reserves, stop at two to four leaves for about two weeks, and go on.
    """

    lot: str = "first"
    treatment: str = "chipped"
    seedlings: int = 40
    first_d: float = 8.0
    leaf_d: float = 5.0
    spread: float = 0.2
    pause_leaves: int = 2
    pause_d: float = 15.0
    pause_spread: float = 0.3
    vigour: float = 0.1
    dying: float = 0.05
    stunted: int = 0  # so many never leave the pause
    trays: int = 0  # they stand in, in turn; 0 where nobody named any
    tray_sd: float = 0.1  # of the logarithm of all times of a tray


@dataclass(frozen=True, kw_only=True)
class SeedlingsTruth:
    """What is true of an experiment: its seedlings, and the days of looks after germination."""

    groups: tuple[TrueSeedlings, ...] = (TrueSeedlings(),)
    looks_d: tuple[float, ...] = tuple(3.0 * n for n in range(1, 22))


TRUTH = SeedlingsTruth()
_MOST = 12


def simulate(
    truth: SeedlingsTruth, *, rng: np.random.Generator
) -> dict[str, dict[str, np.ndarray]]:
    """Return the checked table stages."""
    looks = np.array(truth.looks_d)
    rows: list[dict[str, Any]] = []
    for place, true in enumerate(truth.groups, start=1):
        slow = np.exp(true.tray_sd * rng.normal(size=true.trays))
        for number in range(true.seedlings):
            about = {"lot": true.lot, "treatment": true.treatment}
            about["seedling"] = f"{place}-{number + 1:02d}"
            opened = _opened(true, number, rng)
            if true.trays:
                tray = number % true.trays
                about["tray"], opened = f"{place}-{tray + 1}", opened * slow[tray]
            dies = rng.random() < true.dying
            day = looks[-1] * rng.random() if dies else np.inf
            rows += _rows(about, opened, day, looks)
    return {"stages": as_table("stages", rows)}


def _opened(true: TrueSeedlings, number: int, rng: np.random.Generator) -> Array:
    """Return the days on which the leaves of one seedling open, (m,)."""
    stays = np.full(_MOST, true.leaf_d) * np.exp(true.spread * rng.normal(size=_MOST))
    stays[0] *= true.first_d / true.leaf_d
    pause = true.pause_d * np.exp(true.pause_spread * rng.normal())
    if true.pause_leaves:
        stays[true.pause_leaves] = np.inf if number < true.stunted else pause
    return np.asarray(np.cumsum(stays) * np.exp(true.vigour * rng.normal()))


def _rows(about: dict[str, Any], opened: Array, dies: float, looks: Array) -> list[dict[str, Any]]:
    """Return the looks at one seedling, the last where it is found dead."""
    made = []
    for day in looks:
        leaves = float((opened <= min(day, dies)).sum())
        made.append(about | {"elapsed_d": float(day), "leaves": leaves, "alive": float(day < dies)})
        if day >= dies:
            break
    return made

"""How far each seedling came, its pause, and how late it is: its row in the table of seedlings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from hilum.analyses.printer import number_or_none
from hilum.analyses.seedlings.grown import Seedling, Siblings
from hilum.analyses.seedlings.late import LATE, Chances
from hilum.analyses.seedlings.pause import Pause, own_pause

State = Literal["died", "alive", "before the pause", "in the pause", "grew on"]
Later = Literal["no", "than 95 %", "than chance explains"]


@dataclass(frozen=True, kw_only=True)
class Progress:
    """One seedling: its last look and its pause in days, and the shares of its siblings that are as late."""

    seedling: str
    lot: str
    treatment: str
    looks: int
    last_look_d: float
    leaves: int
    state: State
    pause_leaves: int | None
    pause_at_least_d: float | None
    pause_at_most_d: float | None
    siblings_no_further: float | None
    siblings_pausing_as_long: float | None
    later: Later


def of(siblings: Siblings, pause: Pause, late: Chances, strict: np.ndarray) -> list[Progress]:
    """Return how far each seedling of one lot and treatment came."""
    return [
        _one(s, pause, float(late.stage[i]), float(late.pause[i]), bool(strict[i]))
        for i, s in enumerate(siblings.seedlings)
    ]


def _one(
    seedling: Seedling, pause: Pause, by_stage: float, by_pause: float, strict: bool
) -> Progress:
    leaves = pause.leaves if pause.found else own_pause(seedling)
    paused = leaves > 0 and seedling.now >= leaves
    low, high = seedling.stay(leaves) if paused else (np.nan, np.nan)
    plain = min(by_stage, by_pause) < LATE
    return Progress(
        seedling=seedling.name,
        lot=seedling.lot,
        treatment=seedling.treatment,
        looks=len(seedling.days),
        last_look_d=seedling.last_d,
        leaves=seedling.now,
        state=_state(seedling, pause),
        pause_leaves=leaves if paused else None,
        pause_at_least_d=number_or_none(low),
        pause_at_most_d=number_or_none(high),
        siblings_no_further=_chance(by_stage),
        siblings_pausing_as_long=_chance(by_pause),
        later="than chance explains" if strict else "than 95 %" if plain else "no",
    )


def _chance(value: float) -> float | None:
    return None if value == 1 else float(f"{value:.3g}")


def _state(seedling: Seedling, pause: Pause) -> State:
    if np.isfinite(seedling.died):
        return "died"
    if not pause.found:
        return "alive"
    if seedling.now < pause.leaves:
        return "before the pause"
    return "in the pause" if seedling.now == pause.leaves else "grew on"

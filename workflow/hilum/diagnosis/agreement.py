"""Whether the dishes of a germination test lie as close together as chance allows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hilum.diagnosis.counted import Group
from hilum.diagnosis.gather import Dish
from hilum.stats import tolerance


@dataclass(frozen=True)
class Agreement:
    """Dishes of one size in one experiment: mean and range of the germinated fraction, and the range tolerated."""

    experiment: str
    dishes: int
    seeds: float
    mean: float
    range: float
    tolerated: float
    published: bool
    within: bool


def agreements(group: Group | None) -> list[Agreement]:
    """Return how the dishes of a group agree in each experiment that has two or more, all of one size."""
    if group is None:
        return []
    found = (_in(experiment, own) for experiment, own in group.by_experiment.items())
    return [one for one in found if one is not None]


def _in(experiment: str, own: Sequence[Dish]) -> Agreement | None:
    seeds = {dish.seeds for dish in own}
    if len(own) < 2 or len(seeds) > 1 or min(seeds) < tolerance.FEWEST_SEEDS:
        return None
    # dishes that were followed for different times differ by that
    if len({dish.last_h for dish in own if not np.isnan(dish.last_h)}) > 1:
        return None
    part = np.array([dish.total("germinated") / dish.seeds for dish in own])
    mean, width, size = float(part.mean()), float(np.ptp(part)), seeds.pop()
    allowed = tolerance.tolerated(mean, len(own), size)
    return Agreement(
        experiment=experiment,
        dishes=len(own),
        seeds=size,
        mean=mean,
        range=width,
        tolerated=allowed.largest,
        published=allowed.published,
        # a range of 12 points is one of 0.12 but for a rounding error of the machine
        within=bool(width <= allowed.largest + 1e-9),
    )

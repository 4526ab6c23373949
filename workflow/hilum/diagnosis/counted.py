"""Shares of the seeds of every group, with limits that hold for several shares at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from hilum.analyses.dishes import Key
from hilum.diagnosis.gather import Dish
from hilum.stats import proportions
from hilum.stats.shares import Share

HARD_ALIVE = ("hard_alive", "by_opening")
HARD = ("hard_alive", "hard_dead", "hard_unknown", "by_opening")
FRESH_ALIVE = ("fresh_alive", "by_moving", "by_agent")
FRESH = (*FRESH_ALIVE, "fresh_unknown", "by_several")
DEAD = ("dead", "fresh_dead", "empty", "insect_damaged")


@dataclass(frozen=True)
class Group:
    """The dishes of one lot, treatment, temperature and condition; `index` is its place among all.

    Where some dishes were assessed at the end only these are counted.
    """

    index: int
    key: Key
    dishes: tuple[Dish, ...]

    @property
    def lot(self) -> str:
        """Return the lot."""
        return self.key[0]

    @property
    def treatment(self) -> str:
        """Return the treatment."""
        return self.key[1]

    @property
    def place(self) -> tuple[str, str]:
        """Return temperature and condition as text, so that two places can be compared."""
        return f"{self.key[2]:g}", self.key[3]

    @property
    def storage(self) -> tuple[str, str]:
        """Return days and °C of storage as text."""
        days, at = self.dishes[0].storage
        return f"{days:g}", f"{at:g}"

    @property
    def assessed(self) -> bool:
        """Return whether somebody looked at the seeds that were left."""
        return any(dish.assessed for dish in self.dishes)

    @property
    def counted(self) -> tuple[Dish, ...]:
        """Return the dishes that the shares are of."""
        return tuple(d for d in self.dishes if d.assessed) or self.dishes

    @property
    def seeds(self) -> float:
        """Return the seeds that the shares are of."""
        return float(sum(dish.seeds for dish in self.counted))

    def total(self, *fates: str) -> float:
        """Return the seeds with any of these fates."""
        return float(sum(getattr(dish, fate) for dish in self.counted for fate in fates))


def groups(dishes: Sequence[Dish]) -> list[Group]:
    """Return the groups in order of appearance."""
    found: dict[tuple[str, ...], list[Dish]] = {}
    for dish in dishes:
        lot, treatment, degrees, words = dish.key
        found.setdefault((lot, treatment, f"{degrees:g}", words), []).append(dish)
    return [Group(i, own[0].key, tuple(own)) for i, own in enumerate(found.values())]


@dataclass(frozen=True)
class Shares:
    """Shares of the seeds of all groups, by fate.

    Limits are Wilson's, widened for a dish correlation that all groups share, at `confidence`; `unknown` is
    the correlation where no dishes can show one.
    """

    groups: Sequence[Group]
    unknown: float
    confidence: float

    @cached_property
    def _known(self) -> dict[tuple[str, ...], tuple[Share, ...]]:
        return {}

    def counts(self, *fates: str) -> proportions.Groups:
        """Return the seeds with any of these fates, and all seeds, of each dish of each group."""
        widest = max(len(group.counted) for group in self.groups)
        hits, seeds = (np.zeros((len(self.groups), widest)) for _ in range(2))
        for group in self.groups:
            for j, dish in enumerate(group.counted):
                hits[group.index, j] = sum(getattr(dish, fate) for fate in fates)
                seeds[group.index, j] = dish.seeds
        return proportions.Groups(hits, seeds)

    def of(self, group: Group, *fates: str) -> Share:
        """Return the share of a group's seeds that have any of these fates."""
        if fates not in self._known:
            self._known[fates] = shares(self.counts(*fates), self.unknown, self.confidence)
        return self._known[fates][group.index]


def shares(counts: proportions.Groups, unknown: float, confidence: float) -> tuple[Share, ...]:
    """Return the share of each group, with Wilson's limits widened for dish spread."""
    rho = proportions.correlation(counts, unknown=unknown)
    threshold = proportions.spread(counts, rho).threshold(confidence)
    low, high = proportions.wilson(counts.hits.sum(-1), counts.total, threshold)
    found = zip(counts.fraction.tolist(), low.tolist(), high.tolist(), strict=True)
    return tuple(Share(*limits) for limits in found)

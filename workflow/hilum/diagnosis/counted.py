"""Shares of the seeds of every group, with limits that hold for several shares at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from hilum import fates
from hilum.analyses.dishes import Key
from hilum.diagnosis.gather import Dish
from hilum.stats import proportions
from hilum.stats.shares import Share
from hilum.stats.spread import satterthwaite, t_squared

HARD_ALIVE = ("hard_alive", "by_opening")
HARD = ("hard_alive", "hard_dead", "hard_unknown", "by_opening")
FRESH_ALIVE = ("fresh_alive", "by_moving", "by_agent")
FRESH = (*FRESH_ALIVE, "fresh_unknown", "by_several")
DEAD = (*fates.DEAD, "fresh_dead")
# dead without any treatment
NEVER_ALIVE = ("empty", "insect_damaged")
# the dishes' worth of trust in the ordinary correlation
_FURTHER = 12.0


@dataclass(frozen=True)
class Group:
    """The dishes of one lot, treatment, temperature and condition; `index` is its place among all.

    All its dishes count: what nobody scored in some of them may have been anything.
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
    def store(self) -> tuple[str, str]:
        """Return days and °C of storage as text, empty where the seeds were not stored."""
        return self.storage if self.dishes[0].storage[0] > 0 else ("", "")

    @property
    def assessed(self) -> bool:
        """Return whether somebody looked at seeds that were left; dishes without any tell of themselves only."""
        left = any(d.scored and d.total("germinated") < d.seeds for d in self.dishes)
        return left or all(dish.scored for dish in self.dishes)

    @property
    def by_experiment(self) -> dict[str, tuple[Dish, ...]]:
        """Return the dishes of each experiment."""
        found: dict[str, tuple[Dish, ...]] = {}
        for dish in self.dishes:
            found[dish.experiment] = (*found.get(dish.experiment, ()), dish)
        return found

    @property
    def seeds(self) -> float:
        """Return the seeds that the shares are of."""
        return float(sum(dish.seeds for dish in self.dishes))

    @property
    def abnormal(self) -> float:
        """Return the abnormal seedlings, which are among the germinated."""
        return float(sum(dish.abnormal for dish in self.dishes))

    @property
    def ends_differ(self) -> bool:
        """Return whether dishes of one experiment were looked at for the last time at different hours."""
        ends = (
            {d.last_h for d in own if d.last_h == d.last_h} for own in self.by_experiment.values()
        )
        return any(len(hours) > 1 for hours in ends)

    @property
    def lost(self) -> float:
        """Return the seeds lost or taken as samples, of which no share tells."""
        return float(sum(dish.lost for dish in self.dishes))

    @property
    def not_entered(self) -> float:
        """Return the hard and fresh seeds that somebody looked into without writing down what was seen."""
        return float(sum(dish.not_entered for dish in self.dishes))

    def total(self, *ends: str) -> float:
        """Return the seeds with any of these ends."""
        return float(sum(dish.total(*ends) for dish in self.dishes))


def groups(dishes: Sequence[Dish]) -> list[Group]:
    """Return the groups in order of appearance."""
    found: dict[tuple[str, ...], list[Dish]] = {}
    for dish in dishes:
        lot, treatment, degrees, words = dish.key
        found.setdefault((lot, treatment, f"{degrees:g}", words), []).append(dish)
    return [Group(i, own[0].key, tuple(own)) for i, own in enumerate(found.values())]


def correlation(groups: Sequence[Group], ordinary: float) -> proportions.Correlation:
    """Return the one intra-dish correlation of all groups and fates.

    It is drawn towards `ordinary`, as if so many further dishes had shown that: a study has few dishes, and what
    they show alone says little of their spread.
    """
    each = [counts(groups, ends) for ends in (("germinated",), HARD, FRESH, DEAD)]
    stacked = proportions.Groups(
        *(np.concatenate([getattr(f, n) for f in each]) for n in ("hits", "seeds"))
    )
    seen = proportions.correlation(stacked, unknown=ordinary)
    # the fates of a dish add up to its seeds: of two or more, one less is free
    dof = float(seen.dof) / 2 if seen.known else 0.0
    rho = (dof * float(seen.rho) + _FURTHER * ordinary) / (dof + _FURTHER)
    return proportions.Correlation(np.array(rho), np.array(dof + _FURTHER), seen.known)


def counts(groups: Sequence[Group], ends: Sequence[str]) -> proportions.Groups:
    """Return the seeds with any of these ends, and all seeds, of each dish of each group."""
    widest = max((len(group.dishes) for group in groups), default=1)
    hits, seeds = (np.zeros((len(groups), widest)) for _ in range(2))
    for i, group in enumerate(groups):
        for j, dish in enumerate(group.dishes):
            hits[i, j], seeds[i, j] = dish.total(*ends), dish.seeds
    return proportions.Groups(hits, seeds)


@dataclass(frozen=True)
class Shares:
    """Shares of the seeds of a group, by fate: limits are Wilson's at `confidence`, widened for the dishes' correlation."""

    correlation: proportions.Correlation
    confidence: float

    @cached_property
    def _known(self) -> dict[tuple[int, tuple[str, ...]], Share]:
        return {}

    def at(self, confidence: float) -> Shares:
        """Return the same shares with limits of another confidence."""
        return Shares(self.correlation, confidence)

    def of(self, group: Group, *ends: str) -> Share:
        """Return the share of a group's seeds that have any of these ends."""
        asked = group.index, ends
        if asked not in self._known:
            self._known[asked] = self.of_counts(counts([group], ends))[0]
        return self._known[asked]

    def of_counts(self, counts: proportions.Groups) -> tuple[Share, ...]:
        """Return the share of each row of dishes (C, D)."""
        return _shares(counts, self.correlation, self.confidence)

    def of_sample(self, hits: float, seeds: float) -> Share:
        """Return a share of seeds taken at random from a lot, which no dish holds together."""
        alone = proportions.Correlation(np.array(0.0), self.correlation.dof, np.array(True))
        counts = proportions.Groups(np.array([[hits]]), np.array([[seeds]]))
        return _shares(counts, alone, self.confidence)[0]


def _shares(
    counts: proportions.Groups, rho: proportions.Correlation, confidence: float
) -> tuple[Share, ...]:
    total = np.where(counts.total > 0, counts.total, 1.0)
    scale = 1 + (counts.seeds * (counts.seeds - 1)).sum(-1) / total * rho.rho
    threshold = scale * t_squared(satterthwaite(scale, rho.dof), confidence)
    low, high = proportions.wilson(counts.hits.sum(-1), counts.total, threshold)
    found = zip(counts.fraction.tolist(), low.tolist(), high.tolist(), strict=True)
    return tuple(Share(*limits) for limits in found)

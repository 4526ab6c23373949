"""Seeds treated for several durations: dishes and their baths, as one expects them or drawn.

Baths differ as dishes do. Where a duration has several, each is one unit of the analysis, all its dishes together. Where it has one,
its dishes are the units, and the bath moves all of them alike.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import expit, logit

from hilum.analyses.scarification.truth import ScarificationTruth, shares
from hilum.plan.asked.added import SownAlike
from hilum.stats import foreseen
from hilum.stats.arrays import Array
from hilum.stats.scarification import Units

_EDGE = 1e-9


@dataclass(frozen=True)
class Treated:
    """The dishes of one lot, as many of each duration as `truth` has, from `baths` that differ by `bath_sd` on both logits.

    Those sown `already` have seeds and baths of their own.
    """

    truth: ScarificationTruth
    baths: int
    bath_sd: float
    already: tuple[SownAlike, ...] = ()

    @property
    def _kinds(self) -> list[SownAlike]:
        """Return what is sown, whenever that is."""
        lot = self.truth.lots[0]
        planned = [self._kind(minutes) for minutes in lot.doses]
        by_hand = [self._kind(0.0, opened=True)] if lot.opened else []
        return [*planned, *by_hand, *self.already]

    def _kind(self, minutes: float, *, opened: bool = False) -> SownAlike:
        truth = self.truth
        return SownAlike(
            minutes=minutes,
            opened=opened,
            dishes=truth.dishes,
            seeds=float(truth.seeds),
            baths=self.baths,
        )

    @property
    def doses(self) -> list[float]:
        """Return all durations, 0 for untreated seeds, the shortest first."""
        return sorted({kind.minutes for kind in self._kinds if not kind.opened})

    @property
    def most_baths(self) -> int:
        """Return the baths of the duration that has most of them."""
        baths = Counter[float]()
        for kind in self._kinds:
            baths[kind.minutes] += min(kind.baths, kind.dishes) if kind.minutes else 0
        return max(baths.values())

    @property
    def by_bath(self) -> bool:
        """Return whether a duration has several baths, which are then what was replicated."""
        return self.most_baths > 1

    @property
    def replicated(self) -> bool:
        """Return whether any duration, or seeds opened by hand, has two units."""
        alike = {(kind.minutes, kind.opened) for kind in self._kinds}
        return len(np.unique(self._unit)) > len(alike)

    @property
    def bath(self) -> np.ndarray:
        """Return the number of each dish's bath, (dishes,), -1 for seeds that lay in none; they take turns, as in the layout."""
        numbers, first = [], 0
        for kind in self._kinds:
            turns = np.arange(kind.dishes) % kind.baths
            numbers.append(first + turns if kind.minutes else np.full(kind.dishes, -1))
            first += kind.baths if kind.minutes else 0
        return np.concatenate(numbers)

    @property
    def expected(self) -> Units:
        """Return the units as one expects them, in fractions of seeds."""
        return self._units(self._dishes())

    def drawn(self, rng: np.random.Generator) -> Units:
        """Return the units of dishes drawn with effects of their own and of their baths."""
        dishes, bath = self._dishes(), self.bath
        sown = dishes.sown.astype(int)
        effect = self.truth.dish_sd * rng.normal(size=(2, len(sown)))
        if self.bath_sd:
            of_bath = self.bath_sd * rng.normal(size=(2, bath.max() + 1))
            effect += np.where(bath >= 0, of_bath[:, bath], 0.0)
        opens = np.clip(dishes.permeable / dishes.sown, _EDGE, 1 - _EDGE)
        grows = np.clip(dishes.germinated / dishes.permeable, _EDGE, 1 - _EDGE)
        permeable = rng.binomial(sown, expit(logit(opens) + effect[0]))
        permeable = np.where(dishes.opened, sown, permeable)
        germinated = rng.binomial(permeable, expit(logit(grows) + effect[1])).astype(float)
        return self._units(
            replace(dishes, permeable=permeable.astype(float), germinated=germinated)
        )

    def effects(self, rows: int) -> tuple[Array, foreseen.Shared | None]:
        """Return the variance of each unit's own effects, (rows, 1, 2), and those that units share; what goes beyond has none."""
        variance, group = np.zeros((rows, 1, 2)), np.full(rows, -1)
        dishes, bathed = np.bincount(self._unit), np.bincount(self._unit, self.bath >= 0) > 0
        # effects of the dishes of one bath average out
        own = self.truth.dish_sd**2 / dishes + self.bath_sd**2 * (bathed & self.by_bath)
        variance[: len(own)] = own[:, None, None]
        if self.by_bath or not self.bath_sd:
            return variance, None
        group[: len(own)] = self.bath
        return variance, foreseen.Shared(group, self.bath_sd)

    def _dishes(self) -> Units:
        """Return the dishes as one expects them, in fractions of seeds."""
        kinds, lot = self._kinds, self.truth.lots[0]
        many = [kind.dishes for kind in kinds]
        dose, opened, sown = (
            np.repeat([getattr(kind, name) for kind in kinds], many)
            for name in ("minutes", "opened", "seeds")
        )
        _, permeable, growing = shares(lot, dose)
        viable = lot.permeable * lot.viable_permeable + (1 - lot.permeable) * lot.viable
        permeable = np.where(opened, 1.0, permeable)
        growing = np.where(opened, viable * (1 - lot.fresh), growing)
        with np.errstate(divide="ignore"):
            log_dose = np.log(dose)
        return Units(log_dose, opened, sown, sown * permeable, sown * permeable * growing)

    @property
    def _unit(self) -> np.ndarray:
        """Return the number of each dish's unit, (dishes,)."""
        bath = self.bath
        alone = bath.max() + 1 + np.arange(len(bath))
        apart = alone if not self.by_bath else np.where(bath >= 0, bath, alone)
        # numbered in the order of dishes
        _, first, number = np.unique(apart, return_index=True, return_inverse=True)
        return np.asarray(np.argsort(np.argsort(first))[number])

    def _units(self, dishes: Units) -> Units:
        """Return what the analysis takes as units of these dishes."""
        if not self.by_bath:
            return dishes
        unit = self._unit
        first = np.unique(unit, return_index=True)[1]
        sown, permeable, germinated = (
            np.bincount(unit, part).astype(float)
            for part in (dishes.sown, dishes.permeable, dishes.germinated)
        )
        return Units(dishes.log_dose[first], dishes.opened[first], sown, permeable, germinated)

"""What the other seeds of a lot tell of a group: hand-opened ones, other places, dormancy breaks, viability tests."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from hilum.diagnosis.counted import DEAD, Group, Shares, counts
from hilum.diagnosis.gather import Tested
from hilum.stats import proportions
from hilum.stats.shares import NONE, Share

# each coat is opened by hand, which leaves the embryo alone (common practice, no source)
BY_HAND = frozenset({"chipping", "filing"})
BREAKS = frozenset({"cold_moist", "warm_moist", "growth_regulator"})
_MILD = frozenset({"none"}) | BY_HAND
# opening by hand is taken as harmless until this speaks against it
_SURE = 0.99
_SAME = 1e-9
# a reference of which more than this share is not known alive or dead tells little of harm
_VAGUE = 0.3


@dataclass(frozen=True)
class Step:
    """One step of a treatment."""

    method: str
    agent: str


@dataclass(frozen=True)
class Treatments:
    """What was done to the seeds of each treatment."""

    steps: Mapping[str, Sequence[Step]]

    def methods(self, treatment: str) -> frozenset[str]:
        """Return the methods of a treatment; rinsing and soaking in water are none."""
        done = self.steps.get(treatment, ())
        return frozenset(s.method for s in done if not (s.method == "other" and "water" in s.agent))

    def intact(self, treatment: str) -> bool:
        """Return whether nothing was done to the seeds."""
        return self.methods(treatment) <= {"none"} and treatment in self.steps

    def by_hand(self, treatment: str) -> bool:
        """Return whether each coat was opened by hand, and nothing else was done."""
        return bool(self.methods(treatment) & BY_HAND) and self.methods(treatment) <= _MILD

    def may_harm(self, treatment: str) -> bool:
        """Return whether the treatment could have killed seeds."""
        return not (treatment in self.steps and self.methods(treatment) <= _MILD)

    def breaks(self, treatment: str) -> bool:
        """Return whether the treatment is known to end dormancy of the embryo."""
        return bool(self.methods(treatment) & BREAKS)

    def coat(self, treatment: str) -> frozenset[str]:
        """Return the methods that work on the coat."""
        return self.methods(treatment) - BREAKS - {"none"}


def treatments(table: Mapping[str, np.ndarray] | None) -> Treatments:
    """Return the treatments of a study from its checked table."""
    found: dict[str, list[Step]] = {}
    if table is not None:
        names = ("treatment", "method", "agent")
        for treatment, method, agent in zip(*(table[n] for n in names), strict=True):
            found.setdefault(str(treatment), []).append(Step(str(method), str(agent).lower()))
    return Treatments(found)


@dataclass(frozen=True)
class Dead:
    """The seeds of a lot that were dead before any treatment: at least and at most, and what showed it."""

    least: Share
    most: Share
    shown_by: str
    group: Group | None = None


@dataclass(frozen=True, kw_only=True)
class References:
    """What is known beside a group itself.

    `dead` of the lot; `hard_alive` of its hard seeds; `elsewhere` the same treatment in the place where it does
    best; `released` the same place after a dormancy break; `weighed` the impermeable share of the same treatment,
    by weighing. `disputed` where hand-opened seeds show surely more dead ones than untreated seeds of the lot do. `broken` where the
    seeds had a dormancy break themselves; `opened_unscored` where hand-opened seeds of the lot were sown and nobody scored
    what was left of them.
    """

    may_harm: bool
    by_hand: bool
    dead: Dead | None = None
    hard_alive: Share | None = None
    elsewhere: Group | None = None
    released: Group | None = None
    weighed: Share | None = None
    weighed_in: tuple[str, ...] = field(default=())
    disputed: bool = False
    broken: bool = False
    opened_unscored: bool = False


@dataclass(frozen=True, kw_only=True)
class Study:
    """All groups with their shares, treatments, viability tests and weighed shares (by lot and treatment).

    The limits of `shares` hold for several at once; `confidence` is that of one alone. `told` holds what the experiments say of
    the seeds of a group (by its index), by quantity: where they do, no other figure is made of the same seeds.
    """

    groups: Sequence[Group]
    shares: Shares
    treatments: Treatments
    tested: Sequence[Tested]
    weighed: Mapping[tuple[str, str], tuple[Share, tuple[str, ...]]]
    confidence: float
    told: Mapping[int, Mapping[str, Share]] = field(default_factory=dict)

    def figure(self, group: Group, quantity: str, *ends: str) -> Share:
        """Return the one figure of a group's seeds with these ends, its limits holding alone."""
        own = self.one_by_one.shares.of(group, *ends)
        said = self.told.get(group.index, {}).get(quantity)
        # dishes that were followed for different times are told there by a time that they share
        return said if said is not None and abs(said.value - own.value) < _SAME else own

    def germinated(self, group: Group) -> Share:
        """Return the one figure of how many seeds of a group germinated."""
        return self.figure(group, "germinated", "germinated")

    def references(self, group: Group) -> References:
        """Return what is known beside the group itself."""
        weighed = self.weighed.get((group.lot, group.treatment))
        may_harm, dead, disputed = self._harm(group)
        return References(
            may_harm=may_harm,
            by_hand=self.treatments.by_hand(group.treatment),
            dead=dead,
            disputed=disputed,
            hard_alive=self._hard_alive(group.lot),
            elsewhere=self._elsewhere(group),
            released=self._released(group),
            weighed=weighed[0] if weighed else None,
            weighed_in=weighed[1] if weighed else (),
            broken=self.treatments.breaks(group.treatment),
            opened_unscored=any(
                not other.assessed and self.treatments.by_hand(other.treatment)
                for other in self.of_lot(group.lot)
            ),
        )

    def of_lot(self, lot: str) -> list[Group]:
        """Return the groups of a lot."""
        return self._lots.get(lot, [])

    @cached_property
    def _lots(self) -> dict[str, list[Group]]:
        found: dict[str, list[Group]] = {}
        for group in self.groups:
            found.setdefault(group.lot, []).append(group)
        return found

    def at_its_best(self, groups: Sequence[Group]) -> Group | None:
        """Return where seeds do best: of the groups that are not surely behind the first, that with most seeds.

        The highest of several like shares is high by chance, and no advice to sow there.
        """
        shares = {group.index: self.shares.of(group, "germinated") for group in groups}
        first = max(shares.values(), key=lambda share: share.value, default=None)
        alike = [g for g in groups if first and (first - shares[g.index]).low <= 0]
        return max(alike, key=lambda g: (g.seeds, shares[g.index].value), default=None)

    def _elsewhere(self, group: Group) -> Group | None:
        return self.at_its_best(
            [
                other
                for other in self.of_lot(group.lot)
                if (other.treatment, other.store) == (group.treatment, group.store)
                and other.place != group.place
                and "nan" not in (other.place[0], group.place[0])
            ]
        )

    def _released(self, group: Group) -> Group | None:
        known, own = self.treatments, group.treatment
        return self.at_its_best(
            [
                other
                for other in self.of_lot(group.lot)
                if (other.place, other.store) == (group.place, group.store)
                and known.breaks(other.treatment)
                and not known.breaks(own)
                and bool(known.coat(other.treatment)) == bool(known.coat(own))
            ]
        )

    def _hard_alive(self, lot: str) -> Share | None:
        """Return how many of the lot's hard seeds were alive, where somebody looked."""
        looked = [
            (dish.total("hard_alive"), dish.total("hard_alive", "hard_dead"))
            for group in self.of_lot(lot)
            for dish in group.dishes
            if dish.total("hard_alive", "hard_dead") > 0
        ]
        if not looked:
            return None
        hits, seeds = np.array(looked).T[:, None, :]
        return self.shares.of_counts(proportions.Groups(hits, seeds))[0]

    def _harm(self, group: Group) -> tuple[bool, Dead | None, bool]:
        """Return whether the treatment may have killed seeds, the dead of the lot, and whether these are disputed.

        Opening by hand is taken as harmless until untreated seeds of the lot show surely fewer dead ones: then seeds were
        hurt when they were opened or took up water at once, or cutting and staining took dead ones for living.
        """
        may_harm, dead = self.treatments.may_harm(group.treatment), self._dead(group)
        by_hand = self.treatments.by_hand
        opened = group if by_hand(group.treatment) else dead.group if dead else None
        if opened is None or not (opened.assessed and by_hand(opened.treatment)):
            return may_harm, dead, False
        strict = self._strict
        after = strict._dead_after(opened)
        pairs = zip(self._untreated(opened), strict._untreated(opened), strict=True)
        surely = [ours for ours, theirs in pairs if (after - theirs.most).low > 0]
        fewer = min(surely, key=lambda d: d.most.high, default=None)
        if fewer is None:
            return may_harm, dead, False
        own = self._from_group(opened)
        shown_by = f"{fewer.shown_by} at the least, {own.shown_by} at the most"
        return True, Dead(fewer.least, own.most, shown_by, fewer.group), True

    def _dead_after(self, opened: Group) -> Share:
        """Return the share dead of all seeds of the lot that were opened in one way, wherever they were sown.

        What hurts when a coat is opened does not ask where the seed is sown next; one place of many is off by chance.
        """
        dishes = tuple(
            dish
            for other in self.of_lot(opened.lot)
            if (other.treatment, other.store) == (opened.treatment, opened.store) and other.assessed
            for dish in other.dishes
        )
        pooled = counts([replace(opened, dishes=dishes)], (*DEAD, "hard_dead"))
        return self.shares.of_counts(pooled)[0]

    def _untreated(self, opened: Group) -> list[Dead]:
        """Return what untreated seeds of the lot, stored as long as an opened group, tell of the dead."""
        return [
            *([] if any(opened.store) else self._from_untreated_tests(opened.lot)),
            *(
                self._from_group(other)
                for other in self.of_lot(opened.lot)
                if other.assessed
                and other.store == opened.store
                and self.treatments.intact(other.treatment)
            ),
        ]

    @cached_property
    def one_by_one(self) -> Study:
        """Return the study with limits that hold one at a time."""
        return replace(self, shares=self.shares.at(self.confidence))

    @cached_property
    def _strict(self) -> Study:
        """Return the study with limits that opening by hand is accused by."""
        return replace(self, shares=self.shares.at(_SURE))

    def _dead(self, group: Group) -> Dead | None:
        """Return the dead seeds of the lot: from hand-opened seeds in the same place, else what says most.

        Seeds die in a store without any treatment: of stored seeds only others stored as long tell.
        """
        found = [
            *([] if any(group.store) else self._from_tests(group)),
            *(
                self._from_group(other)
                for other in self.of_lot(group.lot)
                if other.assessed
                and other is not group
                and other.store == group.store
                and (
                    self.treatments.by_hand(other.treatment)
                    or self.treatments.intact(other.treatment)
                )
            ),
        ]
        beside = [
            dead
            for dead in found
            if dead.group is not None
            and self.treatments.by_hand(dead.group.treatment)
            and dead.group.place == group.place
            and dead.most.value - dead.least.value < _VAGUE
        ]
        return min(beside or found, key=lambda d: d.most.high - d.least.low, default=None)

    def _from_group(self, group: Group) -> Dead:
        least = self.shares.of(group, *DEAD, "hard_dead")
        most = self.shares.of(
            group, *DEAD, "hard_dead", "fresh_unknown", "hard_unknown", "by_several", "unscored"
        )
        what = "opened by hand" if self.treatments.by_hand(group.treatment) else "untreated"
        return Dead(least, most, f"{group.treatment} ({what})", group)

    def _from_tests(self, group: Group) -> list[Dead]:
        found = []
        of_lot = [test for test in self.tested if test.lot == group.lot]
        own = [
            test
            for test in of_lot
            if not test.starts_store
            and (test.method == "hand_opened" or not self.treatments.may_harm(test.treatment))
        ]
        if own:
            dead = self.shares.of_sample(
                sum(test.seeds - test.alive for test in own), sum(test.seeds for test in own)
            )
            found.append(Dead(dead, dead, f"viability test ({_methods(own)})"))
        plain = [
            test
            for test in of_lot
            if test.starts_store and not self.treatments.may_harm(test.treatment)
        ]
        if plain:
            dead = self._of_samples(plain)
            found.append(Dead(dead, dead, f"viability test before storage ({_samples(plain)})"))
        alike = [test for test in of_lot if test.starts_store and test.treatment == group.treatment]
        if alike and self.treatments.may_harm(group.treatment):
            # no more of them were dead before the treatment than after it
            how = f"viability test of seeds treated alike, before storage ({_samples(alike)})"
            found.append(Dead(NONE, self._of_samples(alike), how))
        return found

    def _from_untreated_tests(self, lot: str) -> list[Dead]:
        """Return the dead of untreated seeds that were cut or stained, not opened and sown."""
        own = [
            test
            for test in self.tested
            if test.lot == lot
            and test.method != "hand_opened"
            and not self.treatments.may_harm(test.treatment)
            and not self.treatments.by_hand(test.treatment)
        ]
        if not own:
            return []
        dead = self._of_samples(own)
        return [Dead(dead, dead, f"viability test ({_samples(own)})")]

    def _of_samples(self, own: Sequence[Tested]) -> Share:
        """Return the dead share of samples, which differ as dishes do."""
        hits, seeds = np.array([(test.seeds - test.alive, test.seeds) for test in own]).T
        return self.shares.of_counts(proportions.Groups(hits[None], seeds[None]))[0]


def _methods(own: Sequence[Tested]) -> str:
    return " and ".join(dict.fromkeys(test.method.replace("_", " ") for test in own))


def _samples(own: Sequence[Tested]) -> str:
    return f"{_methods(own)}, {len(own)} sample{'s' if len(own) > 1 else ''}"

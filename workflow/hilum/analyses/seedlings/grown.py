"""From the table of stages to each seedling's looks: when it had how many leaves, and whether it died."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from hilum.analyses.estimate import Tables
from hilum.stats import durations
from hilum.stats.arrays import Array
from hilum.stats.durations import Spans

MOST_LEAVES = 6  # leaf numbers told: later ones say nothing of a pause of seedlings


@dataclass(frozen=True, kw_only=True)
class Seedling:
    """The looks at one living seedling: `days` since germination ascending, and the most `leaves` seen so far.

    `died` is the look at which it was found dead, nan where it was not; `tray` is empty where nobody named it.
    """

    name: str
    lot: str
    treatment: str
    tray: str
    days: Array
    leaves: Array
    died: float

    @property
    def sample(self) -> tuple[str, str]:
        """Return lot and treatment."""
        return self.lot, self.treatment

    @property
    def last_d(self) -> float:
        """Return the last look at which it lived, 0 where there was none."""
        return float(self.days[-1]) if len(self.days) else 0.0

    @property
    def now(self) -> int:
        """Return its leaves at that look."""
        return int(self.leaves[-1]) if len(self.leaves) else 0

    def reached(self, leaves: int) -> tuple[float, float]:
        """Return between which days it got that many leaves; the latter is infinity where it did not.

        At germination there is no leaf, and 0 leaves are reached then.
        """
        if leaves == 0:
            return 0.0, 0.0
        have = self.leaves >= leaves
        before, after = self.days[~have], self.days[have]
        # a leaf on the day of germination is one that opened within that day
        first = max(float(after[0]), 0.5) if len(after) else np.inf
        return (float(before[-1]) if len(before) else 0.0), first

    def stay(self, leaves: int) -> tuple[float, float]:
        """Return how long it stayed at that many leaves, at least and at most; it must have reached them."""
        (began_low, began_high), (ended_low, ended_high) = (
            self.reached(n) for n in (leaves, leaves + 1)
        )
        return max(ended_low - began_high, 0.0), ended_high - began_low


@dataclass(frozen=True, kw_only=True)
class Siblings:
    """The seedlings of one lot and treatment."""

    lot: str
    treatment: str
    seedlings: tuple[Seedling, ...]

    @cached_property
    def tray(self) -> NDArray[np.int_] | None:
        """Return the number of each seedling's tray; one without a tray stands alone. None where no tray is named."""
        if not any(s.tray for s in self.seedlings):
            return None
        names = [s.tray or f"\n{i}" for i, s in enumerate(self.seedlings)]
        return np.unique(names, return_inverse=True)[1].astype(int)

    @property
    def trays(self) -> int:
        """Return how many trays are named."""
        return len({s.tray for s in self.seedlings} - {""})

    @property
    def most(self) -> int:
        """Return the most leaves that any of them has, or the most that are told."""
        return min(max((s.now for s in self.seedlings), default=0), MOST_LEAVES)

    def to_leaves(self, leaves: int) -> Spans:
        """Return the time from germination to that many leaves of all."""
        rows = [(0.0, 0.0, *s.reached(leaves)) for s in self.seedlings]
        return _spans(rows, self.tray)

    def at_leaves(self, leaves: int) -> tuple[np.ndarray, Spans]:
        """Return which seedlings got that many leaves, and how long they stayed at them."""
        got = [i for i, s in enumerate(self.seedlings) if np.isfinite(s.reached(leaves)[1])]
        own = [self.seedlings[i] for i in got]
        rows = [(*s.reached(leaves), *s.reached(leaves + 1)) for s in own]
        return np.array(got, dtype=int), _spans(rows, None if self.tray is None else self.tray[got])


def fit_all(all_: Sequence[Siblings]) -> None:
    """Fit the times to all leaf numbers and the stays at them at once, for those who ask for one after the other."""
    told = [
        spans
        for siblings in all_
        for leaves in range(siblings.most + 1)
        for spans in (siblings.at_leaves(leaves)[1], siblings.to_leaves(leaves + 1))
    ]
    durations.every_family([spans for spans in told if spans.ended.sum() >= durations.FEWEST])


def _spans(
    rows: Sequence[tuple[float, float, float, float]], tray: NDArray[np.int_] | None
) -> Spans:
    began_low, began_high, ended_low, ended_high = np.array(rows, dtype=float).reshape(-1, 4).T
    return Spans(began_low, began_high, ended_low, ended_high, tray)


def gather(tables: Tables) -> list[Siblings]:
    """Return the seedlings of each lot and treatment in the order of the table; `tables` needs stages."""
    stages = tables["stages"]
    rows: dict[str, list[int]] = {}
    for row, name in enumerate(stages["seedling"].tolist()):
        rows.setdefault(name, []).append(row)
    all_ = [_seedling(stages, np.array(found)) for found in rows.values()]
    return [
        Siblings(
            lot=lot,
            treatment=treatment,
            seedlings=tuple(s for s in all_ if s.sample == (lot, treatment)),
        )
        for lot, treatment in dict.fromkeys(s.sample for s in all_)
    ]


def _seedling(stages: Mapping[str, np.ndarray], rows: np.ndarray) -> Seedling:
    trays = stages.get("tray", np.full(len(stages["seedling"]), ""))
    rows = rows[np.argsort(stages["elapsed_d"][rows], kind="stable")]
    days, dead = stages["elapsed_d"][rows], stages["alive"][rows] == 0
    lived = ~dead
    first = rows[0]
    return Seedling(
        name=str(stages["seedling"][first]),
        lot=str(stages["lot"][first]),
        treatment=str(stages["treatment"][first]),
        tray=next((str(t) for t in trays[rows] if t), ""),
        days=days[lived],
        # a leaf that fell was there: a seedling never goes back
        leaves=np.maximum.accumulate(stages["leaves"][rows][lived]) if lived.any() else days[lived],
        died=float(days[dead][0]) if dead.any() else np.nan,
    )

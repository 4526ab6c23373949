"""The seeds of one lot and treatment, followed one by one in water."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hilum.analyses.buoyancy.looks import Trace, rounds
from hilum.stats.arrays import Array
from hilum.stats.float_test import Calls


@dataclass(frozen=True, kw_only=True)
class Sample:
    """Seeds that somebody looked at; `together` groups and `unlooked` seeds of the same lot and treatment were left out.

    `hours` (k,) are those of the rounds of looks, `seen` (n, k) is 1 where a seed floated, 0 where it sank, nan
    where nobody looked.
    """

    lot: str
    treatment: str
    traces: tuple[Trace, ...]
    together: int
    unlooked: int
    hours: Array
    seen: Array

    @property
    def last_float_h(self) -> Array:
        """Return when each seed was last seen floating, −inf where it never was, (n,)."""
        return np.array([trace.last_float_h for trace in self.traces])

    @property
    def sunk_by_h(self) -> Array:
        """Return the look by which each seed had sunk for good, inf where it had not, (n,)."""
        return np.array([trace.sunk_by_h for trace in self.traces])

    @property
    def alive(self) -> np.ndarray:
        """Return which seeds were alive, (n,)."""
        return np.array([trace.fate == "alive" for trace in self.traces], dtype=bool)

    @property
    def dead(self) -> np.ndarray:
        """Return which seeds were dead, (n,)."""
        return np.array([trace.fate == "dead" for trace in self.traces], dtype=bool)

    @property
    def dishes(self) -> list[str]:
        """Return the dishes or batches of the seeds, "" for seeds that name none."""
        return list(dict.fromkeys(trace.dish for trace in self.traces))

    def by_dish(self, marks: np.ndarray) -> Array:
        """Return how many seeds of each dish are marked, (k, D), from marks of seeds (n, k)."""
        own = np.zeros((len(self.dishes), len(self.traces)))
        for seed, trace in enumerate(self.traces):
            own[self.dishes.index(trace.dish), seed] = 1
        return np.asarray(own @ marks).T

    def calls(self) -> Calls:
        """Return the seeds of known fate by call and fate at each round, and in each dish."""
        floated, sank = self.seen == 1, self.seen == 0
        dead, alive = self.dead[:, None], self.alive[:, None]
        return Calls(
            *(self.by_dish(m) for m in (floated & dead, floated & alive, sank & dead, sank & alive))
        )


def gather(traces: Sequence[Trace]) -> list[Sample]:
    """Return the samples, in the order in which they stand in the table."""
    made = []
    for lot, treatment in dict.fromkeys(trace.sample for trace in traces):
        own = [trace for trace in traces if trace.sample == (lot, treatment)]
        usable = tuple(trace for trace in own if trace.usable)
        together = sum(trace.together for trace in own)
        hours, seen = rounds(usable)
        made.append(
            Sample(
                lot=lot,
                treatment=treatment,
                traces=usable,
                together=together,
                unlooked=len(own) - len(usable) - together,
                hours=hours,
                seen=seen,
            )
        )
    return made

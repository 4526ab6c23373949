"""Which seedlings are later than their siblings, and which of these later than chance explains.

Each seedling is looked at twice: how far it had come at its last look, and how long its pause has lasted. It is judged by its
siblings alone. One in twenty is later than 95 % of its siblings in either by chance, so the strict mark is Holm's over all
these looks of the experiment.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hilum.analyses.seedlings.grown import Siblings
from hilum.analyses.seedlings.pause import Pause
from hilum.stats import lateness, proportions
from hilum.stats.arrays import Array

LATE = 0.05


@dataclass(frozen=True)
class Chances:
    """The chance of a sibling to be as late, (n,): to have `stage` no further by the last look, and to stay as long in `pause`.

    1 where there is nothing to judge by.
    """

    stage: Array
    pause: Array


def chances(siblings: Siblings, pause: Pause) -> Chances:
    """Return how late each seedling of a lot and treatment is."""
    n = len(siblings.seedlings)
    return Chances(_stage(siblings, n), _pause(siblings, pause, n))


def _stage(siblings: Siblings, n: int) -> Array:
    found = np.ones(n)
    now = np.array([s.now for s in siblings.seedlings])
    last = np.array([s.last_d for s in siblings.seedlings])
    for leaves in np.unique(now)[:-1].tolist():
        rows = np.flatnonzero(now == leaves)
        found[rows] = lateness.chance_beyond(siblings.to_leaves(leaves + 1), rows, last[rows])
    return found


def _pause(siblings: Siblings, pause: Pause, n: int) -> Array:
    found = np.ones(n)
    if pause.found:
        rows, spans = siblings.at_leaves(pause.leaves)
        own = np.arange(len(rows))
        found[rows] = lateness.chance_beyond(spans, own, spans.shortest)
    return found


def beyond_chance(all_: Sequence[Chances], confidence: float) -> list[np.ndarray]:
    """Return for each lot and treatment which seedlings (n,) are later than chance explains, over all of the experiment."""
    p = np.concatenate([np.ones(0), *(x for c in all_ for x in (c.stage, c.pause))])
    strict = proportions.holm(p) < 1 - confidence
    marks, done = [], 0
    for c in all_:
        n = len(c.stage)
        marks.append(strict[done : done + n] | strict[done + n : done + 2 * n])
        done += 2 * n
    return marks

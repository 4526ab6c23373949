"""The courses that a seed's uptake may have taken: never, from the start, or late.

A late onset is continuous and cut into cells. A course stands for its whole cell: the spread within is small
enough to act as one more normal error. So does what is not known of the seed's speed, near its best guess.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np

from hilum.stats.arrays import Array

NEVER, AT_ONCE, LATER = range(3)
_DROPS = 0.05  # of the last weighings carry a drop (common practice, no source)
_FASTEST = 3.0  # sd of log speed: no seed is that far from its siblings


@dataclass(frozen=True, kw_only=True)
class Courses:
    """One entry for each seed and possible course, sorted by kind (never, start, late), then by seed.

    Every seed has at least one course of each kind. `low_h` and `high_h` bound the onset: infinite where water
    never gets in, 0 from the start; `log_share` is the logarithm of the part that the cell is of its kind.
    The best guess of the seed's speed is `log_speed`, the logarithm of half-times per hour, and `deviate` the
    same in sd from its siblings' mean; `told` is how much of it the weighings tell, from 0 to 1. `drop` is 1 where
    the last weighing may have carried a drop that blotting missed, 0 elsewhere.
    """

    kind: np.ndarray
    seed: np.ndarray
    low_h: Array
    high_h: Array
    log_share: Array
    log_speed: Array
    deviate: Array
    told: Array
    drop: Array

    @property
    def middle_h(self) -> Array:
        """Return the middle of the onset's cell, infinite where water never gets in."""
        return np.asarray((self.low_h + self.high_h) / 2)

    @cached_property
    def width_h(self) -> Array:
        """Return the width of the onset's cell, 0 where there is none."""
        bounded = self.kind == LATER
        return np.where(bounded, self.high_h, 0.0) - np.where(bounded, self.low_h, 0.0)

    @cached_property
    def _first(self) -> np.ndarray:
        """Return where the courses of each kind and seed begin."""
        return np.flatnonzero(np.diff(self.seed, prepend=-1) | np.diff(self.kind, prepend=-1))

    def totals(self, log_likelihood: Array) -> Array:
        """Return the log likelihoods summed over the courses of each kind and seed, (points, kinds × seeds)."""
        return np.asarray(np.logaddexp.reduceat(log_likelihood, self._first, axis=-1))

    def of_courses(self, of_kinds: Array) -> Array:
        """Return values of kinds and seeds, (points, kinds × seeds), repeated for each of their courses."""
        return of_kinds[:, self.kind * (int(self.seed[-1]) + 1) + self.seed]

    def take(self, which: np.ndarray) -> Courses:
        """Return some of the courses."""
        return Courses(**{f.name: getattr(self, f.name)[which] for f in fields(self)})

    def near(self, score: Array, reach: float) -> Courses:
        """Return the courses whose score is within `reach` of the best of their seed.

        The best course of each kind stays, whatever its score (courses,).
        """
        n = int(self.seed[-1]) + 1
        best_of_kind = np.full((3, n), -np.inf)
        np.maximum.at(best_of_kind, (self.kind, self.seed), score)
        close = score > best_of_kind.max(0)[self.seed] - reach
        return self.take(close | (score >= best_of_kind[self.kind, self.seed]))

    def refine(self, parts: int) -> Courses:
        """Return the same courses with the onset's cells cut into equal parts."""
        times = np.where(self.kind == LATER, parts, 1)
        cut = self.take(np.repeat(np.arange(len(self.kind)), times))
        turn = np.arange(len(cut.kind)) - np.repeat(np.cumsum(times) - times, times)
        width = cut.width_h / np.repeat(times, times)
        return replace(
            cut,
            low_h=cut.low_h + turn * width,
            high_h=np.where(cut.kind == LATER, cut.low_h + (turn + 1) * width, cut.high_h),
            log_share=cut.log_share - np.log(np.repeat(times, times)),
        )

    def with_speeds(self, mean: Array, sd: Array, deviate: Array, variance: Array) -> Courses:
        """Return the same courses with new guesses of the speed (courses,): `deviate` sd from the mean."""
        within = np.clip(deviate, -_FASTEST, _FASTEST)
        return replace(self, log_speed=mean + sd * within, deviate=within, told=1 - variance)

    def deviates(self, mean: Array, sd: Array) -> Array:
        """Return the deviates to be used where siblings' log speeds have another mean and sd.

        A speed that the weighings tell stays what it is; one that they do not goes with its siblings.
        """
        return np.asarray(self.told * (self.log_speed - mean) / sd + (1 - self.told) * self.deviate)


def possible(seen_h: Array, *, parts: int) -> Courses:
    """Return the courses to be weighed against each other, for seeds seen at these hours.

    `seen_h` (seeds, k) is ascending from 0, nan where a seed was seen less often. Between two hours there are
    `parts` cells of the onset: short before the later one, where little water has got in and its amount
    tells the onset best, long where uptake was over by then.
    """
    seed, low, high = _onset_cells(seen_h, (np.arange(parts, -1, -1) / parts) ** 2)
    everyone, n = np.arange(len(seen_h)), len(seen_h)
    share = (high - low) / np.nanmax(seen_h, axis=1)[seed]
    drop = np.concatenate([np.tile([0.0, 1.0], n), np.zeros(n + len(seed))])
    dry = np.where(drop[: 2 * n] > 0, _DROPS, 1 - _DROPS)
    untold = np.zeros((3, len(drop)))
    return Courses(
        kind=np.repeat([NEVER, AT_ONCE, LATER], [2 * n, n, len(seed)]),
        seed=np.concatenate([np.repeat(everyone, 2), everyone, seed]),
        low_h=np.concatenate([np.full(2 * n, np.inf), np.zeros(n), low]),
        high_h=np.concatenate([np.full(2 * n, np.inf), np.zeros(n), high]),
        log_share=np.concatenate([np.log(dry), np.zeros(n), np.log(share)]),
        log_speed=untold[0],
        deviate=untold[1],
        told=untold[2],
        drop=drop,
    )


def _onset_cells(seen_h: Array, before_end: Array) -> tuple[np.ndarray, Array, Array]:
    start, end = seen_h[:, :-1, None], seen_h[:, 1:, None]
    edges = end - (end - start) * before_end
    low, high = edges[..., :-1], edges[..., 1:]
    there = high > low  # nan is not
    return np.nonzero(there)[0], low[there], high[there]

"""Whether seedlings of one lot and treatment pause, and at how many leaves.

A pause is a leaf number at which the median seedling stays at least twice as long as at the leaf numbers up to two before and
two after it (leaves can open in pairs), and surely longer than at each of them. That seedlings stop at two to four leaves for
about two weeks is common practice, no source; neither the number nor the weeks are taken for granted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from hilum.analyses.seedlings.grown import MOST_LEAVES, Seedling, Siblings
from hilum.analyses.seedlings.timing import quantiles
from hilum.stats import turnbull
from hilum.stats.durations import Spans

Verdict = Literal["pause", "not_resumed", "scattered", "no_pause", "not_told", "no_leaves", "alone"]
TWICE = 2.0
_MANY = 0.25  # of the seedlings: so many that pause elsewhere are no exception
_HALF = np.array([0.5])


@dataclass(frozen=True)
class Stay:
    """How long seedlings stay at a leaf number: the median and its limits, days; nan and infinity where not known."""

    leaves: int
    spans: Spans
    value: float
    low: float
    high: float

    @property
    def unfinished(self) -> bool:
        """Return whether no seedling has grown on from it."""
        return not self.spans.ended.any()


@dataclass(frozen=True)
class Pause:
    """The verdict; `leaves` is the leaf number of the pause, or the one that stands out most, 0 where there is none.

    `ratio` is its median stay over the longest beside it. `one_sided` where nothing is known of the stay after it.
    """

    verdict: Verdict
    leaves: int
    ratio: float
    one_sided: bool

    @property
    def found(self) -> bool:
        """Return whether all seedlings have a pause in common."""
        return self.verdict in ("pause", "not_resumed")


def stays(siblings: Siblings, confidence: float) -> list[Stay]:
    """Return the stays at each leaf number from 0 on; their limits hold at once (Bonferroni)."""
    last = siblings.most
    each = 1 - (1 - confidence) / (last + 1)
    return [_stay(siblings, n, each) for n in range(last + 1)]


def _stay(siblings: Siblings, leaves: int, confidence: float) -> Stay:
    _, spans = siblings.at_leaves(leaves)
    # a tray makes all stays of its seedlings longer alike, so that it does not matter to which of them is the longest
    found = quantiles(replace(spans, tray=None), _HALF, confidence)
    value = float(found.value[0])
    if np.isnan(value):
        value = turnbull.distribution(spans.shortest, spans.longest).quantile(0.5)
    high = float(found.high[0])
    return Stay(leaves, spans, value, float(found.low[0]), high if np.isfinite(high) else np.inf)


def find(siblings: Siblings, found: Sequence[Stay]) -> Pause:
    """Return whether and where the seedlings pause."""
    if len(siblings.seedlings) == 1:
        return Pause("alone", 0, np.nan, one_sided=False)
    if siblings.most == 0:
        return Pause("no_leaves", 0, np.nan, one_sided=False)
    told = [_against(found, n) for n in range(1, len(found))]
    sure = [p for p in told if p.found]
    if sure:
        # growth may also have come to its end; a pause is first of all one that ended
        return max(sure, key=lambda p: (p.verdict == "pause", p.ratio))
    # the stay at the last leaf number has hardly begun
    best = max(told[:-1] or told, key=lambda p: np.nan_to_num(p.ratio))
    return _other(siblings, found, best)


def _other(siblings: Siblings, found: Sequence[Stay], best: Pause) -> Pause:
    own = [own_pause(s) for s in siblings.seedlings]
    shown = [n for n in own if n]
    if len(shown) >= max(_MANY * len(own), 3) and len(set(shown)) > 1:
        return Pause("scattered", 0, np.nan, one_sided=False)
    short = [_surely_short(found, n) for n in range(1, len(found) - 1)]
    verdict: Verdict = "no_pause" if short and all(short) else "not_told"
    return Pause(verdict, best.leaves, best.ratio, best.one_sided)


def _beside(leaves: int, last: int) -> list[int]:
    """Return the leaf numbers beside one; the time to the first leaf counts only right before it."""
    near = [leaves - 2, leaves - 1, leaves + 1, leaves + 2]
    return [n for n in near if 0 <= n <= last and (n > 0 or leaves == 1)]


def _against(found: Sequence[Stay], leaves: int) -> Pause:
    stay = found[leaves]
    beside = [found[n] for n in _beside(leaves, len(found) - 1) if np.isfinite(found[n].value)]
    one_sided = not any(s.leaves > leaves for s in beside)
    before = [s for s in beside if s.leaves < leaves]
    if not before:
        return Pause("not_told", leaves, np.nan, one_sided)
    longest = max(s.value for s in beside)
    # of a stay that nobody has ended only the lower limit is known
    value = stay.low if stay.unfinished else stay.value
    ratio = value / max(longest, 1e-9)
    surely = all(_surely_longer(stay, s) for s in beside)
    if not (ratio >= TWICE and surely):
        return Pause("not_told", leaves, ratio, one_sided)
    return Pause("not_resumed" if stay.unfinished else "pause", leaves, ratio, one_sided)


def _surely_longer(stay: Stay, other: Stay) -> bool:
    """Return whether one median stay is surely longer than another.

    # Zou and Donner (2008), Statistics in Medicine 27:1693–1702: limits of a difference, here of logarithms, from those of both
    """
    if not (np.isfinite(stay.value) and stay.low > 0 and np.isfinite(other.high)):
        return bool(stay.low > other.high)
    gap = np.log(stay.value / max(other.value, 1e-9))
    down = np.log(stay.value / stay.low)
    up = np.log(max(other.high, 1e-9) / max(other.value, 1e-9))
    return bool(gap > np.hypot(down, up))


def _surely_short(found: Sequence[Stay], leaves: int) -> bool:
    """Return whether the stay is surely less than twice as long as one beside it."""
    beside = (found[n] for n in _beside(leaves, len(found) - 1))
    return any(found[leaves].high < TWICE * s.low for s in beside)


def own_pause(seedling: Seedling) -> int:
    """Return the leaf number at which one seedling surely stayed twice as long as beside it, 0 where there is none."""
    last = min(seedling.now, MOST_LEAVES)
    bounds = {n: seedling.stay(n) for n in range(last + 1)}
    for n in range(1, last):
        beside = [bounds[k][1] for k in _beside(n, last) if np.isfinite(bounds[k][1])]
        later = any(k > n and np.isfinite(bounds[k][1]) for k in _beside(n, last))
        if later and len(beside) > 1 and bounds[n][0] >= TWICE * max(beside) > 0:
            return n
    return 0

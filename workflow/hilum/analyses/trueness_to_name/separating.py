"""Which trait would tell two taxa apart, and how many specimens that takes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from hilum.analyses.trueness_to_name.compared import POWER, Found, Rule
from hilum.analyses.trueness_to_name.measured import Published
from hilum.stats import ranges

# a table of every pair of many look-alikes would tell nobody anything
_MOST_PAIRS = 6


@dataclass(frozen=True, kw_only=True)
class Separation:
    """Two taxa that a lot is compatible with, and the trait that would tell them apart best.

    `excludes_other` specimens exclude the second taxon where the lot is like the first, `excludes_one` the other way
    round, inf where none do. Without such a trait `trait` is empty; `exhausted` are traits of which so many specimens
    were measured already: the lot lies where both ranges overlap.
    """

    one: str
    other: str
    trait: str = ""
    specimens: int = 0
    excludes_other: float = np.inf
    excludes_one: float = np.inf
    exhausted: tuple[str, ...] = ()

    @property
    def wanted(self) -> float:
        """Return the specimens that serve both ways, or the one way that there is."""
        both = [n for n in (self.excludes_other, self.excludes_one) if np.isfinite(n)]
        return max(both, default=np.inf)

    @property
    def rank(self) -> tuple[int, float]:
        """Return what makes a trait better than another: both ways before one, then fewer specimens."""
        ways = int(np.isfinite(self.excludes_other)) + int(np.isfinite(self.excludes_one))
        return -ways, self.wanted


def separations(
    found: Found, known: Mapping[tuple[str, str], Published], rule: Rule
) -> list[Separation]:
    """Return for each pair of taxa that are not told apart what would do it; pairs with the label where it is one."""
    left = [c.taxon for c in found.candidates if c.standing in ("compatible", "too_few")]
    label = found.label
    pairs = list(combinations(left, 2))
    if label is not None and label.taxon in left:
        pairs = [pair for pair in pairs if label.taxon in pair]
    return [_best(found, known, rule, pair) for pair in pairs[:_MOST_PAIRS]]


def _best(
    found: Found, known: Mapping[tuple[str, str], Published], rule: Rule, pair: tuple[str, str]
) -> Separation:
    one, other = pair
    shared = [trait for taxon, trait in known if taxon == one and (other, trait) in known]
    tried = [_with(found, known, rule, pair, trait) for trait in shared]
    tried = [separation for separation in tried if np.isfinite(separation.wanted)]
    done = tuple(s.trait for s in tried if s.specimens >= s.wanted)
    left = [s for s in tried if s.specimens < s.wanted]
    if not left:
        return Separation(one=one, other=other, exhausted=done)
    return min(left, key=lambda separation: separation.rank)


def _with(
    found: Found,
    known: Mapping[tuple[str, str], Published],
    rule: Rule,
    pair: tuple[str, str],
    trait: str,
) -> Separation:
    one, other = pair
    measured = {t.trait: len(t.specimens) for t in found.lot.traits}
    ways = ((one, other), (other, one))
    # specimens of a taxon that lie outside its own range may lie anywhere, so that only the others are reckoned with
    shares = (rule.covers * known[a, trait].beyond(known[b, trait]) for a, b in ways)
    # the trait is one of those that are tested together
    tests = (len({*measured, trait} & {t for taxon, t in known if taxon == b}) for _, b in ways)
    excludes_other, excludes_one = (
        ranges.specimens_wanted(
            round(share, 6), allowed=rule.allowed, level=rule.level / number, power_wanted=POWER
        )
        for share, number in zip(shares, tests, strict=True)
    )
    return Separation(
        one=one,
        other=other,
        trait=trait,
        specimens=measured.get(trait, 0),
        excludes_other=excludes_other,
        excludes_one=excludes_one,
    )

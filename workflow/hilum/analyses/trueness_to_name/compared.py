"""Each lot held against each taxon: trait by trait, and all traits together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from hilum.analyses.trueness_to_name.measured import Lot, Measured, Published
from hilum.stats import ranges
from hilum.stats.proportions import holm

POWER = 0.8  # of samples of a size
Standing = Literal["excluded", "compatible", "too_few", "unreferenced"]
Verdict = Literal[
    "no_references",
    "unreferenced",
    "one_specimen",
    "too_few",
    "label_unlisted",
    "label_unreferenced",
    "none_compatible",
    "label_excluded",
    "only_label",
    "label_alone",
    "not_told_apart",
    "all_compatible",
]


@dataclass(frozen=True, kw_only=True)
class Compared:
    """One trait of a lot against one taxon: `outside` of `specimens`, with exact limits of that share of the lot.

    `p` is the chance of as many outside if the lot were of that taxon, `p_adjusted` takes all traits into account
    (Holm), and `excludes` says whether that chance is too small.
    """

    published: Published
    specimens: int
    outside: int
    below: int
    above: int
    low: float
    high: float
    p: float
    p_adjusted: float = 1.0
    excludes: bool = False

    @property
    def trait(self) -> str:
        """Return the trait."""
        return self.published.trait


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """A taxon that a lot may belong to, and how the lot stands to it.

    `decisive` is the trait that speaks most against it, `covers_less` the share of its specimens below which its
    published range would have to cover for the lot to be compatible after all. `noticed` is the share of a lot outside a range that
    excludes the taxon in samples of this size with the usual power.
    """

    taxon: str
    is_label: bool
    standing: Standing
    traits: tuple[Compared, ...]
    decisive: Compared | None = None
    covers_less: float | None = None
    noticed: float | None = None


@dataclass(frozen=True, kw_only=True)
class Found:
    """What was found of a lot: one verdict, and each candidate, that of the label first."""

    lot: Lot
    verdict: Verdict
    candidates: tuple[Candidate, ...]

    def of(self, standing: Standing) -> list[Candidate]:
        """Return the candidates of one standing."""
        return [one for one in self.candidates if one.standing == standing]

    @property
    def label(self) -> Candidate | None:
        """Return the taxon of the label, None where nothing is published of it."""
        return next((one for one in self.candidates if one.is_label), None)


@dataclass(frozen=True)
class Rule:
    """What is assumed: a range covers at least `covers` of the specimens of its taxon; and the confidence."""

    covers: float
    confidence: float

    @property
    def allowed(self) -> float:
        """Return the share of a taxon that may lie outside its published range."""
        return 1 - self.covers

    @property
    def level(self) -> float:
        """Return how often at most a true taxon may be excluded."""
        return 1 - self.confidence


def find(lot: Lot, known: Mapping[tuple[str, str], Published], rule: Rule) -> Found:
    """Return how a lot stands to every taxon of which something is published."""
    taxa = list(dict.fromkeys(taxon for taxon, _ in known))
    taxa.sort(key=lambda taxon: taxon != lot.label)
    candidates = tuple(_candidate(lot, taxon, known, rule) for taxon in taxa)
    return Found(lot=lot, verdict=_verdict(lot, candidates), candidates=candidates)


def _candidate(
    lot: Lot, taxon: str, known: Mapping[tuple[str, str], Published], rule: Rule
) -> Candidate:
    pairs = [
        (trait, known[taxon, trait.trait]) for trait in lot.traits if (taxon, trait.trait) in known
    ]
    is_label = taxon == lot.label
    if not pairs:
        return Candidate(taxon=taxon, is_label=is_label, standing="unreferenced", traits=())
    traits = _holm([_compared(*pair, rule) for pair in pairs], rule)
    decisive = min(traits, key=lambda one: one.p)
    level = rule.level / len(traits)
    most = ranges.least_outside(decisive.outside, decisive.specimens, level=level)
    excluded = any(one.excludes for one in traits)
    return Candidate(
        taxon=taxon,
        is_label=is_label,
        standing="excluded" if excluded else _not_excluded(traits, rule),
        traits=tuple(traits),
        decisive=decisive if decisive.outside else None,
        covers_less=1 - most if excluded else None,
        noticed=_noticed(traits, rule),
    )


def _compared(trait: Measured, published: Published, rule: Rule) -> Compared:
    outside, n = int(trait.outside(published).sum()), len(trait.specimens)
    low, high = ranges.clopper_pearson(outside, n, confidence=rule.confidence)
    return Compared(
        published=published,
        specimens=n,
        outside=outside,
        below=int(trait.below(published).sum()),
        above=int(trait.above(published).sum()),
        low=float(low),
        high=float(high),
        p=float(ranges.chance(outside, n, allowed=rule.allowed)),
    )


def _holm(traits: Sequence[Compared], rule: Rule) -> list[Compared]:
    """Return the traits with all of them taken into account, so that many traits accuse no taxon by chance."""
    adjusted = holm(np.array([one.p for one in traits]))
    return [
        replace(one, p_adjusted=float(p), excludes=bool(p <= rule.level))
        for one, p in zip(traits, adjusted, strict=True)
    ]


def _not_excluded(traits: Sequence[Compared], rule: Rule) -> Standing:
    """Return whether any result of so few specimens could have excluded the taxon at all."""
    level = rule.level / len(traits)
    n = np.array([one.specimens for one in traits])
    could = ranges.fewest_outside(n, allowed=rule.allowed, level=level) <= n
    return "compatible" if could.any() else "too_few"


def _noticed(traits: Sequence[Compared], rule: Rule) -> float | None:
    """Return the smallest share outside that excludes the taxon with the usual power, by the trait with most specimens."""
    n, level = max(one.specimens for one in traits), rule.level / len(traits)
    share = ranges.noticed(n, allowed=rule.allowed, level=level, power_wanted=POWER)
    return None if np.isnan(share) else share


def _verdict(lot: Lot, candidates: Sequence[Candidate]) -> Verdict:
    standings = {one.standing for one in candidates}
    if not candidates:
        return "no_references"
    if standings == {"unreferenced"}:
        return "unreferenced"
    if not standings & {"excluded", "compatible"}:
        return "one_specimen" if lot.specimens == 1 else "too_few"
    return _of_label(candidates[0], candidates)


def _of_label(first: Candidate, candidates: Sequence[Candidate]) -> Verdict:
    """Return the verdict where something can be said of some taxon; `first` is the label's, if nothing else stands there."""
    if not first.is_label:
        return "label_unlisted"
    if first.standing == "unreferenced":
        return "label_unreferenced"
    if first.standing == "too_few":
        return "too_few"
    left = [one for one in candidates if one.standing in ("compatible", "too_few")]
    if first.standing == "excluded":
        return "label_excluded" if left else "none_compatible"
    excluded = any(one.standing == "excluded" for one in candidates)
    if len(left) == 1:
        return "label_alone" if excluded else "only_label"
    return "not_told_apart" if excluded else "all_compatible"

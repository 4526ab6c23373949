"""What the treatments of a lot did to its coats: whether there is physical dormancy, and what opened it.

Physical dormancy is shown by two things together: intact seeds stay dry, and opened seeds take up water.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from hilum.analyses.estimate import Estimate
from hilum.stats import proportions
from hilum.stats.arrays import Array

# each seed's coat is opened by hand, so that it is open for sure
ONE_BY_ONE = frozenset({"chipping", "filing"})
_FEWEST_HARD = 0.5  # expected impermeable seeds, below which surely none was seen

Verdict = Literal[
    "physical_dormancy",
    "coat_lets_water_in",
    "too_few",
    "not_opened",
    "no_opened",
    "no_intact",
    "cannot_tell",
]


@dataclass(frozen=True)
class Methods:
    """What was done to the seeds of each treatment."""

    of: Mapping[str, frozenset[str]]

    def intact(self, treatment: str) -> bool:
        """Return whether nothing was done to the coat."""
        return self.of.get(treatment, frozenset()) == {"none"}

    def opened_one_by_one(self, treatment: str) -> bool:
        """Return whether each coat was opened by hand."""
        return bool(self.of.get(treatment, frozenset()) & ONE_BY_ONE)


@dataclass(frozen=True, kw_only=True)
class Coats:
    """What the impermeable fractions of one lot's treatments say of its coats.

    `opened` are the treatments whose seeds surely took up water more often than the intact ones, `not_shown`
    the others; `intact` the untreated seeds that they are held against.
    """

    lot: str
    verdict: Verdict
    intact: str
    opened: tuple[str, ...]
    not_shown: tuple[str, ...]


def methods(treatments: Mapping[str, np.ndarray] | None) -> Methods:
    """Return the methods of each treatment; none are known where there is no table of treatments."""
    found: dict[str, set[str]] = {}
    if treatments is not None:
        names = zip(treatments["treatment"].tolist(), treatments["method"].tolist(), strict=True)
        for treatment, method in names:
            found.setdefault(treatment, set()).add(method)
    return Methods({treatment: frozenset(steps) for treatment, steps in found.items()})


def verdict(
    estimates: Sequence[Estimate],
    seeds: Mapping[str, int],
    references: Collection[str],
    known: Methods,
) -> Coats:
    """Return what the impermeable fractions of one lot's treatments say of its coats.

    `seeds` counts those of each treatment, `references` are treatments weighed together that show the full gain.
    """
    told = [e for e in estimates if e.status == "estimated"]
    intact = max(
        (e for e in told if known.intact(e.treatment)),
        key=lambda e: seeds[e.treatment],
        default=None,
    )
    treated = [e for e in told if not known.intact(e.treatment)]
    opened = [e.treatment for e in treated if intact and _fewer(e, intact)] + list(references)
    return Coats(
        lot=estimates[0].lot,
        verdict=_verdict(estimates, seeds, known, intact, treated, opened),
        intact=intact.treatment if intact else "",
        opened=tuple(opened),
        not_shown=tuple(e.treatment for e in treated if e.treatment not in opened),
    )


def _fewer(treated: Estimate, intact: Estimate) -> bool:
    """Return whether surely fewer seeds are impermeable than without treatment."""
    (value, low, high), others = _numbers(treated), _numbers(intact)
    pairs = zip((value, low, high), others, strict=True)
    _, _, upper = proportions.difference(*pairs)
    return bool(upper < 0)


def _numbers(e: Estimate) -> tuple[Array, Array, Array]:
    value, low, high = (np.array(x, dtype=float) for x in (e.value, e.low, e.high))
    return value, low, high


def _verdict(
    estimates: Sequence[Estimate],
    seeds: Mapping[str, int],
    known: Methods,
    intact: Estimate | None,
    treated: Sequence[Estimate],
    opened: Sequence[str],
) -> Verdict:
    if intact is None or intact.value is None:
        untreated = any(known.intact(e.treatment) for e in estimates)
        return "cannot_tell" if untreated else "no_intact"
    if intact.value * seeds[intact.treatment] < _FEWEST_HARD:
        return "coat_lets_water_in"
    if opened:
        return "physical_dormancy"
    if any((e.value or 0.0) < intact.value / 2 for e in treated):
        return "too_few"
    return "not_opened" if treated else "no_opened"

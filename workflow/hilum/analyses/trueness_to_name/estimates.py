"""What is printed of a lot: the share outside each published range, whether a taxon is compatible, and the rows of its tables."""

from __future__ import annotations

import numpy as np

from hilum.analyses.estimate import Estimate
from hilum.analyses.printer import Printer
from hilum.analyses.trueness_to_name import words
from hilum.analyses.trueness_to_name.compared import Candidate, Found, Rule

_SHARE = "share of the specimens, exact limits (Clopper and Pearson)"
_TEST = (
    "exact binomial test of each trait, Holm over {} trait{}; a range taken to cover {:g} % or more"
)


def versus(taxon: str, trait: str) -> str:
    """Return what a share is compared with: a taxon and a trait."""
    return f"{taxon}: {trait}"


def of_lot(found: Found, rule: Rule) -> list[Estimate]:
    """Return the share outside of every range, then the standing of every taxon."""
    printer = Printer((found.lot.lot, "", np.nan, ""), rule.confidence)
    shares = [
        printer.estimated(
            "outside_range",
            one.outside / one.specimens,
            one.low,
            one.high,
            method=_SHARE,
            versus=versus(candidate.taxon, one.trait),
        )
        for candidate in found.candidates
        for one in candidate.traits
    ]
    return [*shares, *_without_range(found, printer), *_standings(found, rule, printer)]


def _without_range(found: Found, printer: Printer) -> list[Estimate]:
    """Return the traits of which nothing is published of any taxon."""
    known = {one.trait for candidate in found.candidates for one in candidate.traits}
    return [
        printer.not_identified("outside_range", method=_SHARE, needs=needs, versus=trait.trait)
        for trait in found.lot.traits
        if trait.trait not in known
        for needs in [words.NO_RANGE if found.candidates else words.NO_REFERENCES]
    ]


def _standings(found: Found, rule: Rule, printer: Printer) -> list[Estimate]:
    return [_standing(found, candidate, rule, printer) for candidate in found.candidates]


def _standing(found: Found, one: Candidate, rule: Rule, printer: Printer) -> Estimate:
    number = len(one.traits)
    method = _TEST.format(number, "" if number == 1 else "s", 100 * rule.covers)
    about = {"method": method, "versus": one.taxon}
    if one.standing == "unreferenced":
        needs = words.nothing_of(one.taxon)
        return printer.not_identified("compatible", needs=needs, **about)
    if one.standing == "too_few":
        needs = words.ONE if found.lot.specimens == 1 else words.TOO_FEW
        return printer.not_identified("compatible", needs=needs, **about)
    yes = float(one.standing == "compatible")
    return printer.estimated("compatible", yes, yes, yes, **about)


def range_rows(found: Found) -> list[dict[str, object]]:
    """Return a row for each taxon and trait of a lot."""
    return [
        {
            "lot": found.lot.lot,
            "taxon": candidate.taxon,
            "trait": one.trait,
            "published": one.published.words,
            "specimens": one.specimens,
            "outside": one.outside,
            "below": one.below,
            "above": one.above,
            "p": one.p,
            "p_adjusted": one.p_adjusted,
            "excludes": "yes" if one.excludes else "no",
            "source": "; ".join(one.published.sources),
        }
        for candidate in found.candidates
        for one in candidate.traits
    ]


def outside_rows(found: Found) -> list[dict[str, object]]:
    """Return the specimens that lie outside what is published of the taxon on the label."""
    if found.label is None:
        return []
    published = {one.trait: one.published for one in found.label.traits}
    return [
        {
            "specimen": trait.specimens[i],
            "lot": found.lot.lot,
            "trait": trait.trait,
            "measured": f"{trait.values[i]:g} {trait.unit}" if trait.measured else trait.states[i],
            "published": published[trait.trait].words,
        }
        for trait in found.lot.traits
        if trait.trait in published
        for i in np.flatnonzero(trait.outside(published[trait.trait]))
    ]

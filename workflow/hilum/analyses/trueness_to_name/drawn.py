"""What the charts and the page say of each lot, and the rows of its tables."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from hilum.analyses.printer import number_or_none
from hilum.analyses.trueness_to_name.compared import POWER, Candidate, Compared, Found, Rule
from hilum.analyses.trueness_to_name.measured import Measured, Published, fold
from hilum.analyses.trueness_to_name.separating import Separation
from hilum.stats import ranges


def lot(found: Found, separations: Sequence[Separation], rule: Rule) -> dict[str, Any]:
    """Return verdict, candidates, traits and what would separate the candidates of one lot."""
    return {
        "lot": found.lot.lot,
        "treatment": "",
        "label": found.lot.label,
        "verdict": found.verdict,
        "specimens": found.lot.specimens,
        "covers": rule.covers,
        "power": POWER,
        "fewest": int(np.ceil(np.log(rule.level) / np.log(rule.allowed))),
        "noticed_by_thirty": ranges.noticed(
            30, allowed=rule.allowed, level=rule.level, power_wanted=POWER
        ),
        "candidates": [_candidate(one) for one in found.candidates],
        "traits": [_trait(one, found, rule) for one in found.lot.traits],
        "separations": [_separation(one) for one in separations],
    }


def _candidate(one: Candidate) -> dict[str, Any]:
    return {
        "taxon": one.taxon,
        "is_label": one.is_label,
        "standing": one.standing,
        "decisive": one.decisive.trait if one.decisive else "",
        "covers_less": one.covers_less,
        "noticed": one.noticed,
        "traits": [_compared(trait) for trait in one.traits],
    }


def _compared(one: Compared) -> dict[str, Any]:
    return {
        "trait": one.trait,
        "measured": one.published.measured,
        "published": one.published.words,
        "rounded": _rounded(one.published),
        "sources": len(one.published.sources),
        "specimens": one.specimens,
        "outside": one.outside,
        "below": one.below,
        "above": one.above,
        "p": one.p,
        "p_adjusted": one.p_adjusted,
        "excludes": one.excludes,
    }


def _rounded(told: Published) -> str:
    """Return the range with what was rounded away, as a page shows it; empty for states and for exact ends."""
    if not told.measured or told.most - told.high < 1e-6:
        return ""
    return f"{told.least:.6g} to {told.most:.6g} {told.unit}".strip()


def _trait(trait: Measured, found: Found, rule: Rule) -> dict[str, Any]:
    known = [one for c in found.candidates for one in c.traits if one.trait == trait.trait]
    named = {fold(s) for one in known for s in one.published.states}
    return {
        "trait": trait.trait,
        "unit": trait.unit,
        "measured": trait.measured,
        "specimens": len(trait.specimens),
        "known": bool(known),
        "least_between": ranges.least_between(len(trait.specimens), confidence=rule.confidence),
        # a state that no source names may be spelled otherwise there
        "unnamed": [s for s in dict.fromkeys(trait.states) if named and s and fold(s) not in named],
        **(_numbers(trait) if trait.measured else _states(trait)),
    }


def _numbers(trait: Measured) -> dict[str, Any]:
    low, middle, high = (float(f(trait.values)) for f in (np.min, np.median, np.max))
    return {"smallest": low, "median": middle, "largest": high, "values": trait.values.tolist()}


def _states(trait: Measured) -> dict[str, Any]:
    spelled: dict[str, str] = {}
    for state in trait.states:
        spelled.setdefault(fold(state), state)
    counts = Counter(spelled[fold(state)] for state in trait.states)
    return {"states": [{"state": s, "specimens": n} for s, n in counts.most_common()]}


def _separation(one: Separation) -> dict[str, Any]:
    return {
        "one": one.one,
        "other": one.other,
        "trait": one.trait,
        "specimens": one.specimens,
        "excludes_other": number_or_none(one.excludes_other),
        "excludes_one": number_or_none(one.excludes_one),
        "exhausted": list(one.exhausted),
    }


def published(known: Mapping[tuple[str, str], Published]) -> list[dict[str, Any]]:
    """Return what is published, for the charts."""
    return [
        {
            "taxon": one.taxon,
            "trait": one.trait,
            "unit": one.unit,
            "low": number_or_none(one.low),
            "high": number_or_none(one.high),
            "states": list(one.states),
            "source": "; ".join(one.sources),
        }
        for one in known.values()
    ]


def range_rows(found: Found) -> list[dict[str, Any]]:
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


def outside_rows(found: Found) -> list[dict[str, Any]]:
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

"""What charts and page of trueness to name draw and say: each lot against each taxon, and what is published."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from hilum.analyses.printer import number_or_none
from hilum.analyses.trueness_to_name import compared, measured, separating
from hilum.analyses.trueness_to_name.compared import POWER, Found, Rule, Standing, Verdict
from hilum.analyses.trueness_to_name.measured import fold
from hilum.stats import ranges


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """One trait of a lot against one taxon: how many specimens lie outside, and the chance of it, for all traits also."""

    trait: str
    measured: bool
    published: str
    rounded: str
    sources: int
    specimens: int
    outside: int
    below: int
    above: int
    p: float
    p_adjusted: float
    excludes: bool


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """A taxon that a lot may belong to; `decisive` is the trait that speaks most against it, empty where none does."""

    taxon: str
    is_label: bool
    standing: Standing
    decisive: str
    covers_less: float | None
    noticed: float | None
    traits: tuple[Comparison, ...]


@dataclass(frozen=True, kw_only=True)
class _Trait:
    """One trait of a lot; the share of the lot between its extremes at least, and states that no source names."""

    trait: str
    unit: str
    measured: bool
    specimens: int
    known: bool
    least_between: float
    unnamed: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Numbers(_Trait):
    """A trait that is a number, in its unit."""

    smallest: float
    median: float
    largest: float
    values: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class State:
    """A state of a trait, as first spelled, and how many specimens have it."""

    state: str
    specimens: int


@dataclass(frozen=True, kw_only=True)
class States(_Trait):
    """A trait that is no number: its states, the commonest first."""

    states: tuple[State, ...]


@dataclass(frozen=True, kw_only=True)
class Separation:
    """The trait that would tell two taxa apart best, and how many specimens of it exclude either."""

    one: str
    other: str
    trait: str
    specimens: int
    excludes_other: float | None
    excludes_one: float | None
    exhausted: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Lot:
    """One lot; `fewest` specimens could exclude a taxon, and 30 notice a share outside of `noticed_by_thirty`."""

    lot: str
    treatment: str
    label: str
    verdict: Verdict
    specimens: int
    covers: float
    power: float
    fewest: int
    noticed_by_thirty: float
    candidates: tuple[Candidate, ...]
    traits: tuple[Numbers | States, ...]
    separations: tuple[Separation, ...]


@dataclass(frozen=True, kw_only=True)
class Published:
    """What is published of one trait of one taxon: the ends of a range as printed in its unit, or states."""

    taxon: str
    trait: str
    unit: str
    low: float | None
    high: float | None
    states: tuple[str, ...]
    source: str


@dataclass(frozen=True, kw_only=True)
class View:
    """Every lot that was measured, and all that is published."""

    lots: tuple[Lot, ...]
    published: tuple[Published, ...]


def of(
    found: Iterable[tuple[Found, Sequence[separating.Separation]]],
    known: Iterable[measured.Published],
    rule: Rule,
) -> View:
    """Return what charts and page draw and say, from what was found of each lot and would separate its candidates."""
    lots = tuple(_lot(one, separations, rule) for one, separations in found)
    return View(lots=lots, published=tuple(_published(one) for one in known))


def _lot(found: Found, separations: Sequence[separating.Separation], rule: Rule) -> Lot:
    noticed = ranges.noticed(30, allowed=rule.allowed, level=rule.level, power_wanted=POWER)
    return Lot(
        lot=found.lot.lot,
        treatment="",
        label=found.lot.label,
        verdict=found.verdict,
        specimens=found.lot.specimens,
        covers=rule.covers,
        power=POWER,
        fewest=int(np.ceil(np.log(rule.level) / np.log(rule.allowed))),
        noticed_by_thirty=noticed,
        candidates=tuple(_candidate(one) for one in found.candidates),
        traits=tuple(_trait(one, found, rule) for one in found.lot.traits),
        separations=tuple(_separation(one) for one in separations),
    )


def _candidate(one: compared.Candidate) -> Candidate:
    return Candidate(
        taxon=one.taxon,
        is_label=one.is_label,
        standing=one.standing,
        decisive=one.decisive.trait if one.decisive else "",
        covers_less=one.covers_less,
        noticed=one.noticed,
        traits=tuple(_comparison(trait) for trait in one.traits),
    )


def _comparison(one: compared.Compared) -> Comparison:
    return Comparison(
        trait=one.trait,
        measured=one.published.measured,
        published=one.published.words,
        rounded=_rounded(one.published),
        sources=len(one.published.sources),
        specimens=one.specimens,
        outside=one.outside,
        below=one.below,
        above=one.above,
        p=one.p,
        p_adjusted=one.p_adjusted,
        excludes=one.excludes,
    )


def _rounded(told: measured.Published) -> str:
    """Return the range with what was rounded away, as a page shows it; empty for states and for exact ends."""
    if not told.measured or told.most - told.high < 1e-6:
        return ""
    return f"{told.least:.6g} to {told.most:.6g} {told.unit}".strip()


def _trait(trait: measured.Measured, found: Found, rule: Rule) -> Numbers | States:
    known = [one for c in found.candidates for one in c.traits if one.trait == trait.trait]
    same = _Trait(
        trait=trait.trait,
        unit=trait.unit,
        measured=trait.measured,
        specimens=len(trait.specimens),
        known=bool(known),
        least_between=ranges.least_between(len(trait.specimens), confidence=rule.confidence),
        unnamed=_unnamed(trait, known),
    )
    if not trait.measured:
        return States(**vars(same), states=_states(trait.states))
    low, middle, high = (float(f(trait.values)) for f in (np.min, np.median, np.max))
    values = tuple(trait.values.tolist())
    return Numbers(**vars(same), smallest=low, median=middle, largest=high, values=values)


def _unnamed(trait: measured.Measured, known: Sequence[compared.Compared]) -> tuple[str, ...]:
    """Return states that no source names, which may be spelled otherwise there."""
    named = {fold(s) for one in known for s in one.published.states}
    return tuple(s for s in dict.fromkeys(trait.states) if named and s and fold(s) not in named)


def _states(states: Sequence[str]) -> tuple[State, ...]:
    spelled: dict[str, str] = {}
    for state in states:
        spelled.setdefault(fold(state), state)
    counts = Counter(spelled[fold(state)] for state in states)
    return tuple(State(state=s, specimens=n) for s, n in counts.most_common())


def _separation(one: separating.Separation) -> Separation:
    return Separation(
        one=one.one,
        other=one.other,
        trait=one.trait,
        specimens=one.specimens,
        excludes_other=number_or_none(one.excludes_other),
        excludes_one=number_or_none(one.excludes_one),
        exhausted=one.exhausted,
    )


def _published(one: measured.Published) -> Published:
    return Published(
        taxon=one.taxon,
        trait=one.trait,
        unit=one.unit,
        low=number_or_none(one.low),
        high=number_or_none(one.high),
        states=one.states,
        source="; ".join(one.sources),
    )

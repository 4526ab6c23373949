"""Specimens drawn from known taxa, and the ranges that somebody published of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from scipy.special import ndtr, ndtri

from hilum.analyses.simulated import as_table


@dataclass(frozen=True, kw_only=True)
class TrueTrait:
    """One trait of a taxon: normal with a mean and an sd, or states with their shares."""

    trait: str
    mean: float = 0.0
    sd: float = 0.0
    unit: str = "mm"
    states: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class TrueTaxon:
    """A taxon and its traits; `published` where somebody wrote about it."""

    taxon: str
    traits: tuple[TrueTrait, ...]
    published: bool = True

    def trait(self, name: str) -> TrueTrait:
        """Return a trait by its name."""
        return next(trait for trait in self.traits if trait.trait == name)


@dataclass(frozen=True, kw_only=True)
class TrueLot:
    """A lot: its label, the taxon that it really is of, and by how much a poor season shrank what is measured in it."""

    lot: str
    label: str
    taxon: str
    specimens: int = 40
    shrunk: float = 1.0
    traits: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class TruenessTruth:
    """What is true: taxa, lots, and the share of its specimens that each published range covers."""

    taxa: tuple[TrueTaxon, ...]
    lots: tuple[TrueLot, ...]
    covers: float = 0.95
    decimals: int = 1

    def taxon(self, name: str) -> TrueTaxon:
        """Return a taxon by its name."""
        return next(taxon for taxon in self.taxa if taxon.taxon == name)


# invented from end to end
FIRST = TrueTaxon(
    taxon="Fabula prima",
    traits=(
        TrueTrait(trait="seed length", mean=7.4, sd=0.4),
        TrueTrait(trait="seed width", mean=5.2, sd=0.3),
        TrueTrait(trait="seed shape", unit="", states={"kidney-shaped": 0.96, "round": 0.04}),
    ),
)
LIKE = TrueTaxon(
    taxon="Fabula similis",
    traits=(
        TrueTrait(trait="seed length", mean=7.9, sd=0.4),
        TrueTrait(trait="seed width", mean=5.3, sd=0.3),
        TrueTrait(trait="seed shape", unit="", states={"kidney-shaped": 0.9, "round": 0.1}),
    ),
)
SMALL = TrueTaxon(
    taxon="Fabula parva",
    traits=(
        TrueTrait(trait="seed length", mean=5.6, sd=0.3),
        TrueTrait(trait="seed width", mean=4.1, sd=0.3),
        TrueTrait(trait="seed shape", unit="", states={"round": 1.0}),
    ),
)
TRUTH = TruenessTruth(
    taxa=(FIRST, LIKE, SMALL),
    lots=(
        TrueLot(lot="first", label="Fabula prima", taxon="Fabula prima"),
        TrueLot(lot="second", label="Fabula prima", taxon="Fabula parva"),
    ),
)


def published_range(trait: TrueTrait, truth: TruenessTruth) -> tuple[float, float]:
    """Return the ends of a published range: the middle share `covers` of the specimens, rounded."""
    reach = trait.sd * float(ndtri((1 + truth.covers) / 2))
    low, high = (round(trait.mean + side * reach, truth.decimals) for side in (-1, 1))
    return low, high


def published_states(trait: TrueTrait, truth: TruenessTruth) -> tuple[str, ...]:
    """Return the most frequent states that make up `covers` of the specimens."""
    told: list[str] = []
    for state in sorted(trait.states, key=lambda s: -trait.states[s]):
        if sum(trait.states[s] for s in told) < truth.covers:
            told.append(state)
    return tuple(told)


def outside(truth: TruenessTruth, lot: TrueLot, taxon: str, trait: str) -> float:
    """Return the share of a lot that lies outside what is published of a trait of a taxon."""
    own, other = truth.taxon(lot.taxon).trait(trait), truth.taxon(taxon).trait(trait)
    if own.states:
        told = published_states(other, truth)
        return sum(share for state, share in own.states.items() if state not in told)
    ends = np.array(published_range(other, truth))
    below, above = ndtr((ends / lot.shrunk - own.mean) / own.sd)
    return float(1 - (above - below))


def simulate(truth: TruenessTruth, *, rng: np.random.Generator) -> dict[str, dict[str, np.ndarray]]:
    """Return the checked tables traits, reference_traits and lots."""
    measured = [row for lot in truth.lots for row in _specimens(truth, lot, rng)]
    told = [
        {"taxon": taxon.taxon, "trait": trait.trait, **_told(trait, truth)}
        for taxon in truth.taxa
        if taxon.published
        for trait in taxon.traits
    ]
    lots = [{"lot": lot.lot, "taxon": lot.label} for lot in truth.lots]
    return {
        "traits": as_table("traits", measured),
        "reference_traits": as_table("reference_traits", told),
        "lots": as_table("lots", lots),
    }


def _told(trait: TrueTrait, truth: TruenessTruth) -> dict[str, float | str]:
    about: dict[str, float | str] = {"unit": trait.unit, "source": "invented"}
    if trait.states:
        return about | {"states": "; ".join(published_states(trait, truth))}
    low, high = published_range(trait, truth)
    return about | {"low": low, "high": high}


def _specimens(
    truth: TruenessTruth, lot: TrueLot, rng: np.random.Generator
) -> list[dict[str, float | str]]:
    rows: list[dict[str, float | str]] = []
    for number in range(1, lot.specimens + 1):
        for trait in truth.taxon(lot.taxon).traits:
            if lot.traits and trait.trait not in lot.traits:
                continue
            name = f"{lot.lot}-{number:03d}"
            rows.append({"specimen": name, "lot": lot.lot, **_seen(trait, lot, rng)})
    return rows


def _seen(trait: TrueTrait, lot: TrueLot, rng: np.random.Generator) -> dict[str, float | str]:
    seen: dict[str, float | str] = {"trait": trait.trait, "unit": trait.unit}
    if trait.states:
        state = rng.choice(list(trait.states), p=list(trait.states.values()))
        return seen | {"state": str(state)}
    value = lot.shrunk * (trait.mean + trait.sd * rng.normal())
    return seen | {"value": round(float(value), 2)}

"""From the tables to each lot's measured traits, and to what is published of each taxon."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import reduce
from typing import Any

import numpy as np

from hilum.analyses.estimate import Tables
from hilum.stats import ranges
from hilum.stats.arrays import Array
from hilum.tables.reference_traits import states_of

_EVEN = 1e-9  # rounding of a sum such as 6.8 − 0.05


@dataclass(frozen=True, kw_only=True)
class Published:
    """What is published of one trait of one taxon: a range (nan where it has none), or the states that occur.

    Several sources are taken together: the widest range, and all states. `low` and `high` are the ends as printed; what was
    rounded may lie half a step beyond them, so that a specimen is outside where it lies beyond `least` and `most`.
    """

    taxon: str
    trait: str
    unit: str
    low: float
    high: float
    least: float
    most: float
    states: tuple[str, ...]
    sources: tuple[str, ...]

    @property
    def measured(self) -> bool:
        """Return whether it is a range of numbers."""
        return not np.isnan(self.low)

    @property
    def words(self) -> str:
        """Return the range or the states as a page shows them."""
        if not self.measured:
            return " or ".join(self.states)
        return f"{self.low:g} to {self.high:g} {self.unit}".strip()

    def joined(self, other: Published) -> Published:
        """Return both sources together."""
        known = [fold(state) for state in self.states]
        return Published(
            taxon=self.taxon,
            trait=self.trait,
            unit=self.unit,
            low=float(np.fmin(self.low, other.low)),
            high=float(np.fmax(self.high, other.high)),
            least=float(np.fmin(self.least, other.least)),
            most=float(np.fmax(self.most, other.most)),
            states=(*self.states, *(s for s in other.states if fold(s) not in known)),
            sources=tuple(dict.fromkeys((*self.sources, *other.sources))),
        )

    def beyond(self, other: Published) -> float:
        """Return the share of this range that lies outside the other one, if all of it is equally common."""
        if self.measured:
            return ranges.share_beyond((self.low, self.high), (other.least, other.most))
        theirs = [fold(state) for state in other.states]
        return sum(fold(s) not in theirs for s in self.states) / len(self.states)


@dataclass(frozen=True, kw_only=True)
class Measured:
    """One trait of the specimens of a lot: `values` are nan where `states` were judged, (n,) each."""

    trait: str
    unit: str
    specimens: tuple[str, ...]
    values: Array
    states: tuple[str, ...]

    @property
    def measured(self) -> bool:
        """Return whether it is a number."""
        return not np.isnan(self.values).any()

    def below(self, published: Published) -> np.ndarray:
        """Return which specimens lie below a published range, rounded ends allowed for, (n,)."""
        return np.asarray(self.values < published.least)

    def above(self, published: Published) -> np.ndarray:
        """Return which specimens lie above a published range, rounded ends allowed for, (n,)."""
        return np.asarray(self.values > published.most)

    def outside(self, published: Published) -> np.ndarray:
        """Return which specimens lie outside a published range, or have a state that is not published, (n,)."""
        if published.measured:
            return np.asarray(self.below(published) | self.above(published))
        known = [fold(state) for state in published.states]
        return np.array([fold(state) not in known for state in self.states], dtype=bool)


@dataclass(frozen=True, kw_only=True)
class Lot:
    """A lot, the taxon on its label, and its measured traits."""

    lot: str
    label: str
    traits: tuple[Measured, ...] = field(default_factory=tuple)

    @property
    def specimens(self) -> int:
        """Return how many specimens were looked at in any way."""
        return len({name for trait in self.traits for name in trait.specimens})


def fold(state: str) -> str:
    """Return a state without capitals and doubled spaces, which tell nothing apart."""
    return " ".join(state.split()).casefold()


def published(tables: Tables) -> dict[tuple[str, str], Published]:
    """Return what is published, by taxon and trait, in the order of the table."""
    found: dict[tuple[str, str], list[Published]] = {}
    names = ("taxon", "trait", "low", "high", "rounded_to", "states", "unit", "source")
    for taxon, trait, low, high, step, states, unit, source in _rows(
        tables, "reference_traits", *names
    ):
        least, most = _unrounded(float(low), float(high), float(step))
        one = Published(
            taxon=taxon,
            trait=trait,
            unit=unit,
            low=float(low),
            high=float(high),
            least=least,
            most=most,
            states=states_of(states),
            sources=(source,),
        )
        found.setdefault((taxon, trait), []).append(one)
    return {key: reduce(Published.joined, several) for key, several in found.items()}


def _unrounded(low: float, high: float, step: float) -> tuple[float, float]:
    """Return the ends that a range may have had before it was printed: half a step beyond; the ends belong to it."""
    if np.isnan(low):
        return low, high
    half = (ranges.printed_step(low, high) if np.isnan(step) else step) / 2 + _EVEN
    return low - half, high + half


def lots(tables: Tables) -> list[Lot]:
    """Return the lots whose specimens were measured, in the order of the table."""
    labels: dict[str, str] = dict(_rows(tables, "lots", "lot", "taxon"))
    found: dict[str, dict[str, list[tuple[str, float, str, str]]]] = {}
    names = ("lot", "trait", "specimen", "value", "state", "unit")
    for lot, trait, specimen, value, state, unit in _rows(tables, "traits", *names):
        rows = found.setdefault(lot, {}).setdefault(trait, [])
        rows.append((specimen, value, state, unit))
    return [
        Lot(
            lot=lot,
            label=labels.get(lot, ""),
            traits=tuple(_measured(trait, rows) for trait, rows in traits.items()),
        )
        for lot, traits in found.items()
    ]


def _measured(trait: str, rows: list[tuple[str, float, str, str]]) -> Measured:
    specimens, values, states, units = zip(*rows, strict=True)
    return Measured(
        trait=trait,
        unit=next((unit for unit in units if unit), ""),
        specimens=specimens,
        values=np.array(values, dtype=float),
        states=states,
    )


def _rows(tables: Tables, table: str, *names: str) -> list[tuple[Any, ...]]:
    """Return some columns of a table row by row, none where the study has no such table."""
    if table not in tables:
        return []
    return list(zip(*(tables[table][name].tolist() for name in names), strict=True))

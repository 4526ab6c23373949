"""A figure of some seeds as a record, and the words of a page taken apart."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from tests.consistency.recount import Seeds

NUMBER = r"(-?\d[\d,]*(?:\.\d+)?)"
SHARE = re.compile(rf"{NUMBER} %(?: \({NUMBER} to {NUMBER} %\))?")
_CLOCK = {"h": 1.0, "d": 24.0, "hours": 1.0, "days": 24.0}
_BY = re.compile(rf"by {NUMBER} (h|d|hours|days)\b")
FATE_WORDS = {
    "germinated": "germinated",
    "germinated normally": "normal",
    "abnormal": "abnormal",
    "hard": "hard",
    "fresh": "fresh",
    "dead or empty": "dead or empty",
    "dead, in any way": "dead, in any way",
    "mouldy": "mouldy",
    "insect-damaged": "insect-damaged",
}
# files keep six significant digits of a fraction
EXACT = 3
Group = Mapping[str, Any]


@dataclass(frozen=True)
class Printed:
    """A number as printed, in percent: `places` are its decimals."""

    value: float
    places: int

    def agrees(self, other: Printed) -> bool:
        """Return whether one number can have been rounded to both."""
        return abs(self.value - other.value) <= self.step + other.step + 1e-6

    def holds(self, share: float) -> bool:
        """Return whether a fraction is rounded to this."""
        return abs(100 * share - self.value) <= self.step + 1e-6

    @property
    def step(self) -> float:
        """Return half a unit of the last digit."""
        return 0.5 * 10**-self.places


@dataclass(frozen=True, kw_only=True)
class Told:
    """A figure of some seeds: where it stands, of which experiments it says it is, what, by which hour, and the numbers."""

    where: str
    seeds: Seeds
    experiments: tuple[str, ...]
    quantity: str
    value: Printed
    low: Printed | None = None
    high: Printed | None = None
    by_h: float | None = None
    said: str = ""

    def __str__(self) -> str:
        """Return the figure with its place."""
        limits = f" ({self.low.value:g} to {self.high.value:g})" if self.low and self.high else ""
        when = f" by {self.by_h:g} h" if self.by_h is not None else ""
        return f"{self.where}: {self.seeds}: {self.quantity}{when} {self.value.value:g} %{limits}"


def printed(words: str) -> Printed:
    """Return a number as printed."""
    plain = words.replace(",", "")
    return Printed(float(plain), len(plain.partition(".")[2]))


def exact(share: float) -> Printed:
    """Return a fraction of a file as percent with all its digits."""
    return Printed(100 * share, EXACT)


def seeds_of(lot: str, treatment: str, degrees: float | None, condition: str) -> Seeds:
    words = [] if degrees is None else [f"{degrees:g} °C"]
    return Seeds(lot, treatment, frozenset([*words, *(w for w in split(condition) if w)]))


def impermeable(where: str, lot: str, treatment: str, value: Printed, *experiments: str) -> Told:
    seeds = Seeds(lot, treatment, frozenset({"weighed"}))
    return Told(
        where=where, seeds=seeds, experiments=experiments, quantity="no water got in", value=value
    )


def split(words: str) -> list[str]:
    return [w.strip() for w in re.split(r", (?![^(]*\))", words) if w.strip()]


def words_of(name: str) -> frozenset[str]:
    return frozenset(split(name))


def place_of(group: Group) -> str:
    warm = "" if group["temperature_c"] is None else f"{group['temperature_c']:g} °C"
    return ", ".join(p for p in (warm, group["condition"]) if p)


def hour(words: str) -> float | None:
    found = _BY.search(words)
    return float(found[1].replace(",", "")) * _CLOCK[found[2]] if found else None


def share_of(words: str) -> Printed:
    found = re.search(rf"{NUMBER} %", words)
    return printed(found[1]) if found else Printed(float("nan"), 0)


def fate_of(part: str) -> str:
    word = re.sub(r" \(.*\)", "", re.sub(rf"{NUMBER} %", "", part)).strip()
    return FATE_WORDS.get(word, "")


def told_in(evidence: str, experiments: Iterable[str]) -> tuple[str, ...]:
    return tuple(
        e
        for e in experiments
        if re.search(rf"(?:^|; ){re.escape(e)}: \d+ (?:dish|single seed)", evidence)
    )


def number(cell: str) -> float | None:
    return float(cell) if cell else None


def rows_of(path: Any) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))

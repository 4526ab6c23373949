"""Doubts: numbers that are allowed and yet look like one of the mistakes that people make.

Each rule yields a remark: where, what was seen, why that is odd, and what settles it. A remark refuses nothing and changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from hilum.tables.doubts import (
    alike,
    dates,
    doses,
    doubled,
    gaps,
    hours,
    masses,
    names,
    percents,
    soaked,
    swapped,
    temperatures,
)
from hilum.tables.ledger import Ledger
from hilum.tables.sentences import Fault

RULES: tuple[Callable[[Ledger], Iterator[Fault]], ...] = (
    names.look_alikes,
    names.across_tables,
    names.dishes_across,
    masses.unlikely,
    masses.digits,
    hours.of_counts,
    soaked.of_weighings,
    doses.durations,
    temperatures.fahrenheit,
    percents.fractions,
    dates.before_collection,
    dates.sown_apart,
    dates.late_first_look,
    dates.another_year,
    alike.identical,
    doubled.doubled,
    gaps.missing,
    swapped.labels,
)


def doubts(ledger: Ledger) -> Iterator[Fault]:
    """Yield every doubt about a study."""
    for rule in RULES:
        yield from rule(ledger)

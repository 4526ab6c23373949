"""reference_traits.csv: published ranges of traits, and published states."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from hilum.tables.column import Column, OneOf, Table
from hilum.tables.ledger import Finding, Ledger
from hilum.tables.traits import TRAIT, UNIT

_COLUMNS = (
    Column(
        name="taxon",
        title="Taxon",
        description="The taxon that the range belongs to: that of the label, or a look-alike.",
        kind="text",
        example="Litorivolva ficta",
        required=True,
    ),
    TRAIT,
    Column(
        name="low",
        title="Low",
        description="Lower end of the published range: of all specimens, not the mean less its deviation. Empty for states.",
        kind="number",
        example="6.8",
    ),
    Column(
        name="high",
        title="High",
        description="Upper end of the published range, in the same way.",
        kind="number",
        example="8.1",
    ),
    Column(
        name="rounded_to",
        title="Rounded to",
        description="The step to which the ends were printed; empty takes it from their decimals (0.1 for 6.8 and 7), 0 says that they "
        "are exact. What was rounded may lie half a step beyond.",
        kind="number",
        example="0.1",
        low=0,
    ),
    Column(
        name="states",
        title="States",
        description="The states that occur, for a trait that is no number; semicolons between them.",
        kind="text",
        example="kidney-shaped; round",
    ),
    UNIT,
    Column(
        name="source",
        title="Source",
        description="Where the range or the states were published.",
        kind="text",
        example="Coastal flora, p. 212 (invented)",
        required=True,
        long=True,
    ),
)
TABLE = Table(
    name="reference_traits",
    title="Published traits",
    one_row_is="a published range",
    level="study",
    columns=_COLUMNS,
    key=("taxon", "trait", "source"),
    stored=_COLUMNS,
    one_of=(OneOf(columns=("low", "states"), together=True),),
    needs=(("low", "high"), ("high", "low"), ("low", "unit"), ("rounded_to", "low")),
)


def states_of(text: str) -> tuple[str, ...]:
    """Return the states that a cell lists."""
    return tuple(state for part in text.split(";") if (state := " ".join(part.split())))


def low_above_high(ledger: Ledger) -> Iterator[Finding]:
    """Yield each range whose lower end lies above its upper end."""
    rows = ledger["reference_traits"]
    for row in np.flatnonzero(rows["low"] > rows["high"]):
        yield Finding(rows, row, "low", f", above the upper end of {rows['high'][row]:.10g}")


def both_kinds(ledger: Ledger) -> Iterator[Finding]:
    """Yield each row that has a range and states as well, and each whose states name none."""
    rows = ledger["reference_traits"]
    for row in np.flatnonzero(rows.given("states") & ~rows.bad):
        if rows.given("low")[row]:
            says = f", but low is {rows['low'][row]:.10g}; a row has a range or states"
            yield Finding(rows, row, "states", says)
        elif not states_of(rows.text("states", row)):
            yield Finding(rows, row, "states", ", which names no state")


RULES = (low_above_high, both_kinds)

"""traits.csv: measured seeds and plant parts."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from hilum.tables.column import Column, OneOf, Table
from hilum.tables.ledger import Finding, Ledger
from hilum.tables.references import LOT

TRAIT = Column(
    name="trait",
    title="Trait",
    description="What was measured or judged, called the same in traits.csv and reference_traits.csv.",
    kind="text",
    example="seed length",
    required=True,
)
UNIT = Column(
    name="unit",
    title="Unit",
    description="The unit of the numbers; one trait has one unit in the whole study. Empty for states.",
    kind="text",
    example="mm",
)
_COLUMNS = (
    Column(
        name="specimen",
        title="Specimen",
        description="A name for the seed or plant part.",
        kind="text",
        example="m14",
        required=True,
    ),
    LOT,
    TRAIT,
    Column(
        name="value",
        title="Value",
        description="The value measured; empty where a state was judged.",
        kind="number",
        example="7.4",
    ),
    Column(
        name="state",
        title="State",
        description="The state judged, of a trait that is no number: the shape of a seed, the margin of a leaf.",
        kind="text",
        example="kidney-shaped",
    ),
    UNIT,
)
TABLE = Table(
    name="traits",
    title="Measured traits",
    one_row_is="a measured seed or plant part",
    level="experiment",
    columns=_COLUMNS,
    key=("specimen", "trait"),
    stored=_COLUMNS,
    one_of=(OneOf(columns=("value", "state"), together=True),),
    needs=(("value", "unit"),),
)


def both_kinds(ledger: Ledger) -> Iterator[Finding]:
    """Yield each row that has a number and a state as well."""
    rows = ledger["traits"]
    for row in np.flatnonzero(rows.given("value") & rows.given("state") & ~rows.bad):
        says = f", but value is {rows['value'][row]:.10g}; a trait is a number or a state"
        yield Finding(rows, row, "state", says)


RULES = (both_kinds,)

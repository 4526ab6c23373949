"""traits.csv: measured seeds and plant parts."""

from __future__ import annotations

from hilum.tables.column import Column, Table
from hilum.tables.references import LOT

TRAIT = Column(
    name="trait",
    title="Trait",
    description="What was measured, called the same in traits.csv and reference_traits.csv.",
    kind="text",
    example="seed length",
    required=True,
)
UNIT = Column(
    name="unit",
    title="Unit",
    description="The unit of the value; one trait has one unit in the whole study.",
    kind="text",
    example="mm",
    required=True,
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
        description="The value measured.",
        kind="number",
        example="7.4",
        required=True,
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
)
RULES = ()

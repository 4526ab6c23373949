"""stages.csv: seedlings on the days they were looked at."""

from __future__ import annotations

from hilum.tables.column import Column, Table
from hilum.tables.references import LOT, TREATMENT

_COLUMNS = (
    Column(
        name="seedling",
        title="Seedling",
        description="A name for the seedling.",
        kind="text",
        example="p3",
        required=True,
    ),
    LOT,
    TREATMENT,
    Column(
        name="elapsed_d",
        title="Days since germination",
        description="Days since the radicle was out.",
        kind="number",
        example="12",
        unit="d",
        required=True,
        low=0,
        high=8_000,
    ),
    Column(
        name="leaves",
        title="Leaves",
        description="Unfolded leaves, without cotyledons.",
        kind="count",
        example="2",
        unit="leaves",
        required=True,
        low=0,
        high=10_000,
    ),
    Column(
        name="roots",
        title="Roots",
        description="Visible roots.",
        kind="count",
        example="4",
        unit="roots",
        low=0,
        high=10_000,
    ),
    Column(
        name="height_mm",
        title="Height",
        description="Height of the shoot.",
        kind="number",
        example="31",
        unit="mm",
        low=0,
        high=100_000,
    ),
    Column(
        name="petiole",
        title="Petiole",
        description="What the petiole looks like, in a word.",
        kind="text",
        example="swollen",
    ),
)
TABLE = Table(
    name="stages",
    title="Seedling stages",
    one_row_is="a seedling on a day",
    level="experiment",
    columns=_COLUMNS,
    key=("seedling", "elapsed_d"),
    stored=_COLUMNS,
)
RULES = ()

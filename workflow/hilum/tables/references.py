"""Columns that several tables share: the names by which they refer to each other, and times."""

from __future__ import annotations

from hilum.tables.column import Column

LOT = Column(
    name="lot",
    title="Seed lot",
    description="The seed lot, as named in lots.csv.",
    kind="text",
    example="A",
    required=True,
    refers="lots",
)
TREATMENT = Column(
    name="treatment",
    title="Treatment",
    description="The treatment, as named in treatments.csv; untreated seed has one too, with method none.",
    kind="text",
    example="chipped",
    required=True,
    refers="treatments",
)
DISH = Column(
    name="dish",
    title="Dish",
    description="The dish, as named in dishes.csv.",
    kind="text",
    example="t15-a",
    required=True,
    refers="dishes",
)
BATCH = Column(
    name="batch",
    title="Batch",
    description="Which bath, oven or jar the seeds were treated in: seeds of one batch share its accidents.",
    kind="text",
    example="bath 1",
)
ELAPSED_H = Column(
    name="elapsed_h",
    title="Hours since sowing",
    description="Hours since the dish was sown.",
    kind="number",
    example="48",
    unit="h",
    low=0,
    high=200_000,
)
ELAPSED_D = Column(
    name="elapsed_d",
    title="Days since sowing",
    description="Days since the dish was sown; stored as hours.",
    kind="number",
    example="2",
    unit="d",
    low=0,
    high=8_000,
)
STORED_D = Column(
    name="stored_d",
    title="Days stored",
    description="Days between treatment and sowing or test, 0 for seed that was not stored; empty where nobody asks.",
    kind="number",
    example="90",
    unit="d",
    low=0,
    high=100_000,
)
STORED_AT_C = Column(
    name="stored_at_c",
    title="Stored at",
    description="Temperature at which the treated seed was stored.",
    kind="number",
    example="5",
    unit="°C",
    low=-200,
    high=100,
)
STORED_MOISTURE = Column(
    name="stored_moisture_pct",
    title="Moisture in the store",
    description="Water in the seed while it was stored, on the wet basis: one figure for each store.",
    kind="number",
    example="7",
    unit="%",
    low=0,
    high=100,
)
STORAGE = (STORED_D, STORED_AT_C, STORED_MOISTURE)
STORAGE_NEEDS = (("stored_at_c", "stored_d"), ("stored_moisture_pct", "stored_d"))
NOTES = Column(
    name="notes",
    title="Notes",
    description="Anything worth keeping, in your own words; no analysis reads it.",
    kind="text",
    example="from the upper beach",
    long=True,
)

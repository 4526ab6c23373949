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
NOTES = Column(
    name="notes",
    title="Notes",
    description="Anything worth keeping, in your own words; no analysis reads it.",
    kind="text",
    example="from the upper beach",
    long=True,
)

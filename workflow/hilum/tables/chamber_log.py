"""chamber_log.csv: temperatures logged in the chambers."""

from __future__ import annotations

from hilum.tables.column import Column, Table

_COLUMNS = (
    Column(
        name="chamber",
        title="Chamber",
        description="The chamber, called the same in dishes.csv.",
        kind="text",
        example="c2",
        required=True,
    ),
    Column(
        name="at",
        title="At",
        description="When it was logged, with the offset from UTC. Stored in UTC.",
        kind="moment",
        example="2024-05-01T09:00+02:00",
        required=True,
    ),
    Column(
        name="temperature_c",
        title="Temperature",
        description="The temperature logged.",
        kind="number",
        example="14.8",
        unit="°C",
        required=True,
        low=-60,
        high=120,
    ),
)
TABLE = Table(
    name="chamber_log",
    title="Chamber log",
    one_row_is="a logged temperature",
    level="study",
    columns=_COLUMNS,
    key=("chamber", "at"),
    stored=_COLUMNS,
)
RULES = ()

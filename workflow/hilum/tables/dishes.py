"""dishes.csv: the replicates of an experiment, and where each stood."""

from __future__ import annotations

from hilum.tables.column import Column, Table
from hilum.tables.references import BATCH, LOT, STORAGE, STORAGE_NEEDS, TREATMENT

_COLUMNS = (
    Column(
        name="dish",
        title="Dish",
        description="The name by which the experiment's other tables call the dish.",
        kind="text",
        example="t15-a",
        required=True,
    ),
    LOT,
    TREATMENT,
    BATCH,
    Column(
        name="temperature_c",
        title="Temperature",
        description="The temperature set; that of the day where it alternates.",
        kind="number",
        example="15",
        unit="°C",
        required=True,
        low=-30,
        high=90,
    ),
    Column(
        name="night_temperature_c",
        title="Night temperature",
        description="The other temperature set, where it alternates.",
        kind="number",
        example="5",
        unit="°C",
        low=-30,
        high=90,
    ),
    Column(
        name="warm_h",
        title="Hours at the day temperature",
        description="Hours of each day at temperature_c, where it alternates.",
        kind="number",
        example="12",
        unit="h",
        low=0,
        high=24,
    ),
    Column(
        name="chamber",
        title="Chamber",
        description="The chamber that the dish stood in, as named in chamber_log.csv where there is one.",
        kind="text",
        example="c2",
    ),
    Column(
        name="shelf",
        title="Shelf",
        description="The shelf of its chamber that the dish stood on.",
        kind="text",
        example="2",
    ),
    Column(
        name="position",
        title="Position",
        description="Its place on the shelf, counted from the front left.",
        kind="text",
        example="5",
    ),
    Column(
        name="light",
        title="Light",
        description="The light that the dish had.",
        kind="text",
        example="dark",
    ),
    Column(
        name="medium",
        title="Medium",
        description="What the seeds lay on or in.",
        kind="text",
        example="moist sand",
    ),
    Column(
        name="seeds",
        title="Seeds sown",
        description="Seeds sown in the dish.",
        kind="count",
        example="25",
        unit="seeds",
        required=True,
        low=1,
        high=100_000,
    ),
    Column(
        name="sown_at",
        title="Sown at",
        description="When the dish was sown: time zero of its counts. Stored in UTC.",
        kind="moment",
        example="2024-05-01T09:00",
    ),
    *STORAGE,
)
TABLE = Table(
    name="dishes",
    title="Dishes",
    one_row_is="a replicate",
    level="experiment",
    columns=_COLUMNS,
    key=("dish",),
    stored=_COLUMNS,
    needs=(
        ("night_temperature_c", "warm_h"),
        ("warm_h", "night_temperature_c"),
        *STORAGE_NEEDS,
    ),
)
RULES = ()

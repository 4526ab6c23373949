"""lots.csv: the seed lots of the study."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from hilum.tables.column import Column, Table
from hilum.tables.ledger import Finding, Ledger
from hilum.tables.references import NOTES

_COLUMNS = (
    Column(
        name="lot",
        title="Seed lot",
        description="The name by which every other table calls the lot.",
        kind="text",
        example="A",
        required=True,
    ),
    Column(
        name="taxon",
        title="Taxon",
        description="The name on the label: species, variety or cultivar.",
        kind="text",
        example="Litorivolva ficta",
        required=True,
    ),
    Column(
        name="origin",
        title="Origin",
        description="Where the seed comes from.",
        kind="text",
        example="north beach",
    ),
    Column(
        name="collected_on",
        title="Collected on",
        description="The day on which the seed was collected.",
        kind="date",
        example="2024-03-31",
    ),
    Column(
        name="received_on",
        title="Received on",
        description="The day on which the seed arrived.",
        kind="date",
        example="2024-04-12",
    ),
    Column(
        name="storage",
        title="Storage",
        description="How the seed was kept until the experiments.",
        kind="text",
        example="paper bag, 5 °C",
    ),
    Column(
        name="expected_germination_pct",
        title="Expected germination",
        description="What the supplier or an earlier test promises, of the seeds sown.",
        kind="number",
        example="85",
        unit="%",
        low=0,
        high=100,
    ),
    Column(
        name="moisture_pct",
        title="Moisture content",
        description="Water in the seed when it was weighed dry, on the wet basis.",
        kind="number",
        example="9.5",
        unit="%",
        low=0,
        high=100,
    ),
    Column(
        name="thousand_seed_mass_g",
        title="Thousand-seed mass",
        description="What a thousand dry seeds weigh, from a flora, the supplier or a weighing of many: the check holds weighed seeds "
        "against it, no analysis reads it.",
        kind="number",
        example="152",
        unit="g",
        low=0.0001,
        high=100_000_000,
    ),
    NOTES,
)
TABLE = Table(
    name="lots",
    title="Seed lots",
    one_row_is="a seed lot",
    level="study",
    columns=_COLUMNS,
    key=("lot",),
    stored=_COLUMNS,
)


def received_before_collected(ledger: Ledger) -> Iterator[Finding]:
    """Yield each lot that arrived before it was collected."""
    lots = ledger["lots"]
    for row in np.flatnonzero((lots["collected_on"] > 0) & (lots["received_on"] > 0)):
        collected = lots.text("collected_on", row)
        if lots.text("received_on", row) < collected:
            says = f", before the lot was collected on {collected}"
            yield Finding(lots, row, "received_on", says)


RULES = (received_before_collected,)

"""reference_traits.csv: published ranges of traits."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from hilum.tables.column import Column, Table
from hilum.tables.ledger import Finding, Ledger
from hilum.tables.traits import TRAIT, UNIT

_COLUMNS = (
    Column(
        name="taxon",
        title="Taxon",
        description="The taxon that the range belongs to: that of the label, or a look-alike.",
        kind="text",
        example="Strandia ficta",
        required=True,
    ),
    TRAIT,
    Column(
        name="low",
        title="Low",
        description="Lower end of the published range.",
        kind="number",
        example="6.8",
        required=True,
    ),
    Column(
        name="high",
        title="High",
        description="Upper end of the published range.",
        kind="number",
        example="8.1",
        required=True,
    ),
    UNIT,
    Column(
        name="source",
        title="Source",
        description="Where the range was published.",
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
)


def low_above_high(ledger: Ledger) -> Iterator[Finding]:
    """Yield each range whose lower end lies above its upper end."""
    rows = ledger["reference_traits"]
    for row in np.flatnonzero(rows["low"] > rows["high"]):
        yield Finding(rows, row, "low", f", above the upper end of {rows['high'][row]:.10g}")


RULES = (low_above_high,)

"""viability.csv: tests of samples that tell how many seeds of a lot are alive."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from hilum.tables.column import Awaited, Column, Table
from hilum.tables.ledger import Finding, Ledger
from hilum.tables.references import LOT, STORAGE, STORAGE_NEEDS, TREATMENT


def _seeds(name: str, title: str, description: str, example: str, required: bool = True) -> Column:
    return Column(
        name=name,
        title=title,
        description=description,
        kind="count",
        example=example,
        unit="seeds",
        required=required,
        low=1 if name == "seeds" else 0,
        high=100_000,
    )


_COLUMNS = (
    Column(
        name="sample",
        title="Sample",
        description="A name for the sample.",
        kind="text",
        example="tz-1",
        required=True,
    ),
    LOT,
    TREATMENT,
    Column(
        name="method",
        title="Method",
        description="How life was tested; hand_opened seeds were opened by hand and sown.",
        kind="choice",
        example="tetrazolium",
        required=True,
        choices=("tetrazolium", "cutting", "hand_opened"),
    ),
    _seeds("seeds", "Seeds", "Seeds tested.", "50"),
    _seeds("alive", "Alive", "Of these, alive.", "42"),
    _seeds("dead", "Dead", "Of these, dead.", "6"),
    _seeds("empty", "Empty", "Of these, empty.", "2", required=False),
    *STORAGE,
)
TABLE = Table(
    name="viability",
    title="Viability tests",
    one_row_is="a viability test of a sample",
    level="experiment",
    columns=_COLUMNS,
    key=("sample",),
    stored=_COLUMNS,
    needs=STORAGE_NEEDS,
    awaited=Awaited(measured=("alive", "dead", "empty"), rows="viability test"),
)


def seeds_that_do_not_add_up(ledger: Ledger) -> Iterator[Finding]:
    """Yield each sample whose alive, dead and empty seeds are not the seeds tested."""
    rows = ledger["viability"]
    found = rows["alive"] + rows["dead"] + np.nan_to_num(rows["empty"])
    for row in np.flatnonzero(~np.isnan(found + rows["seeds"]) & (found != rows["seeds"])):
        yield Finding(rows, row, "seeds", f", but alive, dead and empty add up to {found[row]:g}")


RULES = (seeds_that_do_not_add_up,)

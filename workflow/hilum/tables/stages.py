"""stages.csv: seedlings on the days they were looked at."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from hilum.tables import groups
from hilum.tables.column import Column, Table
from hilum.tables.ledger import Finding, Ledger
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
        name="tray",
        title="Tray",
        description="The tray, pot or bed that the seedling stands in: seedlings of one tray share its conditions, "
        "and intervals allow for that.",
        kind="text",
        example="t2",
    ),
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
        description="Leaves unfolded so far, without cotyledons; those that fell count.",
        kind="count",
        example="2",
        unit="leaves",
        required=True,
        low=0,
        high=10_000,
    ),
    Column(
        name="alive",
        title="Alive",
        description="Whether the seedling lives; an empty cell counts as yes.",
        kind="yes_no",
        example="yes",
        default=1,
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


def one_seedling_two_stories(ledger: Ledger) -> Iterator[Finding]:
    """Yield each row whose lot, treatment or tray contradicts the seedling's first row."""
    rows = ledger["stages"]
    fine = np.flatnonzero(rows["seedling"] > 0)
    first = groups.earlier_twin(rows.key("seedling")[fine])
    first = np.where(first < 0, np.arange(len(fine)), first)
    for column in ("lot", "treatment", "tray"):
        here, there = rows[column][fine], rows[column][fine[first]]
        for i in np.flatnonzero((here != there) & (here > 0) & (there > 0)):
            row, other = fine[i], fine[first[i]]
            known = rows.text(column, other)
            says = f", but line {rows.lines[other]} says {known} for the same seedling"
            yield Finding(rows, row, column, says)


def alive_again(ledger: Ledger) -> Iterator[Finding]:
    """Yield each seedling that lives on after it was found dead: its first such row."""
    rows = ledger["stages"]
    fine = np.flatnonzero((rows["seedling"] > 0) & rows.given("elapsed_d") & ~rows.bad)
    order, begins = groups.in_order(rows.key("seedling")[fine], rows["elapsed_d"][fine])
    order = fine[order]
    dead = rows["alive"][order] == 0
    again = ~begins & ~dead & np.roll(dead, 1)
    for i in np.flatnonzero(again):
        row, other = order[i], order[i - 1]
        says = f", but line {rows.lines[other]} says that seedling {rows.text('seedling', row)} was dead by then"
        yield Finding(rows, row, "alive", says)


RULES = (one_seedling_two_stories, alive_again)

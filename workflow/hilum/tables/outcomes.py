"""outcomes.csv: what became of the seeds of a dish, or of one seed, at the end."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from hilum import fates
from hilum.tables.column import Awaited, Column, OneOf, Table
from hilum.tables.ledger import Finding, Ledger
from hilum.tables.references import DISH

_COLUMNS = (
    replace(DISH, required=False),
    Column(
        name="seed",
        title="Seed",
        description="The seed, as named in weighings.csv, where seeds are followed one by one.",
        kind="text",
        example="s07",
    ),
    Column(
        name="outcome",
        title="Outcome",
        description="; ".join(f"{f.name}: {f.meaning}" for f in fates.FATES) + ".",
        kind="choice",
        example="hard",
        required=True,
        choices=fates.NAMES,
    ),
    Column(
        name="seeds",
        title="Seeds",
        description="Seeds with this outcome.",
        kind="count",
        example="4",
        unit="seeds",
        required=True,
        low=0,
        high=100_000,
    ),
    Column(
        name="alive",
        title="Shown alive",
        description="Of these seeds, how many were shown alive; empty where nobody looked.",
        kind="count",
        example="3",
        unit="seeds",
        low=0,
        high=100_000,
    ),
    Column(
        name="assessed_by",
        title="Assessed by",
        description="How it was found out; seeds judged by pressing are not confirmed alive.",
        kind="choice",
        example="cutting",
        choices=("sight", "pressing", "cutting", "tetrazolium"),
    ),
)
TABLE = Table(
    name="outcomes",
    title="Outcomes",
    one_row_is="what became of a dish's seeds, or of one seed, at the end",
    level="experiment",
    columns=_COLUMNS,
    key=("dish", "seed", "outcome", "assessed_by"),
    stored=_COLUMNS,
    one_of=(OneOf(columns=("dish", "seed"), together=True),),
    # a sheet has several fates for each dish; one lonely row without a number is a slip
    awaited=Awaited(measured=("seeds", "alive"), of=("dish", "seed"), rows="outcome", fewest=2),
)


def more_alive_than_seeds(ledger: Ledger) -> Iterator[Finding]:
    """Yield each outcome with more seeds alive than there are."""
    rows = ledger["outcomes"]
    for row in np.flatnonzero(rows["alive"] > rows["seeds"]):
        yield Finding(rows, row, "alive", f", but the row has {rows['seeds'][row]:g} seeds")


def dead_and_alive(ledger: Ledger) -> Iterator[Finding]:
    """Yield each outcome of dead seeds that were shown alive."""
    rows = ledger["outcomes"]
    gone = [ledger.names.code(word) for word in fates.DEAD]
    for row in np.flatnonzero(np.isin(rows["outcome"], gone) & (rows["alive"] > 0)):
        yield Finding(rows, row, "alive", f", but the outcome is {rows.text('outcome', row)}")


RULES = (more_alive_than_seeds, dead_and_alive)

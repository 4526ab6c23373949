"""moisture.csv: moisture of seed lots, determined by drying."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from hilum.tables.column import Awaited, Column, Table
from hilum.tables.ledger import Finding, Ledger
from hilum.tables.references import LOT, NOTES
from hilum.tables.sentences import Fault

# points between two determinations: International Rules for Seed Testing, chapter 9, from memory; as in stats/moisture.py
APART_PCT = 0.2


def _mass(name: str, title: str, description: str, example: str) -> Column:
    return Column(
        name=name,
        title=title,
        description=description,
        kind="number",
        example=example,
        unit="g",
        required=True,
        low=0,
        high=10_000,
    )


_COLUMNS = (
    LOT,
    Column(
        name="sample",
        title="Sample",
        description="A name for the determination; two of one lot are duplicates.",
        kind="text",
        example="1",
        required=True,
    ),
    _mass("container_g", "Container", "Mass of the empty container with its lid.", "15.2134"),
    _mass(
        "before_g", "Before drying", "Mass of container, lid and seeds before drying.", "20.2871"
    ),
    _mass(
        "after_g", "After drying", "The same after drying and cooling in a desiccator.", "19.8605"
    ),
    NOTES,
)
TABLE = Table(
    name="moisture",
    title="Moisture determinations",
    one_row_is="a sample that was dried in an oven",
    level="study",
    columns=_COLUMNS,
    key=("lot", "sample"),
    stored=_COLUMNS,
    awaited=Awaited(
        measured=("container_g", "before_g", "after_g"),
        rows="moisture determination",
    ),
)


def masses_out_of_order(ledger: Ledger) -> Iterator[Finding]:
    """Yield each sample that weighs no more than its container, or more after drying than before."""
    rows = ledger["moisture"]
    for row in np.flatnonzero(rows["after_g"] <= rows["container_g"]):
        says = f", but the container alone weighs {rows['container_g'][row]:.10g} g"
        yield Finding(rows, row, "after_g", says)
    for row in np.flatnonzero(rows["after_g"] > rows["before_g"]):
        says = f", more than the {rows['before_g'][row]:.10g} g before drying"
        yield Finding(rows, row, "after_g", says)


def remarks(ledger: Ledger) -> Iterator[Fault]:
    """Yield each lot whose moisture in lots.csv is further from the one determined than two determinations may be."""
    rows, lots = ledger["moisture"], ledger["lots"]
    water = rows["before_g"] - rows["after_g"]
    with np.errstate(divide="ignore", invalid="ignore"):
        found = 100 * water / (rows["before_g"] - rows["container_g"])
    for row in np.flatnonzero((lots["lot"] > 0) & lots.given("moisture_pct") & ~lots.bad):
        own = (rows["lot"] == lots["lot"][row]) & np.isfinite(found) & ~rows.bad
        typed = float(lots["moisture_pct"][row])
        if not own.any() or abs(typed - float(found[own].mean())) <= APART_PCT + 1e-9:
            continue
        says = (
            f"moisture_pct of lot {lots.text('lot', row)} is {typed:.10g} %, but drying ({TABLE.file}) says "
            f"{found[own].mean():.2f} %, further apart than the {APART_PCT:g} points tolerated between determinations"
        )
        yield Fault(file=lots.sheets[0].source.shown, line=int(lots.lines[row]), says=says)


RULES = (masses_out_of_order,)

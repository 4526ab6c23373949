"""treatments.csv: what was done to seeds before they were soaked or sown, step by step."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from hilum.tables import groups
from hilum.tables.column import Column, Table
from hilum.tables.ledger import Finding, Ledger
from hilum.tables.references import NOTES

METHODS = (
    "none",
    "chipping",
    "filing",
    "sandpaper",
    "acid",
    "hot_water",
    "dry_heat",
    "freeze_thaw",
    "warm_moist",
    "cold_moist",
    "growth_regulator",
    "other",
)
_DOSES = ("position", "agent", "concentration", "duration", "temperature_c")
_COLUMNS = (
    Column(
        name="treatment",
        title="Treatment",
        description="The name by which every other table calls the treatment.",
        kind="text",
        example="acid-30",
        required=True,
    ),
    Column(
        name="step",
        title="Step",
        description="The place of this step in the treatment, from 1 without gaps.",
        kind="count",
        example="1",
        low=1,
        high=50,
        default=1,
    ),
    Column(
        name="method",
        title="Method",
        description="What was done; none for seed that was left as it was.",
        kind="choice",
        example="acid",
        required=True,
        choices=METHODS,
    ),
    Column(
        name="position",
        title="Position on the coat",
        description="Where the coat was opened.",
        kind="text",
        example="opposite the hilum",
    ),
    Column(
        name="agent",
        title="Agent",
        description="The acid, solvent, regulator or tool.",
        kind="text",
        example="sulphuric acid",
    ),
    Column(
        name="concentration",
        title="Concentration",
        description="How strong the agent was; its unit stands beside it.",
        kind="number",
        example="95",
        low=0,
    ),
    Column(
        name="concentration_unit",
        title="Unit of the concentration",
        description="The unit of the concentration.",
        kind="text",
        example="%",
    ),
    Column(
        name="duration",
        title="Duration",
        description="How long the step lasted, or how many strokes it took; its unit stands beside it.",
        kind="number",
        example="30",
        low=0,
    ),
    Column(
        name="duration_unit",
        title="Unit of the duration",
        description="The unit of the duration: seconds, minutes, hours, days, or strokes.",
        kind="choice",
        example="min",
        choices=("s", "min", "h", "d", "strokes"),
    ),
    Column(
        name="temperature_c",
        title="Temperature",
        description="Temperature of the bath, oven or layer.",
        kind="number",
        example="25",
        unit="°C",
        low=-200,
        high=300,
    ),
    NOTES,
)
TABLE = Table(
    name="treatments",
    title="Treatments",
    one_row_is="a step of a treatment",
    level="study",
    columns=_COLUMNS,
    key=("treatment", "step"),
    stored=_COLUMNS,
    needs=(
        ("concentration", "concentration_unit"),
        ("concentration_unit", "concentration"),
        ("duration", "duration_unit"),
        ("duration_unit", "duration"),
    ),
)


def steps_with_a_gap(ledger: Ledger) -> Iterator[Finding]:
    """Yield each step whose step before is missing."""
    rows = ledger["treatments"]
    fine = np.flatnonzero(~np.isnan(rows["step"]) & (rows["treatment"] > 0))
    order, begins = groups.in_order(rows["treatment"][fine], rows["step"][fine])
    step = rows["step"][fine][order]
    wanted = np.where(begins, 1, np.roll(step, 1) + 1)
    for i in np.flatnonzero(step > wanted):
        row = fine[order[i]]
        name = rows.text("treatment", row)
        yield Finding(rows, row, "step", f", but treatment {name} has no step {wanted[i]:g}")


def nothing_done_with_a_dose(ledger: Ledger) -> Iterator[Finding]:
    """Yield each step of method none that says how it was done."""
    rows = ledger["treatments"]
    none = rows["method"] == ledger.names.code("none")
    for column in _DOSES:
        for row in np.flatnonzero(none & rows.given(column)):
            yield Finding(rows, row, column, ", but the method of this step is none")


RULES = (steps_with_a_gap, nothing_done_with_a_dose)

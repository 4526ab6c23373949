"""Fractions typed where per cent stand."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from hilum.tables.doubts.told import by_sheet, figures, remark
from hilum.tables.ledger import Ledger, Rows
from hilum.tables.sentences import Fault

# no seed is as dry as this, and nobody promises so little
LEAST_PCT = 1.0
_COLUMNS = (
    ("lots", "expected_germination_pct"),
    ("lots", "moisture_pct"),
    ("dishes", "stored_moisture_pct"),
    ("viability", "stored_moisture_pct"),
)
# of these a hundredth is no treatment; hormones and salts are used at a fraction of a per cent
_STRONG = re.compile(
    r"sul(f|ph)uric|hydrochloric|nitric|H2SO4|ethanol|alcohol|acetone", re.IGNORECASE
)
_PERCENT = re.compile(r"\s*(%|per ?cent|pct|vol)", re.IGNORECASE)


def fractions(ledger: Ledger) -> Iterator[Fault]:
    """Yield each file with 0.08 in a column of per cent, where 8 % was meant."""
    for table, column in _COLUMNS:
        rows = ledger[table]
        low = (rows[column] > 0) & (rows[column] <= LEAST_PCT) & ~rows.bad
        yield from _told(rows, column, low)
    steps = ledger["treatments"]
    weak = (steps["concentration"] > 0) & (steps["concentration"] <= LEAST_PCT) & ~steps.bad
    for row in np.flatnonzero(weak):
        acid = steps.text("method", row) == "acid" or _STRONG.search(steps.text("agent", row))
        weak[row] = bool(acid and _PERCENT.match(steps.text("concentration_unit", row)))
    yield from _told(steps, "concentration", weak)


def _told(rows: Rows, column: str, marked: np.ndarray) -> Iterator[Fault]:
    for found in by_sheet(rows, marked):
        values = rows[column][found].tolist()
        says = (
            f"{column} has {figures(values)} %, which is hardly anything: a fraction? "
            f"{values[0]:.10g} of all are {100 * values[0]:.10g} %; the column holds per cent"
        )
        yield remark(rows, found, says, f"fraction {column}")

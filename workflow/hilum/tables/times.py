"""Times of counts and events, in whatever way they were written, as hours since sowing."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime

import numpy as np

from hilum.tables.ledger import NO_ROW, Array, Finding, Ledger, Rows

_MOMENTS = {"counts": "inspected_at", "events": "at"}


def store(ledger: Ledger) -> None:
    """Fill `elapsed_h` of counts and events from days, or from clock times and the sowing of the dish."""
    counts = ledger["counts"]
    days = counts["elapsed_d"]
    # rounded, so that 1.1 days are 26.4 h and not 26.400000000000002
    counts["elapsed_h"] = np.where(np.isnan(days), counts["elapsed_h"], np.round(days * 24, 6))
    for table, moment in _MOMENTS.items():
        rows = ledger[table]
        hours = np.round((rows[moment] - sown_at(ledger, rows)) / 3600, 6)
        rows["elapsed_h"] = np.where(np.isnan(rows[moment]), rows["elapsed_h"], hours)


def sown_at(ledger: Ledger, rows: Rows) -> Array:
    """Return for each row when its dish was sown, in seconds since 1970 in UTC, nan where unknown."""
    dish = ledger.dish_rows(rows)
    known = ledger["dishes"]["sown_at"]
    return np.where(dish != NO_ROW, np.append(known, np.nan)[dish], np.nan)


def not_sown(ledger: Ledger) -> Iterator[Finding]:
    """Yield each clock time of a dish whose sowing time is not known."""
    dishes = ledger["dishes"]
    for table, moment in _MOMENTS.items():
        rows = ledger[table]
        dish = ledger.dish_rows(rows)
        whole = (dish != NO_ROW) & ~np.append(dishes.bad, False)[dish]
        unknown = np.isnan(sown_at(ledger, rows)) & rows.given(moment)
        for row in np.flatnonzero(whole & unknown):
            says = f", but dish {rows.text('dish', row)} has no sown_at in dishes.csv to count from"
            yield Finding(rows, row, moment, says)


def before_sowing(ledger: Ledger) -> Iterator[Finding]:
    """Yield each inspection and event that comes before its dish was sown."""
    for table, moment in _MOMENTS.items():
        rows = ledger[table]
        for row in np.flatnonzero((rows["elapsed_h"] < 0) & rows.given(moment)):
            hours = -rows["elapsed_h"][row]
            says = f", {hours:.4g} h before dish {rows.text('dish', row)} was sown"
            yield Finding(rows, row, moment, says)


def in_utc(seconds: float) -> str:
    """Return seconds since 1970 as ISO text in UTC: `2024-05-01T09:00:00Z`."""
    return f"{datetime.fromtimestamp(seconds, UTC):%Y-%m-%dT%H:%M:%SZ}"


RULES = (not_sown, before_sowing)

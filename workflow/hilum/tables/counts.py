"""counts.csv: the inspections of dishes.

Three forms are read: newly germinated seeds (`germinated`), running totals (`germinated_so_far`), and one
row a dish with a column a day (`d_1, d_2, …`; `h_24` for hours; `so_far_d_1` for running totals). All are
stored as newly germinated seeds at hours since sowing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from hilum import fates
from hilum.tables import groups
from hilum.tables.column import Awaited, Column, OneOf, Table
from hilum.tables.ledger import Array, Finding, Ledger
from hilum.tables.references import DISH, ELAPSED_D, ELAPSED_H

_SERIES = re.compile(r"(so_far_)?([dh])_(\d{1,6}(?:\.\d{1,6})?)", re.ASCII)


def read_series(name: str) -> tuple[float, bool] | None:
    """Return the hours that a column's name stands for, and whether it is a running total.

    `d_3` is 72 h, newly germinated; `so_far_h_12` is 12 h, a running total; other names give None.
    """
    found = _SERIES.fullmatch(name)
    if not found:
        return None
    hours = float(found[3]) * (24 if found[2] == "d" else 1)
    return round(hours, 6), bool(found[1])


_GERMINATED = Column(
    name="germinated",
    title="Newly germinated",
    description="Seeds that germinated since the inspection before.",
    kind="count",
    example="4",
    unit="seeds",
    low=0,
    high=100_000,
)
_REMOVED = Column(
    name="removed",
    title="Removed",
    description="Seeds taken out without having germinated.",
    kind="count",
    example="1",
    unit="seeds",
    low=0,
    high=100_000,
    default=0,
)
_REMOVED_AS = Column(
    name="removed_as",
    title="Removed as",
    description="Why they were taken out; lost and sampled seeds count as unknown from then on.",
    kind="choice",
    example="dead",
    choices=fates.REMOVALS,
)
TABLE = Table(
    name="counts",
    title="Counts",
    one_row_is="an inspection of a dish",
    level="experiment",
    columns=(
        DISH,
        ELAPSED_H,
        ELAPSED_D,
        Column(
            name="inspected_at",
            title="Inspected at",
            description="When the dish was inspected; stored as hours since sowing.",
            kind="moment",
            example="2024-05-03T09:00",
        ),
        _GERMINATED,
        Column(
            name="germinated_so_far",
            title="Germinated so far",
            description="Seeds that have germinated since sowing; stored as newly germinated.",
            kind="count",
            example="12",
            unit="seeds",
            low=0,
            high=100_000,
        ),
        _REMOVED,
        _REMOVED_AS,
    ),
    key=("dish", "elapsed_h"),
    stored=(DISH, ELAPSED_H, _GERMINATED, _REMOVED, _REMOVED_AS),
    one_of=(
        OneOf(columns=("elapsed_h", "elapsed_d", "inspected_at")),
        OneOf(columns=("germinated", "germinated_so_far")),
    ),
    series=read_series,
    awaited=Awaited(
        measured=("inspected_at", "germinated", "germinated_so_far", "removed", "removed_as"),
        of=("dish",),
        rows="inspection",
        planned=("elapsed_h", "elapsed_d"),
    ),
)


def store(ledger: Ledger) -> None:
    """Fill the stored column `germinated` from running totals, where those were brought."""
    rows = ledger["counts"]
    total = rows["germinated_so_far"]
    rows["germinated"] = np.where(np.isnan(total), rows["germinated"], _newly(ledger, total))


def _newly(ledger: Ledger, total: Array) -> Array:
    """Return running totals as newly germinated seeds, in order of time within each dish."""
    rows = ledger["counts"]
    known = np.flatnonzero(~np.isnan(total + rows["elapsed_h"]) & (rows["dish"] > 0))
    order, begins = groups.in_order(rows.key("dish")[known], rows["elapsed_h"][known])
    sorted_total = total[known][order]
    newly = np.full(len(rows), np.nan)
    newly[known[order]] = np.where(begins, sorted_total, sorted_total - np.roll(sorted_total, 1))
    return newly


def _sequence(ledger: Ledger) -> tuple[groups.Ints, groups.Marks]:
    """Return the countable rows, dish by dish in the order of the file, and where a dish begins."""
    rows = ledger["counts"]
    known = np.flatnonzero(~np.isnan(rows["elapsed_h"]) & (rows["dish"] > 0))
    order, begins = groups.in_order(rows.key("dish")[known], known)
    return known[order], begins


def out_of_order(ledger: Ledger) -> Iterator[Finding]:
    """Yield each inspection that stands below a later one of the same dish."""
    rows = ledger["counts"]
    order, begins = _sequence(ledger)
    hours = rows["elapsed_h"][order]
    for i in np.flatnonzero(~begins & (hours < np.roll(hours, 1))):
        row, before = order[i], order[i - 1]
        says = (
            f", but line {rows.lines[before]} above has dish {rows.text('dish', row)} at "
            f"{hours[i - 1]:.10g} h; the inspections of a dish stand in order of time"
        )
        yield Finding(rows, row, "elapsed_h", says)


def falling_total(ledger: Ledger) -> Iterator[Finding]:
    """Yield each running total that is smaller than the one before."""
    rows = ledger["counts"]
    for row in np.flatnonzero(rows["germinated"] < 0):
        before = rows["germinated_so_far"][row] - rows["germinated"][row]
        says = (
            f", but {before:g} seeds of dish {rows.text('dish', row)} had germinated at the inspection before; "
            "a running total cannot fall"
        )
        yield Finding(rows, row, "germinated", says)


def germinated_when_sown(ledger: Ledger) -> Iterator[Finding]:
    """Yield each count of germinated seeds at hour 0, which no interval can hold."""
    rows = ledger["counts"]
    for row in np.flatnonzero((rows["elapsed_h"] == 0) & (rows["germinated"] > 0)):
        yield Finding(rows, row, "germinated", " at 0 h, when the dish was sown")


def removed_for_no_reason(ledger: Ledger) -> Iterator[Finding]:
    """Yield each removal without a reason, and each reason without a removal."""
    rows = ledger["counts"]
    removed, reason = rows["removed"], rows["removed_as"] > 0
    choices = f"{', '.join(fates.REMOVALS[:-1])} or {fates.REMOVALS[-1]}"
    for row in np.flatnonzero((removed > 0) & ~reason & ~rows.bad):
        yield Finding(rows, row, "removed", f", but removed_as does not say why: {choices}")
    for row in np.flatnonzero(reason & (np.nan_to_num(removed) == 0) & ~rows.bad):
        yield Finding(rows, row, "removed_as", ", but `removed` names no seeds")


RULES = (out_of_order, falling_total, germinated_when_sown, removed_for_no_reason)

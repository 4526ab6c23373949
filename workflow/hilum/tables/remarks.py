"""Remarks: what is no fault but a reader should look at once, such as two names that look the same."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from hilum.tables import chambers, groups, moisture, temperature_courses, traits
from hilum.tables.column import Column
from hilum.tables.ledger import Ledger, Rows
from hilum.tables.sentences import Fault, looks, quoted

_TOLD = 5
_FEW_DISHES = 3


def look_alikes(ledger: Ledger) -> Iterator[Fault]:
    """Yield the names in one column that differ only by case, spaces, or l and 1, o and 0."""
    for rows in ledger.rows.values():
        for column in (c for c in rows.table.columns if c.kind == "text" and not c.long):
            for number, sheet in enumerate(rows.sheets):
                pairs = _pairs(rows, column, number)
                if pairs:
                    told = ", ".join(f"{quoted(a)} and {quoted(b)}" for a, b in pairs[:_TOLD])
                    more = f" and {len(pairs) - _TOLD} more pairs" if len(pairs) > _TOLD else ""
                    says = (
                        f"{column.name} has names that look alike, taken as different: {told}{more}"
                    )
                    yield Fault(file=sheet.source.shown, says=says)


def _pairs(rows: Rows, column: Column, sheet: int) -> list[tuple[str, str]]:
    codes = np.unique(rows[column.name][rows.of_sheet(sheet)])
    seen: dict[str, str] = {}
    pairs = []
    for name in (rows.names.texts[code] for code in codes.tolist() if code):
        other = seen.setdefault(looks(name), name)
        if other != name:
            pairs.append((other, name))
    return pairs


def perhaps_totals(ledger: Ledger) -> Iterator[Fault]:
    """Yield each file of newly germinated seeds whose counts fall in no dish, as running totals would."""
    rows = ledger["counts"]
    known = np.flatnonzero(rows.given("germinated") & ~rows.given("germinated_so_far"))
    order, begins = groups.in_order(rows.key("dish")[known], rows["elapsed_h"][known])
    row = known[order]
    falls = ~begins & (rows["germinated"][row] < np.roll(rows["germinated"][row], 1))
    rises = ~begins & (rows["germinated"][row] > np.roll(rows["germinated"][row], 1))
    falling = set(rows.sheet[row[falls]].tolist())
    # each dish once, however often it rose
    _, first = np.unique(rows.key("dish")[row[rises]], return_index=True)
    risen = np.bincount(rows.sheet[row[rises][first]], minlength=len(rows.sheets))
    for number, sheet in enumerate(rows.sheets):
        if risen[number] >= _FEW_DISHES and number not in falling:
            says = (
                "the counts fall in no dish; if they are running totals, call the column "
                "germinated_so_far (or so_far_d_1, …)"
            )
            yield Fault(file=sheet.source.shown, says=says)


def remarks(ledger: Ledger) -> Iterator[Fault]:
    """Yield every remark on the study."""
    yield from look_alikes(ledger)
    yield from perhaps_totals(ledger)
    yield from chambers.remarks(ledger)
    yield from temperature_courses.remarks(ledger)
    yield from traits.remarks(ledger)
    yield from moisture.remarks(ledger)

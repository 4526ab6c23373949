"""Remarks: what is no fault but a reader should look at once, such as two names that look the same."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from hilum.tables import chambers, doubts, groups, moisture, temperature_courses, traits
from hilum.tables.ledger import Ledger
from hilum.tables.sentences import Fault

_FEW_DISHES = 3
# of so many inspections after one with seeds, one in three and more has fewer where seeds are counted anew
_FEW_STEPS = 6


@dataclass(frozen=True)
class Remark:
    """One remark for a page: its experiment, "" for the tables of the whole study, and the sentence with file and line."""

    experiment: str
    says: str


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
    after = np.bincount(
        rows.sheet[row[~begins & (np.roll(rows["germinated"][row], 1) > 0)]],
        minlength=len(rows.sheets),
    )
    for number, sheet in enumerate(rows.sheets):
        if after[number] >= _FEW_STEPS and risen[number] >= _FEW_DISHES and number not in falling:
            says = (
                "the counts fall in no dish; if they are running totals, call the column "
                "germinated_so_far (or so_far_d_1, …)"
            )
            yield Fault(file=sheet.source.shown, says=says)


def remarks(ledger: Ledger) -> Iterator[Fault]:
    """Yield every remark on the study."""
    yield from doubts.doubts(ledger)
    yield from perhaps_totals(ledger)
    yield from chambers.remarks(ledger)
    yield from temperature_courses.remarks(ledger)
    yield from traits.remarks(ledger)
    yield from moisture.remarks(ledger)

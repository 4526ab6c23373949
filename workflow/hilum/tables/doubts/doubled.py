"""One file of observations in two experiments: a folder that was copied."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from hilum.tables.ledger import Ledger
from hilum.tables.sentences import Fault

# tables that are observed, and are never the same twice
_OBSERVED = {"counts": "germinated", "weighings": "mass_mg", "stages": "leaves", "traits": "value"}
_FEW = 5


def doubled(ledger: Ledger) -> Iterator[Fault]:
    """Yield each table that another experiment holds letter by letter."""
    for table, column in _OBSERVED.items():
        rows = ledger[table]
        seen: dict[bytes, str] = {}
        for number, sheet in enumerate(rows.sheets):
            values = rows[column][rows.of_sheet(number)]
            first = seen.setdefault(sheet.source.data, sheet.source.shown)
            # dishes in which nothing germinated may well be the same in two experiments
            if first != sheet.source.shown and np.count_nonzero(np.nan_to_num(values)) >= _FEW:
                says = f"holds what {first} holds, letter by letter: a copy of the folder, whose seeds then count twice?"
                yield Fault(file=sheet.source.shown, says=says)

"""How a doubt is put into words: one remark for each file and kind, with the lines where it was seen."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from hilum.tables.groups import Ints, Marks
from hilum.tables.ledger import Rows
from hilum.tables.sentences import Fault, quoted, ranges

_LINES = 6
_NAMES = 5


def remark(rows: Rows, found: Ints, says: str, rule: str = "") -> Fault:
    """Return one remark on rows of one file: at the line of a single row, else with the lines of all."""
    file = rows.sheets[int(rows.sheet[found[0]])].source.shown
    lines = sorted({int(line) for line in rows.lines[found]})
    if len(lines) == 1:
        return Fault(file=file, line=lines[0], says=says, rule=rule)
    return Fault(file=file, says=f"lines {ranges(lines, _LINES)}: {says}", rule=rule)


def by_sheet(rows: Rows, marked: Marks) -> Iterator[Ints]:
    """Yield the marked rows of each file that has some."""
    found = np.flatnonzero(marked)
    for number in np.unique(rows.sheet[found]).tolist():
        yield found[rows.sheet[found] == number]


def figures(values: Sequence[float]) -> str:
    """Return numbers in words, each once: the first few."""
    different = list(dict.fromkeys(values))
    more = " …" if len(different) > _NAMES else ""
    return ", ".join(f"{v:.10g}" for v in different[:_NAMES]) + more


def named(names: Sequence[str]) -> str:
    """Return names in words, each once: the first few."""
    different = list(dict.fromkeys(names))
    more = f" and {len(different) - _NAMES} more" if len(different) > _NAMES else ""
    return ", ".join(quoted(name) for name in different[:_NAMES]) + more

"""Names that a reader takes for the same: alike but for case, spaces, points, the kind of hyphen, l and 1, o and 0."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from hilum.tables.column import Column
from hilum.tables.ledger import Ledger, Rows
from hilum.tables.sentences import Fault, looks, quoted

_TOLD = 5
# columns whose names mean the same in every table of a study
_OF_STUDY = ("lot", "treatment", "taxon", "trait", "chamber", "course", "light", "medium", "agent")


def look_alikes(ledger: Ledger) -> Iterator[Fault]:
    """Yield the names in one column of one file that look alike."""
    for rows in ledger.rows.values():
        for column in (c for c in rows.table.columns if c.kind == "text" and not c.long):
            for number, sheet in enumerate(rows.sheets):
                pairs = _pairs(_names(rows, column, number))
                if pairs:
                    says = f"{column.name} has names that look alike, taken as different: {_listed(pairs)}"
                    yield Fault(file=sheet.source.shown, says=says)


def across_tables(ledger: Ledger) -> Iterator[Fault]:
    """Yield the names of one column that look alike and stand in different files of a study."""
    for name in _OF_STUDY:
        where: dict[str, str] = {}
        for rows in ledger.rows.values():
            if rows.table.has(name):
                for number, sheet in enumerate(rows.sheets):
                    own = _names(rows, rows.table.column(name), number)
                    where |= {text: sheet.source.shown for text in own if text not in where}
        yield from _apart(name, where)


def dishes_across(ledger: Ledger) -> Iterator[Fault]:
    """Yield the few dishes of an experiment whose names look like those of another one, where most are the same."""
    dishes = ledger["dishes"]
    home: dict[str, dict[str, int]] = {}
    for number in range(len(dishes.sheets)):
        for text in _names(dishes, dishes.table.column("dish"), number):
            home.setdefault(looks(text), {}).setdefault(text, number)
    odd: dict[tuple[int, int], list[tuple[str, str]]] = {}
    for spelled in (s for s in home.values() if len(s) > 1):
        (first, a), (other, b) = list(spelled.items())[:2]
        if a != b:
            odd.setdefault((a, b), []).append((first, other))
    for (a, b), pairs in odd.items():
        same = set(_names(dishes, dishes.table.column("dish"), a))
        same &= set(_names(dishes, dishes.table.column("dish"), b))
        # where nearly all differ somebody labels dishes in another way there
        if len(pairs) <= len(same):
            other = dishes.sheets[a].source.shown
            says = f"dish has names that look like those of {other}, taken as different: {_listed(pairs)}"
            yield Fault(file=dishes.sheets[b].source.shown, says=says)


def _apart(column: str, where: Mapping[str, str]) -> Iterator[Fault]:
    together: dict[tuple[str, str], list[tuple[str, str]]] = {}
    for first, other in _pairs(list(where)):
        if where[first] != where[other]:
            together.setdefault((where[other], where[first]), []).append((first, other))
    for (file, elsewhere), pairs in together.items():
        says = f"{column} has names that look like those of {elsewhere}, taken as different: {_listed(pairs)}"
        yield Fault(file=file, says=says)


def _names(rows: Rows, column: Column, sheet: int) -> list[str]:
    codes = np.unique(rows[column.name][rows.of_sheet(sheet)])
    return [rows.names.texts[code] for code in codes.tolist() if code]


def _pairs(names: list[str]) -> list[tuple[str, str]]:
    seen: dict[str, str] = {}
    pairs = []
    for name in names:
        other = seen.setdefault(looks(name), name)
        if other != name:
            pairs.append((other, name))
    return pairs


def _listed(pairs: list[tuple[str, str]]) -> str:
    told = ", ".join(f"{quoted(a)} and {quoted(b)}" for a, b in pairs[:_TOLD])
    return told + (f" and {len(pairs) - _TOLD} more pairs" if len(pairs) > _TOLD else "")

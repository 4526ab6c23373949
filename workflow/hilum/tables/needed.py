"""Tables that are missing: those that rows refer to, and those that an analysis cannot do without.

An analysis whose rows are all still to be filled in is no fault: it waits, and the others go on.
"""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping, Sequence

import numpy as np

from hilum.tables.experiment import FILE
from hilum.tables.ledger import Ledger
from hilum.tables.sentences import Fault

# for each analysis the tables that it cannot do without, or several of which one will do
Needs = Mapping[str, Sequence[str | tuple[str, ...]]]
_NEEDS_DISHES = ("counts", "events", "outcomes")


def referred(ledger: Ledger, read: set[tuple[str, str]], folder: str) -> Iterator[Fault]:
    """Yield each table that rows refer to and that was not read; `read` are tables by experiment."""
    rows = [r for r in ledger.rows.values() if len(r) and r.table.has("treatment")]
    if any(r.table.level == "experiment" for r in rows) and ("treatments", "") not in read:
        says = "is missing; it lists the treatments, also that of untreated seed (method none)"
        yield Fault(file=f"{folder}/treatments.csv", says=says)
    for table in _NEEDS_DISHES:
        naming = np.unique(ledger[table].experiment[ledger[table]["dish"] > 0])
        for name in (ledger.names.texts[code] for code in naming.tolist()):
            if ("dishes", name) not in read:
                says = f"is missing; {table}.csv names dishes that it must list"
                yield Fault(file=f"{folder}/{name}/dishes.csv", says=says, rule="dishes")


def present(ledger: Ledger) -> set[tuple[str, str]]:
    """Return the tables by experiment that have rows, or cannot be read: that has its own sentence."""
    found = {
        (name, ledger.names.texts[code])
        for name, rows in ledger.rows.items()
        for code in np.unique(rows.experiment).tolist()
    }
    return found | {
        (n, s.source.experiment) for n, r in ledger.rows.items() for s in r.sheets if s.torn
    }


def lacking(
    analyses: Sequence[str], needs: Needs, place: str, there: set[tuple[str, str]]
) -> dict[str, list[tuple[str, ...]]]:
    """Return for each analysis of an experiment what it lacks: tables of which one would do."""
    found = {}
    for analysis in (a for a in analyses if a in needs):
        each = [need if isinstance(need, tuple) else (need,) for need in needs[analysis]]
        lacks = [
            one for one in each if not any((t, home) in there for t in one for home in (place, ""))
        ]
        if lacks:
            found[analysis] = lacks
    return found


def waits(
    lacks: Sequence[tuple[str, ...]], place: str, waiting: Container[tuple[str, str]]
) -> bool:
    """Return whether all that an analysis lacks is there, but not filled in yet."""
    return all(any((t, home) in waiting for t in one for home in (place, "")) for one in lacks)


def files(lacks: Sequence[tuple[str, ...]]) -> str:
    """Return the tables that an analysis lacks: `dishes.csv and counts.csv`."""
    return " and ".join(" or ".join(f"{t}.csv" for t in one) for one in lacks)


def told(analysis: str, lacks: Sequence[tuple[str, ...]], shown: str) -> Fault:
    """Return the fault of an analysis for which a table is missing or without rows."""
    says = f"analyses lists {analysis}, which needs {files(lacks)} with at least one row"
    return Fault(file=f"{shown}/{FILE}", says=says)


def awaited(
    lacks: Sequence[tuple[str, ...]], place: str, waiting: Container[tuple[str, str]]
) -> str:
    """Return the tables to be filled in for an analysis that waits: a dish is there once something of it is counted."""
    found = {
        "counts" if table == "dishes" else table: None
        for one in lacks
        for table in one
        if any((table, home) in waiting for home in (place, ""))
    }
    return " and ".join(f"{table}.csv" for table in found)


def waiting_told(analysis: str, tables: str, shown: str) -> Fault:
    """Return the remark on an analysis that waits for rows of some tables."""
    says = f"{analysis} waits for the first filled row of {tables}"
    return Fault(file=f"{shown}/{FILE}", says=says, rule=f"waits {analysis}")

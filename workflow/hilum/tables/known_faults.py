"""Faults that a researcher accepts in experiment.yaml: found in the raw rows, applied, and told.

A row is named by its cells as typed. Either some of its cells are read as other values, or it is left out.
A count that is left out takes its dish with it, out of every table, since a missing count biases the rest;
only where the same inspection was entered twice is nothing missing, and the dish stays.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from hilum.tables.experiment import KnownFault
from hilum.tables.ledger import Source
from hilum.tables.read import Correction
from hilum.tables.sentences import meant, quoted, ranges
from hilum.visible import visible

# what a row of these tables is about, and what makes two rows the same observation of it
_SUBJECTS = {
    "dishes": (("dish",), ()),
    "counts": (("dish",), ("elapsed_h", "elapsed_d", "inspected_at")),
    "outcomes": (("dish", "seed"), ("seed", "outcome", "assessed_by")),
}


@dataclass(frozen=True, kw_only=True)
class Accepted:
    """A known fault at the one line that it matches; `subject` is what leaves every table with it."""

    fault: KnownFault
    line: int
    typed: Mapping[str, str]
    subject: tuple[str, str] | None

    def correction(self) -> Correction:
        """Return what the reader is to do at the line."""
        return Correction(use=self.fault.use, leave_out=self.fault.leave_out)

    def told(self) -> str:
        """Return what was done to the line."""
        if self.fault.leave_out and self.subject:
            kind, name = self.subject
            return f"left out, and with it {kind} {quoted(name)} out of every table"
        if self.fault.leave_out:
            return "left out"
        return ", ".join(
            f"{column} read as {_or_empty(value)} instead of {_or_empty(self.typed[column])}"
            for column, value in self.fault.use.items()
        )

    def sentence(self) -> str:
        """Return what was done and where, for the page."""
        return visible(f"{self.fault.table}.csv, line {self.line}: {self.told()}.")

    def record(self) -> dict[str, Any]:
        """Return the fault as experiment.json holds it."""
        told = self.fault.model_dump()
        return told | {"line": self.line, "sentence": self.sentence()}


def _or_empty(value: str) -> str:
    return quoted(value) if value else "empty"


def _rows(source: Source) -> Iterator[tuple[int, dict[str, str]]]:
    """Yield each row of a CSV file with its line, cells stripped, as far as the file can be read."""
    # the reader tells what is wrong with the file
    with suppress(csv.Error):
        rows = csv.reader(source.text(), strict=True)
        names = [cell.strip() for cell in next(rows, [])]
        for line, row in enumerate(rows, start=2):
            cells = (cell.strip() for cell in row)
            yield line, dict(zip(names, cells, strict=False))


def _same(row: Mapping[str, str], cells: Mapping[str, str]) -> bool:
    return all(row.get(column) == cell.strip() for column, cell in cells.items())


def _subject(
    fault: KnownFault, line: int, rows: Sequence[tuple[int, dict[str, str]]]
) -> tuple[str, str] | None:
    """Return the dish or seed that leaves every table with the row, if one does."""
    typed = dict(rows)[line]
    subjects, observation = _SUBJECTS.get(fault.table, ((), ()))
    subject = next((s for s in subjects if typed.get(s)), None)
    if not fault.leave_out or subject is None:
        return None
    alike = {c: typed[c] for c in (subject, *observation) if c in typed}
    twins = [other for other, row in rows if other != line and _same(row, alike)]
    return None if twins else (subject, typed[subject])


def accept(source: Source, faults: Sequence[KnownFault]) -> tuple[list[Accepted], list[str]]:
    """Return the known faults of one raw file at their lines, and what is wrong with the others."""
    rows = list(_rows(source))
    accepted: list[Accepted] = []
    complaints: list[str] = []
    for fault in faults:
        found = [(line, row) for line, row in rows if _same(row, fault.row)]
        complaint = _complaint(source, fault, [line for line, _ in found], rows)
        if complaint:
            complaints.append(complaint)
            continue
        line, typed = found[0]
        subject = _subject(fault, line, rows)
        accepted.append(Accepted(fault=fault, line=line, typed=typed, subject=subject))
    return accepted, complaints + _twice(accepted)


def _complaint(
    source: Source,
    fault: KnownFault,
    lines: Sequence[int],
    rows: Sequence[tuple[int, dict[str, str]]],
) -> str:
    """Return what is wrong with a known fault, or ""."""
    header = list(rows[0][1]) if rows else []
    for column in (*fault.row, *fault.use):
        if column not in header:
            guess = meant(column, header)
            perhaps = f"; perhaps you meant {guess}" if guess else ""
            return f"the known fault names the column {quoted(column)}, which {source.shown} lacks{perhaps}"
    cells = ", ".join(f"{column} {quoted(cell)}" for column, cell in fault.row.items())
    if not lines:
        return f"no row of {source.shown} has {cells}; cells are compared as typed"
    if len(lines) > 1:
        return (
            f"{len(lines)} rows of {source.shown} have {cells}, in lines {ranges(lines)}; name one by "
            "more of its cells"
        )
    return ""


def _twice(accepted: Sequence[Accepted]) -> list[str]:
    lines = [a.line for a in accepted]
    double = sorted({line for line in lines if lines.count(line) > 1})
    tables = {a.line: a.fault.table for a in accepted}
    return [f"two known faults name line {line} of {tables[line]}.csv; keep one" for line in double]

"""Stage 1 of the check: a raw CSV file as arrays, line numbers kept, every cell read by its column's kind.

The file must be comma-separated UTF-8 with points in its numbers. What is surely harmless is accepted and
noted: a byte-order mark, Windows line ends, empty lines, empty columns without a name, spaces around a
cell. Everything else is a fault; no row is dropped, padded or shifted in silence.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import tzinfo

import numpy as np

from hilum.tables import cells as cells_
from hilum.tables import sentences
from hilum.tables.header import Header, read_header
from hilum.tables.ledger import Array, Names, Sheet, Source
from hilum.tables.sentences import Fault
from hilum.tables.split import Reading, chunks, contents, plain_columns

# one cell beside a whole series of inspections cannot say at which of them
_REMOVALS = ("removed", "removed_as")


@dataclass(frozen=True)
class Correction:
    """What experiment.yaml says of one line: other values for some cells, or to leave it out."""

    use: Mapping[str, str] = field(default_factory=dict)
    leave_out: bool = False


@dataclass
class _Body:
    """The rows below the header, as they are read chunk by chunk."""

    header: Header
    reading: Reading
    corrections: Mapping[int, Correction]
    readers: Mapping[int, cells_.Reader]
    parts: dict[str, list[Array]] = field(default_factory=dict)
    lines: list[Array] = field(default_factory=list)
    empty_lines: list[int] = field(default_factory=list)
    torn: bool = False

    def add(self, first: int, rows: list[list[str]]) -> None:
        """Read one chunk whose first row has the line `first`."""
        if any(line in self.corrections for line in range(first, first + len(rows))):
            rows = [self._corrected(first + i, row) for i, row in enumerate(rows)]
        lines = np.arange(first, first + len(rows))
        if not self._even(rows):
            fine = [i for i, row in enumerate(rows) if self._whole(first + i, row)]
            rows, lines = [rows[i] for i in fine], lines[fine]
        self.add_columns(lines, list(zip(*rows, strict=True)) or [()] * self.header.width)

    def add_columns(self, lines: Array, columns: Sequence[Sequence[str]]) -> None:
        """Read rows given as columns of cells."""
        self.lines.append(lines)
        self._nameless(columns, lines)
        for place, column in self.header.columns.items():
            values, complaints = self.readers[place](columns[place])
            self.parts.setdefault(column.name, []).append(values)
            for i, says in complaints:
                words = ("yes", "no") if column.kind == "yes_no" else ()
                self.reading.fault(says, int(lines[i]), column.name, "kind", words)

    def _even(self, rows: list[list[str]]) -> bool:
        """Return whether all rows have the right number of cells and none is empty, at a glance."""
        return set(map(len, rows)) == {self.header.width} and all(
            row[0] or any(row) for row in rows
        )

    def _corrected(self, line: int, row: list[str]) -> list[str]:
        correction = self.corrections.get(line)
        if correction is None:
            return row
        if correction.leave_out:
            return []
        use = {p: correction.use.get(c.name) for p, c in self.header.columns.items()}
        return [cell if use.get(i) is None else str(use[i]) for i, cell in enumerate(row)]

    def _whole(self, line: int, row: list[str]) -> bool:
        """Return whether the row has as many cells as the header; tell it if not."""
        if not any(cell.strip() for cell in row):
            if not self.corrections.get(line, Correction()).leave_out:
                self.empty_lines.append(line)
            return False
        if len(row) == self.header.width:
            return True
        self.torn = True
        why = "an unquoted comma" if len(row) > self.header.width else "a comma too few"
        says = f"the row has {len(row)} cells, but the header names {self.header.width}: {why}?"
        self.reading.fault(
            f"{says} It begins {sentences.quoted(','.join(row))}", line, rule="width"
        )
        return False

    def _nameless(self, columns: Sequence[Sequence[str]], lines: Array) -> None:
        for place in self.header.nameless:
            for i in (i for i, cell in enumerate(columns[place]) if cell.strip()):
                says = f"column {place + 1} has no name, but holds {sentences.quoted(columns[place][i])}"
                self.reading.fault(says, int(lines[i]), rule=f"nameless {place}")

    def sheet(self) -> Sheet:
        """Return what was read."""
        lines = np.concatenate(self.lines) if self.lines else np.zeros(0, dtype=np.int64)
        columns = {name: np.concatenate(parts) for name, parts in self.parts.items()}
        told = [f.line for f in self.reading.faults if f.line > 1]
        bad = np.isin(lines, told)
        return Sheet(self.reading.source, lines, columns, bad, self.torn)


def read(
    source: Source,
    names: Names,
    *,
    zone: tzinfo | None = None,
    corrections: Mapping[int, Correction] | None = None,
) -> tuple[Sheet, list[Fault], list[Fault]]:
    """Return the table in the file (empty and torn if it cannot be read as one), its faults and notes."""
    reading = Reading(source)
    sheet = _read(reading, names, zone, corrections or {})
    return sheet, reading.faults, reading.notes


def _read(
    reading: Reading,
    names: Names,
    zone: tzinfo | None,
    corrections: Mapping[int, Correction],
) -> Sheet:
    data = contents(reading)
    stream = io.TextIOWrapper(io.BytesIO(data or b""), encoding="utf-8-sig", newline="")
    parts = chunks(stream, reading)
    first = next(parts, None)
    if first is None and not reading.faults:
        reading.fault("is empty; its first line must hold the names of the columns")
    header = read_header(first[1][0], reading) if first else None
    if header is None:
        nothing = np.zeros(0, dtype=np.int64)
        return Sheet(reading.source, nothing, {}, nothing.astype(bool), torn=True)
    readers = {p: cells_.reader(c, names, zone) for p, c in header.columns.items()}
    # without one of its columns no row says all that it should
    body = _Body(header, reading, corrections, readers, torn=bool(reading.faults))
    columns = None if corrections else plain_columns(data or b"", header.width)
    if columns:
        body.add_columns(np.arange(2, len(columns[0]) + 2), columns)
    else:
        for line, rows in parts:
            body.add(line, rows)
    body.torn |= any(f.rule == "quotes" for f in reading.faults)
    _notes(body, reading)
    return _long(body.sheet(), header, reading)


def _notes(body: _Body, reading: Reading) -> None:
    if body.empty_lines:
        count, lines = len(body.empty_lines), sentences.ranges(body.empty_lines)
        noun = "1 empty line" if count == 1 else f"{count} empty lines"
        reading.note(f"{noun} passed over: {lines}")
    tidied = [c.name for p, c in body.header.columns.items() if body.readers[p].tidied]
    if tidied:
        reading.note(f"spaces around cells were not read in {', '.join(tidied)}")
    if "germinated_so_far" in body.parts:
        reading.note("read as running totals (germinated_so_far); stored as newly germinated seeds")


def _long(sheet: Sheet, header: Header, reading: Reading) -> Sheet:
    """Return a wide sheet (a column for each inspection) with one row for each cell that is not empty."""
    if not header.series:
        return sheet
    columns = sorted(header.series, key=lambda name: header.series[name])
    if len({header.series[c][1] for c in columns}) > 1:
        reading.fault(
            "some columns are running totals (so_far_…) and some are not; keep one form", 1
        )
        return sheet
    totals = header.series[columns[0]][1]
    form = "running totals" if totals else "seeds newly germinated at each inspection"
    reading.note(
        f"read as one column an inspection ({columns[0]} to {columns[-1]}), holding {form}"
    )
    if set(_REMOVALS) & set(sheet.columns):
        reading.fault("removed seeds need one row for each inspection, not one column", 1)
    return _melted(sheet, header, columns, "germinated_so_far" if totals else "germinated")


def _melted(sheet: Sheet, header: Header, columns: Sequence[str], value: str) -> Sheet:
    grid = np.column_stack([sheet.columns[c] for c in columns])
    row, place = np.nonzero(~np.isnan(grid))
    kept = {n: c[row] for n, c in sheet.columns.items() if n not in (*header.series, *_REMOVALS)}
    hours = np.array([header.series[c][0] for c in columns])[place]
    made = kept | {"elapsed_h": hours, value: grid[row, place]}
    wide = np.array(columns)[place]
    return Sheet(sheet.source, sheet.lines[row], made, sheet.bad[row], sheet.torn, wide)


def rows_at(source: Source, wanted: set[int]) -> dict[int, dict[str, str]]:
    """Return the cells as typed of some lines of a readable CSV file: `{line: {column: cell}}`."""
    found: dict[int, dict[str, str]] = {}
    rows = csv.reader(source.text(), strict=True)
    # the lines after a broken quotation have no cells
    with suppress(csv.Error):
        names = [cell.strip() for cell in next(rows, [])]
        for line, row in enumerate(rows, start=2):
            if line in wanted:
                found.setdefault(line, dict(zip(names, row, strict=False)))
    return found

"""Stage 1 of the check: a raw CSV file as arrays, line numbers kept, every cell read by its column's kind.

The file must be comma-separated UTF-8 with points in its numbers. What is surely harmless is accepted and
noted: a byte-order mark, Windows line ends, empty lines, empty columns without a name, spaces around a
cell. Everything else is a fault; no row is dropped, padded or shifted in silence.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import tzinfo
from itertools import islice
from pathlib import Path

import numpy as np
import pandas as pd

from hilum.tables import cells as cells_
from hilum.tables import sentences
from hilum.tables.column import Column, Table, one_of
from hilum.tables.ledger import Array, Names, Sheet, Source
from hilum.tables.sentences import Fault

CHUNK = 20_000
PLAIN_FROM = 1_000_000
# one cell beside a whole series of inspections cannot say at which of them
_REMOVALS = ("removed", "removed_as")
_FOREIGN = ((b"\xff\xfe", "UTF-16"), (b"\xfe\xff", "UTF-16"), (b"PK\x03\x04", "a spreadsheet file"))


@dataclass(frozen=True)
class Correction:
    """What experiment.yaml says of one line: other values for some cells, or to leave it out."""

    use: Mapping[str, str] = field(default_factory=dict)
    leave_out: bool = False


class Reading:
    """What comes out of one file while it is read: faults, notes, and the sheet."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.faults: list[Fault] = []
        self.notes: list[Fault] = []

    def fault(
        self, says: str, line: int = 0, column: str = "", rule: str = "", among: Sequence[str] = ()
    ) -> None:
        """Keep a fault of this file."""
        told = Fault(
            file=self.source.shown, line=line, column=column, says=says, rule=rule, among=among
        )
        self.faults.append(told)

    def note(self, says: str) -> None:
        """Keep a remark on this file."""
        self.notes.append(Fault(file=self.source.shown, says=says))


def _bytes(reading: Reading) -> bytes | None:
    """Return the contents of the file, or None if it is not text in UTF-8."""
    try:
        data = reading.source.path.read_bytes()
    except OSError as error:
        reading.fault(f"cannot be read: {error.strerror}")
        return None
    for start, name in _FOREIGN:
        if data.startswith(start):
            reading.fault(f"is {name}, not CSV in UTF-8; save it as CSV (UTF-8)")
            return None
    if b"\0" in data:
        line = data[: data.index(b"\0")].count(b"\n") + 1
        reading.fault("holds a NUL byte, so the file is damaged or is not text", line)
        return None
    try:
        data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        reading.fault("holds a letter that is not UTF-8; save the file as CSV (UTF-8)", line)
        return None
    if data and not data.endswith((b"\n", b"\r")):
        reading.note("does not end with a line break; make sure that its end was not cut off")
    return data


def _plain(data: bytes, width: int) -> list[list[str]] | None:
    """Return the columns below the header of a large file, if splitting it at commas is all there is to do.

    Without quotation marks, with the same number of commas in every line and no empty line, pandas can
    split it many times faster than the csv module, and cannot pad, shift or drop anything.
    """
    if len(data) < PLAIN_FROM or b'"' in data:
        return None
    body = data[data.find(b"\n") + 1 :].replace(b"\r\n", b"\n")
    if b"\r" in data[: data.find(b"\n") - 1] or b"\r" in body or not body.endswith(b"\n"):
        return None
    marks = np.frombuffer(body, dtype=np.uint8)
    commas = np.searchsorted(np.flatnonzero(marks == ord(",")), np.flatnonzero(marks == ord("\n")))
    if (np.diff(commas, prepend=0) != width - 1).any():
        return None
    table = pd.read_csv(
        io.BytesIO(body),
        header=None,
        names=list(range(width)),
        index_col=False,
        dtype=object,
        na_filter=False,
        skip_blank_lines=False,
        quoting=csv.QUOTE_NONE,
    )
    columns = [table[place].tolist() for place in range(width)]
    # a row may be empty where its first cell is
    return None if "" in columns[0] else columns


def _chunks(stream: Iterable[str], reading: Reading) -> Iterator[tuple[int, list[list[str]]]]:
    """Yield the rows in chunks, each with the line of its first row."""
    lines = csv.reader(stream, strict=True)
    first, size = 1, 1  # the header comes alone
    whole = True
    while whole:
        rows: list[list[str]] = []
        try:
            # what was read before a broken quotation stays in the list
            rows.extend(islice(lines, size))
        except csv.Error as error:
            reading.fault(_quote_words(str(error)), first + len(rows), rule="quotes")
            whole = False
        if rows:
            yield first, rows
        whole = whole and len(rows) == size
        first, size = first + len(rows), CHUNK
    if lines.line_num > first - 1 and not reading.faults:
        reading.note("has cells with line breaks; lines are counted as a spreadsheet counts rows")


def _quote_words(error: str) -> str:
    if "end of data" in error:
        return "a quotation mark opens in this row and is never closed"
    if "field limit" in error:
        return "a cell is longer than 131072 characters; is a quotation mark never closed?"
    return "a quotation mark stands inside a quoted cell; write it twice there"


@dataclass(frozen=True)
class Header:
    """The first line: `columns` by their place in a row, `width` cells a row, `nameless` places."""

    columns: Mapping[int, Column]
    width: int
    nameless: tuple[int, ...]
    series: Mapping[str, tuple[float, bool]]


def _series_column(name: str, table: Table) -> Column:
    like = next(c for c in table.columns if c.name == "germinated")
    return Column(
        name=name,
        title=name,
        description=like.description,
        kind="count",
        example=like.example,
        unit=like.unit,
        low=like.low,
        high=like.high,
    )


def _header(row: Sequence[str], reading: Reading) -> Header | None:
    """Return the header, with every fault in it told."""
    table = reading.source.table
    names = [cell.strip() for cell in row]
    if not any(names):
        reading.fault("the first line must hold the names of the columns, but is empty", 1)
        return None
    if len(names) == 1 and (";" in names[0] or "\t" in names[0]):
        mark = "semicolons" if ";" in names[0] else "tabs"
        says = (
            f"separates its columns with {mark}; save it as CSV with commas between columns and "
            "points in numbers"
        )
        reading.fault(says, 1)
        return None
    read = table.series or (lambda _: None)
    series = {name: found for name in names if (found := read(name))}
    known = {c.name: c for c in table.columns} | {n: _series_column(n, table) for n in series}
    _twice(names, reading)
    unknown = [n for n in names if n and n not in known]
    _unknown(unknown, known, reading)
    _missing(names, unknown, series, reading)
    places = {i: known[n] for i, n in enumerate(names) if n in known and n not in names[:i]}
    nameless = tuple(i for i, n in enumerate(names) if not n)
    return Header(places, len(names), nameless, series)


def _twice(names: Sequence[str], reading: Reading) -> None:
    for name in sorted({n for i, n in enumerate(names) if n and n in names[:i]}):
        reading.fault(
            f"the column {sentences.quoted(name)} is there twice", 1, rule=f"twice {name}"
        )


def _unknown(unknown: Sequence[str], known: Mapping[str, Column], reading: Reading) -> None:
    for name in unknown:
        guess = sentences.meant(name, list(known))
        perhaps = f"; perhaps you meant {guess}" if guess else f"; known are {', '.join(known)}"
        says = f"the column {sentences.quoted(name)} is not one of {reading.source.table.file}{perhaps}"
        reading.fault(says, 1, rule=f"unknown {name}")


def _missing(
    names: Sequence[str],
    unknown: Sequence[str],
    series: Mapping[str, tuple[float, bool]],
    reading: Reading,
) -> None:
    """Tell each column that is missing, but not one whose misspelling was just told."""
    table = reading.source.table
    guessed = {sentences.meant(name, [c.name for c in table.columns]) for name in unknown}
    for column in table.columns:
        if column.required and column.name not in names and column.name not in guessed:
            reading.fault(f"the column {column.name} is missing", 1, rule=f"missing {column.name}")
    for group in table.one_of:
        _alternatives(group.columns, group.needed, group.together, names, guessed, series, reading)


def _alternatives(
    columns: Sequence[str],
    needed: bool,
    together: bool,
    names: Sequence[str],
    guessed: set[str],
    series: Mapping[str, tuple[float, bool]],
    reading: Reading,
) -> None:
    given = [c for c in columns if c in names] + sorted(series)[:1]
    if len(given) > 1 and not together:
        says = f"the columns {' and '.join(given)} say the same thing; keep one of them"
        reading.fault(says, 1, rule=f"both {given[0]}")
    if not given and needed and not guessed & set(columns):
        reading.fault(f"the column {one_of(columns)} is missing", 1, rule=f"missing {columns[0]}")


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
    data = _bytes(reading)
    stream = io.TextIOWrapper(io.BytesIO(data or b""), encoding="utf-8-sig", newline="")
    chunks = _chunks(stream, reading)
    first = next(chunks, None)
    if first is None and not reading.faults:
        reading.fault("is empty; its first line must hold the names of the columns")
    header = _header(first[1][0], reading) if first else None
    if header is None:
        nothing = np.zeros(0, dtype=np.int64)
        return Sheet(reading.source, nothing, {}, nothing.astype(bool), torn=True)
    readers = {p: cells_.reader(c, names, zone) for p, c in header.columns.items()}
    # without one of its columns no row says all that it should
    body = _Body(header, reading, corrections, readers, torn=bool(reading.faults))
    columns = None if corrections else _plain(data or b"", header.width)
    if columns:
        body.add_columns(np.arange(2, len(columns[0]) + 2), columns)
    else:
        for line, rows in chunks:
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


def rows_at(path: Path, wanted: set[int]) -> dict[int, dict[str, str]]:
    """Return the cells as typed of some lines of a readable CSV file: `{line: {column: cell}}`."""
    found: dict[int, dict[str, str]] = {}
    with path.open(encoding="utf-8-sig", newline="", errors="replace") as stream:
        rows = csv.reader(stream, strict=True)
        try:
            names = [cell.strip() for cell in next(rows, [])]
            for line, row in enumerate(rows, start=2):
                if line in wanted:
                    found.setdefault(line, dict(zip(names, row, strict=False)))
        except csv.Error:
            # the lines after a broken quotation have no cells
            pass
    return found

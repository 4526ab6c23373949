"""A raw file as rows of cells: its bytes, its rows with their lines, and what is wrong with either."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice

import numpy as np
import pandas as pd

from hilum.tables.ledger import Source
from hilum.tables.sentences import Fault

CHUNK = 20_000
PLAIN_FROM = 1_000_000
CUT = "does not end with a line break; make sure that its end was not cut off"
_FOREIGN = ((b"\xff\xfe", "UTF-16"), (b"\xfe\xff", "UTF-16"), (b"PK\x03\x04", "a spreadsheet file"))


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


def contents(reading: Reading) -> bytes | None:
    """Return the contents of the file, or None if it is not text in UTF-8."""
    data = reading.source.data
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
        reading.note(CUT)
    return data


def plain_columns(data: bytes, width: int) -> list[list[str]] | None:
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
    ends = np.flatnonzero((marks == ord(",")) | (marks == ord("\n")))
    if np.diff(ends, prepend=-1).max() > csv.field_size_limit():
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


def chunks(stream: Iterable[str], reading: Reading) -> Iterator[tuple[int, list[list[str]]]]:
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

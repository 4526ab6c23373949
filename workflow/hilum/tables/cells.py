"""Cells read by their column's kind: whole columns at once, one by one only where that fails.

A reader takes the cells of one column as typed and returns an array and its complaints, each the place of a
bad cell and what goes on after "column is value". A bad cell is read as missing.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime, tzinfo
from math import isinf
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from hilum.tables.column import NAME_LENGTH, NOTE_LENGTH, Column, allowed
from hilum.tables.ledger import Names

Array = NDArray[Any]
Complaints = list[tuple[int, str]]

_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_NUMBER_CHARACTERS = "0123456789.+-eE"
_FORMULA = ", which is a formula; save the values instead"
# A spreadsheet that opens our tables would run it: after a sign, a call or the command of another program. A
# treatment called +GA3 or -5 is a name. The wide signs are those of East Asian keyboards.
_RUNS = re.compile(r"[=＝].*|[+＋@＠−－-]\s*\w[\w.]*(?:\(|.*\|).*", re.DOTALL)
# what people and spreadsheets write for a number, and what goes on after "column is value"
_NOT_NUMBERS: tuple[tuple[re.Pattern[str], str], ...] = (
    (
        re.compile(r"na|n/a|nan|null|none|missing|nd|--?|–|\?|\.", re.IGNORECASE),
        "; leave the cell empty where nothing was observed",
    ),
    (_NUMBER, ", which is more than any number that is kept"),
    (
        re.compile(r"[+-]?\d{1,3}(?:[ ,.'’\u00a0\u202f]\d{3})+(?:[.,]\d+)?", re.ASCII),
        "; write a point before the decimals and nothing between thousands",
    ),
    (
        re.compile(r"[+-]?\d+,\d+", re.ASCII),
        "; write the decimals after a point: {pointed}",
    ),
    (re.compile(r"[−–]\d[\d.]*", re.ASCII), ", whose first sign is not a minus; write -{rest}"),
    (re.compile(r"=.*"), _FORMULA),
    (re.compile(r"#.*"), ", which is a spreadsheet's word for an error"),
    (
        re.compile(r"[+-]?\d+(?:\.\d+)?\s*[^\d\s.,].*", re.ASCII),
        "; write the number alone; allowed is {allowed}",
    ),
)
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_OTHER_DATE = re.compile(r"(\d{1,4})[./-](\d{1,2})[./-](\d{1,4})(?!\d)", re.ASCII)
_MOMENT = re.compile(
    r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(?::\d{2})?(?:Z|[+-]\d{2}:?\d{2})?", re.ASCII
)
_YEARS = range(1800, 2200)


class Reader(Protocol):
    """Read the cells of one column; `tidied` tells whether names were freed of spaces around them."""

    tidied: bool

    def __call__(self, cells: Sequence[str]) -> tuple[Array, Complaints]:
        """Return the cells as an array, and the complaints."""
        ...


def reader(column: Column, names: Names, zone: tzinfo | None) -> Reader:
    """Return the reader of a column's kind; `zone` is that of clock times without an offset."""
    if column.kind in ("number", "count"):
        return _Numbers(column)
    if column.kind == "yes_no":
        return _Known(_yes_no, float)
    if column.kind == "moment":
        return _Known(lambda cell: _moment(cell, column, zone), float)
    if column.kind == "date":
        return _Known(lambda cell: _date(cell, column, names), np.int64)
    return _Known(lambda cell: _text(cell, column, names), np.int64)


class _Known(dict[str, Any]):
    """Read each distinct cell once: names, words and dates come again and again."""

    def __init__(self, read: Callable[[str], tuple[Any, str]], dtype: type) -> None:
        super().__init__()
        self.tidied = False
        self._read, self._dtype = read, dtype
        self._bad: dict[str, str] = {}
        self._missing = np.nan if dtype is float else 0

    def __missing__(self, cell: str) -> Any:
        bare = cell.strip()
        self.tidied |= bool(bare) and bare != cell
        value, complaint = self._read(bare) if bare else (self._missing, "")
        if complaint:
            self._bad[cell] = complaint
            value = self._missing
        self[cell] = value
        return value

    def __call__(self, cells: Sequence[str]) -> tuple[Array, Complaints]:
        values: Array = np.fromiter(map(self.__getitem__, cells), self._dtype, len(cells))
        if not self._bad:
            return values, []
        return values, [(i, self._bad[c]) for i, c in enumerate(cells) if c in self._bad]


class _Numbers:
    """Read a column of numbers, as a whole where nothing else is in it."""

    tidied = False

    def __init__(self, column: Column) -> None:
        self._column = column

    def __call__(self, cells: Sequence[str]) -> tuple[Array, Complaints]:
        complaints: Complaints = []
        values = _whole_column(cells)
        if values is None:
            values, complaints = _one_by_one(cells, self._column)
        if self._column.kind == "count":
            # integer coercion would turn 1.9 seeds into 1
            broken = np.flatnonzero((values != np.floor(values)) & ~np.isnan(values))
            complaints += [(int(i), f"; allowed is {allowed(self._column)}") for i in broken]
            values[broken] = np.nan
        return values, complaints


def _whole_column(cells: Sequence[str]) -> Array | None:
    """Return the column as numbers, or None where a cell is anything but a number or empty."""
    different = set(cells)
    # stripping all allowed characters leaves nothing, if nothing else is there
    if "".join(different).strip(_NUMBER_CHARACTERS):
        return None
    try:
        known = {cell: float(cell or "nan") for cell in different}
    except ValueError:
        return None
    if any(map(isinf, known.values())):
        return None
    return np.fromiter(map(known.__getitem__, cells), float, len(cells))


def _one_by_one(cells: Sequence[str], column: Column) -> tuple[Array, Complaints]:
    values = np.full(len(cells), np.nan)
    complaints: Complaints = []
    for i, raw in enumerate(cells):
        cell = raw.strip()
        if not cell:
            continue
        if _NUMBER.fullmatch(cell) and np.isfinite(float(cell)):
            values[i] = float(cell)
        else:
            complaints.append((i, _not_a_number(cell, column)))
    return values, complaints


def _not_a_number(cell: str, column: Column) -> str:
    """Return what is wrong with a cell that should be a number, and the likely cure."""
    says = next((says for pattern, says in _NOT_NUMBERS if pattern.fullmatch(cell)), "")
    says = says or ", which is not a number; allowed is {allowed}"
    return says.format(pointed=cell.replace(",", "."), rest=cell[1:], allowed=allowed(column))


def _yes_no(cell: str) -> tuple[float, str]:
    if cell in ("yes", "no"):
        return float(cell == "yes"), ""
    return np.nan, "; allowed is yes or no"


def _text(cell: str, column: Column, names: Names) -> tuple[int, str]:
    limit = NOTE_LENGTH if column.long else NAME_LENGTH
    if _RUNS.fullmatch(cell):
        return 0, _FORMULA
    if cell.isascii() and cell.isprintable() and len(cell) <= limit:
        return names.code(cell), ""
    # one letter can be written as one character or as two; they look the same, so they are made the same
    text = unicodedata.normalize("NFC", cell)
    if len(text) > limit:
        return 0, f", {len(text)} characters long; allowed are {limit}"
    hidden = next(
        (c for c in text if not c.isprintable() and not (column.long and c in "\r\n\t")), ""
    )
    if hidden:
        name = unicodedata.name(hidden, "").lower() or f"U+{ord(hidden):04X}"
        return (
            0,
            f", with an invisible character ({name}) after {text.index(hidden)} others; type it anew",
        )
    return names.code(text.replace("\r\n", "\n").replace("\r", "\n")), ""


def _date(cell: str, column: Column, names: Names) -> tuple[int, str]:
    complaint = _not_a_date(cell) if _DATE.fullmatch(cell) else _other_style(cell, column)
    return (0, complaint) if complaint else (names.code(cell), "")


def _not_a_date(text: str) -> str:
    try:
        day = date.fromisoformat(text[:10])
    except ValueError:
        return ", and there is no such day"
    return "" if day.year in _YEARS else f"; the year {day.year} cannot be meant"


def _other_style(cell: str, column: Column) -> str:
    found = _OTHER_DATE.match(cell)
    if found and len(found[3]) == 4 and int(found[1]) <= 12 and int(found[2]) <= 12:
        return (
            f", which may be {found[3]}-{found[2]:0>2}-{found[1]:0>2} or "
            f"{found[3]}-{found[1]:0>2}-{found[2]:0>2}; write the year first: {column.example}"
        )
    return f"; allowed is {allowed(column)}"


def _moment(cell: str, column: Column, zone: tzinfo | None) -> tuple[float, str]:
    if not _MOMENT.fullmatch(cell):
        if _DATE.fullmatch(cell):
            return np.nan, f", without a time of day; write for example {column.example}"
        return np.nan, _other_style(cell, column)
    try:
        moment = datetime.fromisoformat(cell)
    except ValueError:
        return np.nan, ", and there is no such day or hour"
    if moment.year not in _YEARS:
        return np.nan, f"; the year {moment.year} cannot be meant"
    return _in_utc(moment, zone)


def _in_utc(moment: datetime, zone: tzinfo | None) -> tuple[float, str]:
    if moment.tzinfo:
        return moment.timestamp(), ""
    if zone is None:
        return np.nan, (
            "; nothing says in which time zone: add the offset from UTC (+02:00), or time_zone in "
            "experiment.yaml where the table belongs to an experiment"
        )
    early, late = moment.replace(tzinfo=zone, fold=0), moment.replace(tzinfo=zone, fold=1)
    back = early.astimezone(UTC).astimezone(zone).replace(tzinfo=None)
    if back != moment:
        return np.nan, f", an hour that {zone} skipped when clocks were put forward"
    if early.utcoffset() != late.utcoffset():
        return np.nan, f", an hour that {zone} had twice; add the offset from UTC, such as +02:00"
    return early.timestamp(), ""

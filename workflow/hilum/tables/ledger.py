"""All raw tables of a study as arrays: one `Rows` for each table, over all experiments.

Texts are held as numbers from one list of names, so that names are compared, matched and grouped as
integers; 0 is the empty cell. Numbers are floats, nan where empty. A rule is a function from the ledger to
findings; it sees the whole study at once, which costs the same for one experiment as for a thousand.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, SupportsIndex

import numpy as np
from numpy.typing import NDArray

from hilum.tables import groups
from hilum.tables.column import Column, Table
from hilum.tables.experiment import Experiment
from hilum.tables.sentences import Fault

Array = NDArray[Any]
NO_ROW = -1


class Names:
    """Number every text of a study once; 0 is the empty one."""

    def __init__(self) -> None:
        self.texts: list[str] = [""]
        self._codes: dict[str, int] = {"": 0}

    def code(self, text: str) -> int:
        """Return the number of a text, a new one if it was not seen before."""
        code = self._codes.setdefault(text, len(self.texts))
        if code == len(self.texts):
            self.texts.append(text)
        return code


@dataclass(frozen=True)
class Source:
    """A raw file, read once: `shown` is its path as the person who runs the check would type it."""

    table: Table
    experiment: str
    data: bytes
    shown: str

    def text(self) -> io.TextIOWrapper:
        """Return its text to be read as CSV."""
        data = io.BytesIO(self.data)
        return io.TextIOWrapper(data, encoding="utf-8-sig", newline="", errors="replace")


@dataclass(frozen=True, eq=False)
class Sheet:
    """One raw table as read: arrays of shape (n,) for the columns that its header names.

    `lines` counts rows as a spreadsheet does. `series` is the column that a number came from, where the
    table was wide. `bad` marks rows with a fault; `torn` says that some rows could not be read at all.
    """

    source: Source
    lines: groups.Ints
    columns: Mapping[str, Array]
    bad: groups.Marks
    torn: bool = False
    series: Array | None = None

    def spelled(self, column: str, row: int) -> str:
        """Return which raw column a column's cell was typed in: `elapsed_h` may stand in `elapsed_d`."""
        groups_ = [g.columns for g in self.source.table.one_of if column in g.columns]
        if groups_ and self.series is not None:
            return str(self.series[row])
        if groups_ and column not in self.columns:
            return next((c for c in groups_[0] if c in self.columns), column)
        return column


def empty(column: Column, size: int) -> Array:
    """Return an empty column: nan for numbers and moments, 0 for text."""
    numbers = column.numeric or column.kind == "moment"
    return np.full(size, np.nan) if numbers else np.zeros(size, dtype=np.int64)


@dataclass
class Rows:
    """One table of the whole study, sheet after sheet; `place` is the row within its sheet."""

    table: Table
    names: Names
    sheets: Sequence[Sheet]
    sheet: groups.Ints
    place: groups.Ints
    lines: groups.Ints
    experiment: groups.Ints
    columns: dict[str, Array]
    bad: groups.Marks

    def __len__(self) -> int:
        return len(self.lines)

    def __getitem__(self, column: str) -> Array:
        return self.columns[column]

    def __setitem__(self, column: str, values: Array) -> None:
        self.columns[column] = values

    def given(self, column: str) -> groups.Marks:
        """Return where a cell of the column is not empty."""
        values = self.columns[column]
        return np.asarray(~np.isnan(values) if values.dtype == float else values > 0)

    def text(self, column: str, row: SupportsIndex) -> str:
        """Return the text of a cell."""
        return self.names.texts[int(self.columns[column][row])]

    def key(self, column: str) -> groups.Ints:
        """Return one code for each experiment and name, -1 where the name is missing."""
        code = (self.experiment << 32) | self.columns[column]
        return np.where(self.columns[column] > 0, code, NO_ROW)

    def shows(self, column: str) -> groups.Marks:
        """Return for each row whether its file has the column."""
        has = np.array([column in sheet.columns for sheet in self.sheets], dtype=bool)
        return has[self.sheet]

    def of_sheet(self, number: int) -> slice:
        """Return which rows came from a sheet; those of one sheet stand together."""
        first, last = np.searchsorted(self.sheet, [number, number + 1])
        return slice(int(first), int(last))

    def torn(self) -> set[int]:
        """Return the experiments, as numbers, whose file could not be read to the last row."""
        return {self.names.code(s.source.experiment) for s in self.sheets if s.torn}


@dataclass(frozen=True)
class Finding:
    """What a rule found at a row of a table; without a column it concerns the whole row.

    `says` goes on after "column is value"; `among` holds the names that may have been meant; `rule` tells
    kinds of faults apart where one function finds several.
    """

    rows: Rows
    row: SupportsIndex
    column: str
    says: str
    among: Sequence[str] = ()
    rule: str = ""

    def fault(self, rule: str) -> Fault:
        """Return it as a fault of the raw file, its value still to be looked up."""
        sheet = self.rows.sheets[self.rows.sheet[self.row]]
        place = int(self.rows.place[self.row])
        return Fault(
            file=sheet.source.shown,
            line=int(self.rows.lines[self.row]),
            column=self.column and sheet.spelled(self.column, place),
            says=self.says,
            among=self.among,
            rule=self.rule or rule,
        )


@dataclass
class Ledger:
    """The whole study: a `Rows` for every table, empty where no file was read, and the experiments."""

    names: Names
    rows: dict[str, Rows]
    experiments: Mapping[str, Experiment] = field(default_factory=dict)

    def __getitem__(self, table: str) -> Rows:
        return self.rows[table]

    def dish_rows(self, rows: Rows) -> groups.Ints:
        """Return for each row the row of its dish in dishes.csv, or -1."""
        dishes = self.rows["dishes"]
        found = groups.find(rows.key("dish"), dishes.key("dish"))
        return np.where(rows["dish"] > 0, found, NO_ROW)


def _joined(parts: Sequence[Array], like: Array) -> Array:
    return np.concatenate(parts) if parts else like


def stack(table: Table, sheets: Sequence[Sheet], names: Names) -> Rows:
    """Return the sheets of one table as one `Rows`, with every raw column."""
    sizes = [len(s.lines) for s in sheets]
    numbers = np.array([names.code(s.source.experiment) for s in sheets], dtype=np.int64)
    none = np.zeros(0, dtype=np.int64)
    columns = {
        c.name: _joined(
            [s.columns.get(c.name, empty(c, n)) for s, n in zip(sheets, sizes, strict=True)],
            empty(c, 0),
        )
        for c in table.columns
    }
    return Rows(
        table=table,
        names=names,
        sheets=sheets,
        sheet=np.repeat(np.arange(len(sheets)), sizes),
        place=_joined([np.arange(n) for n in sizes], none),
        lines=_joined([s.lines for s in sheets], none),
        experiment=np.repeat(numbers, sizes),
        columns=columns,
        bad=_joined([s.bad for s in sheets], none.astype(bool)),
    )

"""Stage 2 of the check: bounds, choices and needed cells, by a pandera schema made from the columns.

Nothing is coerced here: stage 1 has read the cells, and coercion in pandera ends the other checks of a column
at its first bad cell. One table is validated once for the whole study, not once for each experiment.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import numpy as np
import pandas as pd
import pandera.pandas as pa

from hilum.tables.column import Column, Table, allowed
from hilum.tables.ledger import Finding, Ledger, Rows

_MISSING = "not_nullable"


def _checks(column: Column) -> list[pa.Check]:
    checks = []
    if column.low is not None:
        checks.append(pa.Check.ge(column.low))
    if column.high is not None:
        checks.append(pa.Check.le(column.high))
    if column.choices:
        checks.append(pa.Check.isin(list(column.choices)))
    return checks


@cache
def schema(table: Table) -> pa.DataFrameSchema:
    """Return the pandera schema of a raw table's columns."""
    columns = {
        c.name: pa.Column(checks=_checks(c), nullable=not c.required, required=False)
        for c in table.columns
    }
    return pa.DataFrameSchema(columns, coerce=False, strict=False)


def frame(rows: Rows) -> pd.DataFrame:
    """Return the columns that have rules as pandera takes them, indexed by row."""
    ruled = [c for c in rows.table.columns if _checks(c) or c.required]
    made = {c.name: _values(rows, c) for c in ruled}
    return pd.DataFrame(made, index=pd.RangeIndex(len(rows)))


def _values(rows: Rows, column: Column) -> object:
    values = rows[column.name]
    if values.dtype == float:
        return values
    if not column.choices:
        # a name has no rule but that it must be there
        return np.where(values > 0, values, np.nan)
    codes, places = np.unique(values, return_inverse=True)
    texts = pd.Index([rows.names.texts[code] for code in codes], dtype=object)
    missing = 1 if len(codes) and codes[0] == 0 else 0
    return pd.Categorical.from_codes(places - missing, categories=texts[missing:])


def failures(ledger: Ledger, table: str) -> Iterator[Finding]:
    """Yield every cell of a table that breaks a rule of its own column."""
    rows = ledger[table]
    if not len(rows):
        return
    try:
        schema(rows.table).validate(frame(rows), lazy=True)
    except pa.errors.SchemaErrors as errors:
        cases = errors.failure_cases
        for column, check, row in zip(cases["column"], cases["check"], cases["index"], strict=True):
            yield from _finding(rows, str(column), str(check), int(row))
    yield from _no_alternative(rows)


def _finding(rows: Rows, name: str, check: str, row: int) -> Iterator[Finding]:
    column = rows.table.column(name)
    if check == _MISSING:
        # a missing column is told once, not once a row
        if rows.shows(name)[row]:
            yield Finding(rows, row, name, _empty_words(rows, column, row), rule=check)
        return
    yield Finding(rows, row, name, f"; allowed is {allowed(column)}", column.choices, check)


def _empty_words(rows: Rows, column: Column, row: int) -> str:
    """Return what is wrong with an empty cell; below a full one it may have been part of a merged cell."""
    above = row > 0 and rows.place[row] > 0 and rows.given(column.name)[row - 1]
    merged = ""
    if above and not column.numeric:
        merged = "; if cells were merged in a spreadsheet, only the first of them kept its value"
    return f", but every row needs {column.title[0].lower()}{column.title[1:]}{merged}"


def _no_alternative(rows: Rows) -> Iterator[Finding]:
    """Yield each row that has none of the columns of which it needs one."""
    for group in (g for g in rows.table.one_of if g.needed):
        given = np.logical_or.reduce([rows.given(c) for c in group.columns])
        shown = np.logical_or.reduce([rows.shows(c) for c in group.columns])
        for row in np.flatnonzero(~given & shown & ~rows.bad):
            sheet = rows.sheets[rows.sheet[row]]
            columns = [c for c in group.columns if c in sheet.columns]
            yield Finding(rows, row, columns[0], _none_words(columns) + _not_looked(rows, columns))


def _none_words(columns: list[str]) -> str:
    if len(columns) == 1:
        return ", but every row needs it"
    return f", and so is {' and '.join(columns[1:])}; every row needs one of them"


def _not_looked(rows: Rows, columns: list[str]) -> str:
    """Return what to do with an empty row that others follow, of a day on which nobody looked."""
    measured = rows.table.awaited.measured if rows.table.awaited else ()
    return "; where nobody looked, take the row out" if columns[0] in measured else ""


def set_missing(finding: Finding) -> None:
    """Make the cell of a finding missing, so that nothing else stumbles over it."""
    values = finding.rows[finding.column]
    values[finding.row] = np.nan if values.dtype == float else 0

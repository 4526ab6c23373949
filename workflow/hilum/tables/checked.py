"""Checked tables as CSV: `line` of the raw file first, then the stored columns; written once, read by all."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hilum.tables import TABLES, times
from hilum.tables.column import Column
from hilum.tables.ledger import Rows

Array = NDArray[Any]
CHUNK = 20_000


def write(path: Path, rows: Rows, kept: Array) -> None:
    """Write some rows of a table, given by their places, as a checked table."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["line", *(c.name for c in rows.table.stored)])
        for start in range(0, len(kept), CHUNK):
            part = kept[start : start + CHUNK]
            columns = [_texts(rows, column, part) for column in rows.table.stored]
            writer.writerows(zip(rows.lines[part].tolist(), *columns, strict=True))


def _texts(rows: Rows, column: Column, part: Array) -> list[str]:
    values = rows[column.name][part]
    if values.dtype != float:
        texts = rows.names.texts
        return [texts[code] for code in values.tolist()]
    # times and hours come again and again: each value is spelled once
    different, places = np.unique(values, return_inverse=True)
    spell = times.in_utc if column.kind == "moment" else _number
    spelled = [spell(value) if value == value else "" for value in different.tolist()]
    return [spelled[place] for place in places.tolist()]


def _number(value: float) -> str:
    return repr(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)


def _columns(path: Path) -> Iterator[tuple[str, list[Sequence[str]]]]:
    """Yield each column's name and its cells, in chunks."""
    with path.open(encoding="utf-8", newline="") as file:
        rows = csv.reader(file)
        names = next(rows)
        parts: list[list[Sequence[str]]] = [[] for _ in names]
        while chunk := list(islice(rows, CHUNK)):
            for part, cells in zip(parts, zip(*chunk, strict=True), strict=True):
                part.append(cells)
    yield from zip(names, parts, strict=True)


def read_checked(path: Path, table: str) -> dict[str, Array]:
    """Return a checked table as `{column: array}`, every array of shape (rows,).

    Numbers, `line` and yes/no (1, 0) are floats with nan for missing; all else is text with "".
    """
    kinds = {c.name: c for c in TABLES[table].stored}
    return {
        name: _numbers(parts) if name == "line" or kinds[name].numeric else _words(parts)
        for name, parts in _columns(path)
    }


def _numbers(parts: Sequence[Sequence[str]]) -> Array:
    arrays = [np.array([float(c) if c else np.nan for c in cells]) for cells in parts]
    return np.concatenate(arrays) if arrays else np.zeros(0)


def _words(parts: Sequence[Sequence[str]]) -> Array:
    arrays = [np.array(cells, dtype=str) for cells in parts]
    return np.concatenate(arrays) if arrays else np.zeros(0, dtype=str)

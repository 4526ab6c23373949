"""Write checked tables as the raw tables that a person would have typed."""

import csv
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np


def text(value: object) -> str:
    """Return a cell as people type it: no trailing zeros, nothing where it is not known."""
    if isinstance(value, (float, np.floating)):
        return "" if np.isnan(value) else f"{float(value):.10g}"
    return str(value)


def table(columns: Mapping[str, np.ndarray]) -> tuple[list[str], list[list[str]]]:
    """Return header and rows of a table, without `line` and without columns that say nothing."""
    cells = {name: [text(v) for v in values] for name, values in columns.items() if name != "line"}
    told = {name: values for name, values in cells.items() if any(values)}
    return list(told), [list(row) for row in zip(*told.values(), strict=True)]


def write(path: Path, header: Sequence[str], rows: Sequence[Sequence[object]]) -> None:
    """Write one raw table."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows([header, *rows])

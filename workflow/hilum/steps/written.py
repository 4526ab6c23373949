"""How results are written: the same numbers as the same bytes."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np


def table(path: Path, columns: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Write a table as CSV."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows(rows)


def drawing(path: Path, drawn: Any) -> None:
    """Write what charts and pages draw as JSON."""
    text = json.dumps(rounded(drawn), sort_keys=True, allow_nan=False)
    path.write_text(text + "\n", encoding="utf-8", newline="\n")


def cell(value: object) -> str:
    """Return a value as a cell of a table, empty where there is none."""
    if value is None:
        return ""
    # ten digits are more than any reader needs, and fewer than differ between runs of one lock
    return f"{float(value):.10g}" if isinstance(value, (float, np.floating)) else str(value)


def rounded(value: Any) -> Any:
    """Return `value` as what JSON can hold, its numbers at six significant digits."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: rounded(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {str(k): rounded(v) for k, v in value.items()}
    if isinstance(value, np.ndarray):
        return rounded(value.tolist())
    if isinstance(value, (list, tuple)):
        return [rounded(v) for v in value]
    if isinstance(value, (float, np.floating)):
        return float(f"{float(value):.6g}")
    return value.item() if isinstance(value, np.generic) else value

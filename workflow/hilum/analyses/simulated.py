"""Simulated rows as the checked tables that `fit` receives."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from hilum.tables import TABLES


def as_table(name: str, rows: Sequence[Mapping[str, Any]]) -> dict[str, np.ndarray]:
    """Return rows as a checked table: every column, those that no row speaks of empty.

    `line` counts as in a raw file, whose first line holds the names.
    """
    empty = {c.name: float("nan") if c.numeric else "" for c in TABLES[name].stored}
    columns = {
        column: np.array([row.get(column, nothing) for row in rows], dtype=type(nothing))
        for column, nothing in empty.items()
    }
    return {"line": np.arange(2.0, len(rows) + 2.0)} | columns

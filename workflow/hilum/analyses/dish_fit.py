"""Each dish beside the curve that was fitted to it: what the chart of dishes draws."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from hilum.stats import residuals
from hilum.stats.arrays import Array
from hilum.stats.interval_censored import Cells
from hilum.stats.residuals import DishResiduals, Leverage

Row = dict[str, Any]


def held(
    dish: np.ndarray,
    chamber: np.ndarray,
    cells: Cells,
    reached: Callable[[Array], Array],
    leverage: Leverage,
    of: Mapping[str, Any],
) -> list[Row]:
    """Return dishes of one kind of seeds, `of`, with what was seen, what was fitted and how far these lie apart.

    `dish` and `chamber` (J,) are their names; `reached` gives the fitted share of the seeds that germinates by hours
    (J, K).
    """
    before, after = reached(cells.start_h), reached(cells.end_h)
    found = residuals.of_dishes(cells, before, after, leverage)
    return [
        dict(of)
        | {"dish": str(dish[j]), "chamber": str(chamber[j])}
        | _seen(cells, after, j)
        | _apart(found, j)
        for j in range(len(dish))
    ]


def _seen(cells: Cells, after: Array, j: int) -> Row:
    """Return the share germinated by each inspection, of the seeds that were not lost before the end."""
    real = cells.end_h[j] > cells.start_h[j]
    seeds = float(cells.germinated[j] + cells.censored[j, 0])
    return {
        "seeds": seeds,
        "hours": cells.end_h[j][real].tolist(),
        "seen": (np.cumsum(cells.count[j][real]) / max(seeds, 1.0)).tolist(),
        "fitted": after[j][real].tolist(),
    }


def _apart(found: DishResiduals, j: int) -> Row:
    values = {"number": float(found.number[j]), "time": float(found.time[j])}
    return {name: None if np.isnan(value) else value for name, value in values.items()}

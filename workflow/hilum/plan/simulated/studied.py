"""Simulated studies, analysed as real ones are: how wide their intervals come out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np

from hilum.analyses.estimate import Fit
from hilum.settings import Settings
from hilum.stats.families import Array

Tables = Mapping[str, Mapping[str, np.ndarray]]


def half_widths(
    fit: Callable[..., Fit],
    simulate: Callable[[np.random.Generator], Tables],
    quantity: str,
    *,
    confidence: float,
    correlation: float,
    studies: int,
    rng: np.random.Generator,
) -> Array:
    """Return the half-widths (studies,) of the one estimate of a quantity, infinite where a study has none.

    `simulate` draws the tables of a study, `fit` is an analysis, `correlation` what it takes for unknown dish spread.
    """
    settings = Settings(
        study=Path(), confidence=confidence, dish_correlation_when_unknown=correlation
    )
    widths = np.full(studies, np.inf)
    for study in range(studies):
        found = fit(simulate(rng), settings=settings, rng=rng)
        for e in found.estimates:
            if e.quantity == quantity and e.status == "estimated":
                assert e.low is not None and e.high is not None  # noqa: S101
                widths[study] = (e.high - e.low) / 2
    return widths

"""Trueness to name: which taxa the measured traits of a lot are compatible with."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from hilum.analyses.estimate import Fit, Tables
from hilum.analyses.trueness_to_name import estimates, view
from hilum.analyses.trueness_to_name.compared import Rule, find
from hilum.analyses.trueness_to_name.measured import lots, published
from hilum.analyses.trueness_to_name.separating import separations
from hilum.analyses.trueness_to_name.truth import TRUTH, TrueLot, TruenessTruth, TrueTaxon, simulate

if TYPE_CHECKING:
    from hilum.settings import Settings

__all__ = ["TRUTH", "TrueLot", "TrueTaxon", "TruenessTruth", "fit", "simulate"]


def fit(tables: Tables, *, settings: Settings, rng: np.random.Generator) -> Fit:  # noqa: ARG001 (nothing is drawn here)
    """Return for each lot the share outside every published range, and the taxa that it is compatible with.

    `tables` needs traits; reference_traits and the labels of lots are used where given.
    """
    rule = Rule(covers=settings.range_covers, confidence=settings.confidence)
    known = published(tables)
    found = [find(lot, known, rule) for lot in lots(tables)]
    return Fit(
        tuple(estimate for one in found for estimate in estimates.of_lot(one, rule)),
        lambda: view.of(
            [(one, separations(one, known, rule)) for one in found], known.values(), rule
        ),
        {
            "ranges": [row for one in found for row in estimates.range_rows(one)],
            "outside": [row for one in found for row in estimates.outside_rows(one)],
        },
    )

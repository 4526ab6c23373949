"""Buoyancy: when seeds sink for good, and what floating tells of what becomes of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from hilum.analyses.buoyancy import classified, looks, sinking, view
from hilum.analyses.buoyancy.sample import gather
from hilum.analyses.buoyancy.truth import TRUTH, BuoyancyTruth, TrueFloating, simulate
from hilum.analyses.estimate import Fit, Tables
from hilum.analyses.printer import Printer

if TYPE_CHECKING:
    from hilum.settings import Settings

__all__ = ["TRUTH", "BuoyancyTruth", "TrueFloating", "fit", "simulate"]


def fit(tables: Tables, *, settings: Settings, rng: np.random.Generator) -> Fit:  # noqa: ARG001 (nothing is drawn here)
    """Return time to final sinking and the worth of the float test for each lot × treatment.

    `tables` needs weighings with floats; outcomes of single seeds are used where given. Masses are not needed.
    """
    unknown, confidence = settings.dish_correlation_when_unknown, settings.confidence
    told, found, rows = [], [], []
    for sample in gather(looks.traces(tables)):
        printer = Printer((sample.lot, sample.treatment, np.nan, ""), confidence)
        worth = classified.classify(sample, confidence=confidence, unknown=unknown)
        told += sinking.estimates(sample, printer, unknown)
        told += classified.estimates(sample, worth, printer)
        found.append((sample, worth))
        rows += sinking.seed_rows(sample)
    return Fit(tuple(told), lambda: view.of(found), {"seeds": rows})

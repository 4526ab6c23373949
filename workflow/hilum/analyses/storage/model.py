"""Storage: how long seed keeps, treated against untreated, and how many seeds to expect alive later."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from hilum.analyses.estimate import Fit, Tables
from hilum.analyses.printer import Printer
from hilum.analyses.storage import compared, falling, printed, view
from hilum.analyses.storage.stored import gather
from hilum.analyses.storage.truth import TRUTH, StorageTruth, TrueStorage, simulate

if TYPE_CHECKING:
    from hilum.settings import Settings

__all__ = ["TRUTH", "StorageTruth", "TrueStorage", "fit", "simulate"]


def fit(tables: Tables, *, settings: Settings, rng: np.random.Generator) -> Fit:  # noqa: ARG001 (nothing is drawn here)
    """Return the estimates of every lot and treatment in every store.

    `tables` needs viability, or dishes with counts and outcomes; treatments to know untreated seed.
    """
    months, confidence = settings.storage_months, settings.confidence
    plain = compared.untreated(tables.get("treatments"))
    unknown = settings.dish_correlation_when_unknown
    # treated seed first: its keeping is what is asked
    kept = sorted(gather(tables), key=lambda one: one.key[1] in plain)
    found = falling.find(kept, unknown=unknown, confidence=confidence)
    made = [
        estimate
        for one in found
        for estimate in printed.estimates(one, Printer(one.kept.key, confidence), months)
    ]

    return Fit((*made, *compared.ratios(found, plain)), lambda: view.of(found, months, plain))

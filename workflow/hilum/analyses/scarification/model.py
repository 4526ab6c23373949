"""Scarification: the best dose of each series, germination there, its window, and the harm at each dose."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from hilum.analyses.dishes import assemble
from hilum.analyses.estimate import Fit, Tables
from hilum.analyses.printer import Printer
from hilum.analyses.scarification import best, doses, harm, view
from hilum.analyses.scarification.sown import gather
from hilum.analyses.scarification.truth import TRUTH, ScarificationTruth, TrueDose, simulate

if TYPE_CHECKING:
    from hilum.settings import Settings

__all__ = ["TRUTH", "ScarificationTruth", "TrueDose", "fit", "simulate"]


def fit(tables: Tables, *, settings: Settings, rng: np.random.Generator) -> Fit:  # noqa: ARG001 (nothing is drawn here)
    """Return the estimates of every dose series of every lot, temperature and condition.

    `tables` needs dishes, counts and outcomes, and treatments to know doses; viability and events are used where given.
    """
    steps = doses.steps_of(tables.get("treatments"))
    series = doses.series_of(steps)
    kinds = (doses.untreated(steps), doses.by_hand(steps))
    unknown = settings.dish_correlation_when_unknown
    gathered = gather(assemble(tables), tables, series, *kinds)
    found = best.find(gathered, unknown=unknown, confidence=settings.confidence)
    made = []
    for one in found:
        sown = one.sown
        key = (sown.lot, sown.series.name, sown.temperature_c, sown.condition)
        printer = Printer(key, settings.confidence)
        told = best.estimates(one, printer, unknown)
        harmed = harm.estimates(sown, printer, unknown=unknown)
        made += [*told, *harmed]
    return Fit(tuple(made), lambda: view.of(found))

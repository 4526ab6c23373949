"""Seedlings: how long each leaf takes, whether and how long they pause, and which are later than their siblings."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

import numpy as np

from hilum.analyses.estimate import Estimate, Fit, Tables
from hilum.analyses.printer import Printer
from hilum.analyses.seedlings import late, pause, progress, timing, view, words
from hilum.analyses.seedlings.grown import Siblings, fit_all, gather
from hilum.analyses.seedlings.pause import Pause, Stay
from hilum.analyses.seedlings.truth import TRUTH, SeedlingsTruth, TrueSeedlings, simulate

if TYPE_CHECKING:
    from hilum.settings import Settings

__all__ = ["TRUTH", "SeedlingsTruth", "TrueSeedlings", "fit", "simulate"]

_MEDIAN = {"t50": timing.LEVELS["t50"]}
_WHY_NO_PAUSE = {
    "alone": words.ONE_SEEDLING,
    "no_leaves": words.NO_LEAVES,
    "no_pause": words.NO_PAUSE,
    "not_told": words.NOT_TOLD,
    "scattered": words.SCATTERED,
}


def fit(tables: Tables, *, settings: Settings, rng: np.random.Generator) -> Fit:  # noqa: ARG001 (nothing is drawn here)
    """Return times to each leaf number, the pause, and late seedlings for each lot × treatment.

    `tables` needs stages.
    """
    groups = gather(tables)
    fit_all(groups)
    stays = [pause.stays(g, settings.confidence) for g in groups]
    pauses = [pause.find(g, s) for g, s in zip(groups, stays, strict=True)]
    chances = [late.chances(g, p) for g, p in zip(groups, pauses, strict=True)]
    strict = late.beyond_chance(chances, settings.confidence)
    rows = [progress.of(*one) for one in zip(groups, pauses, chances, strict, strict=True)]
    told = [
        estimate
        for one in zip(groups, stays, pauses, strict=True)
        for estimate in _estimates(*one, settings.confidence)
    ]
    return Fit(
        tuple(told),
        lambda: view.of(groups, stays, pauses, rows),
        {"seedlings": [asdict(row) for own in rows for row in own]},
    )


def _estimates(
    siblings: Siblings, stays: list[Stay], found: Pause, confidence: float
) -> list[Estimate]:
    printer = Printer((siblings.lot, siblings.treatment, np.nan, ""), confidence)
    made = _pause(siblings, found, printer)
    for leaves in range(1, max(siblings.most, 1) + 1):
        spans = siblings.to_leaves(leaves)
        made += timing.estimates("leaf", leaves, spans, printer, timing.LEVELS)
    for stay in stays[1:]:
        made += timing.estimates("stay", stay.leaves, stay.spans, printer, _MEDIAN)
    return made


def _pause(siblings: Siblings, found: Pause, printer: Printer) -> list[Estimate]:
    if found.found:
        _, spans = siblings.at_leaves(found.leaves)
        return timing.estimates("pause", found.leaves, spans, printer, timing.LEVELS)
    needs = _WHY_NO_PAUSE[found.verdict]
    method = "stays at each leaf number, compared"
    return [
        printer.not_identified(f"pause_{level}", method=method, needs=needs)
        for level in timing.LEVELS
    ]

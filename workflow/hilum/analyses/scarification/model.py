"""Scarification: the best dose of each series, germination there, its window, and the harm at each dose."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from hilum.analyses.dishes import assemble
from hilum.analyses.estimate import Fit, Tables
from hilum.analyses.printer import Printer, number_or_none
from hilum.analyses.scarification import best, doses, harm
from hilum.analyses.scarification.sown import FATES, OPENED, PLAIN, Sown, gather
from hilum.analyses.scarification.truth import TRUTH, ScarificationTruth, TrueDose, simulate
from hilum.stats import scarification_residuals
from hilum.stats.scarification_curves import curves

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
    made, drawn = [], []
    for one in found:
        sown = one.sown
        key = (sown.lot, sown.series.name, sown.temperature_c, sown.condition)
        printer = Printer(key, settings.confidence)
        told = best.estimates(one, printer, unknown)
        harmed = harm.estimates(sown, printer, unknown=unknown)
        made += [*told, *harmed]
        drawn.append(_place(sown) | _drawing(one))
    return Fit(tuple(made), {"series": drawn})


def _place(sown: Sown) -> dict[str, Any]:
    return {
        "lot": sown.lot,
        "treatment": sown.series.name,
        "temperature_c": number_or_none(sown.temperature_c),
        "condition": sown.condition,
    }


def _drawing(found: best.Found) -> dict[str, Any]:
    """Return what the chart and the page say of a series."""
    sown = found.sown
    return {
        "method": sown.series.method,
        "unit": sown.series.unit,
        "quantity": sown.series.quantity,
        "outcome": found.outcome,
        "doses": sown.doses,
        "groups": _groups(sown),
        "curve": _curve(found),
        "units": _units(found),
        "by_bath": sown.by_bath,
        "baths_known": sown.baths_known,
        "shared_bath": sown.shared_bath,
        "left_out": sown.left_out,
        "reference": "opened" if sown.of(OPENED) else "tested" if sown.tested else "",
        "assumed": found.assumed,
    }


def _groups(sown: Sown) -> list[dict[str, Any]]:
    """Return the fates of the seeds at each dose (0 for untreated ones), and of seeds opened by hand."""
    keys, _, _ = sown.table((0,))
    shares = [sown.table((fate,)) for fate in range(len(FATES))]
    made = []
    for i, (kind, dose) in enumerate(keys):
        seeds = float(shares[0][2][i].sum())
        fates = {name: float(s[1][i].sum()) / seeds for name, s in zip(FATES, shares, strict=True)}
        made.append({"kind": kind, "dose": dose, "seeds": seeds} | fates)
    return made


def _units(found: best.Found) -> list[dict[str, Any]]:
    """Return each dish or bath beside the curves fitted to it, none where nothing was fitted."""
    if found.fitted is None:
        return []
    seen, apart = found.fitted.units, scarification_residuals.of_units(found.fitted)
    return [
        {
            "unit": unit.name,
            "kind": unit.kind if unit.kind in (PLAIN, OPENED) else "dose",
            "dose": unit.dose,
            "sown": unit.sown,
            "not_hard_seen": float(seen.permeable[j]) / unit.sown,
            "germinated_seen": float(seen.germinated[j]) / unit.sown,
            "not_hard_fitted": number_or_none(float(apart.fitted_not_hard[j])),
            "germinated_fitted": float(apart.fitted_germinated[j]),
            "not_hard": number_or_none(float(apart.not_hard[j])),
            "germinated": number_or_none(float(apart.germinated[j])),
        }
        for j, unit in enumerate(found.sown.units)
    ]


def _curve(found: best.Found) -> dict[str, list[float]]:
    if found.fitted is None:
        return {"dose": [], "permeable": [], "germinated": []}
    dose = best.curve(found)
    drawn = curves(found.fitted.parameters, np.log(dose))
    return {
        "dose": dose.tolist(),
        "permeable": drawn.permeable.tolist(),
        "germinated": drawn.of_sown.tolist(),
    }

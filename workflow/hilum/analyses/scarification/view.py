"""What chart and page of scarification draw and say: each dose series of each lot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hilum.analyses.printer import number_or_none
from hilum.analyses.scarification import best
from hilum.analyses.scarification.best import Found
from hilum.analyses.scarification.sown import FATES, OPENED, PLAIN, Sown
from hilum.stats import scarification_residuals
from hilum.stats.scarification_curves import curves


@dataclass(frozen=True, kw_only=True)
class Group:
    """Seeds sown at one dose (`kind` dose, in the unit of the series), untreated or opened by hand; shares of them by fate."""

    kind: str
    dose: float
    seeds: float
    normal: float
    abnormal: float
    fresh: float
    hard: float
    dead: float


@dataclass(frozen=True, kw_only=True)
class Curves:
    """Fitted shares of the seeds sown at each dose drawn: not hard, and germinated normally."""

    dose: tuple[float, ...]
    permeable: tuple[float, ...]
    germinated: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class FittedUnit:
    """One dish or bath beside the curves: shares of its seeds, observed and fitted, and standardised residuals."""

    unit: str
    kind: str
    dose: float
    sown: float
    not_hard_seen: float
    germinated_seen: float
    not_hard_fitted: float | None
    germinated_fitted: float
    not_hard: float | None
    germinated: float | None

    @property
    def residuals(self) -> dict[str, float | None]:
        """Return the residuals of both parts, above 0 where more seeds were not hard, or germinated, than fitted."""
        return {"not_hard": self.not_hard, "germinated": self.germinated}


@dataclass(frozen=True, kw_only=True)
class DoseSeries:
    """One dose series of one lot, its doses in `unit`; `left_out` counts dishes, `reference` says what shows dead seeds."""

    lot: str
    treatment: str
    temperature_c: float | None
    condition: str
    method: str
    unit: str
    quantity: str
    outcome: str
    doses: tuple[float, ...]
    groups: tuple[Group, ...]
    curve: Curves | None
    units: tuple[FittedUnit, ...]
    by_bath: bool
    baths_known: bool
    shared_bath: bool
    left_out: int
    reference: str
    assumed: bool


@dataclass(frozen=True, kw_only=True)
class View:
    """Every dose series of an experiment."""

    series: tuple[DoseSeries, ...]


def of(found: Sequence[Found]) -> View:
    """Return what chart and page draw and say."""
    return View(series=tuple(_series(one) for one in found))


def _series(found: Found) -> DoseSeries:
    sown = found.sown
    return DoseSeries(
        lot=sown.lot,
        treatment=sown.series.name,
        temperature_c=number_or_none(sown.temperature_c),
        condition=sown.condition,
        method=sown.series.method,
        unit=sown.series.unit,
        quantity=sown.series.quantity,
        outcome=found.outcome,
        doses=tuple(sown.doses),
        groups=_groups(sown),
        curve=_curves(found),
        units=_units(found),
        by_bath=sown.by_bath,
        baths_known=sown.baths_known,
        shared_bath=sown.shared_bath,
        left_out=sown.left_out,
        reference="opened" if sown.of(OPENED) else "tested" if sown.tested else "",
        assumed=found.assumed,
    )


def _groups(sown: Sown) -> tuple[Group, ...]:
    """Return the fates of the seeds at each dose (0 for untreated ones), and of seeds opened by hand."""
    keys, _, _ = sown.table((0,))
    shares = [sown.table((fate,)) for fate in range(len(FATES))]
    made = []
    for i, (kind, dose) in enumerate(keys):
        seeds = float(shares[0][2][i].sum())
        fates = {name: float(s[1][i].sum()) / seeds for name, s in zip(FATES, shares, strict=True)}
        made.append(Group(kind=kind, dose=dose, seeds=seeds, **fates))
    return tuple(made)


def _units(found: Found) -> tuple[FittedUnit, ...]:
    """Return each dish or bath beside the curves fitted to it, none where nothing was fitted."""
    if found.fitted is None:
        return ()
    seen, apart = found.fitted.units, scarification_residuals.of_units(found.fitted)
    return tuple(
        FittedUnit(
            unit=unit.name,
            kind=unit.kind if unit.kind in (PLAIN, OPENED) else "dose",
            dose=unit.dose,
            sown=unit.sown,
            not_hard_seen=float(seen.permeable[j]) / unit.sown,
            germinated_seen=float(seen.germinated[j]) / unit.sown,
            not_hard_fitted=number_or_none(apart.fitted_not_hard[j]),
            germinated_fitted=float(apart.fitted_germinated[j]),
            not_hard=number_or_none(apart.not_hard[j]),
            germinated=number_or_none(apart.germinated[j]),
        )
        for j, unit in enumerate(found.sown.units)
    )


def _curves(found: Found) -> Curves | None:
    if found.fitted is None:
        return None
    dose = best.curve(found)
    drawn = curves(found.fitted.parameters, np.log(dose))
    return Curves(
        dose=tuple(dose.tolist()),
        permeable=tuple(drawn.permeable.tolist()),
        germinated=tuple(drawn.of_sown.tolist()),
    )

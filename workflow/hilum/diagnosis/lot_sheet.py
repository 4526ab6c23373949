"""The sheet of each lot: what a thousand seeds weigh, how moist they are, and whether the replicates agree."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from hilum.analyses.estimate import Estimate
from hilum.analyses.quantities import QUANTITIES
from hilum.diagnosis.references import Treatments
from hilum.stats import moisture, thousand_seed
from hilum.stats.arrays import Array

Table = Mapping[str, np.ndarray]
_WEIGH = (
    "weigh eight replicates of 100 untreated seeds before they are soaked, and enter them in weighings.csv at 0 h with "
    "100 under seeds."
)
NOT_WEIGHED = f"no untreated seeds were weighed dry: {_WEIGH}"
WEIGHED_ONCE = f"a single weighing does not show how far weighings differ: {_WEIGH}"
NOT_DRIED = (
    "the moisture was not determined: dry two samples in an oven, and enter their masses in moisture.csv beside "
    "lots.csv."
)
DRIED_ONCE = (
    "a single determination does not show how far determinations differ: dry a second sample."
)
_MASS = "mean of {}; limits of Student's t"
_CV = "sd between {} over their mean; limits of a normal variance, the mean taken as known"
_OVEN = "mean of {} determinations by drying; limits of Student's t"


@dataclass(frozen=True)
class Sheet:
    """The figures of a lot, and what the tolerances say of them, None where they say nothing."""

    estimates: tuple[Estimate, ...]
    facts: Mapping[str, Any]


def sheets(
    lots: Table,
    weighings: Iterable[Table],
    treatments: Treatments,
    dried: Table | None,
    *,
    confidence: float,
) -> dict[str, Sheet]:
    """Return the sheet of each lot: `weighings` are those of all experiments, `dried` the samples of moisture.csv."""
    weighed = _weighed(weighings, treatments)
    return {
        str(lot): _sheet(str(lot), weighed.get(str(lot), []), dried, float(given), confidence)
        for lot, given in zip(lots["lot"], lots["moisture_pct"], strict=True)
    }


def _sheet(
    lot: str,
    weighed: Sequence[tuple[float, float]],
    dried: Table | None,
    given_pct: float,
    confidence: float,
) -> Sheet:
    mass, seeds = _replicates(weighed)
    found = _determined(lot, dried)
    estimates = [*_mass(lot, mass, seeds, confidence), *_moisture(lot, found, confidence)]
    facts = {
        "mass": _mass_facts(mass, seeds, confidence),
        "moisture": _moisture_facts(found),
        "given": _both(given_pct),
        "typed_apart": _typed_apart(given_pct, found),
    }
    return Sheet(tuple(estimates), facts)


def _row(lot: str, quantity: str, confidence: float, **more: Any) -> Estimate:
    unit = QUANTITIES[quantity].unit
    return Estimate(lot=lot, quantity=quantity, unit=unit, confidence=confidence, **more)


# mass


def _weighed(
    weighings: Iterable[Table], treatments: Treatments
) -> dict[str, list[tuple[float, float]]]:
    """Return mass (mg) and seeds of each dry weighing of untreated seeds, by lot.

    A treatment takes away coat or water, so that treated seeds tell little of the lot.
    """
    found: dict[str, list[tuple[float, float]]] = {}
    for table in weighings:
        intact = {t for t in np.unique(table["treatment"]).tolist() if treatments.intact(t)}
        dry = (table["soaked_h"] == 0) & (table["mass_mg"] > 0)
        rows = np.flatnonzero(dry & np.isin(table["treatment"], list(intact)))
        for lot, *both in zip(*(table[n][rows].tolist() for n in _COLUMNS), strict=True):
            found.setdefault(lot, []).append((both[0], both[1]))
    return found


_COLUMNS = ("lot", "mass_mg", "seeds")


def _replicates(weighed: Sequence[tuple[float, float]]) -> tuple[Array, Array]:
    """Return masses and seeds of the replicates of one size: that in which most seeds were weighed, (k,)."""
    together: Counter[float] = Counter()
    for _, seeds in weighed:
        together[seeds] += int(seeds)
    size = max(together, key=lambda s: (together[s], s), default=0.0)
    masses = [mass for mass, seeds in weighed if seeds == size]
    return np.array(masses), np.full(len(masses), size)


def _words(seeds: Array) -> str:
    k, each = len(seeds), int(seeds[0])
    return f"{k} seeds weighed singly" if each == 1 else f"{k} replicates of {each} seeds"


def _mass(lot: str, mass: Array, seeds: Array, confidence: float) -> list[Estimate]:
    names = ("thousand_seed_mass", "mass_variation")
    if len(mass) < 2:
        needs = WEIGHED_ONCE if len(mass) else NOT_WEIGHED
        about = {"status": "not_identified", "method": "weighings at 0 h", "needs": needs}
        return [_row(lot, name, confidence, **about) for name in names]
    found = thousand_seed.thousand_seed_mass(mass, seeds, confidence=confidence)
    ends = (
        (found.mass_g, found.low_g, found.high_g),
        (found.cv_pct, found.cv_low_pct, found.cv_high_pct),
    )
    return [
        _row(
            lot,
            name,
            confidence,
            status="estimated",
            method=method.format(_words(seeds)),
            value=value,
            low=low,
            high=high,
        )
        for name, method, (value, low, high) in zip(names, (_MASS, _CV), ends, strict=True)
    ]


def _mass_facts(mass: Array, seeds: Array, confidence: float) -> dict[str, Any] | None:
    if not len(mass):
        return None
    found = thousand_seed.thousand_seed_mass(mass, seeds, confidence=confidence)
    allowed = thousand_seed.tolerated_cv(len(mass), float(seeds[0]))
    ruled = bool(np.isfinite(allowed))
    return {
        "replicates": len(mass),
        "seeds_each": int(seeds[0]),
        "tolerated_cv": allowed if ruled else None,
        "agrees": bool(found.cv_pct <= allowed) if ruled else None,
    }


# moisture


def _determined(lot: str, dried: Table | None) -> moisture.Moisture:
    if dried is None:
        return moisture.from_wet_basis(np.zeros(0))
    own = dried["lot"] == lot
    container, before, after = (dried[n][own] for n in ("container_g", "before_g", "after_g"))
    return moisture.by_oven(container, before, after)


def _moisture(lot: str, found: moisture.Moisture, confidence: float) -> list[Estimate]:
    bases = {"moisture_wet": found.wet_basis_pct, "moisture_dry": found.dry_basis_pct}
    made = []
    for name, pct in bases.items():
        if len(pct) < 2:
            about = {"status": "not_identified", "method": "drying"}
            needs = DRIED_ONCE if len(pct) else NOT_DRIED
            made.append(_row(lot, name, confidence, needs=needs, **about))
            continue
        value, low, high = moisture.mean_of(pct, confidence=confidence)
        ends = {"value": value, "low": max(low, 0.0), "high": high}
        method = _OVEN.format(len(pct))
        made.append(_row(lot, name, confidence, status="estimated", method=method, **ends))
    return made


def _moisture_facts(found: moisture.Moisture) -> dict[str, Any] | None:
    wet = found.wet_basis_pct
    if len(wet) < 2:
        return None
    agrees = moisture.duplicates_agree(wet.min(), wet.max(), tolerance_pct=moisture.DUPLICATES_PCT)
    return {
        "samples": len(wet),
        "apart": float(np.ptp(wet)),
        "tolerated": moisture.DUPLICATES_PCT,
        "agrees": bool(agrees),
    }


def _both(wet_pct: float) -> dict[str, float] | None:
    """Return the moisture that lots.csv gives on both bases."""
    if not 0 <= wet_pct < 100:
        return None
    found = moisture.from_wet_basis(wet_pct)
    return {"wet": float(found.wet_basis_pct), "dry": float(found.dry_basis_pct)}


def _typed_apart(typed_pct: float, found: moisture.Moisture) -> dict[str, float] | None:
    """Return the moisture of lots.csv beside the one determined (wet basis), where two determinations would not agree."""
    if np.isnan(typed_pct) or not len(found.wet_basis_pct):
        return None
    dried = float(found.wet_basis_pct.mean())
    if moisture.duplicates_agree(typed_pct, dried, tolerance_pct=moisture.DUPLICATES_PCT):
        return None
    return {"typed": typed_pct, "dried": dried, "tolerated": moisture.DUPLICATES_PCT}

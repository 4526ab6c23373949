"""What the charts and the page draw: traces, bands, calls, what was concluded, and a row for each seed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from hilum.analyses.estimate import Estimate
from hilum.analyses.imbibition import coats
from hilum.analyses.imbibition.bulks import BulkSample
from hilum.analyses.imbibition.printed import finer_step, leans, outcome
from hilum.analyses.imbibition.samples import Sample
from hilum.analyses.imbibition.weighed import Step, Trace
from hilum.stats import moisture, uptake
from hilum.stats.arrays import Array
from hilum.stats.imbibition_likelihood import BALANCE, FILM, HALF_TIME, LAG, PLATEAU
from hilum.stats.imbibition_quantities import LogNormal

_POINTS = 60  # of a drawn curve
_BEYOND_KNOWING = 1e-6  # no balance and no table is that free of slips
_FEWEST_SEEDS = 3  # that imbibed from the start, below which no curve of them is drawn
Key = tuple[str, str]


def drawing(
    order: Sequence[Key],
    singles: Mapping[Key, Sample],
    together: Mapping[Key, BulkSample],
    step: Step,
) -> dict[str, Any]:
    """Return what the charts draw and the page tells of seeds and samples, in the order of the table."""
    samples = list(singles.values())
    return {
        "groups": [
            _single(singles[key], together.get(key)) if key in singles else _bulk(together[key])
            for key in order
        ],
        "balance": _balance(samples, step),
        "curve": _curve(samples),
        "seeds": [row for sample in samples for row in _traces(sample)]
        + [row for bulk in together.values() for row in _bulk_traces(bulk)],
    }


def lots(
    estimates: Sequence[Estimate], groups: Sequence[Mapping[str, Any]], known: coats.Methods
) -> list[dict[str, Any]]:
    """Return what the weighings say of the coats of each lot."""
    fractions = [e for e in estimates if e.quantity == "impermeable_fraction"]
    made = []
    for lot in dict.fromkeys(e.lot for e in fractions):
        own = [g for g in groups if g["lot"] == lot]
        seeds = {g["treatment"]: g["seeds"] for g in own}
        references = [g["treatment"] for g in own if g["outcome"] == "bulk_reference"]
        of_lot = [e for e in fractions if e.lot == lot]
        made.append(coats.verdict(of_lot, seeds, references, known))
    return made


def _single(sample: Sample, beside: BulkSample | None) -> dict[str, Any]:
    calls = sample.calls
    return {
        "lot": sample.lot,
        "treatment": sample.treatment,
        "together": False,
        "outcome": outcome(sample),
        "leans": leans(sample),
        "finer_step_mg": finer_step(sample),
        "seeds": len(sample.traces),
        "left_out": sample.left_out + (beside.left_out if beside else 0),
        "calls": {name: calls.count(name) for name in ("impermeable", "imbibed", "uncertain")},
        "at_once": sample.at_once,
        "late": int((sample.imbibed & (sample.from_start < 0.5)).sum()),
        "soakings": sample.soakings,
        "last_h": sample.last_h,
        "batches": len({trace.batch for trace in sample.traces if trace.batch}),
        "reference": "",
        "film_pct": _with_limits(sample.quantity(_film_pct), sample.confidence),
        "band": _band(sample),
        "beside": _beside(beside),
    }


def _beside(bulk: BulkSample | None) -> dict[str, Any] | None:
    """Return what seeds weighed together show, of a sample whose fraction is that of single seeds."""
    if bulk is None:
        return None
    found, seeds = bulk.fraction, sum(trace.seeds for trace in bulk.traces)
    if found is None:
        return {"seeds": seeds, "impermeable_pct": None}
    percent = {"value": 100 * found.value, "low": 100 * found.low, "high": 100 * found.high}
    return {"seeds": seeds, "impermeable_pct": percent}


def _bulk(sample: BulkSample) -> dict[str, Any]:
    return {
        "lot": sample.lot,
        "treatment": sample.treatment,
        "together": True,
        "outcome": sample.outcome,
        "leans": False,
        "finer_step_mg": None,
        "seeds": sum(trace.seeds for trace in sample.traces),
        "left_out": sample.left_out,
        "calls": None,
        "at_once": 0,
        "late": 0,
        "soakings": max((len(trace.hours) - 1 for trace in sample.traces), default=0),
        "last_h": max((trace.last_h for trace in sample.traces), default=0.0),
        "batches": len({trace.batch for trace in sample.traces if trace.batch}),
        "reference": sample.reference,
        "film_pct": None,
        "band": None,
        "beside": None,
    }


def _band(sample: Sample) -> dict[str, list[float]] | None:
    """Return the uptake of seeds imbibing from the start, film included: curve and pointwise limits."""
    if sample.at_once < _FEWEST_SEEDS or sample.soakings < 2:
        return None
    hours = np.linspace(0.0, sample.last_h, _POINTS)
    tail = (1 - sample.confidence) / 2
    drawn = np.array([_uptake_pct(own, hours, sample.curve) for own in sample.draws])
    low, high = np.quantile(drawn, [tail, 1 - tail], axis=0)
    return {
        "hours": hours.tolist(),
        "uptake": _uptake_pct(sample.own, hours, sample.curve).tolist(),
        "low": low.tolist(),
        "high": high.tolist(),
    }


def _uptake_pct(own: Array, hours: Array, curve: uptake.Curve) -> Array:
    film, plateau, half, lag = np.exp(own[[FILM, PLATEAU, HALF_TIME, LAG]])
    share = uptake.share(np.maximum(hours - lag, 0.0) / half, curve.shape)
    return np.asarray(100 * (film * (hours > 0) + plateau * share))


def _balance(samples: Sequence[Sample], step: Step) -> dict[str, Any] | None:
    """Return how the step of the balance is known, the error of a weighing, and whether the scatter seen was taken for it."""
    if not samples:
        return None
    error = samples[0].quantity(_error_mg)
    return {
        "step_mg": step.mg if np.isfinite(step.mg) else None,
        "known": step.known,
        "error_mg": _with_limits(error, samples[0].confidence),
        "scatters": samples[0].scatters,
    }


def _film_pct(own: Array, shape: uptake.Shape) -> float:  # noqa: ARG001 (a film knows no curve)
    return float(np.log(100) + own[FILM])


def _error_mg(own: Array, shape: uptake.Shape) -> float:  # noqa: ARG001 (nor does the balance)
    return float(own[BALANCE])


def _with_limits(found: LogNormal, confidence: float) -> dict[str, float]:
    low, high = found.limits(confidence)
    return {"value": found.value, "low": low, "high": high}


def _curve(samples: Sequence[Sample]) -> dict[str, Any] | None:
    """Return the curve of the imbibing seeds, and its weight among the candidates."""
    if not samples or not samples[0].candidates:
        return None
    weight = [w for _, w, _ in samples[0].candidates]
    return {"name": samples[0].curve.name, "weight": weight[0]}


def moistures(
    estimates: Sequence[Estimate], lots: Mapping[str, np.ndarray] | None
) -> list[dict[str, Any]]:
    """Return the moisture of seeds before soaking and at their plateau, where the lot's is known."""
    if lots is None:
        return []
    known = dict(zip(lots["lot"].tolist(), lots["moisture_pct"].tolist(), strict=True))
    plateaus = (e for e in estimates if e.quantity == "plateau_uptake" and e.status == "estimated")
    return [_moistures(e, known[e.lot]) for e in plateaus if np.isfinite(known.get(e.lot, np.nan))]


def _moistures(plateau: Estimate, before_pct: float) -> dict[str, Any]:
    before = moisture.from_wet_basis(before_pct)
    after = moisture.after_uptake(
        np.array([plateau.value, plateau.low, plateau.high], dtype=float), moisture_pct=before_pct
    )
    return {
        "lot": plateau.lot,
        "treatment": plateau.treatment,
        "before": {"wet": before_pct, "dry": float(before.dry_basis_pct)},
        "wet": dict(zip(("value", "low", "high"), after.wet_basis_pct.tolist(), strict=True)),
        "dry": dict(zip(("value", "low", "high"), after.dry_basis_pct.tolist(), strict=True)),
    }


def _traces(sample: Sample) -> Iterator[dict[str, Any]]:
    for trace, call in zip(sample.traces, sample.calls, strict=True):
        yield _trace(trace, call)


def _bulk_traces(sample: BulkSample) -> Iterator[dict[str, Any]]:
    for trace in sample.traces:
        yield _trace(trace, "weighed together")


def _trace(trace: Trace, call: str) -> dict[str, Any]:
    return {
        "seed": trace.seed,
        "lot": trace.lot,
        "treatment": trace.treatment,
        "call": call,
        "hours": trace.hours.tolist(),
        "uptake_pct": trace.uptake_pct.tolist(),
    }


def _told(probability: float) -> float:
    """Return a probability, 0 or 1 where it is so near that only slips of the pen are left."""
    surely = probability < _BEYOND_KNOWING or probability > 1 - _BEYOND_KNOWING
    return round(probability) if surely else probability


def seed_rows(sample: Sample) -> Iterator[dict[str, Any]]:
    """Yield the row of each seed: its probability, call, onset and uptake at its last weighing."""
    for place, (trace, call) in enumerate(zip(sample.traces, sample.calls, strict=True)):
        onset = sample.onset_h[:, place].tolist() if sample.imbibed[place] else [None] * 3
        yield {
            "seed": trace.seed,
            "lot": trace.lot,
            "treatment": trace.treatment,
            "p_impermeable": _told(float(sample.impermeable[place])),
            "call": call,
            "onset_h": onset[0],
            "onset_low_h": onset[1],
            "onset_high_h": onset[2],
            "uptake_pct": float(trace.uptake_pct[-1]),
        }

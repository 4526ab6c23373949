"""What charts and page of imbibition draw and say: the uptake of each seed, what it was called, and each lot's coats."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from hilum.analyses.estimate import Estimate
from hilum.analyses.imbibition import coats
from hilum.analyses.imbibition.bulks import BulkSample
from hilum.analyses.imbibition.coats import Coats, Methods
from hilum.analyses.imbibition.printed import finer_step, leans, outcome
from hilum.analyses.imbibition.samples import Sample
from hilum.analyses.imbibition.weighed import Step, Trace
from hilum.analyses.printer import number_or_none
from hilum.stats import moisture, uptake
from hilum.stats.arrays import Array
from hilum.stats.imbibition_likelihood import BALANCE, FILM, HALF_TIME, LAG, PLATEAU
from hilum.stats.imbibition_quantities import LogNormal

_POINTS = 60  # of a drawn curve
_FEWEST_SEEDS = 3  # that imbibed from the start, below which no curve of them is drawn
Key = tuple[str, str]


@dataclass(frozen=True, kw_only=True)
class Limited:
    """A figure with its limits, in the unit of its name."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Calls:
    """How many seeds got each call."""

    impermeable: int
    imbibed: int
    uncertain: int


@dataclass(frozen=True, kw_only=True)
class Band:
    """Uptake, %, of seeds imbibing from the start, film included, at each hour: the curve with pointwise limits."""

    hours: tuple[float, ...]
    uptake: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class Beside:
    """Seeds weighed together of a sample whose fraction is that of single seeds."""

    seeds: int
    impermeable_pct: Limited | None


@dataclass(frozen=True, kw_only=True)
class Group:
    """One lot and treatment: how many seeds did what, and how they were weighed; `left_out` and `batches` are counts."""

    lot: str
    treatment: str
    together: bool
    outcome: str
    leans: bool
    finer_step_mg: float | None
    seeds: int
    left_out: int
    calls: Calls | None
    at_once: int
    late: int
    soakings: int
    last_h: float
    batches: int
    reference: str
    film_pct: Limited | None
    band: Band | None
    beside: Beside | None


@dataclass(frozen=True, kw_only=True)
class Balance:
    """The step of the balance, how it is known, the error of a weighing, and whether the scatter seen was taken for it."""

    step_mg: float | None
    known: str
    error_mg: Limited
    scatters: bool


@dataclass(frozen=True, kw_only=True)
class Curve:
    """The curve of the imbibing seeds, and its weight among the candidates."""

    name: str
    weight: float


@dataclass(frozen=True, kw_only=True)
class Uptake:
    """The uptake, %, of one seed at each hour, or of several weighed together."""

    seed: str
    lot: str
    treatment: str
    call: str
    hours: tuple[float, ...]
    uptake_pct: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class Bases:
    """One moisture on the wet and the dry basis, %."""

    wet: float
    dry: float


@dataclass(frozen=True, kw_only=True)
class Moistures:
    """Moisture of seeds before soaking, and at their plateau on the wet and the dry basis, %."""

    lot: str
    treatment: str
    before: Bases
    wet: Limited
    dry: Limited


@dataclass(frozen=True, kw_only=True)
class View:
    """Every group of an experiment in the order of the table, each seed, and what was concluded of each lot."""

    groups: tuple[Group, ...]
    balance: Balance | None
    curve: Curve | None
    seeds: tuple[Uptake, ...]
    coats: tuple[Coats, ...]
    moisture: tuple[Moistures, ...]


def of(
    told: Sequence[Estimate],
    singles: Mapping[Key, Sample],
    together: Mapping[Key, BulkSample],
    *,
    step: Step,
    known: Methods,
    lots: Mapping[str, np.ndarray] | None,
) -> View:
    """Return what charts and page draw and say; `told` are all estimates in the order of the table of weighings."""
    groups = tuple(
        _single(singles[key], together.get(key)) if key in singles else _bulk(together[key])
        for key in dict.fromkeys((e.lot, e.treatment) for e in told)
    )
    samples = list(singles.values())
    return View(
        groups=groups,
        balance=_balance(samples, step),
        curve=_curve(samples),
        seeds=_uptakes(samples, list(together.values())),
        coats=_coats(told, groups, known),
        moisture=_moisture(told, lots),
    )


def _single(sample: Sample, beside: BulkSample | None) -> Group:
    return Group(
        lot=sample.lot,
        treatment=sample.treatment,
        together=False,
        outcome=outcome(sample),
        leans=leans(sample),
        finer_step_mg=finer_step(sample),
        seeds=len(sample.traces),
        left_out=sample.left_out + (beside.left_out if beside else 0),
        calls=_calls(sample),
        at_once=sample.at_once,
        late=int((sample.imbibed & (sample.from_start < 0.5)).sum()),
        soakings=sample.soakings,
        last_h=sample.last_h,
        batches=len({trace.batch for trace in sample.traces if trace.batch}),
        reference="",
        film_pct=_limited(sample.quantity(_film_pct), sample.confidence),
        band=_band(sample),
        beside=_beside(beside),
    )


def _calls(sample: Sample) -> Calls:
    found = sample.calls
    impermeable, imbibed = found.count("impermeable"), found.count("imbibed")
    return Calls(impermeable=impermeable, imbibed=imbibed, uncertain=found.count("uncertain"))


def _beside(bulk: BulkSample | None) -> Beside | None:
    if bulk is None:
        return None
    found, seeds = bulk.fraction, sum(trace.seeds for trace in bulk.traces)
    if found is None:
        return Beside(seeds=seeds, impermeable_pct=None)
    percent = Limited(value=100 * found.value, low=100 * found.low, high=100 * found.high)
    return Beside(seeds=seeds, impermeable_pct=percent)


def _bulk(sample: BulkSample) -> Group:
    return Group(
        lot=sample.lot,
        treatment=sample.treatment,
        together=True,
        outcome=sample.outcome,
        leans=False,
        finer_step_mg=None,
        seeds=sum(trace.seeds for trace in sample.traces),
        left_out=sample.left_out,
        calls=None,
        at_once=0,
        late=0,
        soakings=max((len(trace.hours) - 1 for trace in sample.traces), default=0),
        last_h=max((trace.last_h for trace in sample.traces), default=0.0),
        batches=len({trace.batch for trace in sample.traces if trace.batch}),
        reference=sample.reference,
        film_pct=None,
        band=None,
        beside=None,
    )


def _band(sample: Sample) -> Band | None:
    if sample.at_once < _FEWEST_SEEDS or sample.soakings < 2:
        return None
    hours = np.linspace(0.0, sample.last_h, _POINTS)
    tail = (1 - sample.confidence) / 2
    drawn = np.array([_uptake_pct(own, hours, sample.curve) for own in sample.draws])
    low, high = np.quantile(drawn, [tail, 1 - tail], axis=0)
    return Band(
        hours=tuple(hours.tolist()),
        uptake=tuple(_uptake_pct(sample.own, hours, sample.curve).tolist()),
        low=tuple(low.tolist()),
        high=tuple(high.tolist()),
    )


def _uptake_pct(own: Array, hours: Array, curve: uptake.Curve) -> Array:
    film, plateau, half, lag = np.exp(own[[FILM, PLATEAU, HALF_TIME, LAG]])
    share = uptake.share(np.maximum(hours - lag, 0.0) / half, curve.shape)
    return np.asarray(100 * (film * (hours > 0) + plateau * share))


def _balance(samples: Sequence[Sample], step: Step) -> Balance | None:
    if not samples:
        return None
    return Balance(
        step_mg=number_or_none(step.mg),
        known=step.known,
        error_mg=_limited(samples[0].quantity(_error_mg), samples[0].confidence),
        scatters=samples[0].scatters,
    )


def _film_pct(own: Array, shape: uptake.Shape) -> float:  # noqa: ARG001 (a film knows no curve)
    return float(np.log(100) + own[FILM])


def _error_mg(own: Array, shape: uptake.Shape) -> float:  # noqa: ARG001 (nor does the balance)
    return float(own[BALANCE])


def _limited(found: LogNormal, confidence: float) -> Limited:
    low, high = found.limits(confidence)
    return Limited(value=found.value, low=low, high=high)


def _curve(samples: Sequence[Sample]) -> Curve | None:
    if not samples or not samples[0].candidates:
        return None
    _, weight, _ = samples[0].candidates[0]
    return Curve(name=samples[0].curve.name, weight=weight)


def _uptakes(samples: Sequence[Sample], bulks: Sequence[BulkSample]) -> tuple[Uptake, ...]:
    singly = [pair for s in samples for pair in zip(s.traces, s.calls, strict=True)]
    together = [(trace, "weighed together") for bulk in bulks for trace in bulk.traces]
    return tuple(_uptake(trace, call) for trace, call in singly + together)


def _uptake(trace: Trace, call: str) -> Uptake:
    return Uptake(
        seed=trace.seed,
        lot=trace.lot,
        treatment=trace.treatment,
        call=call,
        hours=tuple(trace.hours.tolist()),
        uptake_pct=tuple(trace.uptake_pct.tolist()),
    )


def _coats(told: Sequence[Estimate], groups: Sequence[Group], known: Methods) -> tuple[Coats, ...]:
    """Return what the weighings say of the coats of each lot."""
    fractions = [e for e in told if e.quantity == "impermeable_fraction"]
    made = []
    for lot in dict.fromkeys(e.lot for e in fractions):
        own = [g for g in groups if g.lot == lot]
        seeds = {g.treatment: g.seeds for g in own}
        references = [g.treatment for g in own if g.outcome == "bulk_reference"]
        of_lot = [e for e in fractions if e.lot == lot]
        made.append(coats.verdict(of_lot, seeds, references, known))
    return tuple(made)


def _moisture(
    told: Sequence[Estimate], lots: Mapping[str, np.ndarray] | None
) -> tuple[Moistures, ...]:
    """Return the moisture of seeds before soaking and at their plateau, where the lot's is known."""
    if lots is None:
        return ()
    known = dict(zip(lots["lot"].tolist(), lots["moisture_pct"].tolist(), strict=True))
    plateaus = [e for e in told if e.quantity == "plateau_uptake" and e.status == "estimated"]
    return tuple(
        _moistures(e, known[e.lot]) for e in plateaus if np.isfinite(known.get(e.lot, np.nan))
    )


def _moistures(plateau: Estimate, before_pct: float) -> Moistures:
    before = moisture.from_wet_basis(before_pct)
    after = moisture.after_uptake(
        np.array([plateau.value, plateau.low, plateau.high], dtype=float), moisture_pct=before_pct
    )
    wet, dry = (
        Limited(value=value, low=low, high=high)
        for value, low, high in (after.wet_basis_pct.tolist(), after.dry_basis_pct.tolist())
    )
    return Moistures(
        lot=plateau.lot,
        treatment=plateau.treatment,
        before=Bases(wet=before_pct, dry=float(before.dry_basis_pct)),
        wet=wet,
        dry=dry,
    )

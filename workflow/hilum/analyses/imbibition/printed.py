"""Estimates of one lot and treatment whose seeds were weighed one by one, why some cannot be given, and each seed."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from hilum.analyses.estimate import Estimate
from hilum.analyses.imbibition.samples import Sample
from hilum.stats import uptake
from hilum.stats.arrays import Array
from hilum.stats.imbibition_likelihood import BALANCE, HALF_TIME, LAG, PLATEAU
from hilum.stats.imbibition_quantities import (
    LogNormal,
    Quantity,
    half_time,
    initial_rate,
    plateau,
    smallest_gain,
)

_FEWEST_SEEDS = 3  # that imbibed from the start: fewer show no spread
_REACHED = (
    0.75  # of the plateau at the last weighing, from which on it is known rather than extrapolated
)
_OVER = 0.95  # of the plateau at the first weighing, beyond which it tells no speed
_TOO_WIDE = 0.5  # sd of a logarithm: the prior's own, hardly narrowed
_AMPLE = 3  # plateaus should exceed the smallest detectable gain that often
_BEYOND_KNOWING = 1e-6  # no balance and no table is that free of slips
_CURVE = "pooled curve of the imbibing seeds"


def outcome(sample: Sample) -> str:
    """Return what the weighings of single seeds show, as one word."""
    calls = sample.calls
    if 2 * calls.count("uncertain") > len(calls):
        return "too_coarse"
    if set(calls) == {"impermeable"}:
        return "nothing_imbibed"
    return "everything_imbibed" if set(calls) == {"imbibed"} else "some_imbibed"


def leans(sample: Sample) -> bool:
    """Return whether only more than half of the full gain is surely seen, so that calls lean on what is usual."""
    return _gain(sample).value > sample.quantity(plateau).value / 2


def finer_step(sample: Sample) -> float:
    """Return the step of a balance, mg, a power of ten, that would let each seed's masses decide."""
    full, seen = sample.quantity(plateau).value, _gain(sample).value
    wanted = float(np.exp(sample.own[BALANCE])) * full / (_AMPLE * seen)
    return float(10.0 ** np.floor(np.log10(wanted)))


def estimates(sample: Sample, batches: tuple[float, float] | None) -> Iterator[Estimate]:
    """Yield every estimate of the sample; `batches` are the limits with batches as replicates."""
    yield _fraction(sample, batches)
    missing = _no_curve(sample)
    yield _of_curve(sample, "half_time", half_time, "h", missing)
    yield _of_curve(sample, "initial_rate", initial_rate, "%/h", missing)
    yield _plateau(sample, missing)
    yield _smallest_gain(sample)


def _fraction(sample: Sample, batches: tuple[float, float] | None) -> Estimate:
    low, high = sample.limits
    method = f"{_mixture(sample)}, Jeffreys' prior, mid-P limits where wider"
    if batches and batches[1] - batches[0] > high - low:
        low, high = min(low, batches[0]), max(high, batches[1])
        method = f"{_mixture(sample)}, Wilson's limits with the spread between batches"
    told = outcome(sample) != "too_coarse"
    return _row(
        sample,
        "impermeable_fraction",
        "fraction",
        method,
        at=sample.last_h,
        value=float(np.clip(sample.impermeable.mean(), low, high)) if told else None,
        low=low,
        high=high,
        standard_error=float(np.std(sample.fraction)) if told else None,
        needs="" if told else _finer_balance(sample),
    )


def _finer_balance(sample: Sample) -> str:
    return (
        "the balance is too coarse to tell most of these seeds from merely wet ones: "
        f"weigh to {finer_step(sample):g} mg{' on a balance that keeps its digits' if sample.scatters else ''}."
    )


def _mixture(sample: Sample) -> str:
    return f"mixture of impermeable, imbibing and late seeds ({len(sample.traces)} seeds)"


def _no_curve(sample: Sample) -> str:
    """Return why no curve can be told, empty where one can."""
    if not sample.imbibed.any():
        return "no seed took up water."
    if sample.soakings < 2:
        return (
            "one weighing after soaking shows that water got in, but not how fast: "
            "weigh several times in the first day."
        )
    if sample.at_once < _FEWEST_SEEDS:
        return "too few seeds imbibed from the start to show how far seeds differ."
    return ""


def _of_curve(sample: Sample, name: str, quantity: Quantity, unit: str, missing: str) -> Estimate:
    found = sample.quantity(quantity)
    missing = missing or _badly_timed(sample, found)
    if missing:
        return _row(sample, name, unit, _CURVE, needs=missing)
    return _estimated(sample, name, unit, found)


def _badly_timed(sample: Sample, found: LogNormal) -> str:
    """Return why the weighings leave the speed open, empty where they do not."""
    first = min(t.hours[1] for t in sample.traces if len(t.hours) > 1)
    if _share(sample, first) > _OVER:
        return f"uptake was nearly over at the first weighing, at {first:g} h: weigh earlier."
    if found.sd > _TOO_WIDE:
        return "the weighings leave the course of uptake open: weigh more often while seeds swell."
    return ""


def _share(sample: Sample, hour: float) -> float:
    """Return the share of the plateau that seeds imbibing from the start reach by an hour."""
    elapsed = max(hour - float(np.exp(sample.own[LAG])), 0.0)
    return float(uptake.share(elapsed / np.exp(sample.own[HALF_TIME]), sample.curve.shape))


def _plateau(sample: Sample, missing: str) -> Estimate:
    found = sample.quantity(plateau)
    soaked_h = max(float(trace.hours[-1]) for trace in sample.traces)
    reached = _share(sample, soaked_h)
    if missing:
        return _row(sample, "plateau_uptake", "%", _CURVE, needs=missing)
    if reached >= _REACHED and found.sd <= _TOO_WIDE:
        return _estimated(sample, "plateau_uptake", "%", found)
    needs = f"uptake was still going on at the last weighing, at {soaked_h:g} h: soak for longer."
    reached_then = sample.quantity(_uptake_at(soaked_h))
    low, _ = reached_then.limits(sample.confidence, sample.at_once - 1)
    return _row(sample, "plateau_uptake", "%", _CURVE, low=low, needs=needs)


def _uptake_at(hour: float) -> Quantity:
    def reached(own: Array, shape: uptake.Shape) -> float:
        elapsed = max(hour - float(np.exp(own[LAG])), 1e-9)
        share = float(uptake.share(elapsed / np.exp(own[HALF_TIME]), shape))
        return float(np.log(100 * share) + own[PLATEAU])

    return reached


def _gain(sample: Sample) -> LogNormal:
    return sample.quantity(smallest_gain(sample.dry_mg))


def _smallest_gain(sample: Sample) -> Estimate:
    found = _gain(sample)
    low, high = found.limits(sample.confidence)
    return _row(
        sample,
        "smallest_detectable_gain",
        "%",
        "3.29 standard deviations of an impermeable seed's gain",
        value=found.value,
        low=low,
        high=high,
        standard_error=found.value * found.sd,
    )


def _estimated(sample: Sample, name: str, unit: str, found: LogNormal) -> Estimate:
    low, high = found.limits(sample.confidence, sample.at_once - 1)
    return _row(
        sample,
        name,
        unit,
        f"{sample.curve.name} curve of {sample.at_once} imbibing seeds, t limits on the logarithm",
        value=found.value,
        low=low,
        high=high,
        standard_error=found.value * found.sd,
    )


def _row(
    sample: Sample,
    quantity: str,
    unit: str,
    method: str,
    *,
    at: float | None = None,
    value: float | None = None,
    low: float | None = None,
    high: float | None = None,
    standard_error: float | None = None,
    needs: str = "",
) -> Estimate:
    known = low is not None or high is not None
    return Estimate(
        lot=sample.lot,
        treatment=sample.treatment,
        at=at,
        at_unit="" if at is None else "h",
        quantity=quantity,
        value=value,
        low=low,
        high=high,
        standard_error=standard_error,
        confidence=sample.confidence,
        unit=unit,
        status="estimated" if value is not None else "bracketed" if known else "not_identified",
        method=method,
        needs=needs,
    )


def _told(probability: float) -> float:
    """Return a probability, 0 or 1 where it is so near that only slips of the pen are left."""
    surely = probability < _BEYOND_KNOWING or probability > 1 - _BEYOND_KNOWING
    return round(probability) if surely else probability


def seed_rows(sample: Sample) -> Iterator[dict[str, object]]:
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

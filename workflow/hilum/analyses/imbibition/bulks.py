"""Seeds weighed together: the impermeable fraction, as far as an opened reference shows the full gain."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from hilum.analyses.estimate import Estimate
from hilum.analyses.imbibition.weighed import Trace
from hilum.stats import bulk_uptake
from hilum.stats.bulk_uptake import Bulks, Fraction

Outcome = Literal["bulk", "bulk_reference", "bulk_alone", "bulk_dull", "unweighed"]
_NEEDS = {
    "bulk_reference": "these seeds were opened one by one, and their gain is taken as the full gain of the lot.",
    "bulk_alone": "seeds weighed together tell a fraction only beside opened ones: chip or file as many seeds of "
    "this lot, and weigh them together at the same hours.",
    "bulk_dull": "the opened seeds of this lot hardly took up water, so that there is no full gain to compare with: "
    "open seeds again, and cut some to see whether they are filled.",
    "unweighed": "no seed was weighed both dry and after soaking: weigh each seed dry, and again after a day or more "
    "in water.",
}


@dataclass(frozen=True, kw_only=True)
class BulkSample:
    """One lot × treatment weighed together, what its gain shows, and the opened treatment it is held against."""

    lot: str
    treatment: str
    traces: tuple[Trace, ...]
    left_out: int
    outcome: Outcome
    at_h: float | None = None
    fraction: Fraction | None = None
    reference: str = ""


def of_traces(
    key: tuple[str, str],
    own: Sequence[Trace],
    opened: Sequence[Trace],
    opened_treatments: Collection[str],
    *,
    confidence: float,
    unknown: float,
) -> BulkSample:
    """Return what the bulks of one lot × treatment show, beside the opened seeds of that lot.

    `opened` may be bulks or single seeds. Gains are compared at the latest hour at which both were weighed.
    """
    usable = tuple(trace for trace in own if trace.usable)
    lot, treatment = key
    left_out = len(own) - len(usable)
    at = _latest_common(usable, opened)
    outcome, fraction = _judge(
        usable, opened, at, treatment in opened_treatments, confidence, unknown
    )
    return BulkSample(
        lot=lot,
        treatment=treatment,
        traces=usable,
        left_out=left_out,
        outcome=outcome,
        at_h=at if fraction else None,
        fraction=fraction,
        reference=", ".join(dict.fromkeys(t.treatment for t in opened)) if fraction else "",
    )


def _judge(
    usable: Sequence[Trace],
    opened: Sequence[Trace],
    at: float | None,
    is_opened: bool,
    confidence: float,
    unknown: float,
) -> tuple[Outcome, Fraction | None]:
    if not usable:
        return "unweighed", None
    if at is None:
        return "bulk_alone", None
    reference = _at(opened, at)
    if not bulk_uptake.shows_full_gain(reference):
        return "bulk_dull", None
    if is_opened:
        return "bulk_reference", None
    found = bulk_uptake.impermeable(
        _at(usable, at), reference, confidence=confidence, correlation_when_unknown=unknown
    )
    return "bulk", found


def _latest_common(own: Sequence[Trace], opened: Sequence[Trace]) -> float | None:
    """Return the latest soaked hour at which all own bulks and some opened seeds were weighed."""
    hours = [set(trace.hours[1:].tolist()) for trace in own]
    there = {hour for trace in opened for hour in trace.hours[1:].tolist()}
    return max(there.intersection(*hours), default=None) if hours else None


def _at(traces: Sequence[Trace], hour: float) -> Bulks:
    there = [trace for trace in traces if hour in trace.hours]
    gain = [float(t.uptake_pct[np.flatnonzero(t.hours == hour)[0]]) / 100 for t in there]
    return Bulks(np.array(gain), np.array([float(t.seeds) for t in there]))


def estimate(sample: BulkSample, confidence: float) -> Estimate:
    """Return the impermeable fraction of a bulk sample, or why there is none."""
    found = sample.fraction
    return Estimate(
        lot=sample.lot,
        treatment=sample.treatment,
        at=sample.at_h,
        at_unit="h" if found else "",
        quantity="impermeable_fraction",
        value=found.value if found else None,
        low=found.low if found else None,
        high=found.high if found else None,
        confidence=confidence,
        unit="fraction",
        status="estimated" if found else "not_identified",
        method=f"gain of seeds weighed together, against opened ones ({sample.reference})"
        if found
        else "gain of seeds weighed together",
        needs="" if found else _NEEDS[sample.outcome],
    )

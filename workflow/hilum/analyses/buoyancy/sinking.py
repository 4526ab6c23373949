"""When seeds sink for good, and how many still float at the end."""

from __future__ import annotations

import numpy as np

from hilum.analyses.buoyancy.sample import Sample
from hilum.analyses.buoyancy.words import NOBODY_LOOKED, no_half
from hilum.analyses.estimate import Estimate
from hilum.analyses.printer import Printer, number_or_none
from hilum.stats import float_test, turnbull

_METHOD = "Turnbull's distribution, limits from Wilson's at each look"
_STILL = "share at the last look, Wilson's limits"
_HALF = 0.5


def estimates(sample: Sample, printer: Printer, unknown: float) -> list[Estimate]:
    """Return the time by which half of the seeds have sunk for good, and the share that floats at the end."""
    if not sample.traces:
        return [
            printer.not_identified(name, method=method, needs=NOBODY_LOOKED)
            for name, method in (("sinking_t50", _METHOD), ("still_floating", _STILL))
        ]
    return [_half(sample, printer, unknown), _still(sample, printer, unknown)]


def _half(sample: Sample, printer: Printer, unknown: float) -> Estimate:
    left, right = sample.last_float_h, sample.sunk_by_h
    looks = np.unique(np.concatenate([trace.hours for trace in sample.traces]))
    spread = {"confidence": printer.confidence, "unknown": unknown}
    all_seeds = sample.by_dish(np.ones((len(left), len(looks))))
    sunk = sample.by_dish(turnbull.happened(right, looks))
    # whoever may have sunk unseen counts for an early end here, against a late one above
    perhaps = all_seeds - sample.by_dish(turnbull.not_yet(left, looks))
    low = float_test.shares(sunk, all_seeds, **spread).low
    high = float_test.shares(perhaps, all_seeds, **spread).high
    first, last = turnbull.quantile_limits(looks, low, high, _HALF)
    value = turnbull.distribution(left, right).quantile(_HALF)
    needs = no_half(sample, value, first, last)
    if needs:
        # without any look on either side nothing at all is known
        ends = (first if first > 0 or np.isfinite(last) else np.nan, last)
        return printer.bracketed("sinking_t50", *ends, method=_METHOD, needs=needs)
    return printer.estimated("sinking_t50", value, first, last, method=_METHOD)


def _still(sample: Sample, printer: Printer, unknown: float) -> Estimate:
    floated = np.isinf(sample.sunk_by_h)[:, None]
    hits, seeds = sample.by_dish(floated), sample.by_dish(np.ones_like(floated))
    found = float_test.shares(hits, seeds, confidence=printer.confidence, unknown=unknown)
    ends = (float(x[0]) for x in (found.value, found.low, found.high))
    last = max(float(trace.hours[-1]) for trace in sample.traces)
    return printer.estimated("still_floating", *ends, method=_STILL, at=last, at_unit="h")


def seed_rows(sample: Sample) -> list[dict[str, object]]:
    """Return a row for each seed: between which looks it sank for good, and its fate."""
    return [
        {
            "seed": trace.seed,
            "lot": trace.lot,
            "treatment": trace.treatment,
            "looks": len(trace.hours),
            "last_seen_floating_h": number_or_none(trace.last_float_h),
            "sunk_by_h": number_or_none(trace.sunk_by_h),
            "came_up_again": "yes" if trace.came_up_again else "no",
            "fate": trace.fate,
        }
        for trace in sample.traces
    ]

"""What the charts and the page say of each sample, and the row of each seed."""

from __future__ import annotations

from typing import Any

import numpy as np

from hilum.analyses.buoyancy.classified import Classified
from hilum.analyses.buoyancy.looks import Trace
from hilum.analyses.buoyancy.sample import Sample
from hilum.analyses.printer import number_or_none

_COUNTED = ("dead_floated", "live_floated", "dead_sank", "live_sank")


def group(sample: Sample, found: Classified) -> dict[str, Any]:
    """Return counts, verdict and traces of one sample."""
    return {
        "lot": sample.lot,
        "treatment": sample.treatment,
        "verdict": found.verdict,
        "seeds": len(sample.traces),
        "together": sample.together,
        "unlooked": sample.unlooked,
        "alive": int(sample.alive.sum()),
        "dead": int(sample.dead.sum()),
        "came_up_again": sum(trace.came_up_again for trace in sample.traces),
        "live_came_up_again": sum(
            trace.came_up_again for trace in sample.traces if trace.fate == "alive"
        ),
        "still_floating": int(np.isinf(sample.sunk_by_h).sum()),
        "never_floated": int(np.isneginf(sample.last_float_h).sum()),
        "sank_last": sum(_sank_last(trace) for trace in sample.traces),
        "dishes": len([dish for dish in sample.dishes if dish]),
        "seeds_wanted": number_or_none(_in_tens(found.seeds_wanted)),
        "hours": _hours(sample, found),
        "traces": [_trace(trace) for trace in sorted(sample.traces, key=_order)],
    }


def _in_tens(seeds: float) -> float:
    return float(np.ceil(seeds / 10) * 10)


def _sank_last(trace: Trace) -> bool:
    """Return whether a seed that had floated was seen sunk but once, at its last look."""
    return bool(trace.floats.any() and trace.sunk_by_h == trace.hours[-1])


def _order(trace: Trace) -> tuple[float, float, str]:
    return trace.sunk_by_h, trace.last_float_h, trace.fate


def _hours(sample: Sample, found: Classified) -> list[dict[str, Any]]:
    return [
        {
            "hour": float(hour),
            "looked": int(np.isfinite(sample.seen[:, place]).sum()),
            "floated": int((sample.seen[:, place] == 1).sum()),
            "tells": bool(found.tells[place] > 0),
            **{name: int(n) for name, n in zip(_COUNTED, found.counts[place], strict=True)},
        }
        for place, hour in enumerate(sample.hours)
    ]


def _trace(trace: Trace) -> dict[str, Any]:
    return {
        "seed": trace.seed,
        "fate": trace.fate or "not known",
        "hours": trace.hours.tolist(),
        "floats": trace.floats.tolist(),
        "sunk_by_h": number_or_none(trace.sunk_by_h),
    }


def seed_rows(sample: Sample) -> list[dict[str, Any]]:
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

"""How long seedlings take, as estimates: quantiles of a family where the looks allow one, else what the looks alone say."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hilum.analyses.estimate import Estimate
from hilum.analyses.printer import Printer
from hilum.analyses.seedlings import words
from hilum.stats import durations, trays, turnbull
from hilum.stats.arrays import Array
from hilum.stats.durations import Spans
from hilum.stats.ranges import clopper_pearson

_FAMILY = "profile likelihood of durations seen between looks, {}"
_LOOKS = "exact limits of the share at each look, no family assumed"
LEVELS = {"t5": 0.05, "t50": 0.5, "t95": 0.95}


@dataclass(frozen=True)
class Quantiles:
    """Quantiles of spans, all (k,): nan for a value that cannot be told and for an open upper limit.

    `why` says why there is no value, by the name of the reason; empty where there is one.
    """

    value: Array
    low: Array
    high: Array
    why: tuple[str, ...]
    method: str


def quantiles(spans: Spans, levels: Array, confidence: float) -> Quantiles:
    """Return the quantiles of spans; `levels` are the shares that have ended by them."""
    ended = int(spans.ended.sum())
    fits = durations.fit(spans) if ended >= durations.FEWEST else ()
    if not fits or fits[0].steep:
        return _from_looks(spans, levels, confidence, "few" if not fits else "steep")
    low, high = durations.limits(fits, levels, confidence, _reach(spans, levels, confidence))
    seen = turnbull.distribution(spans.shortest, spans.longest)
    reached = np.array([np.isfinite(seen.quantile(level)) for level in levels])
    value = np.where(reached & np.isfinite(high), fits[0].quantile(levels), np.nan)
    why = tuple("" if np.isfinite(v) else "unreached" for v in value)
    labels = " or ".join(f.family.label for f in fits)
    return Quantiles(value, low, high, why, _FAMILY.format(labels) + _beside(spans))


def _reach(spans: Spans, levels: Array, confidence: float) -> durations.Reach | None:
    """Return what trays add to the limits, none where none is named."""
    tray = spans.tray
    if tray is None:
        return None
    return lambda fitted: trays.reach(fitted, tray, levels, confidence)


def _from_looks(spans: Spans, levels: Array, confidence: float, why: str) -> Quantiles:
    """Return what the looks say without a family: limits alone."""
    ends = np.concatenate((spans.shortest, spans.longest))
    days = np.unique(ends[np.isfinite(ends)])
    limits = [_between(spans, days, level, confidence) for level in levels]
    low, high = np.array(limits, dtype=float).reshape(-1, 2).T
    how = _LOOKS + _beside(spans)
    return Quantiles(np.full(len(levels), np.nan), low, high, (why,) * len(levels), how)


def _beside(spans: Spans) -> str:
    """Return how the limits were widened, in words."""
    number = 0 if spans.tray is None else len(np.unique(spans.tray))
    return f", widened for the spread between trays ({number})" if number > 1 else ""


def _between(spans: Spans, days: Array, level: float, confidence: float) -> tuple[float, float]:
    if not len(days):
        return 0.0, np.nan
    ended = turnbull.happened(spans.longest, days)
    perhaps = ~turnbull.not_yet(spans.shortest, days)
    low, _ = _share(ended, spans, confidence)
    _, high = _share(perhaps, spans, confidence)
    return turnbull.quantile_limits(days, low, high, level)


def _share(happened: NDArray[np.bool_], spans: Spans, confidence: float) -> tuple[Array, Array]:
    """Return limits of the share of spans that had happened by each day, (n, k) to (k,)."""
    low, high = clopper_pearson(happened.sum(0), len(spans), confidence=confidence)
    if spans.tray is None or len(np.unique(spans.tray)) < 2:
        return low, high
    wider = trays.share_limits(happened, spans.tray, confidence)
    return np.minimum(low, wider[0]), np.maximum(high, wider[1])


def estimates(
    kind: str, leaves: int, spans: Spans, printer: Printer, levels: dict[str, float]
) -> list[Estimate]:
    """Return the estimates `<kind>_<level>` of spans that belong to a number of leaves."""
    found = quantiles(spans, np.array(list(levels.values())), printer.confidence)
    about: dict[str, Any] = {"at": float(leaves), "at_unit": "leaves", "method": found.method}
    made = []
    for i, name in enumerate(levels):
        quantity, low, high = f"{kind}_{name}", float(found.low[i]), float(found.high[i])
        if not found.why[i]:
            made.append(printer.estimated(quantity, float(found.value[i]), low, high, **about))
            continue
        needs = words.no_value(found.why[i], kind, leaves, spans)
        # 0 and no upper end say nothing at all
        first = low if low > 0 or np.isfinite(high) else np.nan
        made.append(printer.bracketed(quantity, first, high, needs=needs, **about))
    return made

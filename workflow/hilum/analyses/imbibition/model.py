"""Imbibition: whether water gets in, and which treatments opened the coat."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from hilum.analyses.estimate import Estimate, Fit, Tables
from hilum.analyses.imbibition import bulks, coats, printed, view, weighed
from hilum.analyses.imbibition.bulks import BulkSample
from hilum.analyses.imbibition.samples import Sample, batch_limits, of_mixture
from hilum.analyses.imbibition.truth import TRUTH, ImbibitionTruth, TrueCoats, simulate
from hilum.analyses.imbibition.weighed import Step, Trace
from hilum.stats import imbibition_mixture

if TYPE_CHECKING:
    from hilum.settings import Settings

__all__ = ["TRUTH", "ImbibitionTruth", "TrueCoats", "fit", "simulate"]


def fit(tables: Tables, *, settings: Settings, rng: np.random.Generator) -> Fit:
    """Return the impermeable fraction and the curve of uptake of each lot × treatment, and every seed's call.

    `tables` needs weighings; treatments, lots and experiment (for the balance) are used where given.
    """
    traces = weighed.traces(tables["weighings"])
    masses = np.concatenate([np.zeros(0), *(trace.mass_mg for trace in traces)])
    step = weighed.step_of_balance(tables.get("experiment"), masses)
    known = coats.methods(tables.get("treatments"))
    singles = _singles(traces, step, settings.confidence, rng)
    together = _bulks(traces, singles, known, settings)
    spread = {"confidence": settings.confidence, "unknown": settings.dish_correlation_when_unknown}
    batches = batch_limits(list(singles.values()), **spread)
    estimates: dict[tuple[str, str], list[Estimate]] = {}
    for (key, sample), limits in zip(singles.items(), batches, strict=True):
        estimates[key] = list(printed.estimates(sample, limits))
    for key, bulk in together.items():
        # seeds followed one by one tell more: the fraction is theirs, where there are any
        estimates.setdefault(key, [bulks.estimate(bulk, settings.confidence)])
    order = list(dict.fromkeys(trace.sample for trace in traces))
    told = [estimate for key in order for estimate in estimates[key]]
    rows = [row for sample in singles.values() for row in printed.seed_rows(sample)]
    seen = view.of(told, singles, together, step=step, known=known, lots=tables.get("lots"))
    return Fit(tuple(told), seen, {"seeds": rows})


def _singles(
    traces: Sequence[Trace], step: Step, confidence: float, rng: np.random.Generator
) -> dict[tuple[str, str], Sample]:
    """Return the samples whose seeds were weighed one by one, dry and soaked."""
    single = [trace for trace in traces if trace.seeds == 1]
    usable = [trace for trace in single if trace.usable]
    if not usable:
        return {}
    samples = list(dict.fromkeys(trace.sample for trace in usable))
    weighings = weighed.as_weighings(usable, samples, step)
    balance = step.balance(weighings.mass_mg[:, 0])
    mixture = imbibition_mixture.fit(weighings, balance=balance, confidence=confidence, rng=rng)
    left_out = [trace for trace in single if not trace.usable]
    return of_mixture(samples, usable, left_out, mixture, confidence)


def _bulks(
    traces: Sequence[Trace],
    singles: Mapping[tuple[str, str], Sample],
    known: coats.Methods,
    settings: Settings,
) -> dict[tuple[str, str], BulkSample]:
    """Return the samples of which no single seed could be followed, and what was weighed together beside single seeds."""
    made = {}
    for key in dict.fromkeys(t.sample for t in traces if t.seeds > 1 or t.sample not in singles):
        lot = [t for t in traces if t.lot == key[0] and t.usable]
        opened = [t for t in lot if known.opened_one_by_one(t.treatment)]
        made[key] = bulks.of_traces(
            key,
            [t for t in traces if t.sample == key and (t.seeds > 1 or key not in singles)],
            opened,
            {t.treatment for t in opened},
            confidence=settings.confidence,
            unknown=settings.dish_correlation_when_unknown,
        )
    return made

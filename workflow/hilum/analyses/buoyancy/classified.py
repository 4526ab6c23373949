"""The float test held against what became of the seeds, at each hour at which somebody looked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from hilum.analyses.buoyancy import words
from hilum.analyses.buoyancy.sample import Sample
from hilum.analyses.estimate import Estimate
from hilum.analyses.time_course.printed import Printer
from hilum.stats import float_test
from hilum.stats.float_test import Index, Shares

Verdict = Literal[
    "unlooked", "no_fates", "all_live", "all_dead", "misleads", "not_lower", "not_shown", "tells"
]
_METHOD = "share of the seeds of known fate, Wilson's limits"
_INDEX = "difference of two shares, Newcombe's limits"
# the measures of a test in general, as quantities of this one
_NAMES = {
    "sensitivity": "sensitivity",
    "specificity": "specificity",
    "predictive_value_bad": "predictive_value_floating",
    "predictive_value_good": "predictive_value_sinking",
    "good_called_bad": "live_thrown_away",
}


@dataclass(frozen=True)
class Classified:
    """What the test was worth: `measures` by quantity, `index` and, at the confidence of all hours together, `sure`.

    `counts` (hours, 4): dead that floated, live that floated, dead that sank, live that sank.
    """

    verdict: Verdict
    counts: np.ndarray
    measures: dict[str, Shares]
    index: Index
    sure: Index

    @property
    def best(self) -> int:
        """Return the hour, by number, at which floating speaks most for a dead seed."""
        return int(np.argmax(self.index.value))

    @property
    def tells(self) -> np.ndarray:
        """Return the hours at which floating seeds were surely more often dead, (hours,)."""
        return np.asarray(self.sure.low > 0)

    @property
    def seeds_wanted(self) -> int | None:
        """Return about how many seeds of known fate would show a difference as large as the best, None for none."""
        gain, low = self.index.value[self.best], self.sure.low[self.best]
        if gain <= 0 or low > 0:
            return None
        seeds = self.counts[self.best].sum()
        # limits come nearer with the root of the number
        return int(np.ceil(seeds * ((gain - low) / gain) ** 2 / 10) * 10)


def classify(sample: Sample, *, confidence: float, unknown: float) -> Classified:
    """Return what the float test was worth at each round of looks."""
    calls = sample.calls()
    parts = (
        calls.bad_called_bad,
        calls.good_called_bad,
        calls.bad_called_good,
        calls.good_called_good,
    )
    counts = np.stack([part.sum(-1) for part in parts], axis=-1)
    each = 1 - (1 - confidence) / max(len(sample.hours), 1)
    found, sure = (
        float_test.measures(calls, confidence=c, unknown=unknown) for c in (confidence, each)
    )
    index, strict = (
        float_test.youden(m["sensitivity"], m["good_called_bad"]) for m in (found, sure)
    )
    measures = {name: found[general] for general, name in _NAMES.items()}
    # an hour without dead or without live seeds has no index
    both = (calls.bad.sum(-1) > 0) & (calls.good.sum(-1) > 0)
    index, strict = (
        Index(
            *(
                np.where(both, x, nothing)
                for x, nothing in zip(_parts(i), (0.0, -1.0, 1.0), strict=True)
            )
        )
        for i in (index, strict)
    )
    return Classified(_verdict(sample, index, strict), counts, measures, index, strict)


def _parts(index: Index) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    return index.value, index.low, index.high


def _verdict(sample: Sample, index: Index, sure: Index) -> Verdict:
    if not sample.traces:
        return "unlooked"
    if not (sample.alive | sample.dead).any():
        return "no_fates"
    if not sample.dead.any():
        return "all_live"
    if not sample.alive.any():
        return "all_dead"
    if (sure.low > 0).any():
        return "tells"
    if (sure.high < 0).any():
        return "misleads"
    return "not_shown" if (index.value > 0).any() else "not_lower"


def estimates(sample: Sample, found: Classified, printer: Printer) -> list[Estimate]:
    """Return the measures and Youden's index at each hour."""
    if found.verdict in ("unlooked", "no_fates"):
        why = words.NO_FATES if sample.traces else words.NOBODY_LOOKED
        return [
            printer.not_identified(name, method=_METHOD, needs=why)
            for name in (*_NAMES.values(), "youden_index")
        ]
    return [
        one
        for place, hour in enumerate(sample.hours)
        for one in _at(found, place, float(hour), printer)
    ]


def _at(found: Classified, place: int, hour: float, printer: Printer) -> list[Estimate]:
    at: dict[str, Any] = {"at": hour, "at_unit": "h"}
    made = []
    for name, shares in found.measures.items():
        if shares.seeds[place]:
            ends = (float(x[place]) for x in (shares.value, shares.low, shares.high))
            made.append(printer.estimated(name, *ends, method=_METHOD, **at))
        else:
            needs = _missing(name, found, place)
            made.append(printer.not_identified(name, method=_METHOD, needs=needs, **at))
    return [*made, _youden(found, place, printer, at)]


def _missing(name: str, found: Classified, place: int) -> str:
    if not found.counts[place].sum():
        return words.NO_FATES
    return {
        "sensitivity": words.NO_DEAD,
        "specificity": words.NO_LIVE,
        "live_thrown_away": words.NO_LIVE,
        "predictive_value_floating": words.NONE_FLOATED,
        "predictive_value_sinking": words.NONE_SANK,
    }[name]


def _youden(found: Classified, place: int, printer: Printer, at: dict[str, Any]) -> Estimate:
    for name in ("sensitivity", "specificity"):
        if not found.measures[name].seeds[place]:
            needs = _missing(name, found, place)
            return printer.not_identified("youden_index", method=_INDEX, needs=needs, **at)
    ends = (float(x[place]) for x in _parts(found.index))
    return printer.estimated("youden_index", *ends, method=_INDEX, **at)

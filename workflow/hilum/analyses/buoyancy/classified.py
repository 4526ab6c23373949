"""The float test held against what became of the seeds, at each hour at which somebody looked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from hilum.analyses.buoyancy import words
from hilum.analyses.buoyancy.sample import Sample
from hilum.analyses.estimate import Estimate
from hilum.analyses.printer import Printer
from hilum.stats import float_test
from hilum.stats.float_test import Index, Shares

Verdict = Literal[
    "unlooked", "no_fates", "all_live", "all_dead", "misleads", "not_lower", "not_shown", "tells"
]
_METHOD = "share of the seeds of known fate, Wilson's limits mended near 0 and 1"
_POWER = 0.8  # of studies that size show the difference
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
    """What the test was worth: `measures` by quantity and Youden's `index` at each hour.

    `counts` (hours, 4): dead that floated, live that floated, dead that sank, live that sank. `tells` (hours,) is 1
    where floating seeds were surely more often dead, −1 where less often, with all hours tried taken into account.
    """

    verdict: Verdict
    counts: np.ndarray
    measures: dict[str, Shares]
    index: Index
    tells: np.ndarray
    seeds_wanted: float


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
    found = float_test.measures(calls, confidence=confidence, unknown=unknown)
    index = _index(found)
    # every hour has a chance of its own to look as if the test told something (Bonferroni)
    each = 1 - (1 - confidence) / max(len(sample.hours), 1)
    strict = _index(float_test.measures(calls, confidence=each, unknown=unknown))
    tells = np.array([_tells(row, strict, i, each) for i, row in enumerate(counts)], dtype=int)
    return Classified(
        verdict=_verdict(sample, index, tells),
        counts=counts,
        measures={name: found[general] for general, name in _NAMES.items()},
        index=index,
        tells=tells,
        seeds_wanted=_seeds_wanted(counts, index, each),
    )


def _index(found: dict[str, Shares]) -> Index:
    """Return Youden's index, 0 within −1 and 1 at an hour without dead or without live seeds."""
    index = float_test.youden(found["sensitivity"], found["good_called_bad"])
    both = (found["sensitivity"].seeds > 0) & (found["specificity"].seeds > 0)
    parts = zip(_parts(index), (0.0, -1.0, 1.0), strict=True)
    return Index(*(np.where(both, part, nothing) for part, nothing in parts))


def _tells(counts: np.ndarray, index: Index, place: int, confidence: float) -> int:
    """Return 1 where floating surely speaks for a dead seed at one hour, −1 where for a live one, else 0."""
    dead_up, live_up, dead_down, live_down = (int(n) for n in counts)
    seeds = dead_up + live_up + dead_down + live_down
    more, fewer = float_test.chance(dead_up, dead_up + dead_down, dead_up + live_up, seeds)
    limit = (1 - confidence) / 2
    # the exact test holds with few seeds, the limits with dishes that differ
    if more <= limit and index.low[place] > 0:
        return 1
    return -1 if fewer <= limit and index.high[place] < 0 else 0


def _seeds_wanted(counts: np.ndarray, index: Index, confidence: float) -> float:
    """Return how many seeds of known fate would show a difference as large as at the best hour, inf for none."""
    if not counts.sum():
        return np.inf
    dead_up, live_up, dead_down, live_down = counts[int(np.argmax(index.value))]
    seeds = (dead_up + dead_down, live_up + live_down)
    if min(seeds) == 0:
        return np.inf
    up = (dead_up, live_up)
    return float_test.seeds_wanted(up, seeds, confidence=confidence, power=_POWER)


def _parts(index: Index) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    return index.value, index.low, index.high


def _verdict(sample: Sample, index: Index, tells: np.ndarray) -> Verdict:
    if not sample.traces:
        return "unlooked"
    if not (sample.alive | sample.dead).any():
        return "no_fates"
    if not sample.dead.any():
        return "all_live"
    if not sample.alive.any():
        return "all_dead"
    if (tells > 0).any():
        return "tells"
    if (tells < 0).any():
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

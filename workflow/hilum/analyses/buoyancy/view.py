"""What charts and page of the float test draw and say: each sample, its hours of looks, and its seeds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from hilum.analyses.buoyancy.classified import Classified, Verdict
from hilum.analyses.buoyancy.looks import Trace
from hilum.analyses.buoyancy.sample import Sample
from hilum.analyses.printer import number_or_none

Told = Literal["alive", "dead", "not known"]


@dataclass(frozen=True, kw_only=True)
class Hour:
    """The seeds that were looked at, that floated, and those of known fate by both, after so many hours in water."""

    hour: float
    looked: int
    floated: int
    tells: bool
    dead_floated: int
    live_floated: int
    dead_sank: int
    live_sank: int

    @property
    def live(self) -> int:
        """Return how many of the seeds that were looked at are known to be alive."""
        return self.live_floated + self.live_sank


@dataclass(frozen=True, kw_only=True)
class Looks:
    """One seed: the hours of its looks, whether it floated at each, and the hour by which it had sunk for good."""

    seed: str
    fate: Told
    hours: tuple[float, ...]
    floats: tuple[bool, ...]
    sunk_by_h: float | None


@dataclass(frozen=True, kw_only=True)
class Group:
    """The seeds of one lot and treatment, counted; `seeds_wanted` would show a difference as large as the best seen."""

    lot: str
    treatment: str
    verdict: Verdict
    seeds: int
    together: int
    unlooked: int
    alive: int
    dead: int
    came_up_again: int
    live_came_up_again: int
    still_floating: int
    never_floated: int
    sank_last: int
    dishes: int
    seeds_wanted: float | None
    hours: tuple[Hour, ...]
    traces: tuple[Looks, ...]


@dataclass(frozen=True, kw_only=True)
class View:
    """Every lot and treatment of an experiment."""

    groups: tuple[Group, ...]


def of(found: Sequence[tuple[Sample, Classified]]) -> View:
    """Return what charts and page draw and say, from each sample and what the float test was worth for it."""
    return View(groups=tuple(_group(sample, worth) for sample, worth in found))


def _group(sample: Sample, found: Classified) -> Group:
    risen = [trace for trace in sample.traces if trace.came_up_again]
    return Group(
        lot=sample.lot,
        treatment=sample.treatment,
        verdict=found.verdict,
        seeds=len(sample.traces),
        together=sample.together,
        unlooked=sample.unlooked,
        alive=int(sample.alive.sum()),
        dead=int(sample.dead.sum()),
        came_up_again=len(risen),
        live_came_up_again=sum(trace.fate == "alive" for trace in risen),
        still_floating=int(np.isinf(sample.sunk_by_h).sum()),
        never_floated=int(np.isneginf(sample.last_float_h).sum()),
        sank_last=sum(_sank_last(trace) for trace in sample.traces),
        dishes=len([dish for dish in sample.dishes if dish]),
        seeds_wanted=number_or_none(_in_tens(found.seeds_wanted)),
        hours=tuple(_hour(sample, found, place) for place in range(len(sample.hours))),
        traces=tuple(_looks(trace) for trace in sorted(sample.traces, key=_order)),
    )


def _in_tens(seeds: float) -> float:
    return float(np.ceil(seeds / 10) * 10)


def _sank_last(trace: Trace) -> bool:
    """Return whether a seed that had floated was seen sunk but once, at its last look."""
    return bool(trace.floats.any() and trace.sunk_by_h == trace.hours[-1])


def _order(trace: Trace) -> tuple[float, float, str]:
    return trace.sunk_by_h, trace.last_float_h, trace.fate


def _hour(sample: Sample, found: Classified, place: int) -> Hour:
    seen = sample.seen[:, place]
    dead_floated, live_floated, dead_sank, live_sank = (int(n) for n in found.counts[place])
    return Hour(
        hour=float(sample.hours[place]),
        looked=int(np.isfinite(seen).sum()),
        floated=int((seen == 1).sum()),
        tells=bool(found.tells[place] > 0),
        dead_floated=dead_floated,
        live_floated=live_floated,
        dead_sank=dead_sank,
        live_sank=live_sank,
    )


def _looks(trace: Trace) -> Looks:
    return Looks(
        seed=trace.seed,
        fate=trace.fate or "not known",
        hours=tuple(trace.hours.tolist()),
        floats=tuple(trace.floats.tolist()),
        sunk_by_h=number_or_none(trace.sunk_by_h),
    )

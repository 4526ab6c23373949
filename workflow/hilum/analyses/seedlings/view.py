"""What charts and page of seedlings draw and say: each lot and treatment, and the course of each seedling."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hilum.analyses.printer import number_or_none
from hilum.analyses.seedlings.grown import Seedling, Siblings
from hilum.analyses.seedlings.pause import Pause, Stay, Verdict
from hilum.analyses.seedlings.progress import Later, Progress, State


@dataclass(frozen=True, kw_only=True)
class LeafStay:
    """How many seedlings came to a leaf number, and how many of them ended their stay at it."""

    leaves: int
    seedlings: int
    ended: int


@dataclass(frozen=True, kw_only=True)
class Course:
    """The leaves of one seedling by days since germination, and between which days its pause lasted."""

    seedling: str
    days: tuple[float, ...]
    leaves: tuple[int, ...]
    died_d: float | None
    state: State
    later: Later
    pause_leaves: int | None
    pause_at_least_d: float | None
    pause_at_most_d: float | None


@dataclass(frozen=True, kw_only=True)
class Group:
    """One lot and treatment: counts of seedlings, names of late ones, the pause they have in common; `ratio` of stays."""

    lot: str
    treatment: str
    verdict: Verdict
    leaves: int
    ratio: float | None
    one_sided: bool
    seedlings: int
    trays: int
    trayless: int
    leafless: int
    most: int
    widest_gap_d: float | None
    last_d: float
    resumed: int
    in_pause: int
    before: int
    died: int
    died_in_pause: int
    left_early: int
    longest_so_far_d: float | None
    late: tuple[str, ...]
    strictly_late: tuple[str, ...]
    stays: tuple[LeafStay, ...]
    seeds: tuple[Course, ...]


@dataclass(frozen=True, kw_only=True)
class View:
    """Every lot and treatment of an experiment."""

    groups: tuple[Group, ...]


def of(
    groups: Sequence[Siblings],
    stays: Sequence[Sequence[Stay]],
    pauses: Sequence[Pause],
    progress: Sequence[Sequence[Progress]],
) -> View:
    """Return what charts and page draw and say, from what was found of each lot and treatment."""
    told = zip(groups, stays, pauses, progress, strict=True)
    return View(groups=tuple(_group(*one) for one in told))


def _group(
    siblings: Siblings, stays: Sequence[Stay], pause: Pause, progress: Sequence[Progress]
) -> Group:
    all_, states = siblings.seedlings, [p.state for p in progress]
    so_far = [p.pause_at_least_d or 0.0 for p in progress if p.state == "in the pause"]
    return Group(
        lot=siblings.lot,
        treatment=siblings.treatment,
        verdict=pause.verdict,
        leaves=pause.leaves,
        ratio=number_or_none(pause.ratio),
        one_sided=pause.one_sided,
        seedlings=len(all_),
        trays=siblings.trays,
        trayless=sum(not s.tray for s in all_),
        leafless=sum(s.now == 0 and not np.isfinite(s.died) for s in all_),
        most=siblings.most,
        widest_gap_d=_gap(siblings),
        last_d=max(s.last_d for s in all_),
        resumed=states.count("grew on"),
        in_pause=states.count("in the pause"),
        before=states.count("before the pause"),
        died=states.count("died"),
        died_in_pause=sum(bool(np.isfinite(s.died)) and s.now == pause.leaves for s in all_),
        left_early=_left_early(siblings),
        longest_so_far_d=max(so_far, default=None),
        late=tuple(p.seedling for p in progress if p.later == "than 95 %"),
        strictly_late=tuple(p.seedling for p in progress if p.later == "than chance explains"),
        stays=tuple(_stay(stay) for stay in stays),
        seeds=tuple(_course(s, p) for s, p in zip(all_, progress, strict=True)),
    )


def _gap(siblings: Siblings) -> float | None:
    """Return the usual time between two looks."""
    steps = [float(x) for s in siblings.seedlings for x in np.diff(s.days)]
    return float(np.median(steps)) if steps else None


def _left_early(siblings: Siblings) -> int:
    """Return how many living seedlings nobody looked at to the end."""
    end = max(s.last_d for s in siblings.seedlings)
    return sum(bool(np.isnan(s.died) and s.last_d < 0.9 * end) for s in siblings.seedlings)


def _stay(stay: Stay) -> LeafStay:
    spans = stay.spans
    return LeafStay(leaves=stay.leaves, seedlings=len(spans), ended=int(spans.ended.sum()))


def _course(seedling: Seedling, progress: Progress) -> Course:
    return Course(
        seedling=progress.seedling,
        days=tuple(seedling.days.tolist()),
        leaves=tuple(int(n) for n in seedling.leaves),
        died_d=number_or_none(seedling.died),
        state=progress.state,
        later=progress.later,
        pause_leaves=progress.pause_leaves,
        pause_at_least_d=progress.pause_at_least_d,
        pause_at_most_d=progress.pause_at_most_d,
    )

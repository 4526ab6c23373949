"""How many germinated by the last inspection, and what became of the others."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from hilum.analyses.dishes import DishCounts, Key
from hilum.analyses.estimate import Estimate
from hilum.analyses.printer import Printer, hours
from hilum.stats import proportions
from hilum.stats.arrays import Array
from hilum.stats.interval_censored import Cells

# a dish that ended before this part of its group's time says nothing about the end
_LONG_ENOUGH = 0.5
_NOT_INSPECTED = "No inspection has been recorded yet; count the seeds in the dishes."
_CUT = (
    "Cut or stain the hard and fresh seeds at the end: it is not known how many of them were alive."
)
_ENTER = (
    "Fill in `alive` for the hard and fresh seeds that were cut or stained: 0 where none was alive."
)
_SCORE = "Score the seeds that are left in every dish, as hard, fresh or dead: nobody looked at some of them."


@dataclass(frozen=True)
class Shares:
    """Seeds with a property in the dishes of each group, their intervals, and how these were made.

    All arrays of shape (C,), but for `groups` (C, D); `own` marks where a group's own spread was the wider.
    """

    groups: proportions.Groups
    correlation: proportions.Correlation
    spread: proportions.Spread
    own: np.ndarray
    low: Array
    high: Array

    @property
    def fraction(self) -> Array:
        """Return the fraction of each group."""
        return self.groups.fraction

    def method(self, group: int) -> str:
        """Return how the interval of a group was made."""
        seeds = self.groups.seeds[group]
        dishes = int((seeds > 0).sum())
        if seeds.max(initial=0) <= 1:
            return f"Wilson interval ({dishes} single seeds, independent)"
        number = f"{dishes} dish" + ("es" if dishes != 1 else "")
        rho = f"intra-dish correlation {float(self.correlation.rho):.2g}"
        if not self.correlation.known:
            return f"Wilson interval widened ({number}; dish spread assumed, {rho})"
        source = "their own spread" if self.own[group] else f"pooled {rho}"
        return f"Wilson interval widened for the spread between dishes ({number}, {source})"


@dataclass(frozen=True)
class Finals:
    """Germinated seeds of each group at `at_h`, the last inspection that its dishes share, (C,).

    `left_out` counts dishes that ended so early that they say nothing about the end, `counted` (J,) marks the others, of
    which `lost` seeds (C,) were lost or sampled; `each_to_its_end` has
    all dishes, each at its own last inspection.
    """

    germinated: Shares
    each_to_its_end: Shares
    at_h: Array
    left_out: np.ndarray
    counted: np.ndarray
    lost: Array


def shares(hits: Array, seeds: Array, *, unknown: float, confidence: float) -> Shares:
    """Return fractions with their intervals, the intra-dish correlation shared by all groups, (C, D) each."""
    groups = proportions.Groups(hits, seeds)
    rho = proportions.correlation(groups, unknown=unknown)
    spread = proportions.spread(groups, rho)
    threshold = spread.shared_threshold(confidence)
    limits = proportions.held_near_ends(hits.sum(-1), groups.total, threshold, confidence)
    return Shares(groups, rho, spread, spread.own_is_wider, *limits)


def germinated_by(cells: Cells, until_h: Array) -> tuple[Array, Array]:
    """Return the germinated seeds of each dish by a time, and the seeds that could be followed to it, (J,).

    Seeds lost or sampled before are spread over what the others did next (Kaplan and Meier 1958), since
    leaving them out would count too few that were still to germinate.
    """
    inside = (cells.end_h <= until_h[:, None]) & (cells.end_h > cells.start_h)
    germinated = np.where(inside, cells.count, 0.0)
    before = np.cumsum(germinated, axis=-1) - germinated
    gone = cells.censor_h[:, :, None] <= cells.start_h[:, None, :]
    left_early = (gone * np.where(_early(cells, until_h), cells.censored, 0.0)[:, :, None]).sum(1)
    at_risk = cells.seeds[:, None] - before - left_early
    stayed = np.where(germinated > 0, 1 - germinated / np.where(at_risk > 0, at_risk, 1.0), 1.0)
    followed = cells.seeds - np.where(_early(cells, until_h), cells.censored, 0.0).sum(-1)
    complete = followed == cells.seeds
    share = np.where(complete, 0.0, 1 - stayed.prod(-1))
    return np.where(complete, germinated.sum(-1), share * followed), followed


def germinated_along(cells: Cells, at_h: Array) -> tuple[Array, Array]:
    """Return `germinated_by` of all dishes together at each of the rising hours `at_h`, (T,) each.

    A dish changes at its own inspections and losses alone, so no dish is worked out at the hours of all others.
    """
    until = np.full(len(cells.count), at_h.max(initial=0.0))
    lossy = (_early(cells, until) & (cells.censored > 0)).any(-1)
    hits, seeds = np.zeros(len(at_h) + 1), np.zeros(len(at_h) + 1)
    seeds[0] = cells.seeds.sum()
    whole = np.asarray(cells.end_h > cells.start_h) & ~np.asarray(lossy)[:, None]
    np.add.at(hits, np.searchsorted(at_h, cells.end_h[whole]), cells.count[whole])
    for dish in np.flatnonzero(lossy):
        own = cells.take(np.array([dish]))
        # those lost at an hour are followed up to it
        hours = np.unique(np.append(own.end_h, np.nextafter(own.censor_h, np.inf)))
        told = germinated_by(own.take(np.zeros(len(hours), dtype=int)), hours)
        for total, values, first in zip((hits, seeds), told, (0.0, own.seeds[0]), strict=True):
            np.add.at(total, np.searchsorted(at_h, hours), np.diff(values, prepend=first))
    return np.cumsum(hits)[:-1], np.cumsum(seeds)[:-1]


def _early(cells: Cells, until_h: Array) -> np.ndarray:
    return np.asarray(cells.censor_h < until_h[:, None])


def finals(
    dishes: DishCounts, groups: Mapping[Key, np.ndarray], *, unknown: float, confidence: float
) -> Finals:
    """Return the final germination of each group."""
    last = dishes.cells.last_h
    at_h = np.zeros(len(groups))
    counted = np.zeros(len(dishes), dtype=bool)
    for i, rows in enumerate(groups.values()):
        long = last[rows] >= _LONG_ENOUGH * last[rows].max()
        counted[rows] = long & (last[rows] > 0)
        at_h[i] = last[rows][long].min()
    until = np.zeros(len(dishes))
    for i, rows in enumerate(groups.values()):
        until[rows] = at_h[i]
    left_out = np.array([int((~counted[rows]).sum()) for rows in groups.values()], dtype=int)

    def share(until_h: Array, used: np.ndarray) -> Shares:
        tables = (
            by_group(np.where(used, x, 0.0), groups) for x in germinated_by(dishes.cells, until_h)
        )
        return shares(*tables, unknown=unknown, confidence=confidence)

    lost = np.array([dishes.early[rows][counted[rows]].sum() for rows in groups.values()])
    return Finals(share(until, counted), share(last, last > 0), at_h, left_out, counted, lost)


def by_group(values: Array, groups: Mapping[Key, np.ndarray]) -> Array:
    """Return the values of dishes (J,) as (C, D), filled up with 0."""
    widest = max((len(rows) for rows in groups.values()), default=1)
    table = np.zeros((len(groups), widest))
    for i, rows in enumerate(groups.values()):
        table[i, : len(rows)] = values[rows]
    return table


def germinated_estimate(found: Finals, i: int, printer: Printer) -> Estimate:
    """Return the share germinated by the last inspection, of the seeds sown."""
    share, at = found.germinated, float(found.at_h[i])
    if share.groups.total[i] <= 0 or at <= 0:
        method = "germinated / seeds sown"
        return printer.not_identified("germinated", method=method, needs=_NOT_INSPECTED)
    notes = []
    if found.left_out[i]:
        notes.append(
            f"left out: {found.left_out[i]} of the dishes, which ended before half of the test"
        )
    if found.lost[i]:
        notes.append("seeds lost or sampled count until they were last seen")
    note = "; ".join(notes)
    note = f"{note[:1].upper()}{note[1:]}." if note else ""
    value = share.fraction[i], share.low[i], share.high[i]
    how = share.method(i)
    return printer.estimated("germinated", *value, method=how, needs=note, at=at, at_unit="h")


@dataclass(frozen=True)
class FateShares:
    """Fates of each group, where its dishes were assessed: `assessed` (C,); the rest as Shares.

    Pairs hold what is known at least (first) and at most (second): a seed that nobody scored may have had any fate,
    and one that nobody opened may have been alive. `not_entered` (C,) where somebody looked into
    seeds and did not write down what was seen, `scored` where each seed has a fate, `settled` where it is also known
    of each whether it was alive.
    """

    assessed: np.ndarray
    not_entered: np.ndarray
    scored: np.ndarray
    settled: np.ndarray
    germinated: Shares
    unscored: Shares
    by_fate: Mapping[str, tuple[Shares, Shares]]
    viability: tuple[Shares, Shares]
    of_viable: tuple[Shares, Shares]

    @property
    def hard(self) -> Shares:
        """Return the seeds that were surely hard."""
        return self.by_fate["hard"][0]

    @property
    def dead(self) -> Shares:
        """Return the seeds that were surely dead."""
        return self.by_fate["dead"][0]


def fates(
    dishes: DishCounts, groups: Mapping[Key, np.ndarray], *, unknown: float, confidence: float
) -> FateShares:
    """Return what became of the seeds of each group, of all its dishes: none is left out for what it holds."""
    f = dishes.fates
    inspected = dishes.cells.last_h > 0
    told = dishes.last & (inspected | f.known)
    first = dishes.phase == 1
    seeds = np.where(first, f.sown - f.lost, dishes.seeds - dishes.early)
    germinated = np.where(first & ~inspected, f.germinated, dishes.cells.germinated)
    unscored = f.unscored
    # a dish with several phases: seeds that died before this phase are not among its seeds
    rest = np.maximum(seeds - germinated - f.hard - f.fresh - unscored, 0.0)
    dead = np.where(first, f.dead, rest)
    alive = np.nan_to_num(f.hard_alive) + np.nan_to_num(f.fresh_alive)
    open_question = np.where(np.isnan(f.hard_alive), f.hard, 0.0)
    open_question += np.where(np.isnan(f.fresh_alive), f.fresh, 0.0) + unscored

    def share(hits: Array, of: Array) -> Shares:
        tables = (by_group(np.where(told, x, 0.0), groups) for x in (hits, of))
        return shares(*tables, unknown=unknown, confidence=confidence)

    def none(values: Array) -> np.ndarray:
        return np.array([not values[rows].any() for rows in groups.values()], dtype=bool)

    least, most = germinated + alive, germinated + alive + open_question
    by_fate = {"hard": f.hard, "fresh": f.fresh, "dead": dead}
    return FateShares(
        assessed=np.array([_assessed(dishes.take(rows)) for rows in groups.values()], dtype=bool),
        not_entered=~none(f.not_entered * told),
        scored=none(unscored * told),
        settled=none(open_question * told),
        germinated=share(germinated, seeds),
        unscored=share(unscored, seeds),
        by_fate={
            name: (share(hits, seeds), share(hits + unscored, seeds))
            for name, hits in by_fate.items()
        },
        viability=(share(least, seeds), share(most, seeds)),
        of_viable=(share(germinated, most), share(germinated, least)),
    )


def _assessed(dishes: DishCounts) -> bool:
    """Return whether somebody looked at seeds that were left; a dish without any tells of itself only."""
    f, left = dishes.fates, dishes.seeds > dishes.cells.germinated
    return bool((f.known & dishes.last).all() or (f.known & dishes.last & left).any())


def fate_estimates(found: FateShares, i: int, printer: Printer) -> list[Estimate]:
    """Return the fates of a group, nothing where nobody looked at the end."""
    if not found.assessed[i]:
        return []
    settled, scored = bool(found.settled[i]), bool(found.scored[i])
    needs = _SCORE if not scored else _ENTER if found.not_entered[i] else _CUT
    opened = "all of the seeds that nobody opened alive, or none"
    looked = "all of the seeds that nobody scored, or none"
    alive = {"germinated_of_viable": found.of_viable, "viability": found.viability}
    return [
        *(_between(p, settled, i, printer, q, needs, opened) for q, p in alive.items()),
        *(_between(p, scored, i, printer, q, needs, looked) for q, p in found.by_fate.items()),
    ]


def _between(
    pair: tuple[Shares, Shares],
    settled: bool,
    i: int,
    printer: Printer,
    quantity: str,
    needs: str,
    extremes: str,
) -> Estimate:
    """Return the share of group i, or what it is at least and at most where the seeds are not `settled`."""
    least, most = pair
    if least.groups.total[i] <= 0:
        why = "No seed was alive at the end, so there is nothing to take a share of."
        return printer.not_identified(quantity, method="germinated / viable seeds", needs=why)
    if settled:
        value = least.fraction[i], least.low[i], least.high[i]
        return printer.estimated(quantity, *value, method=least.method(i))
    method = f"{extremes}; {least.method(i)}"
    return printer.bracketed(quantity, least.low[i], most.high[i], method=method, needs=needs)


def replicates(found: Finals, i: int) -> tuple[float, float, int, float] | None:
    """Return mean, range (fractions), dishes and seeds a dish of a group whose dishes can be compared."""
    seeds, hits = found.germinated.groups.seeds[i], found.germinated.groups.hits[i]
    there = seeds > 0
    if there.sum() < 2 or len(set(seeds[there])) > 1:
        return None
    part = hits[there] / seeds[there]
    return float(part.mean()), float(np.ptp(part)), int(there.sum()), float(seeds[there][0])


def when(found: Finals, i: int) -> str:
    """Return the time of the final germination in words."""
    return hours(float(found.at_h[i]))

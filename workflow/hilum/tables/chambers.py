"""The chamber log held against the dishes that stood in the chambers.

A drift or a gap is what happened, and the analyses use the log as it is: both are remarks. Only a log that
cannot be of that chamber, or not in °C, is a fault.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from hilum.tables import groups, times
from hilum.tables.ledger import NO_ROW, Array, Finding, Ledger
from hilum.tables.sentences import Fault, quoted

# Common practice, no source: a seed-testing cabinet is held within 1 or 2 °C of its set point
NOTED_C = 1.0
# no cabinet is off by this much for a whole test
IMPOSSIBLE_C = 10.0
GAP_H = 6.0
GAP_STEPS = 3


@dataclass(frozen=True)
class Stay:
    """What was logged while one dish stood in its chamber: mean, and the longest gap in hours."""

    row: int
    experiment: int
    chamber: int
    off_c: float
    mean_c: float
    gap_h: float
    gap_from: float


def _end(ledger: Ledger) -> Array:
    """Return when each dish was last known to be in its chamber, seconds, nan where never seen."""
    dishes, counts, events = ledger["dishes"], ledger["counts"], ledger["events"]
    hours = np.full(len(dishes), -np.inf)
    for rows in (counts, events):
        dish = ledger.dish_rows(rows)
        fine = (dish != NO_ROW) & rows.given("elapsed_h")
        np.maximum.at(hours, dish[fine], rows["elapsed_h"][fine])
    dish = ledger.dish_rows(events)
    moved = (events["event"] == ledger.names.code("moved")) & (dish != NO_ROW)
    moved &= events.given("elapsed_h")
    np.minimum.at(hours, dish[moved], events["elapsed_h"][moved])
    return np.where(hours > 0, dishes["sown_at"] + hours * 3600, np.nan)


def nominal(ledger: Ledger) -> Array:
    """Return the mean temperature set for each dish, °C, shape (dishes,)."""
    dishes = ledger["dishes"]
    day, night = dishes["temperature_c"], dishes["night_temperature_c"]
    warm = dishes["warm_h"]
    return np.where(np.isnan(night + warm), day, (day * warm + night * (24 - warm)) / 24)


def stays(ledger: Ledger) -> Iterator[Stay]:
    """Yield what was logged for each dish with a logged chamber and known times."""
    dishes, log = ledger["dishes"], ledger["chamber_log"]
    usable = np.flatnonzero(log.given("chamber") & log.given("at") & log.given("temperature_c"))
    order, begins = groups.in_order(log["chamber"][usable], log["at"][usable])
    place = usable[order]
    starts = [*np.flatnonzero(begins), len(place)]
    chamber_of = {int(log["chamber"][place[a]]): place[a:b] for a, b in pairwise(starts)}
    end, set_c = _end(ledger), nominal(ledger)
    for row in np.flatnonzero(np.isin(dishes["chamber"], list(chamber_of)) & ~np.isnan(end)):
        at, logged = (
            log[c][chamber_of[int(dishes["chamber"][row])]] for c in ("at", "temperature_c")
        )
        yield _stay(
            ledger, int(row), at, logged, (float(dishes["sown_at"][row]), float(end[row])), set_c
        )


def _stay(
    ledger: Ledger, row: int, at: Array, logged: Array, span: tuple[float, float], set_c: Array
) -> Stay:
    dishes = ledger["dishes"]
    first, last = np.searchsorted(at, span, side="left")
    inside = np.array([span[0], *at[first:last], span[1]])
    steps = np.diff(inside)
    widest = int(np.argmax(steps))
    usual = float(np.median(np.diff(at))) if len(at) > 1 else 0.0
    gap = float(steps[widest])
    large = gap > max(GAP_H * 3600, GAP_STEPS * usual)
    mean = float(np.mean(logged[first:last])) if last > first else np.nan
    return Stay(
        row=row,
        experiment=int(dishes.experiment[row]),
        chamber=int(dishes["chamber"][row]),
        off_c=abs(mean - float(set_c[row])),
        mean_c=mean,
        gap_h=gap / 3600 if large else 0.0,
        gap_from=float(inside[widest]),
    )


def another_climate(ledger: Ledger) -> Iterator[Finding]:
    """Yield each dish whose chamber was logged too far off for it to be the same chamber and unit."""
    dishes = ledger["dishes"]
    for stay in stays(ledger):
        if stay.off_c > IMPOSSIBLE_C:
            says = (
                f", but chamber_log.csv has chamber {dishes.text('chamber', stay.row)} at {stay.mean_c:.1f} °C "
                "on average while the dish stood in it: another chamber, or another unit?"
            )
            yield Finding(dishes, stay.row, "temperature_c", says)


def remarks(ledger: Ledger) -> Iterator[Fault]:
    """Yield what a reader should know of the chambers: drifts, gaps, and what the log does not cover."""
    yield from _unlogged(ledger)
    found = sorted(stays(ledger), key=lambda s: (s.experiment, s.chamber))
    for (experiment, chamber), own in _by_chamber(found).items():
        names = ledger.names.texts
        place = f"chamber {quoted(names[chamber])}, experiment {names[experiment]}"
        log = ledger["chamber_log"].sheets[0].source.shown
        worst = max(own, key=lambda s: 0.0 if np.isnan(s.off_c) else s.off_c)
        if NOTED_C < worst.off_c <= IMPOSSIBLE_C:
            dish = ledger["dishes"].text("dish", worst.row)
            says = f"{place}: {worst.off_c:.1f} °C off the temperature set while dish {dish} stood in it"
            yield Fault(file=log, says=says)
        gap = max(own, key=lambda s: s.gap_h)
        if gap.gap_h:
            since = times.in_utc(gap.gap_from)
            yield Fault(file=log, says=f"{place}: no reading for {gap.gap_h:.1f} h from {since}")


def _by_chamber(found: list[Stay]) -> dict[tuple[int, int], list[Stay]]:
    together: dict[tuple[int, int], list[Stay]] = {}
    for stay in found:
        together.setdefault((stay.experiment, stay.chamber), []).append(stay)
    return together


def _unlogged(ledger: Ledger) -> Iterator[Fault]:
    dishes, log = ledger["dishes"], ledger["chamber_log"]
    if not len(log):
        return
    logged = np.isin(dishes["chamber"], log["chamber"])
    strange = dishes.given("chamber") & ~logged
    timeless = logged & ~dishes.given("sown_at")
    for number, sheet in enumerate(dishes.sheets):
        own = dishes.of_sheet(number)
        codes = np.unique(dishes["chamber"][own][strange[own]]).tolist()
        if codes:
            listed = ", ".join(sorted(quoted(dishes.names.texts[code]) for code in codes))
            yield Fault(file=sheet.source.shown, says=f"not in chamber_log.csv: chamber {listed}")
        if timeless[own].any():
            count = int(timeless[own].sum())
            dishes_have = "1 dish has" if count == 1 else f"{count} dishes have"
            says = f"{dishes_have} a logged chamber but no sown_at; the log is not used there"
            yield Fault(file=sheet.source.shown, says=says)


RULES = (another_climate,)

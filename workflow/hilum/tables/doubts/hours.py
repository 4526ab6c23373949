"""Hours of inspections that look like days or minutes, and days that look like hours."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from hilum.tables import groups
from hilum.tables.groups import Floats, Ints, Marks
from hilum.tables.ledger import NO_ROW, Ledger, Rows
from hilum.tables.sentences import Fault

# whoever inspects by hand sleeps: so many hours of each day nobody looks
NIGHT_H = 8.0
# tests of days are this long, more seldom the other
USUAL_D, LONG_D = 45.0, 120.0
# and in the longer ones so many
SHORT_NIGHT_H = 6.0
# Not even the fastest seeds protrude before about 120 degree hours; a test of seeds is not over within 16 h
FASTEST_C_H, SHORTEST_H = 120.0, 16.0
DAY_MIN, NEAR_MIN = 1440.0, 115.0
_FEW = 3


def of_counts(ledger: Ledger) -> Iterator[Fault]:
    """Yield each file of counts whose hours look like days or minutes, or whose days look like hours."""
    rows = ledger["counts"]
    clock = rows.given("inspected_at")
    whole = rows.given("elapsed_h") & (rows["dish"] > 0) & ~rows.bad & ~clock
    fast = _faster_than_any(ledger)
    for number, sheet in enumerate(rows.sheets):
        span = rows.of_sheet(number)
        own = np.flatnonzero(whole[span]) + span.start
        days = rows.given("elapsed_d")[own]
        says = _hours(rows, own[~days], fast) or _days(rows["elapsed_d"][own[days]])
        if says:
            yield Fault(file=sheet.source.shown, says=says, rule="hours")


def _faster_than_any(ledger: Ledger) -> Marks:
    """Return where seeds germinated sooner than seeds can."""
    rows, dishes = ledger["counts"], ledger["dishes"]
    dish = ledger.dish_rows(rows)
    warm = np.append(dishes["temperature_c"], np.nan)[np.where(dish == NO_ROW, len(dishes), dish)]
    limit = FASTEST_C_H / np.clip(np.nan_to_num(warm, nan=30.0), 5, 40)
    return np.asarray((rows["elapsed_h"] <= limit) & (rows["germinated"] > 0))


def _hours(rows: Rows, own: Ints, fast: Marks) -> str:
    hours = rows["elapsed_h"][own]
    looks = np.unique(hours[hours > 0])
    if len(looks) < _FEW:
        return ""
    if minutes(looks):
        return f"inspections go on to {looks[-1]:.10g} h, {looks[-1] / 8766:.1f} years, and most are about whole days of minutes: {SETTLES_MIN}"
    if looks[-1] > LONG_D or not np.allclose(looks * 2, np.round(looks * 2)):
        return ""
    up = rows["germinated"][own]
    early = float(up[fast[own]].sum())
    until = f"inspections stand at {_series(looks)} h"
    if early > 1:
        sooner = hours[fast[own]].max()
        return f"{until}, and {early:g} seeds germinated within {sooner:.10g} h, sooner than seeds can: {SETTLES_D}"
    if looks[-1] <= SHORTEST_H and up.sum() >= _FEW:
        return f"{until}, so that the whole test took {looks[-1]:.10g} h: {SETTLES_D}"
    if day_and_night(rows.key("dish")[own], hours, looks):
        return f"{until}, day and night: {SETTLES_D}"
    return ""


SETTLES_D = "days? Days belong into elapsed_d"
SETTLES_MIN = "minutes? elapsed_h holds hours"


def day_and_night(code: Ints, hours: Floats, looks: Floats) -> bool:
    """Return whether most are looked at round the clock, which nobody does, in a time in which days would be usual."""
    last = looks[-1]
    if last <= SHORTEST_H or _shift_work(looks):
        return False
    longest = nights(code, hours)
    if last <= USUAL_D:
        return bool((longest < NIGHT_H).mean() > 1 / 2)
    weeks = max(float(np.mean(looks % step == 0)) for step in (5.0, 7.0))
    return bool((longest < (NIGHT_H if weeks > 0.7 else SHORT_NIGHT_H)).mean() > 1 / 2)


def _shift_work(looks: Floats) -> bool:
    """Return whether nearly all times are multiples of six hours, as where people or a camera take turns."""
    return bool(np.mean(looks % 6 == 0) >= 0.8)


def nights(code: Ints, hours: Floats) -> Floats:
    """Return for each dish or seed the longest part of the day, hours, in which nobody ever looked."""
    _, first = np.unique(code, return_index=True)
    # it was sown at 0 h
    every = np.concatenate([code, code[first]])
    clock = np.concatenate([hours % 24, np.zeros(len(first))])
    order, begins = groups.in_order(every, clock)
    at = clock[order]
    ends = np.flatnonzero(np.append(begins[1:], True))
    gap = np.append(np.diff(at), 0.0)
    # from the last time of the day to the first of the next, which is 0
    gap[ends] = 24 - at[ends]
    return np.asarray(np.maximum.reduceat(gap, np.flatnonzero(begins)), dtype=float)


def minutes(looks: Floats) -> bool:
    """Return whether times in hours are about whole days of minutes, and too long for hours."""
    near = np.abs(looks / DAY_MIN - np.round(looks / DAY_MIN)) * DAY_MIN <= NEAR_MIN
    days = looks > DAY_MIN - NEAR_MIN
    return bool(
        days.sum() >= _FEW and looks[-1] >= 3 * DAY_MIN - NEAR_MIN and near[days].mean() >= 0.8
    )


def _days(days: Floats) -> str:
    looks = np.unique(days[days > 0])
    if len(looks) < _FEW or looks[-1] < 72:
        return ""
    if np.all(looks % 12 == 0) and np.mean(looks % 24 == 0) >= 0.7:
        return f"inspections stand at {_series(looks)} d, multiples of 24: hours? Hours belong into elapsed_h"
    return ""


def _series(looks: Floats) -> str:
    if len(looks) <= 4:
        return ", ".join(f"{v:.10g}" for v in looks)
    return f"{looks[0]:.10g}, {looks[1]:.10g}, {looks[2]:.10g}, … {looks[-1]:.10g}"

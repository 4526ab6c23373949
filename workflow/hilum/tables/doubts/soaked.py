"""Hours of weighings that look like days or minutes."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from hilum.tables.doubts.hours import DAY_MIN, day_and_night, minutes
from hilum.tables.groups import Floats, Ints
from hilum.tables.ledger import Ledger, Rows
from hilum.tables.sentences import Fault

# a seed of 20 mg or more has not taken up nearly all of its water within two hours, nor is a radicle out within four
LARGE_MG, SOON_H, NEARLY_ALL, SWELLS = 20.0, 2.0, 0.8, 0.3
RADICLE_H = 4.0
# nobody who thinks in hours leaves all of these out
_HOURLY = (24.0, 48.0, 72.0, 96.0, 168.0)
_FEW, _SWOLLEN = 3, 5


def of_weighings(ledger: Ledger) -> Iterator[Fault]:
    """Yield each file of weighings whose hours look like days or minutes."""
    rows = ledger["weighings"]
    typed = rows.given("soaked_h") & ~rows.given("weighed_at") & (rows["seed"] > 0) & ~rows.bad
    for number, sheet in enumerate(rows.sheets):
        span = rows.of_sheet(number)
        own = np.flatnonzero(typed[span]) + span.start
        says = _hours(rows, own)
        if says:
            yield Fault(file=sheet.source.shown, says=says, rule="soaked")


def _hours(rows: Rows, own: Ints) -> str:
    hours = rows["soaked_h"][own]
    looks = np.unique(hours[hours > 0])
    if len(looks) < _FEW:
        return ""
    if _minutes(looks):
        return f"weighings go on to {looks[-1]:.10g} h and none stands at a day or two: minutes? soaked_h holds hours"
    why = _days(rows, own, looks)
    return f"{why}: days? soaked_h holds hours" if why else ""


def _minutes(looks: Floats) -> bool:
    whole_days = np.isin(looks, DAY_MIN * np.arange(1, 29)).any()
    typed = bool(whole_days and looks[0] >= 5 and np.all(looks % 5 == 0))
    return minutes(looks) or (typed and not np.isin(looks, _HOURLY).any())


def _days(rows: Rows, own: Ints, looks: Floats) -> str:
    if looks[-1] > 60:
        return ""
    parts = looks * 24
    if (
        np.all(np.abs(parts - np.round(parts)) < 0.03)
        and np.any(looks * 4 % 1 != 0)
        and looks[0] < 0.2
    ):
        return f"weighings stand at {looks[0]:.3g} h and go on to {looks[-1]:.10g} h, each a whole number of hours if they are days"
    if not np.all(looks * 2 % 1 == 0):
        return ""
    weekly = np.isin([7, 14], looks).all() and not np.isin([6, 8, 12], looks).any()
    if weekly or day_and_night(rows.key("seed")[own], rows["soaked_h"][own], _unlike_hours(looks)):
        return f"weighings stand at {looks[0]:.10g} to {looks[-1]:.10g} h, day and night"
    out = own[(rows["radicle"][own] == 1) & (rows["soaked_h"][own] <= RADICLE_H)]
    if len(out) > 1:
        return (
            f"{len(out)} radicles were out within {RADICLE_H:g} h of soaking, sooner than seeds can"
        )
    return _swollen_at_once(rows, own, looks)


def _unlike_hours(looks: Floats) -> Floats:
    """Return the times, none where nearly all are those of somebody who doubles or counts in threes."""
    usual = np.mean((looks % 3 == 0) | (looks % 4 == 0) | (looks <= 2)) >= 0.8
    return np.zeros(1) if usual else looks


def _swollen_at_once(rows: Rows, own: Ints, looks: Floats) -> str:
    """Return that large seeds held nearly all their water at the first look, within two hours."""
    if looks[0] > SOON_H:
        return ""
    share, dry = taken_up(rows, own, float(looks[0]))
    large = share[dry >= LARGE_MG]
    soon = int((large >= NEARLY_ALL).sum())
    if len(large) < _SWOLLEN or soon < 0.6 * len(large):
        return ""
    return f"{soon} of {len(large)} seeds that swell held four fifths of their water after {looks[0]:.10g} h"


def taken_up(rows: Rows, own: Ints, at: float) -> tuple[Floats, Floats]:
    """Return how much of its water each seed that swells held at an hour, and what one such seed weighs dry, mg."""
    known = own[rows.given("mass_mg")[own]]
    different, place = np.unique(rows.key("seed")[known], return_inverse=True)
    mass, hours = rows["mass_mg"][known], rows["soaked_h"][known]
    dry, then, each = (np.full(len(different), np.nan) for _ in range(3))
    dry[place[hours == 0]] = mass[hours == 0]
    then[place[hours == at]] = mass[hours == at]
    each[place] = rows["seeds"][known]
    most = np.full(len(different), -np.inf)
    np.maximum.at(most, place, mass)
    swells = (most > dry * (1 + SWELLS)) & ~np.isnan(then)
    return (then - dry)[swells] / (most - dry)[swells], (dry / each)[swells]

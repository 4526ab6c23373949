"""Dates that contradict each other: sown before it was collected, or a month or a year away from the other dishes."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from datetime import date

import numpy as np

from hilum.tables.doubts.doses import MINUTES
from hilum.tables.doubts.told import by_sheet, named, remark
from hilum.tables.groups import Floats, Ints
from hilum.tables.ledger import Ledger, Rows
from hilum.tables.sentences import Fault, quoted

DAY_S = 86_400.0
EPOCH = date(1970, 1, 1).toordinal()
# sown within so many days, dishes belong together; dates that far from all others stand alone
TOGETHER_D, ALONE_D = 10, 20
# a treatment of so many days moves its dishes' sowing
LONG_STEP_D = 7.0
# the first look comes about as soon after sowing as the second after the first
LATE_D, LATE_TIMES = 20.0, 8.0
_YEAR = re.compile(r"\b(?:19|20)\d\d\b")


def _days(rows: Rows, column: str) -> Floats:
    """Return dates and moments of a column as days of the calendar, nan where empty."""
    if rows.table.column(column).kind == "moment":
        return np.asarray(np.floor(rows[column] / DAY_S) + EPOCH)
    found = np.full(len(rows), np.nan)
    for row in np.flatnonzero(rows.given(column) & ~rows.bad):
        found[row] = date.fromisoformat(rows.text(column, row)).toordinal()
    return found


def before_collection(ledger: Ledger) -> Iterator[Fault]:
    """Yield what was sown, weighed or stored before its lot was collected or had arrived."""
    for table, moment in (("dishes", "sown_at"), ("weighings", "weighed_at")):
        rows = ledger[table]
        day, collected, received = (_days(rows, moment), *_of_lots(ledger, rows))
        # a day for time zones
        early = day < collected - 1
        yield from _early(rows, moment, early, collected, "was collected")
        # what was sown before its collection need not be told a second time
        yield from _early(rows, moment, (day < received - 1) & ~early, received, "arrived")
        if table == "dishes":
            stored = (day - rows["stored_d"] < collected - 1) & ~early
            yield from _early(rows, "stored_d", stored, collected, "was collected")


def _of_lots(ledger: Ledger, rows: Rows) -> list[Floats]:
    """Return for each row on which day its lot was collected, and when it arrived."""
    lots, found = ledger["lots"], []
    for column in ("collected_on", "received_on"):
        day = dict(zip(lots["lot"].tolist(), _days(lots, column).tolist(), strict=True))
        own = [day.get(code, np.nan) for code in rows["lot"].tolist()]
        found.append(np.array(own, dtype=float))
    return found


def _early(rows: Rows, column: str, early: np.ndarray, since: Floats, done: str) -> Iterator[Fault]:
    for found in by_sheet(rows, early & ~rows.bad):
        lots = named([rows.text("lot", row) for row in found.tolist()])
        day = date.fromordinal(int(since[found[0]])).isoformat()
        what = {"sown_at": "sown", "weighed_at": "weighed"}.get(column, "stored, by stored_d,")
        says = f"seed of lot {lots} was {what} before it {done} ({day} in lots.csv): one of the dates is wrong"
        yield remark(rows, found, says, f"{column} {done}")


def sown_apart(ledger: Ledger) -> Iterator[Fault]:
    """Yield the dishes sown a month or a year from the others, or on a date whose day and month were exchanged."""
    dishes = ledger["dishes"]
    day = np.where(dishes.bad, np.nan, _days(dishes, "sown_at"))
    kept = np.nan_to_num(dishes["stored_d"], nan=-1.0)
    known = np.flatnonzero(~np.isnan(day))
    code = dishes.experiment[known] * 1.0 + 1j * kept[known]
    for group in np.unique(code):
        own = known[code == group]
        for odd, why in _apart(ledger, own, day):
            there = date.fromordinal(int(day[odd[0]])).isoformat()
            names = named([dishes.text("dish", row) for row in odd.tolist()])
            says = f"dish {names} was sown on {there}, {why}; the label of the dish says when"
            yield remark(dishes, odd, says, "sown apart")


def _apart(ledger: Ledger, own: Ints, day: Floats) -> Iterator[tuple[Ints, str]]:
    many = Counter(day[own].astype(int).tolist())
    alone = [d for d in many if all(d == o or abs(d - o) >= ALONE_D for o in many)]
    for this in alone:
        others = {o: n for o, n in many.items() if o != this and n >= many[this]}
        if not others or 3 * many[this] > len(own):
            continue
        odd = own[day[own] == this]
        why = _slip(date.fromordinal(this), others)
        if "month" in why and (len(alone) > 2 or _waited(ledger, odd)):
            why = _swapped(date.fromordinal(this), others)
        if "year" in why and len([d for d in alone if d != this]) > 1:
            why = ""
        if why:
            yield odd, why


def _swapped(this: date, others: Mapping[int, int]) -> str:
    if this.day <= 12 and this.day != this.month:
        turned = this.replace(month=this.day, day=this.month).toordinal()
        near = [o for o in others if o == turned]
        if near:
            return f"others on {date.fromordinal(near[0])}: day and month exchanged?"
    return ""


def _slip(this: date, others: Mapping[int, int]) -> str:
    swapped = _swapped(this, others)
    if swapped:
        return swapped
    for other in sorted(others):
        then = date.fromordinal(other)
        away = (then.year - this.year) * 12 + then.month - this.month
        turned = this.toordinal() + (then.year - this.year) * 365.25
        if abs(then.year - this.year) == 1 and abs(turned - other) <= 3:
            return f"others on {then}: a year off?"
        if abs(away) == 1 and then.day == this.day and others[other] >= 2:
            return f"others on {then}: a month off?"
    return ""


def _waited(ledger: Ledger, odd: Ints) -> bool:
    """Return whether these dishes had a treatment of days or weeks before they were sown."""
    steps = ledger["treatments"]
    unit = [MINUTES.get(steps.names.texts[c], 0.0) / 1440 for c in steps["duration_unit"].tolist()]
    long = steps["treatment"][steps["duration"] * np.array(unit) >= LONG_STEP_D]
    return bool(np.isin(ledger["dishes"]["treatment"][odd], long).any())


def late_first_look(ledger: Ledger) -> Iterator[Fault]:
    """Yield the dishes that were first looked at weeks after sowing, and then day by day."""
    rows, dishes = ledger["counts"], ledger["dishes"]
    clock = np.flatnonzero(rows.given("inspected_at") & rows.given("elapsed_h") & ~rows.bad)
    if not len(clock):
        return
    dish = ledger.dish_rows(rows)[clock]
    order = np.lexsort((rows["elapsed_h"][clock], dish))
    late = np.zeros(len(dishes), dtype=bool)
    starts = np.flatnonzero(np.diff(dish[order], prepend=-2))
    for own in np.split(order, starts[1:]):
        hours = rows["elapsed_h"][clock[own]]
        if dish[own[0]] >= 0 and len(hours) > 3:
            usual = float(np.median(np.diff(hours)))
            late[dish[own[0]]] = hours[0] > max(LATE_D * 24, LATE_TIMES * usual)
    for found in by_sheet(dishes, late):
        names = named([dishes.text("dish", row) for row in found.tolist()])
        says = (
            f"dish {names} was first inspected weeks after sown_at, and then at short intervals: is the day, the month or the year of "
            "sown_at wrong?"
        )
        yield remark(dishes, found, says, "late first look")


def another_year(ledger: Ledger) -> Iterator[Fault]:
    """Yield the dishes sown in a year that the dates of experiment.yaml do not reach."""
    dishes = ledger["dishes"]
    day = _days(dishes, "sown_at")
    for number, sheet in enumerate(dishes.sheets):
        about = ledger.experiments.get(sheet.source.experiment)
        years = [int(y) for y in _YEAR.findall(str(about.dates or ""))] if about else []
        own = (
            np.flatnonzero(~np.isnan(day[dishes.of_sheet(number)])) + dishes.of_sheet(number).start
        )
        sown = np.array([date.fromordinal(int(d)).year for d in day[own]], dtype=int)
        odd = own[(sown < min(years)) | (sown > max(years))] if years else own[:0]
        if len(odd):
            year = date.fromordinal(int(day[odd[0]])).year
            says = f"sown_at is in {year}, but dates in experiment.yaml say {quoted(str(about.dates) if about else '')}"
            yield remark(dishes, odd, says, "another year")

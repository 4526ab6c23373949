"""The inspections of each dish in order of time, for the doubts that compare dishes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from hilum.tables import groups
from hilum.tables.groups import Floats, Ints
from hilum.tables.ledger import NO_ROW, Ledger

# what is alike for dishes of one row, but for the temperature
SETTING = ("lot", "treatment", "night_temperature_c", "light", "medium", "stored_d", "stored_at_c")


@dataclass(frozen=True, eq=False)
class Course:
    """One dish: its row in dishes.csv, when it was inspected, and what was seen.

    `hours` count since sowing; `times` are the same, or seconds of the clock where those were typed.
    """

    dish: int
    hours: Floats
    times: Floats
    germinated: Floats
    removed: Floats
    seeds: float

    def same(self) -> tuple[float, bytes, bytes]:
        """Return what is the same for dishes with identical courses."""
        return self.seeds, self.hours.tobytes(), self.germinated.tobytes()


def courses(ledger: Ledger) -> list[Course]:
    """Return the course of each dish whose inspections are all known."""
    rows, dishes = ledger["counts"], ledger["dishes"]
    dish = ledger.dish_rows(rows)
    known = np.flatnonzero((dish != NO_ROW) & rows.given("elapsed_h"))
    clock = rows["inspected_at"]
    times = np.where(np.isnan(clock), rows["elapsed_h"], clock)[known]
    order, begins = groups.in_order(dish[known], times)
    row = known[order]
    doubtful = rows.bad | np.isnan(rows["germinated"])
    found = []
    for own in np.split(row, np.flatnonzero(begins)[1:]) if len(row) else []:
        at = int(dish[own[0]])
        if not doubtful[own].any() and not dishes.bad[at]:
            hours, removed = rows["elapsed_h"][own], np.nan_to_num(rows["removed"][own])
            t = np.where(np.isnan(clock[own]), hours, clock[own])
            seeds = float(dishes["seeds"][at])
            found.append(Course(at, hours, t, rows["germinated"][own], removed, seeds))
    return found


def together(ledger: Ledger, *further: str) -> Ints:
    """Return one code for each dish, the same for those of one row: same experiment and setting."""
    dishes = ledger["dishes"]
    columns = [np.nan_to_num(dishes[c].astype(float), nan=-999.0) for c in (*SETTING, *further)]
    return groups.together(dishes.experiment, *columns)


def rows_of(made: list[Course], code: Ints) -> Iterator[list[Course]]:
    """Yield the courses of each row of dishes."""
    rows: dict[int, list[Course]] = {}
    for course in made:
        rows.setdefault(int(code[course.dish]), []).append(course)
    yield from rows.values()

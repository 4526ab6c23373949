"""temperature_courses.csv: temperatures over time at a place, along which germination is predicted."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from hilum.tables import groups
from hilum.tables.column import Column, OneOf, Table
from hilum.tables.ledger import Array, Finding, Ledger, Rows
from hilum.tables.sentences import Fault, quoted

# a day's swing lies between two readings further apart, and nothing tells how wide it was
GAP_H = 24.0
_COURSE = Column(
    name="course",
    title="Course",
    description="The place and season whose temperatures these are.",
    kind="text",
    example="pond edge, April",
    required=True,
)
_ELAPSED_H = Column(
    name="elapsed_h",
    title="Elapsed",
    description="Hours since the seeds are sown.",
    kind="number",
    example="6",
    unit="h",
    low=0,
    high=100_000,
)
_TEMPERATURE = Column(
    name="temperature_c",
    title="Temperature",
    description="The temperature where the seeds would lie.",
    kind="number",
    example="14.8",
    unit="°C",
    required=True,
    low=-60,
    high=80,
)
TABLE = Table(
    name="temperature_courses",
    title="Temperature courses",
    one_row_is="a temperature of a course",
    level="study",
    columns=(
        _COURSE,
        _ELAPSED_H,
        Column(
            name="elapsed_d",
            title="Elapsed days",
            description="Days since the seeds are sown; stored as hours.",
            kind="number",
            example="0.25",
            unit="d",
            low=0,
            high=4_000,
        ),
        Column(
            name="at",
            title="At",
            description="When it was read, with the offset from UTC; the seeds are sown at the first reading.",
            kind="moment",
            example="2024-04-01T09:00+02:00",
        ),
        _TEMPERATURE,
    ),
    key=("course", "elapsed_h"),
    stored=(_COURSE, _ELAPSED_H, _TEMPERATURE),
    one_of=(OneOf(columns=("elapsed_h", "elapsed_d", "at")),),
)


def store(ledger: Ledger) -> None:
    """Fill `elapsed_h` from days, or from clock times and the first of the course."""
    rows = ledger["temperature_courses"]
    days, at = rows["elapsed_d"], rows["at"]
    hours = np.where(np.isnan(days), rows["elapsed_h"], np.round(days * 24, 6))
    first = np.full(int(rows["course"].max(initial=0)) + 1, np.inf)
    np.fmin.at(first, rows["course"], at)
    since = np.round((at - first[rows["course"]]) / 3600, 6)
    rows["elapsed_h"] = np.where(np.isnan(at), hours, since)


def _whole(rows: Rows) -> Array:
    """Return the rows, in the order of the file, whose course and time are known."""
    return np.flatnonzero(rows.given("course") & rows.given("elapsed_h"))


def _before(rows: Rows, place: Array) -> tuple[Array, Array]:
    """Return the rows that follow another of their course, and the row before each."""
    order = place[np.argsort(rows["course"][place], kind="stable")]
    same = rows["course"][order][1:] == rows["course"][order][:-1]
    return order[1:][same], order[:-1][same]


def out_of_order(ledger: Ledger) -> Iterator[Finding]:
    """Yield each reading that is earlier than the one above it of the same course."""
    rows = ledger["temperature_courses"]
    for row, above in zip(*_before(rows, _whole(rows)), strict=True):
        if rows["elapsed_h"][row] < rows["elapsed_h"][above]:
            says = f", earlier than line {rows.lines[above]} of the same course; put the rows in order of time"
            yield Finding(rows, row, "elapsed_h" if np.isnan(rows["at"][row]) else "at", says)


def single_reading(ledger: Ledger) -> Iterator[Finding]:
    """Yield each course of one row: a course needs a beginning and an end."""
    rows = ledger["temperature_courses"]
    number = groups.together(rows["course"])
    alone = (np.bincount(number)[number] == 1) if len(rows) else np.zeros(0, dtype=bool)
    torn = any(sheet.torn for sheet in rows.sheets)
    for row in np.flatnonzero(alone & rows.given("course") & ~rows.bad & (not torn)):
        yield Finding(rows, row, "course", ", which has one row; a course needs at least two")


def remarks(ledger: Ledger) -> Iterator[Fault]:
    """Yield the longest gap of each course where it is longer than a day."""
    rows = ledger["temperature_courses"]
    longest: dict[int, tuple[float, float]] = {}
    for start, gap, course in _gaps(rows):
        if gap > max(GAP_H, longest.get(course, (0.0, 0.0))[1]):
            longest[course] = start, gap
    for course, (start, gap) in longest.items():
        says = (
            f"course {quoted(rows.names.texts[course])}: no temperature for {gap:.4g} h from hour {start:.4g} on; "
            "it is taken to change evenly in between"
        )
        yield Fault(file=rows.sheets[0].source.shown, says=says)


def _gaps(rows: Rows) -> Iterator[tuple[float, float, int]]:
    """Yield where each gap begins, how long it is (h), and its course; sowing to first reading is one too."""
    place, hours, course = _whole(rows), rows["elapsed_h"], rows["course"]
    later, above = _before(rows, place)
    for row in place[~np.isin(place, later)]:
        yield 0.0, float(hours[row]), int(course[row])
    for row, before in zip(later, above, strict=True):
        yield float(hours[before]), float(hours[row] - hours[before]), int(course[row])


RULES = (out_of_order, single_reading)

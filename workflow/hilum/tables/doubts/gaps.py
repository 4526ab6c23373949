"""An inspection that one dish lacks, of a row of dishes that were inspected together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np

from hilum.tables.doubts.courses import Course, courses, rows_of, together
from hilum.tables.doubts.told import remark
from hilum.tables.ledger import Ledger
from hilum.tables.sentences import Fault, quoted

# inspections that make a row, dishes of a row, and dishes where rows are too short and an experiment is taken as one
_LOOKS, _ROW, _ALL = 4, 3, 5
_MOST = 2
# one dish in so many
_SELDOM = 12


def missing(ledger: Ledger) -> Iterator[Fault]:
    """Yield each dish that lacks one or two inspections which all others of its row have."""
    made = courses(ledger)
    row_of = together(ledger, "temperature_c")
    for own in rows_of(made, ledger["dishes"].experiment):
        rows = list(rows_of(own, row_of))
        short = [c for row in rows if len(row) < _ROW for c in row]
        rows = [row for row in rows if len(row) >= _ROW] + ([short] if len(short) >= _ALL else [])
        lacking = [lack for row in rows for lack in _lacks(row)]
        # where many lack some, each is inspected on days of its own
        if len(lacking) <= max(1, len(own) // _SELDOM):
            yield from (_told(ledger, c, times) for c, times, told in lacking if told)


def _lacks(row: list[Course]) -> Iterator[tuple[Course, list[float], bool]]:
    """Yield each dish that lacks inspections of its row, these, and whether they are so few that they should be told."""
    seen = Counter(t for course in row for t in course.times.tolist())
    every = np.array(sorted(seen))
    for course in row:
        lacks = np.setdiff1d(every[every < _until(course)], course.times).tolist()
        if lacks:
            few = len(lacks) <= _MOST and len(course.times) >= _LOOKS - 1
            yield course, lacks, few and all(seen[t] >= max(2, len(row) / 2) for t in lacks)


def _until(course: Course) -> float:
    """Return when a dish was last looked at, or held no more seeds."""
    left = course.seeds - np.cumsum(course.germinated + course.removed)
    done = np.flatnonzero(left <= 0)
    return float(course.times[done[0] if len(done) else -1])


def _told(ledger: Ledger, course: Course, lacks: list[float]) -> Fault:
    dishes, counts = ledger["dishes"], ledger["counts"]
    # seconds of the clock, or hours
    hours = [(t - dishes["sown_at"][course.dish]) / 3600 if t > 1e7 else t for t in lacks]
    at = " and ".join(f"{h:.10g} h" for h in hours)
    own = counts.key("dish") == dishes.key("dish")[course.dish]
    says = (
        f"dish {quoted(dishes.text('dish', course.dish))} has no inspection at {at} ({', '.join(f'{h / 24:.4g}' for h in hours)} d), where the "
        "other dishes of its row have one: a row that was lost? A line with germinated 0, or what was seen, settles it"
    )
    return remark(counts, np.flatnonzero(own)[:1], says, "missing inspection")

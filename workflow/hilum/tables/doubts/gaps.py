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


def missing(ledger: Ledger) -> Iterator[Fault]:
    """Yield each dish that lacks one or two inspections which all others of its row have."""
    made = courses(ledger)
    rows = list(rows_of(made, together(ledger, "temperature_c")))
    short = [c for row in rows if len(row) < _ROW for c in row]
    whole = [row for row in rows_of(short, ledger["dishes"].experiment) if len(row) >= _ALL]
    for row in [r for r in rows if len(r) >= _ROW] + whole:
        yield from _of_row(ledger, row)


def _of_row(ledger: Ledger, row: list[Course]) -> Iterator[Fault]:
    seen = Counter(t for course in row for t in course.times.tolist())
    if len(seen) < _LOOKS:
        return
    every = np.array(sorted(seen))
    lacks: list[tuple[Course, float]] = []
    for course in row:
        inside = every[every < _until(course)]
        lacks += [(course, t) for t in np.setdiff1d(inside, course.times).tolist()]
        # inspected now and then on purpose, each dish by itself
        if len(lacks) > _MOST:
            return
    if lacks and len({id(c) for c, _ in lacks}) == 1:
        enough = all(seen[t] >= max(2, len(row) / 2) for _, t in lacks)
        if enough and len(lacks[0][0].times) >= _LOOKS - 1:
            yield _told(ledger, lacks[0][0], [t for _, t in lacks])


def _until(course: Course) -> float:
    """Return when a dish was last looked at, or held no more seeds."""
    left = course.seeds - np.cumsum(course.germinated + course.removed)
    done = np.flatnonzero(left <= 0)
    return float(course.times[done[0] if len(done) else -1])


def _told(ledger: Ledger, course: Course, lacks: list[float]) -> Fault:
    dishes, counts = ledger["dishes"], ledger["counts"]
    # seconds of the clock, or hours
    hours = [
        (t - dishes["sown_at"][course.dish]) / 3600 if t > 1e7 else t for t in lacks
    ]
    at = " and ".join(f"{h:.10g} h" for h in hours)
    own = counts.key("dish") == dishes.key("dish")[course.dish]
    says = (
        f"dish {quoted(dishes.text('dish', course.dish))} has no inspection at {at} ({', '.join(f'{h / 24:.4g}' for h in hours)} d), where the "
        "other dishes of its row have one: a row that was lost? A line with germinated 0, or what was seen, settles it"
    )
    return remark(counts, np.flatnonzero(own)[:1], says, "missing inspection")

"""Two dishes with the same counts at every inspection, though chance would hardly make them so."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from itertools import combinations
from math import exp, lgamma

import numpy as np

from hilum.tables.doubts.courses import Course, courses, rows_of, together
from hilum.tables.doubts.told import named, remark
from hilum.tables.groups import Floats, Ints
from hilum.tables.ledger import Ledger
from hilum.tables.sentences import Fault

# so many such pairs would chance make in a study, at most
BY_CHANCE = 0.03
# a dish in which next to nothing happened, or all at once, is like any other such dish
_SEEDS, _LOOKS = 8, 4


def identical(ledger: Ledger) -> Iterator[Fault]:
    """Yield each pair of dishes of an experiment with identical courses of counts, where chance hardly does that."""
    made, code = courses(ledger), together(ledger, "temperature_c")
    usual = {int(code[row[0].dish]): _usual(row) for row in rows_of(made, code)}
    for own in rows_of(made, ledger["dishes"].experiment):
        alike: dict[tuple[float, bytes, bytes], list[Course]] = {}
        for course in own:
            alike.setdefault(course.same(), []).append(course)
        for twins in (t for t in alike.values() if len(t) > 1):
            rows = {int(code[c.dish]) for c in twins}
            if len(rows) == 1:
                chance = _log_chance(twins[0], usual[rows.pop()], len(twins))
                expected = exp(chance) * _pairs(own, code)
            else:
                expected = _expected(twins, own, code, usual)
            if expected < BY_CHANCE:
                yield _told(ledger, twins)


def _pairs(own: list[Course], code: Ints) -> float:
    """Return how many pairs of dishes, of one row each, were inspected at the same times and held as many seeds."""
    alike = Counter((c.same()[:2], int(code[c.dish])) for c in own)
    return sum(n * (n - 1) / 2 for n in alike.values())


def _expected(
    twins: list[Course], own: list[Course], code: Ints, usual: Mapping[int, dict[bytes, Floats]]
) -> float:
    """Return how many pairs of dishes of any two rows would have these counts by chance."""
    same = twins[0].same()[:2]
    rows = Counter(int(code[c.dish]) for c in own if c.same()[:2] == same)
    chances = [n * exp(_log_chance(twins[0], usual[row], len(twins))) for row, n in rows.items()]
    return sum(chances) * sum(rows.values()) / 2


def _usual(row: list[Course]) -> dict[bytes, Floats]:
    """Return by times of inspection how many seeds of a row germinated in each interval, the rest last."""
    found: dict[bytes, Floats] = {}
    for c in row:
        key = c.hours.tobytes()
        x = np.append(c.germinated, c.seeds - c.germinated.sum())
        found[key] = found.get(key, np.zeros(len(x))) + x
    return found


def _log_chance(course: Course, usual: dict[bytes, Floats], twins: int) -> float:
    """Return the logarithm of the chance that another dish of the row has these very counts.

    The twins count once in the row's shares. Dishes that vary more than chance match even less often.
    """
    x = np.append(course.germinated, course.seeds - course.germinated.sum())
    if course.germinated.sum() < _SEEDS or np.count_nonzero(course.germinated) < _LOOKS:
        return 0.0
    total = usual.get(course.hours.tobytes(), x * twins) - (twins - 1) * x
    # of another row than this one
    total = np.where(total > 0, total, x / 2)
    share = total / total.sum()
    fine = x > 0
    ways = lgamma(course.seeds + 1) - sum(lgamma(v + 1) for v in x[fine].tolist())
    return ways + float(np.sum(x[fine] * np.log(share[fine])))


def _told(ledger: Ledger, twins: list[Course]) -> Fault:
    dishes = ledger["dishes"]
    first, other = next(combinations(twins, 2))
    names = named([dishes.text("dish", c.dish) for c in twins])
    says = (
        f"dishes {names} have the same counts at all {len(first.hours)} inspections, {first.germinated.sum():.10g} seeds in all, which "
        "chance hardly does: copied, or typed twice from one sheet? The bench sheets of both settle it"
    )
    return remark(dishes, np.array([first.dish, other.dish]), says, f"alike {first.dish}")

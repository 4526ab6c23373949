"""Two dishes of different temperatures each of which behaves as the neighbours of the other do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import log

import numpy as np

from hilum.tables.doubts.courses import Course, courses, rows_of, together
from hilum.tables.doubts.told import remark
from hilum.tables.groups import Floats
from hilum.tables.ledger import Ledger
from hilum.tables.sentences import Fault, quoted

# dishes of one temperature, so that two others say how it behaves
_DISHES = 3
# the first of its inspections tell whose days they are
_LOOKS = 3
# seeds of one dish are alike to this degree, more than in most tests: so much less do many seeds tell
CORRELATION = 0.06
# log odds beyond those that the number of possible exchanges takes
ODDS = 3.0


@dataclass(frozen=True, eq=False)
class _Place:
    """The dishes of one temperature: seeds that germinated in each interval common to all, the rest last, (dishes, intervals + 1)."""

    temperature_c: float
    dishes: list[int]
    seen: Floats

    def without(self, *left_out: int) -> Floats:
        """Return the logarithm of the shares of its dishes without some of them."""
        total = np.delete(self.seen, left_out, axis=0).sum(axis=0) + 0.5
        return np.asarray(np.log(total / total.sum()))


def labels(ledger: Ledger) -> Iterator[Fault]:
    """Yield each pair of dishes whose counts fit the other's temperature far better than their own."""
    dishes = ledger["dishes"]
    warm = dishes["temperature_c"]
    for row in rows_of(courses(ledger), together(ledger)):
        by: dict[float, list[Course]] = {}
        for course in row:
            by.setdefault(float(warm[course.dish]), []).append(course)
        by = {t: own for t, own in by.items() if len(own) >= _DISHES}
        for one, other in _by_days(by):
            at = [f"{warm[d]:.10g} °C" for d in (one, other)]
            names = [quoted(dishes.text("dish", d)) for d in (one, other)]
            says = (
                f"dish {names[0]} at {at[0]} was inspected when those at {at[1]} were, and dish {names[1]} at {at[1]} when those at {at[0]} "
                "were: labels exchanged? The dishes or the bench sheets settle it"
            )
            yield remark(dishes, np.array([one, other]), says, "labels")
        places = _places(by)
        found = _best(places) if len(places) > 1 else None
        if found:
            (a, i), (b, j) = found
            names = [quoted(dishes.text("dish", p.dishes[k])) for p, k in ((a, i), (b, j))]
            says = (
                f"dish {names[0]} at {a.temperature_c:.10g} °C germinated as those at {b.temperature_c:.10g} °C did, and dish "
                f"{names[1]} at {b.temperature_c:.10g} °C as those at {a.temperature_c:.10g} °C: labels exchanged? The dishes or the bench "
                "sheets settle it"
            )
            yield remark(dishes, np.array([a.dishes[i], b.dishes[j]]), says, "labels")


def _by_days(by: Mapping[float, list[Course]]) -> Iterator[tuple[int, int]]:
    """Yield the pairs of dishes that were each inspected on the other temperature's days and not on their own's."""
    first = {t: [c.hours[:_LOOKS].tobytes() for c in own] for t, own in by.items()}
    usual = {t: max(set(own), key=own.count) for t, own in first.items()}
    strays = {
        (t, days): [c.dish for c, own in zip(by[t], first[t], strict=True) if own == days]
        for t in by
        for days in set(first[t]) - {usual[t]}
        if first[t].count(usual[t]) == len(by[t]) - 1
    }
    for (t, days), dishes in strays.items():
        for other in (o for o in by if o > t and usual[o] == days):
            back = strays.get((other, usual[t]))
            if back:
                yield dishes[0], back[0]


def _places(by: Mapping[float, list[Course]]) -> list[_Place]:
    if len(by) < 2:
        return []
    times = _common([c for own in by.values() for c in own])
    if len(times) < 2:
        return []
    return [
        _Place(t, [c.dish for c in own], np.array([_seen(c, times) for c in own]))
        for t, own in by.items()
    ]


def _common(row: list[Course]) -> Floats:
    """Return the times at which all dishes were inspected; one whose seeds had all germinated needs no more."""
    every = np.unique(np.concatenate([c.hours for c in row]))
    looked = [
        np.isin(every, c.hours) | ((every > c.hours[-1]) & (c.seeds <= c.germinated.sum()))
        for c in row
    ]
    return np.asarray(every[np.all(looked, axis=0)])


def _seen(course: Course, times: Floats) -> Floats:
    total = np.append(0.0, np.cumsum(course.germinated))[
        np.searchsorted(course.hours, times, "right")
    ]
    return np.append(np.diff(total, prepend=0.0), course.seeds - total[-1])


Dish = tuple[_Place, int]


def _best(places: list[_Place]) -> tuple[Dish, Dish] | None:
    """Return the two dishes that fit each other's places best, if they do so beyond chance."""
    own = [np.array([p.without(i) for i in range(len(p.dishes))]) for p in places]
    fits = [p.without() for p in places]
    ways, odds = 0, 0.0
    best: tuple[Dish, Dish] | None = None
    for a, p in enumerate(places):
        for b in range(a + 1, len(places)):
            q = places[b]
            ways += len(p.dishes) * len(q.dishes)
            stray = np.einsum("ik,ik->i", p.seen, fits[b] - own[a])
            guest = np.einsum("ik,ik->i", q.seen, fits[a] - own[b])
            # the stray one is itself in the sum of its new place's neighbours: a little is asked here, the rest below
            i, j = int(np.argmax(stray)), int(np.argmax(guest))
            if stray[i] + guest[j] > odds:
                found = _odds(p, i, q, j)
                if found > odds:
                    odds, best = found, ((p, i), (q, j))
    return best if odds > ODDS + log(max(ways, 1)) else None


def _odds(p: _Place, i: int, q: _Place, j: int) -> float:
    """Return the log odds that dish i of p and dish j of q were exchanged, 0 where others of them stray as well."""
    there, here = q.without(j), p.without(i)
    gains = np.array([p.seen[i] @ (there - here), q.seen[j] @ (here - there)])
    for place, left, away in ((p, i, there), (q, j, here)):
        for other in range(len(place.dishes)):
            if other != left and place.seen[other] @ (away - place.without(left, other)) > 0:
                return 0.0
    seeds = float(np.mean([p.seen[i].sum(), q.seen[j].sum()]))
    alike = 1 + (seeds - 1) * CORRELATION
    return float(gains.sum() / alike) if gains.min() > 0.2 * gains.max() else 0.0

"""What could be added to a bench so that the diagnosis names one cause alone, the cheapest first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from hilum.plan.asked.experiments import Place
from hilum.plan.asked.material import ViabilityTest
from hilum.plan.failure.bench import Bench, Target

_FEW, _SOME = 1, 2  # dishes; one or two may be enough for a comparison
_SAMPLE = 50  # seeds of a viability test


@dataclass(frozen=True)
class Addition:
    """Something to add: in words, its dishes and seeds, and what is planned then."""

    says: str
    dishes: int
    seeds: int
    bench: Bench


def additions(bench: Bench, target: Target) -> Iterator[Addition]:
    """Yield single additions and pairs of them, the cheapest first: fewest dishes, then fewest seeds."""
    single = _single(bench, target)
    pairs = [
        Addition(f"{a.says}; {b.says}", a.dishes + b.dishes, a.seeds + b.seeds, both)
        for a, b in combinations(single, 2)
        for both in [_together(bench, a.bench, b.bench)]
        if both is not None
    ]
    yield from sorted([*single, *pairs], key=_cost)


def _cost(addition: Addition) -> tuple[int, int]:
    return addition.dishes, addition.seeds


def _together(bench: Bench, one: Bench, other: Bench) -> Bench | None:
    """Return both additions, None where they change the same thing."""
    ends = [b.places[: len(bench.places)] != bench.places for b in (one, other)]
    grown = [b.places[len(bench.places) :] for b in (one, other)]
    if all(ends) or (
        grown[0] and grown[1] and grown[0][0][0].treatment == grown[1][0][0].treatment
    ):
        return None
    kept = (one if ends[0] else other).places[: len(bench.places)]
    return replace(
        bench,
        places=(*kept, *grown[0], *grown[1]),
        tests=(*bench.tests, *one.tests[len(bench.tests) :], *other.tests[len(bench.tests) :]),
        methods={**one.methods, **other.methods},
    )


def _single(bench: Bench, target: Target) -> list[Addition]:
    made = [*_at_the_end(bench, target)]
    test = ViabilityTest(lot=target.place.lot, seeds=_SAMPLE)
    # a sample tells of the lot only where nothing was done to it
    plain = {} if bench.untreated else {"untreated": ("none",)}
    tested = replace(bench, tests=(*bench.tests, test), methods={**bench.methods, **plain})
    made.append(
        Addition(
            f"cut {_SAMPLE} untreated seeds of the lot before sowing (no dish)", 0, _SAMPLE, tested
        )
    )
    for dishes in sorted({_FEW, _SOME, target.place.dishes, 2 * target.place.dishes}):
        made += _dishes(bench, target, dishes)
    return made


def _at_the_end(bench: Bench, target: Target) -> Iterator[Addition]:
    """Yield what could be done with the seeds that are left at the end."""
    ways = {"scoring": "score the seeds that are left as hard, fresh or dead"}
    ways["cutting"] = "cut the hard and fresh seeds that are left, and score the others"
    now = {ends for place, _, ends in bench.places if target.same_seeds(place)}
    for way, says in ways.items():
        if now <= {"cutting"} or now == {way}:
            continue
        places = tuple((p, n, way) for p, n, _ in bench.places)
        yield Addition(f"{says} (no dish)", 0, 0, replace(bench, places=places))


def _dishes(bench: Bench, target: Target, dishes: int) -> list[Addition]:
    place = target.place
    seeds, ends = next((n, e) for p, n, e in bench.places if p == place)
    many = f"{dishes} dish{'es' if dishes > 1 else ''}"
    known = bench.treatments
    made = []

    def add(says: str, treatment: str, methods: Sequence[str], degrees: float) -> None:
        new = Place(place.experiment, place.lot, treatment, degrees, dishes)
        planned = any(
            (p.lot, p.treatment, p.temperature_c) == (new.lot, new.treatment, new.temperature_c)
            for p, _, _ in bench.places
        )
        if not planned:
            more = replace(
                bench,
                places=(*bench.places, (new, seeds, ends)),
                methods={**bench.methods, treatment: tuple(methods)},
            )
            made.append(Addition(f"{many} of {says}", dishes, dishes * seeds, more))

    by_hand = next((n for n in bench.methods if known.by_hand(n)), "opened by hand")
    where = f"at {place.temperature_c:g} °C"
    add(f"seeds opened by hand {where}", by_hand, ("chipping",), place.temperature_c)
    elsewhere = place.temperature_c + 5 if place.temperature_c < 25 else place.temperature_c - 5
    add(
        f"{place.treatment} at {elsewhere:g} °C",
        place.treatment,
        bench.methods[place.treatment],
        elsewhere,
    )
    add(
        f"{place.treatment} after cold or warm moist storage, {where}",
        f"{place.treatment} after moist storage",
        (*bench.methods[place.treatment], "cold_moist"),
        place.temperature_c,
    )
    return made

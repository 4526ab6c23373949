"""Which causes of failure planned dishes could tell apart: the diagnosis itself, asked about expected tables.

For each cause in turn one supposes that it alone holds back `HELD` of the seeds of a treatment, writes the tables that the
planned dishes would leave, and lets the diagnosis name causes. Where it names others beside the true one, the cheapest of some
additions is sought with which it names that one alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import numpy as np

from hilum.analyses.simulated import as_table
from hilum.analyses.temperature.truth import TrueSeries, rate
from hilum.diagnosis.causes import CAUSES
from hilum.diagnosis.model import Findings, diagnose
from hilum.diagnosis.references import treatments
from hilum.plan.design import Doses, Place, Plan, ViabilityTest
from hilum.plan.sown import Kind, expected

# of the seeds sown: a failure that one plans to explain
HELD = 0.4
# of untreated seeds, where coats are not what is asked about
_CLOSED = 0.6
_SIGMA = 0.15
_FEW, _SOME = 1, 2  # dishes; one or two may be enough for a comparison
_SAMPLE = 50  # seeds of a viability test


@dataclass(frozen=True)
class Target:
    """The seeds whose failure is to be explained."""

    place: Place

    def same_seeds(self, place: Place) -> bool:
        """Return whether seeds of a place are of the same lot and treatment."""
        return (place.lot, place.treatment) == (self.place.lot, self.place.treatment)

    def same_place(self, place: Place) -> bool:
        """Return whether seeds stand where those of the target do."""
        return place.temperature_c == self.place.temperature_c


@dataclass(frozen=True, kw_only=True)
class Bench:
    """All that is planned, and may be added to: kinds of dishes, viability tests, what treatments are."""

    places: tuple[tuple[Place, int, str], ...]  # with seeds a dish, and what is done at the end
    tests: tuple[ViabilityTest, ...]
    methods: Mapping[str, tuple[str, ...]]
    viable: float
    base: float | None
    correlation: float
    confidence: float


@dataclass(frozen=True)
class Addition:
    """Something to add: in words, its dishes and seeds, and what is planned then."""

    says: str
    dishes: int
    seeds: int
    bench: Bench


@dataclass(frozen=True)
class Told:
    """What would be said if a cause alone held seeds back: `named` causes, and the `cheapest` addition that settles it.

    `possible` is false for harm by a treatment that cannot harm.
    """

    target: Target
    cause: str
    possible: bool
    named: tuple[str, ...]
    cheapest: Addition | None

    @property
    def told_apart(self) -> bool:
        """Return whether this cause alone is named."""
        return self.named == (self.cause,)


def bench_of(plan: Plan) -> Bench:
    """Return what a plan puts on the bench."""
    by_name = {one.experiment: one for one in plan.experiments}
    places = tuple(
        (place, by_name[place.experiment].seeds, by_name[place.experiment].ends_with)
        for place in plan.places()
        if not place.stored_d
    )
    return Bench(
        places=places,
        tests=plan.viability_tests,
        methods={name: (t.method,) for name, t in plan.by_name.items()},
        viable=plan.guesses.viable,
        base=plan.guesses.base_temperature_c,
        correlation=plan.guesses.dish_correlation,
        confidence=plan.confidence,
    )


def targets(plan: Plan) -> list[Target]:
    """Return each lot and treatment once, in the middle of its temperatures; of durations the middle one stands for all."""
    found: dict[tuple[str, str], list[Place]] = {}
    left_out = _other_durations(plan)
    for place, _, _ in bench_of(plan).places:
        if place.treatment not in left_out:
            found.setdefault((place.lot, place.treatment), []).append(place)
    base = plan.guesses.base_temperature_c
    made = []
    for own in found.values():
        warm = [p for p in own if base is None or p.temperature_c > base + 4] or own
        middle = sorted(warm, key=lambda p: p.temperature_c)[len(warm) // 2]
        made.append(Target(middle))
    return made


def _other_durations(plan: Plan) -> set[str]:
    named = {t.treatment for t in plan.treatments}
    found: set[str] = set()
    for one in plan.experiments:
        if isinstance(one, Doses):
            durations = sorted(one.durations_min)
            del durations[len(durations) // 2]
            found |= {one.dose(minutes) for minutes in durations}
    return found - named


def table(plan: Plan) -> list[Told]:
    """Return for each target and cause what the diagnosis would say, and the cheapest way to have it told."""
    bench = bench_of(plan)
    return [_told(bench, target, cause) for target in targets(plan) for cause in CAUSES]


def _told(bench: Bench, target: Target, cause: str) -> Told:
    possible = cause != "harmed" or _may_harm(bench, target.place.treatment)
    if not possible:
        return Told(target, cause, False, (), None)
    named = _named(bench, target, cause)
    if named == (cause,):
        return Told(target, cause, True, named, None)
    cheapest = next(
        (a for a in _additions(bench, target) if _named(a.bench, target, cause) == (cause,)), None
    )
    return Told(target, cause, True, named, cheapest)


# what the diagnosis says


def _named(bench: Bench, target: Target, cause: str) -> tuple[str, ...]:
    """Return the causes that the diagnosis names for the target's seeds."""
    experiments: dict[str, list[Kind]] = {}
    for place, seeds, ends_with in bench.places:
        shares = _shares(bench, place, target, cause)
        kind = Kind(
            place=place,
            seeds=seeds,
            hours=(240.0, 480.0),
            shares=shares,
            t50_h=100.0,
            sigma=_SIGMA,
            ends_with=ends_with,  # type: ignore[arg-type]
        )
        experiments.setdefault(place.experiment, []).append(kind)
    findings = {
        name: Findings(tables=expected(kinds), weighed={}, coats={})
        for name, kinds in experiments.items()
    }
    if bench.tests:
        tests = {"viability": as_table("viability", _tested(bench, target, cause))}
        findings["viability tests"] = Findings(tables=tests, weighed={}, coats={})
    lots = dict.fromkeys(place.lot for place, _, _ in bench.places)
    found = diagnose(
        findings,
        lot_table={
            "lot": np.array(list(lots)),
            "expected_germination_pct": np.full(len(lots), np.nan),
        },
        treatment_table=_treatment_table(bench),
        confidence=bench.confidence,
        correlation_when_unknown=bench.correlation,
    )
    group = next(g for g in found.drawing["groups"] if _is_of(g, target.place))
    return tuple(group["named"])


def _is_of(group: Mapping[str, Any], place: Place) -> bool:
    key = (place.lot, place.treatment, place.temperature_c)
    return (group["lot"], group["treatment"], group["temperature_c"]) == key


def _treatment_table(bench: Bench) -> dict[str, np.ndarray]:
    rows = [(name, m) for name, methods in bench.methods.items() for m in methods]
    return {
        "treatment": np.array([name for name, _ in rows]),
        "method": np.array([m for _, m in rows]),
        "agent": np.array(["" for _ in rows]),
    }


def _may_harm(bench: Bench, treatment: str) -> bool:
    return treatments(_treatment_table(bench)).may_harm(treatment)


# what the seeds do


def _shares(bench: Bench, place: Place, target: Target, cause: str) -> tuple[float, ...]:
    """Return the fates of the seeds of a place if that cause alone holds the target's seeds back."""
    known = treatments(_treatment_table(bench))
    closed = _closed(known.intact(place.treatment), place, target, cause)
    dead = 1 - bench.viable
    if cause == "nonviable":
        dead = dead + HELD
    if cause == "harmed" and target.same_seeds(place):
        dead = dead + HELD
    waits = cause == "other_dormancy" and not known.breaks(place.treatment)
    waits |= cause == "conditions" and target.same_place(place)
    waiting = HELD if waits else 0.0
    alive = 1 - dead - waiting
    hard = min(closed, alive)
    grown = alive - hard
    if _too_cold(bench, place):
        grown, waiting = 0.0, waiting + grown
    return (grown, hard, 0.0, waiting, 0.0, dead)


def _closed(intact: bool, place: Place, target: Target, cause: str) -> float:
    """Return the share of living seeds behind closed coats."""
    if target.same_seeds(place):
        return HELD if cause == "impermeable_coat" else 0.0
    return _CLOSED if intact and place.lot == target.place.lot else 0.0


def _too_cold(bench: Bench, place: Place) -> bool:
    if bench.base is None:
        return False
    return rate(TrueSeries(base=bench.base), place.temperature_c) <= 0


def _tested(bench: Bench, target: Target, cause: str) -> list[dict[str, Any]]:
    """Return the rows of the viability tests: untreated seeds, dead as far as the lot is."""
    dead = 1 - bench.viable + (HELD if cause == "nonviable" else 0.0)
    intact = _untreated(bench)
    return [
        {
            "lot": test.lot,
            "treatment": intact,
            "method": test.method,
            "seeds": float(test.seeds),
            "alive": float(round(test.seeds * (1 - dead))),
        }
        for test in bench.tests
        if test.lot == target.place.lot
    ]


def _untreated(bench: Bench) -> str:
    """Return the name of the untreated seeds, empty where there are none."""
    return next((name for name, methods in bench.methods.items() if methods == ("none",)), "")


# what could be added


def _additions(bench: Bench, target: Target) -> Iterator[Addition]:
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
    plain = {} if _untreated(bench) else {"untreated": ("none",)}
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
    known = treatments(_treatment_table(bench))
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

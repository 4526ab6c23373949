"""What a plan puts on the bench, and the seeds whose failure is to be explained."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from hilum.diagnosis.references import Treatments, treatments
from hilum.plan.asked.design import Plan
from hilum.plan.asked.experiments import Doses, Place
from hilum.plan.asked.material import ViabilityTest


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

    @property
    def treatment_table(self) -> dict[str, np.ndarray]:
        """Return the treatments as a table."""
        rows = [(name, m) for name, methods in self.methods.items() for m in methods]
        return {
            "treatment": np.array([name for name, _ in rows]),
            "method": np.array([m for _, m in rows]),
            "agent": np.array(["" for _ in rows]),
        }

    @property
    def treatments(self) -> Treatments:
        """Return what the diagnosis knows of the treatments."""
        return treatments(self.treatment_table)

    @property
    def untreated(self) -> str:
        """Return the name of the untreated seeds, empty where there are none."""
        return next((name for name, methods in self.methods.items() if methods == ("none",)), "")


def bench_of(plan: Plan) -> Bench:
    """Return what a plan puts on the bench."""
    by_name = plan.counted
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

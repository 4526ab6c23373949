"""What would narrow an interval most: one more place, other inspections, more seeds, other shares of the dishes."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from hilum.plan.advised import allocation
from hilum.plan.asked.design import Plan
from hilum.plan.asked.experiments import Doses, Inspections, Storage, Temperatures
from hilum.plan.expected.prospect import Prospect, Question, half_width
from hilum.plan.expected.warm import Allocation
from hilum.plan.expected.warm_design import WarmDesign
from hilum.stats.arrays import Array

Placed = Temperatures | Doses | Storage
_CANDIDATES = 12  # durations or times of storage that are looked at
_WEEK = 7.0  # d


@dataclass(frozen=True)
class Step:
    """One thing to add, in words, and the half-width that it leads to."""

    says: str
    half_width: float


@dataclass(frozen=True, kw_only=True)
class Design:
    """Dishes at temperatures, in words `says`, with the half-width that is expected of them and that of simulated studies."""

    says: str
    dishes: Allocation
    half_width: float
    simulated: Array

    @property
    def in_simulations(self) -> float:
        """Return the middle one of the simulated half-widths."""
        return float(np.quantile(self.simulated, 0.5, method="higher"))


@dataclass(frozen=True, kw_only=True)
class Advice:
    """What would narrow a prospect: one more place (`points`: where, and the half-width then), `steps` of all kinds, the best first.

    `places` are those planned, `axis` and `unit` say what they are, `limits` the range looked at. `designs` of temperatures have
    as many dishes as planned: as planned, evenly spaced within the limits, and best shared out, where there is such a one.
    """

    prospect: Prospect
    places: Sequence[float]
    axis: str
    unit: str
    points: Sequence[tuple[float, float]]
    steps: Sequence[Step]
    limits: tuple[float, float]
    designs: Sequence[Design] = ()
    fewest: int = 0

    @property
    def gain(self) -> float | None:
        """Return by which part the best design is narrower than even spacing, None where either tells nothing."""
        if len(self.designs) < 3:
            return None
        even, best = self.designs[1].half_width, self.designs[2].half_width
        return 1 - best / even if np.isfinite(even) and np.isfinite(best) else None


def advise(one: Placed, prospect: Prospect, question: Question, *, seed: int) -> Advice:
    """Return what would narrow the interval of a question, by expected information."""
    places, candidates, axis, unit = _PLACES[type(one)](one)
    points = [(at, half_width(question.with_place(at), seed=seed)) for at in candidates]
    best, narrow = min(points, key=lambda pair: pair[1])
    many = f"{one.dishes} more dish{'es' if one.dishes > 1 else ''}"
    steps = [Step(f"{many} at {best:g} {unit}", narrow)]
    twice = question.resized(one.dishes, 2 * one.seeds)
    steps.append(Step("twice as many seeds in each dish", half_width(twice, seed=seed)))
    if isinstance(question, WarmDesign):
        steps += _inspections(one, question, seed)
    return Advice(
        prospect=prospect,
        places=places,
        axis=axis,
        unit=unit,
        points=points,
        steps=sorted(steps, key=lambda step: step.half_width),
        limits=(min(candidates), max(candidates)),
    )


# places: those planned, candidates, what they are, their unit
_Places = tuple[Sequence[float], Sequence[float], str, str]


def _temperatures(one: Temperatures) -> _Places:
    return list(one.allocation), grid(one).tolist(), "temperature of the added dishes", "°C"


def _durations(one: Doses) -> _Places:
    planned = sorted(one.durations_min)
    last = planned[-1] if one.longest_min is None else one.longest_min
    tried = {float(f"{x:.2g}") for x in np.geomspace(planned[0] / 2, last, _CANDIDATES)}
    return planned, sorted(tried - set(planned)), "duration of the added dishes", "min"


def _times(one: Storage) -> _Places:
    planned = sorted(set(one.stored_d))
    last = planned[-1] if one.longest_d is None else one.longest_d
    tried = {float(round(x)) for x in np.linspace(0, last, _CANDIDATES)}
    return planned, sorted(tried - set(planned)), "storage of the added dishes", "d"


_PLACES: Mapping[type, Callable[[Any], _Places]] = {
    Temperatures: _temperatures,
    Doses: _durations,
    Storage: _times,
}


def grid(one: Temperatures) -> Array:
    """Return the temperatures that can be set (°C), coolest first."""
    low, high = one.limits
    return np.round(np.arange(low, high + one.step_c / 1e3, one.step_c), 3)


def _inspections(one: Placed, question: WarmDesign, seed: int) -> list[Step]:
    looks = one.inspections
    changed = {
        "inspections twice as often": Inspections(
            first_d=looks.first_d / 2, every_d=looks.every_d / 2, last_d=looks.last_d
        ),
        f"another week of inspections, to day {looks.last_d + _WEEK:g}": Inspections(
            first_d=looks.first_d, every_d=looks.every_d, last_d=looks.last_d + _WEEK
        ),
    }
    return [
        Step(says, half_width(question.inspected(other.hours), seed=seed))
        for says, other in changed.items()
    ]


# whole designs over temperatures


def with_designs(
    advice: Advice, plan: Plan, one: Temperatures, question: WarmDesign, *, seed: int
) -> Advice:
    """Return the advice with designs of as many dishes, simulated."""
    planned = dict(question.dishes)
    total, most = sum(planned.values()), max(len(planned), one.fewest_temperatures)
    limits = allocation.Limits(grid=grid(one), fewest=one.fewest_temperatures, most=most)
    inside = all(limits.grid[0] <= t <= limits.grid[-1] for t in planned)
    best = allocation.best(
        question.seeds,
        total,
        limits,
        unsure=plan.guesses.unsure_c,
        starts=[planned] if inside else [],
        already=question.already,
    )
    wanted = {"evenly spaced": allocation.equal(limits, len(planned), total)}
    if best is not None:
        wanted["shared out best"] = best
    prospect = advice.prospect
    assert prospect.simulated is not None  # noqa: S101
    made = [
        Design(
            says="as planned",
            dishes=planned,
            half_width=prospect.half_width,
            simulated=prospect.simulated,
        )
    ]
    for number, (says, dishes) in enumerate(wanted.items(), start=2):
        other = replace(question, dishes=dishes)
        rng = np.random.default_rng([seed, number])
        made.append(
            Design(
                says=says,
                dishes=dishes,
                half_width=half_width(other, seed=seed),
                simulated=other.simulated(studies=plan.simulations, rng=rng),
            )
        )
    return replace(advice, designs=made, fewest=one.fewest_temperatures)

"""What would narrow the interval of a base temperature most: one more temperature, other inspections, other shares of the dishes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from hilum.plan import allocation, warm
from hilum.plan.design import Inspections, Plan, Temperatures
from hilum.plan.prospect import Prospect
from hilum.stats.families import Array


@dataclass(frozen=True)
class Step:
    """One thing to add, in words, and the half-width that it leads to (°C)."""

    says: str
    half_width: float


@dataclass(frozen=True, kw_only=True)
class Design:
    """Dishes at temperatures, in words `says`, with the half-width that is expected of them and that of simulated studies."""

    says: str
    dishes: warm.Allocation
    half_width: float
    simulated: Array

    @property
    def in_simulations(self) -> float:
        """Return the middle one of the simulated half-widths."""
        return float(np.quantile(self.simulated, 0.5, method="higher"))


@dataclass(frozen=True, kw_only=True)
class Advice:
    """What would narrow a prospect: `temperatures` one by one, `steps` of all kinds, the best first, and whole `designs`.

    The designs have as many dishes as planned: as planned, evenly spaced within the limits, and best shared out; the last is
    missing where none within the limits could tell the base.
    """

    prospect: Prospect
    temperatures: Sequence[tuple[float, float]]
    steps: Sequence[Step]
    designs: Sequence[Design]
    limits: tuple[float, float]
    fewest: int

    @property
    def gain(self) -> float | None:
        """Return by which part the best design is narrower than even spacing, None where either tells nothing."""
        if len(self.designs) < 3:
            return None
        even, best = self.designs[1].half_width, self.designs[2].half_width
        return 1 - best / even if np.isfinite(even) and np.isfinite(best) else None


def advise(
    plan: Plan, one: Temperatures, prospect: Prospect, seeds: warm.Warm, *, seed: int
) -> Advice:
    """Return what would narrow the base temperature of one lot and treatment."""
    each = _added_temperatures(one, seeds, seed)
    return Advice(
        prospect=prospect,
        temperatures=each,
        steps=sorted(_steps(one, seeds, each, seed), key=lambda step: step.half_width),
        designs=_designs(plan, one, prospect, seeds, seed),
        limits=one.limits,
        fewest=one.fewest_temperatures,
    )


def half_width(seeds: warm.Warm, dishes: warm.Allocation, seed: int) -> float:
    """Return the expected half-width of the base (°C), infinite where it cannot be told."""
    low, high, why = warm.limits(seeds, dishes, seed=seed)
    return np.inf if why else (high - low) / 2


def grid(one: Temperatures) -> Array:
    """Return the temperatures that can be set (°C), coolest first."""
    low, high = one.limits
    return np.round(np.arange(low, high + one.step_c / 1e3, one.step_c), 3)


def _added_temperatures(
    one: Temperatures, seeds: warm.Warm, seed: int
) -> list[tuple[float, float]]:
    """Return the half-width with as many dishes more at each temperature that can be set."""
    made = []
    for degrees in grid(one).tolist():
        more = dict(one.allocation)
        more[degrees] = more.get(degrees, 0) + one.dishes
        made.append((degrees, half_width(seeds, dict(sorted(more.items())), seed)))
    return made


def _steps(
    one: Temperatures, seeds: warm.Warm, each: Sequence[tuple[float, float]], seed: int
) -> list[Step]:
    degrees, narrow = min(each, key=lambda pair: pair[1])
    many = f"{one.dishes} dish{'es' if one.dishes > 1 else ''}"
    where = "more" if degrees in one.allocation else "of their own"
    made = [Step(f"{many} {where} at {degrees:g} °C", narrow)]
    looks = one.inspections
    changed = {
        "inspections twice as often": Inspections(
            first_d=looks.first_d / 2, every_d=looks.every_d / 2, last_d=looks.last_d
        ),
        f"another week of inspections, to day {looks.last_d + 7:g}": Inspections(
            first_d=looks.first_d, every_d=looks.every_d, last_d=min(looks.last_d + 7, 730)
        ),
    }
    for says, inspections in changed.items():
        truth = replace(seeds.truth, inspections_h=inspections.hours)
        made.append(Step(says, half_width(replace(seeds, truth=truth), one.allocation, seed)))
    truth = replace(seeds.truth, seeds=2 * one.seeds)
    made.append(
        Step(
            "twice as many seeds in each dish",
            half_width(replace(seeds, truth=truth), one.allocation, seed),
        )
    )
    return made


def _designs(
    plan: Plan, one: Temperatures, prospect: Prospect, seeds: warm.Warm, seed: int
) -> list[Design]:
    planned = one.allocation
    total, most = sum(planned.values()), max(len(planned), one.fewest_temperatures)
    limits = allocation.Limits(grid=grid(one), fewest=one.fewest_temperatures, most=most)
    within = {t: n for t, n in planned.items() if limits.grid[0] <= t <= limits.grid[-1]}
    starts = [planned] if len(within) == len(planned) else []
    best = allocation.best(seeds, total, limits, unsure=plan.guesses.unsure_c, starts=starts)
    even = allocation.equal(limits, len(planned), total)
    assert prospect.simulated is not None  # noqa: S101
    made = [
        Design(
            says="as planned",
            dishes=planned,
            half_width=prospect.half_width,
            simulated=prospect.simulated,
        )
    ]
    for number, (says, dishes) in enumerate((("evenly spaced", even), ("shared out best", best))):
        if dishes is not None:
            rng = np.random.default_rng([seed, 2 + number])
            widths = warm.simulated(seeds, dishes, studies=plan.simulations, rng=rng)
            made.append(
                Design(
                    says=says,
                    dishes=dishes,
                    half_width=half_width(seeds, dishes, seed),
                    simulated=widths,
                )
            )
    return made

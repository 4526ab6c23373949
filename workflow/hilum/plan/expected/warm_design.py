"""Dishes over temperatures as a question, and simulated studies of them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from hilum.analyses.temperature import answers, choice
from hilum.analyses.temperature.series import of_tables
from hilum.analyses.temperature.truth import simulate
from hilum.plan.expected.warm import Allocation, Warm
from hilum.plan.expected.warm_limits import limits
from hilum.stats.arrays import Array
from hilum.stats.families import FAMILIES, named


def simulated(
    warm: Warm, allocation: Allocation, *, studies: int, rng: np.random.Generator, only: bool = True
) -> Array:
    """Return the half-widths of the base in simulated studies, (studies,), infinite where a study has none.

    With `only` the analysis knows the family of times, which saves two thirds of the time.
    """
    certainty = choice.Certainty(confidence=warm.confidence, correlation=warm.correlation)
    families = (named(warm.truth.family),) if only else FAMILIES
    widths = np.full(studies, np.inf)
    for study in range(studies):
        series = next(iter(of_tables(drawn_tables(warm, allocation, rng)))).series
        if not series.germinated.any():
            continue
        base = answers.answers(choice.choose(series, certainty, families=families), certainty).base
        if base.status == "estimated":
            assert base.low is not None and base.high is not None  # noqa: S101
            widths[study] = (base.high - base.low) / 2
    return widths


def drawn_tables(
    warm: Warm, allocation: Allocation, rng: np.random.Generator
) -> dict[str, dict[str, np.ndarray]]:
    """Return the tables of one simulated study, its dishes as allocated."""
    most = max(allocation.values())
    series = replace(warm.series, temperatures=tuple(allocation))
    truth = replace(warm.truth, series=(series,), dishes=most, assessed=False)
    tables = simulate(truth, rng=rng)
    dishes = tables["dishes"]
    number = np.arange(len(dishes["dish"])) % most
    used = number < np.array([allocation[float(t)] for t in dishes["temperature_c"]])
    kept = np.isin(tables["counts"]["dish"], dishes["dish"][used])
    return {
        "dishes": {name: column[used] for name, column in dishes.items()},
        "counts": {name: column[kept] for name, column in tables["counts"].items()},
    }


@dataclass(frozen=True)
class WarmDesign:
    """Dishes over temperatures as a question: that of the base temperature.

    `each` dishes are added to a temperature; `already` are those of a finished study, which stay as they are.
    """

    seeds: Warm
    dishes: Allocation
    each: int
    already: Allocation = field(default_factory=dict)

    @property
    def together(self) -> Allocation:
        """Return all dishes, coolest first."""
        return added(self.already, self.dishes)

    def limits(self, *, seed: int) -> tuple[float, float, str]:
        """Return the middle limits of the base (°C), or why there are none."""
        return limits(self.seeds, self.together, seed=seed)

    def simulated(self, *, studies: int, rng: np.random.Generator) -> Array:
        """Return the half-widths of the base in simulated studies (°C)."""
        return simulated(self.seeds, self.together, studies=studies, rng=rng)

    def resized(self, dishes: int, seeds: int) -> WarmDesign:
        """Return the same with other dishes at each temperature, and other seeds in each dish."""
        truth = replace(self.seeds.truth, seeds=seeds)
        other = replace(self.seeds, truth=truth)
        return replace(self, seeds=other, dishes=dict.fromkeys(self.dishes, dishes), each=dishes)

    def with_place(self, at: float) -> WarmDesign:
        """Return the same with dishes more at a temperature (°C)."""
        return replace(self, dishes=added(self.dishes, {at: self.each}))

    def inspected(self, hours: tuple[float, ...]) -> WarmDesign:
        """Return the same with other inspections."""
        truth = replace(self.seeds.truth, inspections_h=hours)
        return replace(self, seeds=replace(self.seeds, truth=truth))


def added(one: Allocation, other: Allocation) -> dict[float, int]:
    """Return the dishes of both, coolest first."""
    return {t: one.get(t, 0) + other.get(t, 0) for t in sorted({*one, *other})}

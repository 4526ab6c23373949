"""A plan worked out: causes, expected half-widths checked by simulation, and what would narrow them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from hilum.plan import causes, guessed, timed, warm
from hilum.plan.advice import Advice, advise
from hilum.plan.design import Courses, Plan, Temperatures
from hilum.plan.prospect import Prospect

DISHES = (2, 3, 4, 6, 8, 12)
SEEDS = (10, 25, 50, 100)


@dataclass(frozen=True, kw_only=True)
class Size:
    """The half-width of a quantity with other numbers of dishes and of seeds in each; infinite where it is not told."""

    quantity: str
    unit: str
    treatment: str
    experiment: str
    dishes: int
    seeds: int
    half_width: float


@dataclass(frozen=True, kw_only=True)
class Power:
    """How often a difference between two treatments would surely be found."""

    experiment: str
    share: float
    difference: float
    dishes: int
    seeds: int
    power: float


@dataclass(frozen=True, kw_only=True)
class Worked:
    """All that is known of a plan; `missing` are guesses without which something could not be computed."""

    plan: Plan
    causes: Sequence[causes.Told]
    prospects: Sequence[Prospect]
    sizes: Sequence[Size]
    powers: Sequence[Power]
    advice: Sequence[Advice]
    missing: Sequence[str]


@dataclass
class _Found:
    prospects: list[Prospect]
    sizes: list[Size]
    powers: list[Power]
    advice: list[Advice]


def work_out(plan: Plan) -> Worked:
    """Return a plan worked out; the same plan gives the same numbers."""
    found, missing = _Found([], [], [], []), dict[str, None]()
    for number, one in enumerate(plan.experiments):
        seed = int(np.random.default_rng([plan.seed, number]).integers(2**31))
        work: Callable[[], None] = _WORK[type(one)](plan, one, seed, found)
        try:
            work()
        except guessed.Missing as lacking:
            missing[f"{one.experiment}: {lacking}"] = None
    return Worked(plan=plan, causes=causes.table(plan), missing=list(missing), **vars(found))


# temperatures


def _temperatures(plan: Plan, one: Temperatures, seed: int, found: _Found) -> Callable[[], None]:
    def work() -> None:
        for lot in one.lots:
            for treatment in one.treatments:
                seeds = guessed.warm(plan, one, treatment)
                _of_series(plan, one, (lot, treatment), seeds, seed, found)

    return work


def _of_series(
    plan: Plan,
    one: Temperatures,
    who: tuple[str, str],
    seeds: warm.Warm,
    seed: int,
    found: _Found,
) -> None:
    low, high, why = warm.limits(seeds, one.allocation, seed=seed)
    prospect = Prospect(
        quantity="base_temperature",
        unit="°C",
        lot=who[0],
        treatment=who[1],
        experiment=one.experiment,
        value=seeds.series.base,
        low=low,
        high=high,
        why=why,
        wanted=one.wanted.get("base_temperature"),
    )
    widths = warm.simulated(
        seeds, one.allocation, studies=plan.simulations, rng=np.random.default_rng([seed, 1])
    )
    found.prospects.append(prospect.checked(widths))
    found.advice.append(advise(plan, one, prospect.checked(widths), seeds, seed=seed))
    found.sizes += [_base_size(one, prospect, seeds, d, n, seed) for d in DISHES for n in SEEDS]


def _base_size(
    one: Temperatures, about: Prospect, seeds: warm.Warm, dishes: int, number: int, seed: int
) -> Size:
    other = replace(seeds, truth=replace(seeds.truth, seeds=number))
    low, high, why = warm.limits(other, dict.fromkeys(one.allocation, dishes), seed=seed)
    return _size(replace(about, low=low, high=high, why=why), dishes, number)


def _size(of: Prospect, dishes: int, seeds: int) -> Size:
    return Size(
        quantity=of.quantity,
        unit=of.unit,
        treatment=f"{of.treatment} against {of.versus}" if of.versus else of.treatment,
        experiment=of.experiment,
        dishes=dishes,
        seeds=seeds,
        half_width=of.half_width,
    )


# treatments beside each other


def _courses(plan: Plan, one: Courses, seed: int, found: _Found) -> Callable[[], None]:
    def work() -> None:
        for lot in one.lots:
            sown = guessed.timed(plan, one, lot)
            found.prospects += _checked(plan, sown, seed)
            found.sizes += [
                _size(p, dishes, seeds)
                for dishes in DISHES
                for seeds in SEEDS
                for p in timed.prospects(_resized(sown, dishes, seeds), seed=seed)
            ]
            if one.difference is not None:
                found.powers += _powers(one, sown, one.difference, seed)

    return work


def _checked(plan: Plan, sown: timed.Timed, seed: int) -> list[Prospect]:
    # they are fitted in one batch, so that more of them cost little
    studies, rng = max(plan.simulations, 400), np.random.default_rng([seed, 1])
    widths = timed.simulated(sown, studies=studies, rng=rng)
    return [
        p.checked(widths[p.quantity, p.lot, p.treatment, p.versus])
        for p in timed.prospects(sown, seed=seed)
    ]


def _resized(sown: timed.Timed, dishes: int, seeds: int) -> timed.Timed:
    kinds = [
        replace(kind, seeds=seeds, place=replace(kind.place, dishes=dishes)) for kind in sown.kinds
    ]
    return replace(sown, kinds=kinds)


def _powers(one: Courses, sown: timed.Timed, difference: float, seed: int) -> list[Power]:
    share = max(kind.shares[0] * float(kind.reached[-1]) for kind in sown.kinds)
    return [
        Power(
            experiment=one.experiment,
            share=share,
            difference=difference,
            dishes=dishes,
            seeds=seeds,
            power=timed.power(
                _resized(sown, dishes, seeds), share, difference, dishes=dishes, seed=seed
            ),
        )
        for dishes in DISHES
        for seeds in SEEDS
    ]


_WORK: dict[type, Any] = {Temperatures: _temperatures, Courses: _courses}

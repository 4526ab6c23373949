"""A plan worked out: causes, expected half-widths checked by simulation, and what would narrow them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import product, starmap
from typing import Any

import numpy as np

from hilum.analyses.estimate import Tables
from hilum.plan.advised import baths, weighing
from hilum.plan.advised.advice import Advice, Placed, advise, with_designs
from hilum.plan.advised.baths import Baths
from hilum.plan.advised.reweighed import Reweighed
from hilum.plan.advised.weighing import Calls
from hilum.plan.asked import added
from hilum.plan.asked.added import Said
from hilum.plan.asked.design import Plan
from hilum.plan.asked.experiments import Courses, Doses, Soaking, Storage, Temperatures
from hilum.plan.expected import dosed, guessed, stored, timed
from hilum.plan.expected.prospect import Prospect, Question, simulated
from hilum.plan.expected.sizes import DISHES, SEEDS, Size, size
from hilum.plan.expected.warm_design import WarmDesign
from hilum.plan.failure import causes
from hilum.plan.running import stopping


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
    """All that is known of a plan; `missing` are guesses without which something could not be computed.

    `running` tells of the experiments of the earlier study that are not finished, whether to go on with them.
    """

    plan: Plan
    causes: Sequence[causes.Told]
    running: Mapping[str, stopping.Outlook]
    prospects: Sequence[Prospect]
    sizes: Sequence[Size]
    powers: Sequence[Power]
    advice: Sequence[Advice]
    calls: Sequence[Calls]
    weighings: Sequence[Reweighed]
    baths: Sequence[Baths]
    added: Sequence[Said]
    missing: Sequence[str]


@dataclass
class Found:
    """What is worked out of one experiment."""

    earlier: Mapping[str, Tables]
    prospects: list[Prospect] = field(default_factory=list)
    sizes: list[Size] = field(default_factory=list)
    powers: list[Power] = field(default_factory=list)
    advice: list[Advice] = field(default_factory=list)
    calls: list[Calls] = field(default_factory=list)
    weighings: list[Reweighed] = field(default_factory=list)
    baths: list[Baths] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)


# does a function for each row of its words, as itertools.starmap does, or beside each other
Starmap = Callable[[Callable[..., Found], Sequence[tuple[Any, ...]]], Iterable[Found]]


def work_out(
    plan: Plan, earlier: Mapping[str, Tables] | None = None, *, starmap: Starmap = starmap
) -> Worked:
    """Return a plan worked out; the same plan gives the same numbers.

    `earlier` are the checked tables of the experiments of the study that guesses came from.
    """
    before = earlier or {}
    numbers = range(len(plan.experiments))
    found = list(starmap(_experiment, [(plan, number, before) for number in numbers]))
    return Worked(
        plan=plan,
        causes=causes.table(plan),
        running=_running(plan, before),
        prospects=[p for own in found for p in own.prospects],
        sizes=[s for own in found for s in own.sizes],
        powers=[p for own in found for p in own.powers],
        advice=[a for own in found for a in own.advice],
        calls=[c for own in found for c in own.calls],
        weighings=[w for own in found for w in own.weighings],
        baths=[b for own in found for b in own.baths],
        added=[told for one in plan.experiments if (told := added.said(plan, one, before))],
        missing=list(dict.fromkeys(lacking for own in found for lacking in own.missing)),
    )


def _experiment(plan: Plan, number: int, earlier: Mapping[str, Tables]) -> Found:
    """Return one experiment worked out, by a generator of its own."""
    one, found = plan.experiments[number], Found(earlier)
    seed = int(np.random.default_rng([plan.seed, number]).integers(2**31))
    try:
        _WORK[type(one)](plan, one, seed, found)
    except guessed.Missing as lacking:
        found.missing.append(f"{one.experiment}: {lacking}")
    return found


def _running(plan: Plan, earlier: Mapping[str, Tables]) -> dict[str, stopping.Outlook]:
    """Return whether to go on with the experiments that are not finished."""
    made = {}
    for number, (name, tables) in enumerate(earlier.items()):
        found = stopping.outlook(
            tables,
            days=plan.go_on_d,
            unknown=plan.guesses.dish_correlation,
            confidence=plan.confidence,
            rng=np.random.default_rng([plan.seed, 1000 + number]),
        )
        if found is not None and found.going:
            made[name] = found
    return made


# one quantity from several places: temperatures, durations, times of storage


def _temperatures(plan: Plan, one: Temperatures, seed: int, found: Found) -> None:
    for lot in one.lots:
        for treatment in one.treatments:
            seeds = guessed.warm(plan, one, treatment)
            tables = found.earlier.get(one.adds_to or "")
            already = added.at_temperatures(plan, tables, treatment)
            question = WarmDesign(seeds, one.allocation, one.dishes, already)
            about = ("base_temperature", "°C", seeds.series.base)
            advice = _asked(plan, one, (lot, treatment), question, about, seed, found)
            found.advice.append(with_designs(advice, plan, one, question, seed=seed))


def _doses(plan: Plan, one: Doses, seed: int, found: Found) -> None:
    who = one.method.replace("_", " ")
    for lot in one.lots:
        already = added.at_durations(plan, one, found.earlier.get(one.adds_to or ""))
        question = guessed.dosed(plan, one, lot, already).calibrated(seed=seed)
        about = ("best_duration", "min", dosed.value(question))
        found.advice.append(_asked(plan, one, (lot, who), question, about, seed, found))
        for end in dosed.WINDOW:
            other = question.asking(end).calibrated(seed=seed)
            about = (end, "min", dosed.value(other))
            found.prospects.append(_expected(plan, one, (lot, who), other, about, seed))
        told = baths.compared(one, lot, question, seed=seed)
        found.baths += [told] if told else []


def _storage(plan: Plan, one: Storage, seed: int, found: Found) -> None:
    for lot in one.lots:
        for treatment in one.treatments:
            question = guessed.kept(plan, one, lot, treatment)
            about = ("half_viability_period", "d", stored.half(question))
            found.advice.append(_asked(plan, one, (lot, treatment), question, about, seed, found))


def _asked(
    plan: Plan,
    one: Placed,
    who: tuple[str, str],
    question: Question,
    about: tuple[str, str, float],
    seed: int,
    found: Found,
) -> Advice:
    """Note what is expected of a question and of other sizes, and return what would narrow its interval."""
    expected = _expected(plan, one, who, question, about, seed)
    found.prospects.append(expected)
    if isinstance(question, WarmDesign) and question.already:
        # what was sown has the seeds that it has
        return advise(one, expected, question, seed=seed)
    for dishes in DISHES:
        for seeds in SEEDS:
            low, high, why = question.resized(dishes, seeds).limits(seed=seed)
            other = replace(expected, low=low, high=high, why=why)
            found.sizes.append(size(other, dishes, seeds))
    return advise(one, expected, question, seed=seed)


def _expected(
    plan: Plan,
    one: Placed,
    who: tuple[str, str],
    question: Question,
    about: tuple[str, str, float],
    seed: int,
) -> Prospect:
    """Return what is expected of a question, checked by simulated studies."""
    quantity, unit, value = about
    low, high, why = question.limits(seed=seed)
    expected = Prospect(
        quantity=quantity,
        unit=unit,
        lot=who[0],
        treatment=who[1],
        experiment=one.experiment,
        value=value,
        low=low,
        high=high,
        why=why,
        wanted=one.wanted.get(quantity),
    )
    rng = np.random.default_rng([seed, 1])
    return expected.checked(simulated(question, studies=plan.simulations, rng=rng))


# treatments beside each other


def _courses(plan: Plan, one: Courses, seed: int, found: Found) -> None:
    already = added.side_by_side(plan, one, found.earlier.get(one.adds_to or ""))
    for lot in one.lots:
        sown = guessed.timed(plan, one, lot, already)
        found.prospects += _checked(plan, sown, seed)
        # what was sown has the dishes and seeds that it has
        found.sizes += [
            size(p, dishes, seeds)
            for dishes, seeds in ([] if already else product(DISHES, SEEDS))
            for p in timed.prospects(_resized(sown, dishes, seeds), seed=seed)
        ]
        if one.difference is not None:
            found.powers += _powers(one, sown, one.difference, seed)


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


# seeds weighed one by one


def _soaking(plan: Plan, one: Soaking, seed: int, found: Found) -> None:
    worked = weighing.work_out(plan, one, seed=seed)
    found.prospects += worked.prospects
    found.sizes += worked.sizes
    found.calls += worked.calls
    found.weighings += worked.advice


_WORK: dict[type, Callable[[Plan, Any, int, Found], None]] = {
    Temperatures: _temperatures,
    Courses: _courses,
    Doses: _doses,
    Storage: _storage,
    Soaking: _soaking,
}

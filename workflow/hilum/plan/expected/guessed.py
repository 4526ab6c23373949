"""What a plan guesses, as the seeds that its experiments are computed for; where a guess is missing, what to give."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from scipy.special import ndtr, ndtri

from hilum.analyses.imbibition.truth import ImbibitionTruth, TrueCoats
from hilum.analyses.scarification.truth import ScarificationTruth, TrueDose, shares
from hilum.analyses.storage.truth import StorageTruth, TrueStorage
from hilum.analyses.temperature.truth import TemperatureTruth, TrueSeries
from hilum.plan.asked.added import SownAlike
from hilum.plan.asked.design import Plan
from hilum.plan.asked.experiments import Courses, Doses, Place, Soaking, Storage, Temperatures
from hilum.plan.asked.material import BATH_SD, ONE_BY_ONE
from hilum.plan.expected.dosed import Dosed
from hilum.plan.expected.soaked import Soaked
from hilum.plan.expected.stored import Kept
from hilum.plan.expected.timed import Timed
from hilum.plan.expected.warm import Warm
from hilum.plan.simulated.sown import Kind
from hilum.stats import spread
from hilum.stats.families import LOG_LOGISTIC

UPTAKE_PCT, HALF_UPTAKE_H = 100.0, 8.0  # of hard-coated seeds (from memory of the habit in papers)
SLOPE = 6.0  # of seeds of which nothing is known (common practice, no source)
# of the seeds that neither germinate nor stay hard: found fresh, the others dead
_FRESH = 0.3
NO_OPTIMUM = 60.0  # °C; warmer than any seed is sown at


class Missing(Exception):
    """Say which guesses are missing."""


def sigma(plan: Plan) -> float:
    """Return the scale of log time."""
    return 1 / (plan.guesses.slope or SLOPE)


def germinable(plan: Plan, treatment: str) -> float:
    """Return the germinable fraction of a treatment. Raises Missing where none is guessed."""
    guess = plan.by_name[treatment].germinable
    if guess is None:
        raise Missing(
            f"Give `germinable` of {treatment}: the share of its seeds that germinates in the end."
        )
    return guess


def warm(plan: Plan, one: Temperatures, treatment: str) -> Warm:
    """Return a treatment over temperatures. Raises Missing."""
    guesses = plan.guesses
    given = {
        "base_temperature_c": guesses.base_temperature_c,
        "thermal_time_50_c_h": guesses.thermal_time_50_c_h,
    }
    lacking = [f"`{name}`" for name, value in given.items() if value is None]
    if lacking:
        raise Missing(f"Give {' and '.join(lacking)} under `guesses`, or a finished study.")
    share = germinable(plan, treatment)
    sd = np.asarray(sigma(plan) * LOG_LOGISTIC.sd)
    dishes = spread.assumed(guesses.dish_correlation, sd, np.asarray(share)).variance
    series = TrueSeries(
        base=float(guesses.base_temperature_c or 0.0),
        thermal_time_50=float(guesses.thermal_time_50_c_h or 0.0),
        germinable=share,
        optimum=NO_OPTIMUM if guesses.optimum_c is None else guesses.optimum_c,
    )
    truth = TemperatureTruth(
        series=(series,),
        sigma=sigma(plan),
        seeds=one.seeds,
        inspections_h=one.inspections.hours,
        dish_sd_log_time=float(np.sqrt(dishes[0])),
        dish_sd_logit=float(np.sqrt(dishes[1])),
        chambers=one.chambers,
    )
    return Warm(truth=truth, correlation=guesses.dish_correlation, confidence=plan.confidence)


def timed(plan: Plan, one: Courses, lot: str, already: Mapping[str, int] | None = None) -> Timed:
    """Return the treatments of a lot beside each other, with dishes of each that were sown `already`. Raises Missing."""
    before = already or {}
    places = [
        replace(p, dishes=p.dishes + before.get(p.treatment, 0))
        for p in plan.places()
        if p.lot == lot
    ]
    return Timed(
        experiment=one.experiment,
        kinds=kinds(plan, one, places),
        correlation=plan.guesses.dish_correlation,
        confidence=plan.confidence,
        wanted=one.wanted,
    )


def kinds(plan: Plan, one: Courses, places: Sequence[Place]) -> list[Kind]:
    """Return the kinds of seeds at the places of an experiment. Raises Missing."""
    return [
        Kind(
            place=place,
            seeds=one.seeds,
            hours=one.inspections.hours,
            shares=_shares(plan, place.treatment),
            t50_h=_t50_h(plan, one, place.treatment),
            sigma=sigma(plan),
            ends_with=one.ends_with,
        )
        for place in places
        if place.experiment == one.experiment
    ]


def _shares(plan: Plan, treatment: str) -> tuple[float, ...]:
    grown = germinable(plan, treatment)
    hard = min(plan.by_name[treatment].hard or 0.0, 1 - grown)
    rest = 1 - grown - hard
    return (grown, hard, 0.0, _FRESH * rest, 0.0, (1 - _FRESH) * rest)


def _t50_h(plan: Plan, one: Courses, treatment: str) -> float:
    """Return hours to half: as guessed of the treatment, or from base and thermal time."""
    days, guesses = plan.by_name[treatment].t50_d, plan.guesses
    if days is not None:
        return 24 * days
    if guesses.base_temperature_c is not None and guesses.thermal_time_50_c_h is not None:
        above = min(one.temperature_c, guesses.optimum_c or np.inf) - guesses.base_temperature_c
        if above > 0:
            return float(guesses.thermal_time_50_c_h / above)
    raise Missing(f"Give `t50_d` of {treatment}: days to half of its germinable seeds.")


def dosed(plan: Plan, one: Doses, lot: str, already: tuple[SownAlike, ...] = ()) -> Dosed:
    """Return the durations of a lot, with dishes that were sown `already`. Raises Missing."""
    guesses = plan.guesses
    if guesses.opening_min is None or guesses.harming_min is None:
        raise Missing("Give `opening_min` and `harming_min` under `guesses`.")
    methods = {name: plan.by_name[name].method for name in one.treatments}
    by_hand = next((n for n, m in methods.items() if m in ("chipping", "filing")), "")
    plain = next((n for n, m in methods.items() if m == "none"), None)
    hard = 0.9 if plain is None else plan.by_name[plain].hard
    if hard is None:
        raise Missing(f"Give `hard` of {plain}: the share of untreated seeds that stays hard.")
    true = TrueDose(
        lot=lot,
        doses=(*([] if plain is None else [0.0]), *sorted(one.durations_min)),
        permeable=min(max(1 - hard, 0.005), 0.99),
        viable_permeable=guesses.viable,
        viable=guesses.viable,
        opens=guesses.opening_min,
        opens_slope=guesses.opening_slope,
        harms=guesses.harming_min,
        harms_slope=guesses.harming_slope,
        opened=by_hand,
    )
    truth = ScarificationTruth(
        lots=(true,),
        dishes=one.dishes,
        seeds=one.seeds,
        dish_sd=_dose_sd(true, guesses.dish_correlation),
        temperature_c=one.temperature_c,
        inspections_h=one.inspections.hours,
    )
    one_by_one = one.method in ONE_BY_ONE
    return Dosed(
        truth=truth,
        correlation=guesses.dish_correlation,
        confidence=plan.confidence,
        baths=1 if one_by_one else plan.room.baths,
        bath_sd=0.0 if one_by_one else bath_sd(plan),
        already=already,
    )


def bath_sd(plan: Plan) -> float:
    """Return how far baths differ on a logit."""
    return BATH_SD if plan.guesses.bath_sd is None else plan.guesses.bath_sd


def soaked(plan: Plan, one: Soaking, lot: str) -> Soaked:
    """Return the treatments of a lot whose seeds are weighed. Raises Missing."""
    guesses = plan.guesses
    if guesses.seed_mg is None:
        raise Missing("Give `seed_mg` under `guesses`: the mass of a dry seed.")
    truth = ImbibitionTruth(
        mass_mg={lot: guesses.seed_mg},
        balance_sd_mg=one.balance_mg,
        balance_readability_mg=one.balance_mg,
        film=guesses.film_pct / 100,
        plateau=(guesses.uptake_pct or UPTAKE_PCT) / 100,
        half_time_h=guesses.half_uptake_h or HALF_UPTAKE_H,
        hours=one.hours,
        late_until_h=one.hours[-1],
    )
    return Soaked(
        experiment=one.experiment,
        lot=lot,
        coats=tuple(_coats(plan, one, lot, name) for name in one.treatments),
        truth=truth,
        dishes=one.dishes,
        correlation=guesses.dish_correlation,
        confidence=plan.confidence,
        wanted=one.wanted,
    )


def _coats(plan: Plan, one: Soaking, lot: str, treatment: str) -> TrueCoats:
    found = plan.by_name[treatment]
    if found.hard is None:
        raise Missing(f"Give `hard` of {treatment}: the share of its seeds that stays hard.")
    return TrueCoats(
        lot=lot,
        treatment=treatment,
        method=found.method,
        impermeable=found.hard,
        late=min(plan.guesses.opens_late, 1 - found.hard),
        seeds=one.seeds,
    )


def _dose_sd(true: TrueDose, correlation: float) -> float:
    """Return the effects of dishes on both logits that make an intra-dish correlation, on average."""
    _, permeable, growing = shares(true, np.array(true.doses))
    varied = [float((p * (1 - p)).mean()) for p in (permeable, growing)]
    return float(np.sqrt(np.mean([correlation / max(v, 0.02) for v in varied])))


def kept(plan: Plan, one: Storage, lot: str, treatment: str) -> Kept:
    """Return a treatment of a lot in its store. Raises Missing."""
    days, viable = plan.guesses.half_viability_d, plan.guesses.viable
    if days is None:
        raise Missing("Give `half_viability_d` under `guesses`.")
    if viable <= 0.5:
        raise Missing(
            "`viable` under `guesses` is not above 0.5: half are dead before any storage."
        )
    ki = float(ndtri(viable))
    true = TrueStorage(
        lot=lot,
        treatment=treatment,
        method=plan.by_name[treatment].method,
        ki=ki,
        sigma_d=days / ki,
    )
    truth = StorageTruth(
        stores=(true,),
        days=tuple(sorted(set(one.stored_d))),
        samples=one.dishes,
        seeds=one.seeds,
        sample_sd=_sample_sd(true, one.stored_d, plan.guesses.dish_correlation),
        sown=True,
        temperature_c=one.temperature_c,
    )
    return Kept(truth=truth, correlation=plan.guesses.dish_correlation, confidence=plan.confidence)


def _sample_sd(true: TrueStorage, days: Sequence[float], correlation: float) -> float:
    """Return the effects of dishes in probits that make an intra-dish correlation, on average."""
    z = true.ki - np.array(days) / true.sigma_d
    varied = ndtr(z) * ndtr(-z)
    on_logit = np.sqrt(correlation / max(float(varied.mean()), 0.02))
    density = np.exp(-0.5 * z**2) / np.sqrt(2 * np.pi)
    return float(on_logit * (varied / density).mean())

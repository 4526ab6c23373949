"""What a plan guesses, as the seeds that its experiments are computed for; where a guess is missing, what to give."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hilum.analyses.temperature.truth import TemperatureTruth, TrueSeries
from hilum.plan.design import Courses, Place, Plan, Temperatures
from hilum.plan.sown import Kind
from hilum.plan.timed import Timed
from hilum.plan.warm import Warm
from hilum.stats import spread
from hilum.stats.families import LOG_LOGISTIC

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


def timed(plan: Plan, one: Courses, lot: str) -> Timed:
    """Return the treatments of a lot beside each other. Raises Missing."""
    return Timed(
        experiment=one.experiment,
        kinds=kinds(plan, one, [p for p in plan.places() if p.lot == lot]),
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

"""What charts and page of temperature draw and say: each lot, treatment and condition sown at temperatures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from hilum.analyses.temperature import (
    advice,
    along,
    answers,
    classical,
    germinated,
    levelling,
    prediction,
    rates,
    words,
)
from hilum.analyses.temperature.advice import Added
from hilum.analyses.temperature.along import ExpectedAlong
from hilum.analyses.temperature.candidate import Candidate
from hilum.analyses.temperature.choice import Certainty, Choice
from hilum.analyses.temperature.fitting import Fitting
from hilum.analyses.temperature.germinated import AfterWarmth, Dish, Germinated
from hilum.analyses.temperature.logged import Log
from hilum.analyses.temperature.prediction import Expected, Wish
from hilum.analyses.temperature.rates import FittedRate, Line, Rate
from hilum.analyses.temperature.series import Sown
from hilum.stats import cardinal
from hilum.stats import response as curves
from hilum.stats.thermal import Series


@dataclass(frozen=True, kw_only=True)
class Regime:
    """One temperature, °C (the mean of an alternation): its dishes, seeds, those that germinated, the last look in hours."""

    label: str
    temperature: float
    seeds: float
    germinated: float
    dishes: int
    last_h: float


@dataclass(frozen=True, kw_only=True)
class Logged:
    """What a chamber was set to and logged at, °C."""

    chamber: str
    set_point: float
    mean: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Answer:
    """A cardinal temperature, °C, with its limits, as far as it is known."""

    value: float | None
    low: float | None
    high: float | None
    status: str


@dataclass(frozen=True, kw_only=True)
class Compared:
    """One candidate of the choice: response and family, with its base temperature in °C."""

    shape: str
    name: str
    family: str
    parameters: int
    loglik: float
    aic_difference: float
    base: float | None
    identifiable: bool
    chosen: bool


@dataclass(frozen=True, kw_only=True)
class Profiled:
    """By how much −2 log likelihood ratio rises at a base temperature, °C, and what it may reach in the interval."""

    base: float
    rise: float
    threshold: float


@dataclass(frozen=True, kw_only=True)
class Group:
    """Seeds of one lot, treatment and condition; `reason` says why nothing could be fitted, or printed of it."""

    # so that a fitted series with a part missing is refused, and not read as one without a fit
    __pydantic_config__: ClassVar[Mapping[str, str]] = {"extra": "forbid"}

    lot: str
    treatment: str
    temperature_c: None
    condition: str
    chambers: int
    half_day_assumed: bool
    hard: float | None
    hard_reason: str
    regimes: tuple[Regime, ...]
    alternating: bool
    reason: str


@dataclass(frozen=True, kw_only=True)
class FittedGroup(Group):
    """Seeds whose response could be fitted, and the sentences that explain it; temperatures in °C."""

    log: tuple[Logged, ...]
    log_complete: bool
    log_matters: bool
    at_set_points: Answer | None
    base: Answer
    bends: tuple[Answer, ...]
    shape: str
    family: str
    free_fractions: bool
    spread_assumed: bool
    seeds_differ: bool
    left_out: bool
    absent: bool
    reasons: tuple[str, ...]
    candidates: tuple[Compared, ...]
    curve: tuple[FittedRate, ...]
    rates: tuple[Rate, ...]
    classical: tuple[Line, ...]
    profile: tuple[Profiled, ...]
    advice: Added | None
    narrower: str
    straight_line: str
    coolest: float
    germination: tuple[Germinated, ...]
    dishes: tuple[Dish, ...]
    thermal_time: tuple[AfterWarmth, ...]
    prediction: Expected | None
    no_prediction: str
    courses: tuple[ExpectedAlong, ...]
    no_courses: str


@dataclass(frozen=True, kw_only=True)
class View:
    """Every series of an experiment, and the confidence of its bands."""

    groups: tuple[FittedGroup | Group, ...]
    confidence: float


def of(found: Sequence[tuple[Sown, Fitting | None]], certainty: Certainty, wish: Wish) -> View:
    """Return what charts and page draw and say of every series, and of its fit where there is one."""
    groups = [
        _fitted(sown, fit, certainty, wish) if fit else _group(sown, words.no_fit(sown))
        for sown, fit in found
    ]
    return View(groups=tuple(groups), confidence=certainty.confidence)


def _group(sown: Sown, reason: str) -> Group:
    return Group(
        lot=sown.lot,
        treatment=sown.treatment,
        temperature_c=None,
        condition=sown.condition,
        chambers=sown.chambers,
        half_day_assumed=sown.half_day_assumed,
        hard=sown.hard,
        hard_reason=words.hard(sown),
        regimes=_regimes(sown),
        alternating=bool((~np.isnan(sown.night)).any()),
        reason=reason,
    )


def _regimes(sown: Sown) -> tuple[Regime, ...]:
    series = sown.series
    dishes = np.bincount(series.regime, minlength=series.regimes)
    return tuple(
        Regime(
            label=label,
            temperature=float(series.mean_temperature[r]),
            seeds=float(series.seeds[r]),
            germinated=float(series.germinated[r]),
            dishes=int(dishes[r]),
            last_h=float(series.cells.last_h[series.regime == r].max()),
        )
        for r, label in enumerate(words.labels(sown))
    )


def _fitted(sown: Sown, fit: Fitting, certainty: Certainty, wish: Wish) -> FittedGroup:
    measured, choice, hard = fit.measured, fit.choice, words.hard(fit.measured)
    base = _NOTHING if hard else _answer(fit.answers.base)
    other = None if fit.at_set_points is None else _answer(fit.at_set_points)
    lines = classical.lines(measured.series, choice, confidence=certainty.confidence)
    predicted = not hard and not fit.why_not
    return FittedGroup(
        **vars(_group(sown, hard)),
        log=_logged(sown, fit.log),
        log_complete=fit.log is not None and fit.log.complete,
        log_matters=other is not None and _matters(other, base),
        at_set_points=other,
        base=base,
        bends=tuple(_answer(bend) for bend in fit.answers.bends),
        shape=choice.chosen.shape,
        family=choice.chosen.peak.model.family.label,
        free_fractions=choice.free,
        spread_assumed=choice.spread_assumed,
        seeds_differ=choice.seeds_differ is not None,
        left_out=choice.left_out,
        absent=_none_in_the_cold(choice.pool),
        reasons=_reasons(choice),
        candidates=_compared(choice),
        curve=rates.curve(choice, certainty),
        rates=rates.seen(lines),
        classical=rates.classical(lines),
        profile=_profile(fit),
        advice=advice.added(fit.advice),
        narrower=words.narrower(fit.advice) if fit.answers.base.status == "estimated" else "",
        straight_line="" if hard else levelling.warning(choice, fit.answers.base, fit.bend),
        coolest=float(rates.drawn_temperatures(choice)[0]),
        germination=germinated.over_time(measured, choice),
        dishes=germinated.dishes(measured, choice),
        thermal_time=germinated.over_thermal_time(measured, choice),
        prediction=prediction.expected(choice, fit.answers.base, certainty, wish)
        if predicted
        else None,
        no_prediction=fit.why_not,
        courses=tuple(
            along.expected(name, course, found, wish)
            for name, (course, found) in fit.courses.items()
        ),
        no_courses=fit.why_not,
    )


def _logged(sown: Sown, log: Log | None) -> tuple[Logged, ...]:
    """Return what the chambers were logged at."""
    rows: dict[tuple[str, float], Logged] = {}
    for dish, course in enumerate(log.courses if log else ()):
        chamber, degrees = str(sown.chamber[dish]), float(sown.temperature[dish])
        if course is not None and (chamber, degrees) not in rows:
            rows[chamber, degrees] = Logged(
                chamber=chamber,
                set_point=degrees,
                mean=course.mean,
                low=float(course.temperature.min()),
                high=float(course.temperature.max()),
            )
    return tuple(rows.values())


def _answer(answer: answers.Answer) -> Answer:
    return Answer(value=answer.value, low=answer.low, high=answer.high, status=answer.status)


_NOTHING = Answer(value=None, low=None, high=None, status="not_identified")


def _matters(other: Answer, base: Answer) -> bool:
    """Return whether set points would have put the base outside its interval."""
    if "estimated" not in (other.status, base.status):
        return False
    if other.value is None or base.low is None or base.high is None:
        return True
    return base.value is None or not base.low <= other.value <= base.high


def _none_in_the_cold(pool: Series) -> bool:
    """Return whether no seed germinated at a temperature below the coolest at which some did."""
    coolest = cardinal.sprouting_temperatures(pool)[0]
    return bool((pool.warmest[pool.germinated == 0] < coolest).any())


def _reasons(choice: Choice) -> tuple[str, ...]:
    sentences = (
        words.reason,
        words.own_bases_reason,
        words.fractions_reason,
        words.lost_reason,
        words.fit_reason,
    )
    return tuple(told for sentence in sentences if (told := sentence(choice)))


def _compared(choice: Choice) -> tuple[Compared, ...]:
    every = sorted((*choice.candidates, *choice.own_bases), key=lambda c: c.aic)
    return tuple(_candidate(c, every[0].aic, chosen=c is choice.chosen) for c in every)


def _candidate(candidate: Candidate, least: float, *, chosen: bool) -> Compared:
    model = candidate.peak.model
    assert model.response is not None  # noqa: S101
    rate_parameters = candidate.peak.parameters[: model.rate_parameters]
    base = float(curves.base_temperature(model.response, rate_parameters))
    return Compared(
        shape=candidate.shape,
        name=words.name(candidate),
        family=model.family.label,
        parameters=model.size,
        loglik=candidate.peak.loglik,
        aic_difference=candidate.aic - least,
        base=base if np.isfinite(base) and candidate.identifiable else None,
        identifiable=candidate.identifiable,
        chosen=chosen,
    )


def _profile(fit: Fitting) -> tuple[Profiled, ...]:
    return tuple(
        Profiled(base=float(b), rise=float(r), threshold=fit.answers.base.threshold)
        for b, r in zip(fit.path.base, fit.path.rise, strict=True)
    )

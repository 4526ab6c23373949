"""Temperature response: the base temperature, the thermal time, and where warmth stops helping."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from hilum.analyses.estimate import Estimate, Fit, Tables
from hilum.analyses.temperature import (
    advice,
    along,
    answers,
    logged,
    prediction,
    printed,
    rows,
    view,
    words,
)
from hilum.analyses.temperature.choice import Certainty, Choice, choose
from hilum.analyses.temperature.fitting import Fitting
from hilum.analyses.temperature.logged import Course
from hilum.analyses.temperature.prediction import Wish
from hilum.analyses.temperature.printed import Printer
from hilum.analyses.temperature.series import Sown, of_tables
from hilum.analyses.temperature.truth import TRUTH, TemperatureTruth, TrueSeries, simulate
from hilum.analyses.temperature.view import View

if TYPE_CHECKING:
    from hilum.settings import Settings

__all__ = ["TRUTH", "TemperatureTruth", "TrueSeries", "fit", "simulate"]


def fit(tables: Tables, *, settings: Settings, rng: np.random.Generator) -> Fit:  # noqa: ARG001 (nothing is drawn here)
    """Return the estimates of every lot, treatment and condition that was sown at temperatures.

    `tables` needs dishes and counts; events, outcomes, chamber_log and temperature_courses are used where given. Only the first phase
    of a dish enters: seeds opened or moved later are other seeds, or under other conditions.
    """
    certainty = Certainty(
        confidence=settings.confidence, correlation=settings.dish_correlation_when_unknown
    )
    wish = Wish(settings.seedlings_wanted, settings.sowing_confidence)
    known = along.courses(tables)
    every = of_tables(tables)
    fits = [_fitting(sown, tables, known, certainty, wish) for sown in every]
    found = list(zip(every, fits, strict=True))

    @cache
    def seen() -> View:
        return view.of(found, certainty, wish)

    told = (e for sown, one in found for e in _estimates(sown, one, known, certainty))
    return Fit(tuple(told), seen, lambda: rows.of(seen()))


def _fitting(
    sown: Sown, tables: Tables, known: Mapping[str, Course], certainty: Certainty, wish: Wish
) -> Fitting | None:
    if words.no_fit(sown):
        return None
    choice, measured, at_set_points = choose(sown.series, certainty), sown, None
    log = logged.of_sown(sown, tables)
    if log is not None:
        at_set_points = answers.answers(choice, certainty).base
        measured = replace(sown, series=log.measured(sown.series))
        choice = choose(log.counted(sown.series, choice.chosen.peak), certainty)
    found = answers.answers(choice, certainty)
    path, hard = answers.path(choice, found.base), words.hard(measured)
    # of a regime to add two temperatures would have to be named, and the hours of each
    constant = bool(np.isnan(measured.night).all())
    straight = choice.chosen.shape == "linear" and not hard
    why_not = "" if hard else prediction.why_not(measured, choice, found.base)
    along_which = {} if hard or why_not else known
    return Fitting(
        measured=measured,
        log=log,
        at_set_points=at_set_points,
        choice=choice,
        answers=found,
        path=path,
        advice=advice.advise(choice, found.base, path, measured.series) if constant else None,
        bend=answers.lowest_bend(choice, certainty) if straight else None,
        why_not=why_not,
        courses={
            name: (course, along.predict(choice, course, certainty, wish))
            for name, course in along_which.items()
        },
    )


def _estimates(
    sown: Sown, fit: Fitting | None, known: Mapping[str, Course], certainty: Certainty
) -> tuple[Estimate, ...]:
    printer = Printer(sown=sown, confidence=certainty.confidence)
    why = words.hard(fit.measured) if fit else words.no_fit(sown)
    if fit is None or why:
        return printer.nothing(why) + along.nothing(printer, why, known)
    choice = fit.choice
    told = printed.estimates(printer, choice, fit.answers, fit.bend, fit.advice)
    told += _halves(printer, choice, certainty)
    if fit.why_not:
        return told + along.nothing(printer, fit.why_not, known)
    return told + along.estimates(printer, choice, {n: a for n, (_, a) in fit.courses.items()})


def _halves(printer: Printer, choice: Choice, certainty: Certainty) -> tuple[Estimate, ...]:
    """Return the times to half at the set temperatures, where the curve is pinned down."""
    sown = printer.sown
    if not choice.chosen.identifiable or choice.seeds_differ or not np.isnan(sown.night).all():
        return ()
    live = sown.temperature[sown.series.first][sown.series.germinated > 0]
    found = answers.halves(choice, live, certainty)
    return printed.halves(printer, found, words.method(choice)) if found else ()

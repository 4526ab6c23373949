"""Temperature response: the base temperature, the thermal time, and where warmth stops helping."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from hilum.analyses.estimate import Estimate, Fit, Tables
from hilum.analyses.temperature import (
    advice,
    along,
    answers,
    classical,
    drawn,
    levelling,
    logged,
    prediction,
    printed,
    words,
)
from hilum.analyses.temperature.answers import Answers
from hilum.analyses.temperature.choice import Certainty, Choice, choose
from hilum.analyses.temperature.prediction import Wish
from hilum.analyses.temperature.printed import Printer
from hilum.analyses.temperature.series import Sown, of_tables
from hilum.analyses.temperature.truth import TRUTH, TemperatureTruth, TrueSeries, simulate

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
    fits = [_of_series(sown, tables, certainty, wish) for sown in of_tables(tables)]

    @cache
    def groups() -> list[dict[str, Any]]:
        return [draw() for _, draw in fits]

    return Fit(
        tuple(e for own, _ in fits for e in own),
        lambda: {"groups": groups(), "confidence": settings.confidence},
        lambda: _rows(groups()),
    )


def _rows(groups: Sequence[dict[str, Any]]) -> dict[str, list[dict[str, Any]]]:
    rows = {
        "lines": drawn.rows_of_lines(groups),
        "prediction": prediction.rows(groups),
        "sowing": prediction.rows_of_sowing(groups),
        "course_prediction": along.rows(groups),
        "course_sowing": along.rows_of_sowing(groups),
    }
    return {name: table for name, table in rows.items() if table}


# the estimates of a series, and what returns its drawing
_Found = tuple[tuple[Estimate, ...], Callable[[], dict[str, Any]]]


def _of_series(sown: Sown, tables: Tables, certainty: Certainty, wish: Wish) -> _Found:
    printer = Printer(sown=sown, confidence=certainty.confidence)
    group, known = drawn.named(sown), along.courses(tables)
    why = words.no_fit(sown)
    if why:
        rows = printer.nothing(why) + along.nothing(printer, why, known)
        return rows, lambda: group | {"reason": why}
    choice = choose(sown.series, certainty)
    log = logged.of_sown(sown, tables)
    measured = sown
    if log is not None:
        group |= drawn.at_set_points(sown, log, answers.answers(choice, certainty).base)
        measured = replace(sown, series=log.measured(sown.series))
        choice = choose(log.counted(sown.series, choice.chosen.peak), certainty)
    found = answers.answers(choice, certainty)
    rows, draw = _of_choice(printer, measured, choice, found, certainty, group)
    hard = words.hard(measured)
    if hard:
        return rows + along.nothing(printer, hard, known), draw
    reason = prediction.why_not(measured, choice, found.base)
    expected, courses = along.of_choice(printer, choice, reason, known, certainty, wish)

    def drawing() -> dict[str, Any]:
        return draw() | prediction.drawn(reason, choice, found.base, certainty, wish) | courses

    return rows + expected, drawing


def _of_choice(
    printer: Printer,
    sown: Sown,
    choice: Choice,
    found: Answers,
    certainty: Certainty,
    group: dict[str, Any],
) -> _Found:
    # of a regime to add two temperatures would have to be named, and the hours of each
    constant = bool(np.isnan(sown.night).all())
    path, hard = answers.path(choice, found.base), words.hard(sown)
    added = advice.advise(choice, found.base, path, sown.series) if constant else None
    straight = choice.chosen.shape == "linear" and not hard
    bend = answers.lowest_bend(choice, certainty) if straight else None

    def draw() -> dict[str, Any]:
        lines = classical.lines(sown.series, choice, confidence=certainty.confidence)
        own = group | drawn.fitted(sown, choice, found, path, added, lines, certainty)
        return own | {
            "reason": hard,
            "log_matters": drawn.log_matters(own),
            "straight_line": "" if hard else levelling.warning(choice, found.base, bend),
        }

    if hard:
        return printer.nothing(hard), draw
    rows = printed.estimates(printer, choice, found, bend, added)
    return rows + _halves(printer, choice, certainty), draw


def _halves(printer: Printer, choice: Choice, certainty: Certainty) -> tuple[Estimate, ...]:
    """Return the times to half at the set temperatures, where the curve is pinned down."""
    sown = printer.sown
    if not choice.chosen.identifiable or choice.seeds_differ or not np.isnan(sown.night).all():
        return ()
    live = sown.temperature[sown.series.first][sown.series.germinated > 0]
    found = answers.halves(choice, live, certainty)
    return printed.halves(printer, found, words.method(choice)) if found else ()

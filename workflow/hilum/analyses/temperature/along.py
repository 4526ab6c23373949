"""What to expect along a course of temperatures: a pond, the soil, a window sill.

Progress is the rate added up over the hours of the course. Temperatures outside the tested ones enter by the
fitted curve, and the share of the hours that have them is told.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from hilum.analyses.estimate import Estimate, Tables
from hilum.analyses.temperature import prediction, words
from hilum.analyses.temperature.choice import Certainty, Choice
from hilum.analyses.temperature.logged import Course
from hilum.analyses.temperature.prediction import Sowing, Wish
from hilum.analyses.temperature.printed import Printer
from hilum.stats import expectation
from hilum.stats.arrays import Array
from hilum.stats.sowing import MOST_PER_SEED

QUANTITIES = ("predicted_germinated", "predicted_t50")
_STEP = 1.0  # h; temperatures of a day are counted no more coarsely
_MOST_NODES = 2000  # a longer course is counted in longer steps
_MOST_DRAWN = 400  # temperatures of the chart


@dataclass(frozen=True, kw_only=True)
class Along:
    """What is expected along a course by `days` (m,): germinated share of the seeds sown with its limits.

    `half` are hours to half of the germinable seeds, with limits, infinite where not reached. `colder` and
    `warmer` are the shares of the hours outside the tested temperatures `tested` (°C).
    """

    days: Array
    share: Array
    low: Array
    high: Array
    half: Array
    sown_by: Array
    seeds: Array
    dish: int
    tested: tuple[float, float]
    colder: float
    warmer: float


@dataclass(frozen=True, kw_only=True)
class Moment:
    """The temperature of a course, °C, so many days after sowing."""

    days: float
    temperature: float


@dataclass(frozen=True, kw_only=True)
class SowingAlong(Sowing):
    """Seeds to sow for each wanted number by each day of a course."""

    seeds: tuple[tuple[int | None, ...], ...]


@dataclass(frozen=True, kw_only=True)
class ExpectedAlong:
    """Germinated share of the seeds sown along a course by each day, with its limits; `half` are days with limits.

    `colder` and `warmer` are the shares of the hours outside the temperatures `tested`, °C.
    """

    name: str
    temperatures: tuple[Moment, ...]
    days: tuple[float, ...]
    germinated: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    half: tuple[float | None, float | None, float | None]
    tested: tuple[float, float]
    colder: float
    warmer: float
    sowing: SowingAlong


def courses(tables: Tables) -> Mapping[str, Course]:
    """Return the courses of a study by name, in order of appearance; each begins when the seeds are sown."""
    table = tables.get("temperature_courses")
    if not table:
        return {}
    found = {}
    for name in dict.fromkeys(table["course"].tolist()):
        mine = table["course"] == name
        hours, degrees = table["elapsed_h"][mine], table["temperature_c"][mine]
        if hours[0] > 0:
            hours, degrees = np.insert(hours, 0, 0.0), np.insert(degrees, 0, degrees[0])
        found[str(name)] = Course(hours, degrees)
    return found


def predict(choice: Choice, course: Course, certainty: Certainty, wish: Wish) -> Along:
    """Return what is expected of a series along a course, whose response is pinned down."""
    end = float(course.hours[-1]) / 24
    even = prediction.even_days(end)
    days = np.append(even[even < end - 1e-6], end)
    fine = _fine(course, days)
    grid = _grid(choice, fine, days)
    found, components, scores = prediction.looked_out(choice, choice.chosen, certainty, grid)
    low, high = prediction.band_of_all(choice, certainty, grid)
    sown_by = prediction.sowing_days(days)
    dish = prediction.usual_dish(choice)
    seeds = prediction.to_sow(choice, certainty, _grid(choice, fine, sown_by), wish)
    warm = choice.series.mean_temperature
    tested = float(warm.min()), float(warm.max())
    return Along(
        days=days,
        share=found.best.share[0],
        low=low[0],
        high=high[0],
        half=expectation.half_time(
            found.model,
            found.parameters,
            _grid(choice, fine, fine.hours[1:] / 24),
            fine.hours[1:],
            scores=scores,
            components=components,
            confidence=certainty.confidence,
        ),
        sown_by=sown_by,
        seeds=seeds[:, 0],
        dish=dish,
        tested=tested,
        colder=_share_of_hours(fine, fine.temperature < tested[0]),
        warmer=_share_of_hours(fine, fine.temperature > tested[1]),
    )


def _fine(course: Course, days: Array) -> Course:
    """Return the course in steps short enough, with each of the days among them."""
    end = course.hours[-1]
    steps = int(np.ceil(end / max(_STEP, end / _MOST_NODES)))
    read = course.hours if len(course.hours) <= _MOST_NODES else course.hours[:0]
    hours = np.unique(np.concatenate((np.linspace(0, end, steps + 1), read, days * 24)))
    return Course(hours, np.interp(hours, course.hours, course.temperature))


def _grid(choice: Choice, fine: Course, days: Array) -> expectation.Grid:
    # where fractions differ between temperatures those of the course count by the progress that seeds make at them: hours in
    # which nothing moves tell of no seed's ability
    each = prediction.mixing(choice, fine.temperature)
    steps = np.diff(fine.hours)
    rate = choice.rate(fine.temperature)
    gone = steps * (rate[1:] + rate[:-1]) / 2
    weight = (gone if gone.any() else steps)[:, None]
    mean = (weight * (each[1:] + each[:-1]) / 2).sum(0) / weight.sum()
    return expectation.along(fine.hours, fine.temperature, days * 24, mean)


def _share_of_hours(course: Course, where: np.ndarray) -> float:
    steps = np.diff(course.hours)
    return float((steps * (where[1:] + where[:-1].astype(float)) / 2).sum() / steps.sum())


def estimates(printer: Printer, choice: Choice, found: Mapping[str, Along]) -> tuple[Estimate, ...]:
    """Return what is expected along every course."""
    method = f"{words.method(choice)}, added up along the course"
    return tuple(e for name, a in found.items() for e in _estimates(printer, name, a, method))


def nothing(printer: Printer, reason: str, known: Mapping[str, Course]) -> tuple[Estimate, ...]:
    """Return each course without a figure, and why."""
    return tuple(
        printer.row(
            quantity,
            condition=_condition(printer, name),
            status="not_identified",
            method="thermal time",
            needs=reason,
        )
        for name in known
        for quantity in QUANTITIES
    )


def _condition(printer: Printer, course: str) -> str:
    return ", ".join(part for part in (printer.sown.condition, f"along {course}") if part)


def _estimates(printer: Printer, name: str, along: Along, method: str) -> tuple[Estimate, ...]:
    same: dict[str, Any] = {"condition": _condition(printer, name), "method": method}
    share = printer.row(
        "predicted_germinated",
        at=float(along.days[-1]),
        at_unit="d",
        value=float(along.share[-1]),
        low=float(along.low[-1]),
        high=float(along.high[-1]),
        status="estimated",
        **same,
    )
    value, low, high = (float(h) if np.isfinite(h) else None for h in along.half)
    half: dict[str, Any] = {"value": value, "low": low, "high": high, "status": "estimated"}
    late = "The course ends before half of the germinable seeds surely germinated; a longer course would tell."
    if low is None:
        half = {"status": "not_identified", "needs": late}
    elif value is None or high is None:
        half = {"low": low, "high": None, "status": "bracketed", "needs": late}
    return share, printer.row("predicted_t50", **same, **half)


def expected(name: str, course: Course, along: Along, wish: Wish) -> ExpectedAlong:
    """Return what chart and page need of a course."""
    every = -(-len(course.hours) // _MOST_DRAWN)
    value, low, high = (float(h) / 24 if np.isfinite(h) else None for h in along.half)
    return ExpectedAlong(
        name=name,
        temperatures=tuple(
            Moment(days=round(float(h) / 24, 4), temperature=round(float(t), 2))
            for h, t in zip(course.hours[::every], course.temperature[::every], strict=True)
        ),
        days=tuple(np.round(along.days, 4).tolist()),
        germinated=prediction.rounded(along.share),
        low=prediction.rounded(along.low),
        high=prediction.rounded(along.high),
        half=(value, low, high),
        tested=along.tested,
        colder=along.colder,
        warmer=along.warmer,
        sowing=SowingAlong(
            days=tuple(np.round(along.sown_by, 4).tolist()),
            seeds=tuple(map(prediction.whole, along.seeds)),
            wanted=wish.wanted,
            sure=wish.sure,
            most_per_seed=MOST_PER_SEED,
            dish=along.dish,
        ),
    )

"""The temperatures that dishes really had, where their chamber was logged.

Hours at the logged temperature are turned into the hours at the chamber's mean temperature that would have
brought the seeds as far, by the rates that were fitted to the set points. Rates depend on the base, but
their ratio at temperatures a degree apart hardly does, so one round is enough.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from hilum.analyses.estimate import Tables
from hilum.analyses.temperature.series import Sown
from hilum.stats import response as curves
from hilum.stats.arrays import Array
from hilum.stats.cardinal import Peak
from hilum.stats.thermal import Series, equivalent_hours

LONGEST_GAP = 12.0  # h; a chamber can drift far in a longer one, so its dishes keep their set point


@dataclass(frozen=True)
class Course:
    """The temperatures of one chamber during one test: `hours` since sowing (n,), `temperature` (°C, (n,))."""

    hours: Array
    temperature: Array

    @property
    def mean(self) -> float:
        """Return the mean temperature over the test (°C)."""
        steps = np.diff(self.hours)
        middle = (self.temperature[1:] + self.temperature[:-1]) / 2
        return float((steps * middle).sum() / steps.sum())


@dataclass(frozen=True)
class Log:
    """The course of each dish, None where its chamber was not logged through its test."""

    courses: tuple[Course | None, ...]

    @property
    def complete(self) -> bool:
        """Return whether every dish was logged."""
        return None not in self.courses

    def measured(self, series: Series) -> Series:
        """Return the series with the mean logged temperature of each dish in place of its set point."""
        temperature, weight = series.temperature.copy(), series.weight.copy()
        for dish, course in enumerate(self.courses):
            if course is not None:
                temperature[dish] = course.mean
                weight[dish] = 1 / weight.shape[1]
        return replace(series, temperature=temperature, weight=weight)

    def counted(self, series: Series, peak: Peak) -> Series:
        """Return the measured series with its hours counted by the rates of `peak`."""
        cells = series.cells
        hours = [h.copy() for h in (cells.start_h, cells.end_h, cells.censor_h)]
        for dish, course in enumerate(self.courses):
            if course is not None:
                for part in hours:
                    part[dish] = _counted(part[dish], course, peak)
        start, end, censor = hours
        changed = replace(cells, start_h=start, end_h=end, censor_h=censor)
        return replace(self.measured(series), cells=changed)


def of_sown(sown: Sown, tables: Tables) -> Log | None:
    """Return the log of the dishes of a series, None where no dish has one."""
    table = tables.get("chamber_log")
    if not table:
        return None
    last = sown.series.cells.last_h
    known: dict[tuple[str, str, float], Course | None] = {}
    courses = []
    for chamber, moment, end in zip(sown.chamber, sown.sown_at, last, strict=True):
        key = str(chamber), str(moment), float(end)
        if key not in known:
            known[key] = _course(table, *key) if chamber and moment else None
        courses.append(known[key])
    return Log(tuple(courses)) if any(course is not None for course in courses) else None


def _course(
    table: Mapping[str, np.ndarray], chamber: str, moment: str, end: float
) -> Course | None:
    """Return what a chamber was logged at from sowing to the last inspection, None where too little was."""
    mine = table["chamber"] == chamber
    at = np.array([_moment(text) for text in table["at"][mine]], dtype="datetime64[s]")
    hours = (at - _moment(moment)) / np.timedelta64(3600, "s")
    order = np.argsort(hours, kind="stable")
    hours, degrees = hours[order], table["temperature_c"][mine][order]
    if not len(hours):
        return None
    around = np.concatenate(([0.0], hours[(hours > 0) & (hours < end)], [end]))
    distance = np.abs(hours[:, None] - np.array([0.0, end])).min(0)
    if np.diff(around).max() > LONGEST_GAP or distance.max() > LONGEST_GAP:
        return None
    return Course(around, np.interp(around, hours, degrees))


def _moment(text: str) -> np.datetime64:
    return np.datetime64(str(text).rstrip("Z"), "s")


def _counted(hours: Array, course: Course, peak: Peak) -> Array:
    model = peak.model
    response = model.response
    assert response is not None  # noqa: S101

    def rate(temperature: Array) -> Array:
        return curves.rates(response, peak.parameters[: model.rate_parameters], temperature).value

    return equivalent_hours(
        hours, course.hours, rate(course.temperature), float(rate(np.array([course.mean]))[0])
    )

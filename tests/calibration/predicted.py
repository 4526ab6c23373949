"""What is true of predictions: the share germinated by a day, and the seeds that a wanted number takes.

A band is held against the share of all seeds of very many dishes. A number of seeds to sow is held against a sowing of
its own, drawn dish by dish: the seeds it took until the wanted number had germinated.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from hilum.analyses.estimate import Fit
from tests import generator
from tests.calibration.design import Key, Tables
from tests.calibration.sown import Sown
from tests.calibration.tally import Printed
from tests.calibration.warm import LOT, TREATMENT, Response

MANY = 8000  # dishes, by which the truth is known
MOST = 4000  # seeds of a sowing that is drawn
_TOLD = (0.03, 0.9999)  # of the share; outside it nothing is left to predict
_STEP = 5.0  # °C between temperatures that every table of sowings has
_HALF_UNIT = 5e-5  # what is printed has four digits
WANTED = (10, 50, 100)  # the settings of the calibration
DAYS = (4.0, 7.0, 14.0, 21.0, 28.0)
COURSE_H = np.arange(0, 28 * 24 + 1, 3.0)
# a spring: cold nights below the base, warm afternoons, two degrees and a half warmer each week
COURSE_C = 12.5 + 10 * COURSE_H / COURSE_H[-1] + 6 * np.cos(2 * np.pi * (COURSE_H - 6) / 24)
CONSTANT, ALONG = "predicted_at_constant", "predicted_along_course"
TO_SOW, TO_SOW_ALONG = "seeds_to_sow", "seeds_to_sow_along"


@dataclass(frozen=True)
class Predicted:
    """A study over temperatures, and a course, that are predicted."""

    response: Response
    experiment: Sown

    def draw(self, rng: np.random.Generator) -> Tables:
        """Return one study as checked tables, with the course."""
        course = {
            "course": np.full(len(COURSE_H), "spring"),
            "elapsed_h": COURSE_H,
            "temperature_c": COURSE_C,
        }
        return {**self.experiment.draw(rng), "temperature_courses": course}

    @cached_property
    def needed(self) -> np.ndarray:
        """Return the progress, 1 for the median seed, at which each seed of many dishes germinates."""
        dishes = self.experiment.dishes
        one = replace(dishes, t50_h=(1.0,), fraction=dishes.fraction[:1], dishes=MANY)
        return generator.times(one, studies=1, rng=np.random.default_rng(7))[0, 0]

    @cached_property
    def _sorted(self) -> np.ndarray:
        return np.sort(self.needed.ravel())

    def share(self, progress: np.ndarray) -> np.ndarray:
        """Return the share of all seeds that germinated by a progress."""
        return np.searchsorted(self._sorted, progress, side="right") / self._sorted.size

    def steady(self, temperature: float, day: float) -> float:
        """Return the progress by a day at a constant temperature."""
        return day * 24 / self.response.hours(temperature)

    @cached_property
    def _course(self) -> tuple[np.ndarray, np.ndarray]:
        """Return hours, and the progress along the course by then, added up every three minutes."""
        middle = np.arange(0.025, COURSE_H[-1], 0.05)
        degrees = np.interp(middle, COURSE_H, COURSE_C)
        return middle + 0.025, np.cumsum([0.05 / self.response.hours(float(t)) for t in degrees])

    def course(self, day: float) -> float:
        """Return the progress by a day along the course."""
        return float(np.interp(day * 24, *self._course))

    def took(self, wanted: int, progress: float, rng: np.random.Generator) -> float:
        """Return how many seeds of a new sowing it takes until so many germinate; inf beyond the most."""
        dishes = -(-MOST // self.experiment.dishes.seeds)
        ready = self.needed[rng.integers(0, MANY, dishes)].ravel() <= progress
        return (
            float(np.searchsorted(np.cumsum(ready), wanted) + 1)
            if ready.sum() >= wanted
            else np.inf
        )

    @cached_property
    def truths(self) -> Mapping[Key, float]:
        """Return what is true of every study: shares, and the seeds that a wanted number takes on average."""
        warmest = max(place.temperature_c for place in self.experiment.places)
        found = self._shares(warmest) | self._sowings(warmest)
        hours, progress = self._course
        half = float(np.median(self._sorted[np.isfinite(self._sorted)]))
        end = self.share(np.array(self.course(DAYS[-1])))
        if half < progress[-1]:
            found[Key("predicted_t50", LOT, TREATMENT)] = float(np.interp(half, progress, hours))
        return found | {Key("predicted_germinated", LOT, TREATMENT): float(end)}

    def _shares(self, warmest: float) -> dict[Key, float]:
        places = {
            Key(CONSTANT, LOT, TREATMENT, t, at=day): self.steady(t, day)
            for t in np.arange(1.0, warmest + 1)
            for day in DAYS
        }
        places |= {
            Key(ALONG, LOT, TREATMENT, at=float(day)): self.course(day) for day in range(1, 29)
        }
        shares = {key: float(self.share(np.array(x))) for key, x in places.items()}
        return {key: share for key, share in shares.items() if _TOLD[0] < share < _TOLD[1]}

    def _sowings(self, warmest: float) -> dict[Key, float]:
        places = [
            (Key(TO_SOW, LOT, TREATMENT, t, at=day), self.steady(t, day))
            for t in np.arange(_STEP, warmest + 1, _STEP)
            for day in DAYS
        ]
        places += [(Key(TO_SOW_ALONG, LOT, TREATMENT, at=day), self.course(day)) for day in DAYS]
        shares = [(key, float(self.share(np.array(x)))) for key, x in places]
        return {
            key._replace(wanted=wanted): wanted / share
            for key, share in shares
            for wanted in WANTED
            # what is sown for certainty is more than what it takes on average
            if share > _TOLD[0] and wanted / share < MOST / 4
        }

    def figures(self, study: int, fitted: Fit, rng: np.random.Generator) -> list[Printed]:
        """Return what the tables of predictions of a study say."""
        rows = fitted.rows
        found = [
            _of(study, key, row["low"] - _HALF_UNIT, row["high"] + _HALF_UNIT)
            for table, quantity in (("prediction", CONSTANT), ("course_prediction", ALONG))
            for row in rows.get(table, ())
            if (key := _key(quantity, row)) in self.truths
        ]
        return found + [
            _of(study, key, 0.0, row["seeds"], self.took(row["wanted"], self._at(key), rng))
            for table, quantity in (("sowing", TO_SOW), ("course_sowing", TO_SOW_ALONG))
            for row in rows.get(table, ())
            if row["seeds"] is not None
            and row["seeds"] <= MOST
            and (key := _key(quantity, row)._replace(wanted=row["wanted"])) in self.truths
        ]

    def _at(self, key: Key) -> float:
        assert key.at is not None
        if key.temperature_c is None:
            return self.course(key.at)
        return self.steady(key.temperature_c, key.at)


def _key(quantity: str, row: Mapping[str, Any]) -> Key:
    return Key(quantity, LOT, TREATMENT, row.get("temperature_c"), at=row["elapsed_d"])


def _of(study: int, key: Key, low: float, high: float, truth: float | None = None) -> Printed:
    return Printed(study, key, "estimated", low, high, "d", truth)

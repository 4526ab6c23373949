"""Count how often bands of predictions hold the truth, and whether sowings yield what they promise.

`python -m tests.calibration.predicted --studies 40` prints a line for each design and place: constant temperatures, and a
course. A band is held against the share of all seeds of all dishes that germinates by each day; a promise against new
sowings, drawn dish by dish.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from hilum.analyses.temperature import model
from tests import generator
from tests.calibration.designs import _LINE, _SIX, _TRIANGLE, NONE, ORDINARY, STRONG
from tests.calibration.run import SETTINGS
from tests.calibration.sown import Sown
from tests.calibration.warm import Response, series

MANY = 8000  # dishes, by which the truth is known
SOWINGS = 40  # new sowings for each number of the table
MOST = 4000  # seeds of a sowing that is drawn
_TOLD = (0.03, 0.9999)  # of the share; outside it nothing is left to predict
_EIGHT = tuple(float(t) for t in range(5, 41, 5))
COURSE_H = np.arange(0, 28 * 24 + 1, 3.0)
# a spring: cold nights below the base, warm afternoons, two degrees and a half warmer each week
COURSE_C = 12.5 + 10 * COURSE_H / COURSE_H[-1] + 6 * np.cos(2 * np.pi * (COURSE_H - 6) / 24)
DESIGNS: Mapping[str, tuple[Response, tuple[float, ...], Mapping[str, Any]]] = {
    "no spread": (_LINE, _SIX, NONE),
    "ordinary spread": (_LINE, _SIX, ORDINARY),
    "strong spread": (_LINE, _SIX, STRONG),
    "G 0.995": (_LINE, _SIX, {**ORDINARY, "fraction": 0.995}),
    "triangle": (_TRIANGLE, _EIGHT, ORDINARY),
}


@dataclass(frozen=True)
class Truth:
    """What is true of a design: `needed` (dishes, seeds) is the progress at which each seed germinates."""

    response: Response
    experiment: Sown

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

    def steady(self, temperature: float, days: Sequence[float]) -> np.ndarray:
        """Return the progress by each day at a constant temperature."""
        return np.array(days) * 24 / self.response.hours(temperature)

    def course(self, days: Sequence[float]) -> np.ndarray:
        """Return the progress by each day along the course, added up every three minutes."""
        middle = np.arange(0.025, COURSE_H[-1], 0.05)
        degrees = np.interp(middle, COURSE_H, COURSE_C)
        gone = np.cumsum([0.05 / self.response.hours(float(t)) for t in degrees])
        return np.interp(np.array(days) * 24, middle + 0.025, gone)

    def yielded(
        self, seeds: int, dish: int, progress: float, rng: np.random.Generator
    ) -> np.ndarray:
        """Return how many of the seeds germinate in each of new sowings."""
        dishes = -(-seeds // dish)
        picked = self.needed[rng.integers(0, MANY, (SOWINGS, dishes))].reshape(SOWINGS, -1)
        return (picked[:, :seeds] <= progress).sum(1)


@dataclass(frozen=True)
class Seen:
    """One study at one kind of place: cells of the band, how many missed on either side, the promises kept."""

    cells: int
    below: int
    above: int
    kept: tuple[float, ...]


def studies(name: str, dishes: int, number: int, seed: int) -> Iterator[dict[str, Seen]]:
    """Yield what came of each study: `constant` and `course`, empty where nothing is predicted."""
    response, temperatures, spread = DESIGNS[name]
    experiment = series(response, temperatures, **{**spread, "dishes": dishes})
    truth = Truth(response, experiment)
    table = {
        "course": np.full(len(COURSE_H), "spring"),
        "elapsed_h": COURSE_H,
        "temperature_c": COURSE_C,
    }
    for study in range(number):
        rng = np.random.default_rng([seed, dishes, study, *name.encode()])
        tables = {**experiment.draw(rng), "temperature_courses": table}
        fitted = model.fit(tables, settings=SETTINGS, rng=rng)
        group = fitted.drawing["groups"][0]
        yield _seen(group, truth, rng) if group.get("prediction") else {}


def _seen(group: Mapping[str, Any], truth: Truth, rng: np.random.Generator) -> dict[str, Seen]:
    found, course = group["prediction"], group["courses"][0]
    steady = [truth.steady(t, found["days"]) for t in found["temperatures"]]
    sown = found["sowing"]
    places = [truth.steady(t, sown["days"]) for t in sown["temperatures"]]
    along = course["sowing"]
    one = [[row] for row in along["seeds"]]
    return {
        "constant": _tallied(found, np.array(steady), sown, sown["seeds"], places, truth, rng),
        "course": _tallied(
            {k: [course[k]] for k in ("low", "high")},
            truth.course(course["days"])[None],
            along,
            one,
            [truth.course(along["days"])],
            truth,
            rng,
        ),
    }


def _tallied(
    band: Mapping[str, Any],
    progress: np.ndarray,
    sowing: Mapping[str, Any],
    seeds: Sequence[Sequence[Sequence[int | None]]],
    places: Sequence[np.ndarray],
    truth: Truth,
    rng: np.random.Generator,
) -> Seen:
    share = truth.share(progress)
    told = (share > _TOLD[0]) & (share < _TOLD[1])
    # what is printed has four digits
    low, high = (np.array(band[k]) + by for k, by in (("low", -5e-5), ("high", 5e-5)))
    kept = tuple(
        float((truth.yielded(n, sowing["dish"], by, rng) >= wanted).mean())
        for wanted, of_wanted in zip(sowing["wanted"], seeds, strict=True)
        for row, place in zip(of_wanted, places, strict=True)
        for n, by in zip(row, place, strict=True)
        if n is not None and n <= MOST
    )
    return Seen(
        int(told.sum()), int((told & (share < low)).sum()), int((told & (share > high)).sum()), kept
    )


def line(place: str, seen: Sequence[Mapping[str, Seen]]) -> str:
    """Return coverage and promises of one place over all studies, with their Monte-Carlo errors."""
    told = [s[place] for s in seen if s]
    if not told:
        return f"{place}: no study had a prediction"
    # cells of a study hold or miss together, so studies are what is counted
    sides = [np.array([getattr(s, k) / s.cells for s in told]) for k in ("below", "above")]
    held = 1 - sides[0] - sides[1]
    kept = np.array([np.mean(s.kept) for s in told if s.kept])
    return (
        f"{place}: band {_percent(held)}, truth below {100 * sides[0].mean():.1f}, above {100 * sides[1].mean():.1f}; "
        f"promises kept {_percent(kept)}; {len(told)} of {len(seen)} studies predicted"
    )


def _percent(values: np.ndarray) -> str:
    return f"{100 * values.mean():.1f} ± {100 * values.std() / np.sqrt(len(values)):.1f} %"


def main() -> None:
    """Print a line for each design, number of dishes and place."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--studies", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="designs with this in their name")
    chosen = parser.parse_args()
    for name in (n for n in DESIGNS if chosen.only in n):
        for dishes in (4, 2):
            seen = list(studies(name, dishes, chosen.studies, chosen.seed))
            lines = [line(place, seen) for place in ("constant", "course")]
            print(f"{name}, {dishes} dishes of 25", *lines, sep="\n    ", flush=True)


if __name__ == "__main__":
    main()

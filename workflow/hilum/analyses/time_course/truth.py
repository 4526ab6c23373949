"""Time courses drawn from a known truth: dishes, their counts, and what became of the other seeds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from hilum.analyses.simulated import as_table
from hilum.stats.families import named


@dataclass(frozen=True, kw_only=True)
class TrueCourse:
    """What is true of one lot, treatment and temperature.

    `germinable` seeds have a median time of `t50_h`; of the others `hard` stay hard, of the rest `fresh` stay
    fresh, the others are dead. `hard_alive` and `fresh_alive` are found alive when they are cut at the end.
    """

    lot: str = "first"
    treatment: str = "opened"
    temperature_c: float = 25.0
    germinable: float = 0.85
    t50_h: float = 120.0
    hard: float = 0.0
    fresh: float = 0.5
    hard_alive: float = 0.95
    fresh_alive: float = 0.8


@dataclass(frozen=True, kw_only=True)
class TimeCourseTruth:
    """What is true of an experiment: its courses, and how seeds and dishes differ.

    `sigma` is 1/slope; dishes differ by `dish_sd_log_time` on log time and `dish_sd_logit` on logit germinable.
    """

    courses: tuple[TrueCourse, ...] = (
        TrueCourse(),
        TrueCourse(treatment="intact", germinable=0.2, t50_h=200.0, hard=0.9),
    )
    family: str = "log_logistic"
    sigma: float = 0.15
    dishes: int = 4
    seeds: int = 25
    inspections_h: tuple[float, ...] = tuple(24.0 * day for day in range(1, 22))
    dish_sd_log_time: float = 0.05
    dish_sd_logit: float = 0.3
    assessed: bool = True


TRUTH = TimeCourseTruth()


def simulate(
    truth: TimeCourseTruth, *, rng: np.random.Generator
) -> dict[str, dict[str, np.ndarray]]:
    """Return the checked tables dishes, counts and (where assessed) outcomes of one experiment."""
    rows: dict[str, list[dict[str, Any]]] = {"dishes": [], "counts": [], "outcomes": []}
    for place, course in enumerate(truth.courses):
        for number in range(truth.dishes):
            name = f"{place + 1}{chr(ord('a') + number)}"
            rows["dishes"].append(_dish(truth, course, name))
            newly, outcomes = _counts(truth, course, rng)
            rows["counts"] += [
                {"dish": name, "elapsed_h": hour, "germinated": float(n)}
                for hour, n in zip(truth.inspections_h, newly, strict=True)
            ]
            rows["outcomes"] += [{"dish": name} | outcome for outcome in outcomes]
    if not truth.assessed:
        del rows["outcomes"]
    return {name: as_table(name, made) for name, made in rows.items()}


def _dish(truth: TimeCourseTruth, course: TrueCourse, name: str) -> dict[str, Any]:
    own = {"dish": name, "lot": course.lot, "treatment": course.treatment}
    return own | {"temperature_c": course.temperature_c, "seeds": float(truth.seeds)}


def _counts(
    truth: TimeCourseTruth, course: TrueCourse, rng: np.random.Generator
) -> tuple[np.ndarray, list[dict[str, Any]]]:
    """Return the newly germinated seeds of one dish, and its outcomes."""
    odds = course.germinable / max(1 - course.germinable, 1e-12)
    odds *= float(np.exp(truth.dish_sd_logit * rng.normal()))
    chance = odds / (1 + odds) if course.germinable < 1 else 1.0
    germinable = int(rng.binomial(truth.seeds, chance))
    z = named(truth.family).quantile(rng.uniform(size=germinable))
    slow = truth.dish_sd_log_time * rng.normal()
    times = course.t50_h * np.exp(slow + truth.sigma * z)
    newly = np.histogram(times, bins=np.array((0.0, *truth.inspections_h)))[0]
    left = truth.seeds - int(newly.sum())
    return newly, _outcomes(course, left, rng)


def _outcomes(course: TrueCourse, left: int, rng: np.random.Generator) -> list[dict[str, Any]]:
    hard = int(rng.binomial(left, course.hard))
    fresh = int(rng.binomial(left - hard, course.fresh))
    gone = left - hard - fresh
    found = (
        ("hard", hard, float(rng.binomial(hard, course.hard_alive)), "cutting"),
        ("fresh", fresh, float(rng.binomial(fresh, course.fresh_alive)), "tetrazolium"),
        ("dead", gone, float("nan"), "pressing"),
    )
    return [
        {"outcome": outcome, "seeds": float(n), "alive": alive, "assessed_by": by}
        for outcome, n, alive, by in found
        if n
    ]

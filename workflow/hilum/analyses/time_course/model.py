"""Time course of germination: how many by when, how fast, and whether treatments differ."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from hilum.analyses import dish_fit
from hilum.analyses.dishes import DishCounts, Key, assemble
from hilum.analyses.estimate import Estimate, Fit, Tables
from hilum.analyses.printer import Printer, number_or_none
from hilum.analyses.time_course import comparisons, curves, factors, finals, opening, speed
from hilum.analyses.time_course.truth import TRUTH, TimeCourseTruth, TrueCourse, simulate
from hilum.stats import curve_intervals, tolerance
from hilum.stats.proportions import wilson
from hilum.stats.residuals import Leverage

if TYPE_CHECKING:
    from hilum.settings import Settings

__all__ = ["TRUTH", "TimeCourseTruth", "TrueCourse", "fit", "simulate"]

_POINTS = 90  # of a drawn curve


def fit(tables: Tables, *, settings: Settings, rng: np.random.Generator) -> Fit:  # noqa: ARG001 (nothing is drawn here)
    """Return the estimates of every lot, treatment, temperature and condition, and their comparisons.

    `tables` needs dishes and counts; events, outcomes, weighings and treatments are used where given.
    """
    dishes = assemble(tables)
    groups = dishes.groups()
    spread = {
        "confidence": settings.confidence,
        "unknown": settings.dish_correlation_when_unknown,
    }
    final = finals.finals(dishes, groups, **spread)
    fates = finals.fates(dishes, groups, **spread)
    course = curves.course(
        dishes,
        groups,
        correlation_when_unknown=settings.dish_correlation_when_unknown,
        confidence=settings.confidence,
    )
    compared = comparisons.Compared(
        tuple(groups), final, fates, course, settings.equivalence_margin, settings.confidence
    )
    controls = comparisons.untreated(tables.get("treatments"))
    openers = comparisons.opening(tables.get("treatments"))
    versus, rows_of_pairs, chances = comparisons.compare(compared, controls)
    own = [
        e
        for i, (key, rows) in enumerate(groups.items())
        for e in _of_group(i, Printer(key, settings.confidence), dishes.take(rows), compared)
    ]
    rows = {"comparisons": rows_of_pairs, "factors": factors.tested(tuple(groups), final)}
    return Fit(
        (*own, *versus),
        lambda: _drawing(
            dishes, groups, compared, opening.told(compared, chances, controls, openers)
        ),
        {name: made for name, made in rows.items() if made},
    )


def _of_group(
    i: int, printer: Printer, dishes: DishCounts, data: comparisons.Compared
) -> list[Estimate]:
    return [
        finals.germinated_estimate(data.finals, i, printer),
        *curves.estimates(data.course, data.finals, i, printer),
        *finals.fate_estimates(data.fates, i, printer),
        *speed.estimates(dishes, printer),
    ]


def _drawing(
    dishes: DishCounts,
    groups: Mapping[Key, np.ndarray],
    data: comparisons.Compared,
    beside: Sequence[dict[str, Any]],
) -> dict[str, Any]:
    """Return what the charts and the page draw: steps, curves with bands, families, replicates."""
    course = data.course
    band = _band(course, data.confidence)
    top = course.candidates[0].aic
    return {
        "family": course.family.label,
        "scale": course.scale,
        "dish_spread_known": bool(course.dishes.known.all()) if len(groups) else False,
        "most_dishes": max(map(len, groups.values()), default=0),
        "single_seeds": bool(len(groups)) and bool(dishes.single.all()),
        "families": [
            {"label": c.family.label, "loglik": c.loglik, "aic_difference": c.aic - top}
            for c in course.candidates
        ],
        "groups": [
            _place(key) | _group(i, dishes.take(rows), data, band) | beside[i]
            for i, (key, rows) in enumerate(groups.items())
        ],
        "dishes": [
            row
            for i, (key, rows) in enumerate(groups.items())
            if course.fits.fitted[i]
            for row in _held(i, _place(key), dishes.take(rows), course)
        ],
    }


def _held(
    i: int, place: dict[str, Any], dishes: DishCounts, course: curves.Course
) -> list[dict[str, Any]]:
    """Return the dishes of a group beside its curve, of which each takes up as much as it has of the seeds."""
    seeds, germinated = dishes.cells.seeds, dishes.cells.germinated
    leverage = Leverage(seeds / seeds.sum(), germinated / germinated.sum())
    names = np.array(
        [
            d if phase == 1 else f"{d}, change {phase - 1}"
            for d, phase in zip(dishes.dish, dishes.phase, strict=True)
        ]
    )
    reached = partial(curves.reached, course, i)
    return dish_fit.held(names, dishes.chamber, dishes.cells, reached, leverage, place)


def _place(key: Key) -> dict[str, Any]:
    lot, treatment, degrees, words = key
    return {
        "lot": lot,
        "treatment": treatment,
        "temperature_c": number_or_none(degrees),
        "condition": words,
    }


def _group(
    i: int, dishes: DishCounts, data: comparisons.Compared, band: curve_intervals.Band
) -> dict[str, Any]:
    course = data.course
    return {
        "outcome": str(course.fits.outcome[i]),
        "complete": bool(course.complete[i] or course.all_germinated[i]),
        "seeds": float(dishes.seeds.sum()),
        "finished": bool(dishes.finished.all()),
        "changed": bool(not dishes.last.any()),
        "fates": _fates(data.fates, i),
        "phase": int(dishes.phase.max()),
        "batches": len(set(dishes.batch[dishes.batch != ""])),
        "chambers": len(set(dishes.chamber[dishes.chamber != ""])),
        "end_h": float(course.end_h[i]),
        "steps": [_steps(dishes, j) for j in range(len(dishes))],
        "mean": _mean_steps(data, i),
        "curve": _curve(data, band, i),
        "replicates": _replicates(data.finals, i),
    }


def _steps(dishes: DishCounts, j: int) -> dict[str, Any]:
    """Return the germinated fraction of one dish after each inspection."""
    real = np.flatnonzero(dishes.cells.end_h[j] > dishes.cells.start_h[j])
    # the seeds of a batch were sown singly, and looked at each in its own time
    real = real[np.argsort(dishes.cells.end_h[j][real], kind="stable")]
    share = np.cumsum(dishes.cells.count[j][real]) / max(float(dishes.seeds[j]), 1.0)
    return {
        "dish": str(dishes.dish[j]),
        "hours": dishes.cells.end_h[j][real].tolist(),
        "fraction": share.tolist(),
    }


def _mean_steps(data: comparisons.Compared, i: int) -> dict[str, Any]:
    """Return the germinated fraction of the seeds of the group after each inspection, to the last that its dishes share."""
    at, hits, seeds = _seen(data, i)
    return {"hours": at.tolist(), "fraction": (hits / np.maximum(seeds, 1.0)).tolist()}


def _seen(data: comparisons.Compared, i: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the inspections of a group (T,), the seeds germinated by each, and those followed so far."""
    rows = data.course.curves.rows[i]
    rows = rows[rows >= 0]
    cells = data.course.curves.cells.take(rows[data.finals.counted[rows]])
    at = np.unique(cells.end_h[cells.end_h > cells.start_h])
    at = at[at <= data.finals.at_h[i]]
    return (at, *finals.germinated_along(cells, at))


def _curve(data: comparisons.Compared, drawn: curve_intervals.Band, i: int) -> dict[str, Any]:
    """Return the fitted curve and its band; empty where nothing could be fitted."""
    course = data.course
    if not course.fits.fitted[i]:
        return {"hours": [], "fraction": [], "low": [], "high": []}
    at, fraction = _hours(course, i), drawn.fraction[i]
    high = np.maximum(np.minimum(drawn.high[i], _at_most(data, i, at)), fraction)
    # before the first seed there was nothing that a band could be made of
    told = at >= course.first_h[i]
    ends = {
        end: [float(y) if here else None for y, here in zip(values, told, strict=True)]
        for end, values in (("low", drawn.low[i]), ("high", high))
    }
    return {"hours": at.tolist(), "fraction": fraction.tolist()} | ends


def _at_most(data: comparisons.Compared, i: int, hours: np.ndarray) -> np.ndarray:
    """Return how many germinate by these hours (T,) at most, as the next inspection tells without any curve.

    The delta method knows of a curve near 0 next to nothing, and its band would begin as wide as it ends. Wilson's
    limit stands at half the chance of error, so that both together miss little more often than one.
    """
    at, hits, seeds = _seen(data, i)
    ends = data.finals.each_to_its_end.spread.shared_threshold(1 - (1 - data.confidence) / 2)[i]
    most = wilson(hits, seeds, np.full(len(at), float(ends)))[1]
    return np.asarray(most[np.minimum(np.searchsorted(at, hours), len(at) - 1)])


def _hours(course: curves.Course, i: int) -> np.ndarray:
    return np.linspace(course.end_h[i] / _POINTS, course.end_h[i], _POINTS)


def _band(course: curves.Course, confidence: float) -> curve_intervals.Band:
    hours = np.array([_hours(course, i) for i in range(len(course.end_h))]).reshape(-1, _POINTS)
    hours = np.where(hours > 0, hours, 1.0)  # nothing is drawn of a group that nobody inspected
    return curve_intervals.band(
        course.fits, course.dishes, course.family, hours, confidence=confidence
    )


def _fates(found: finals.FateShares, i: int) -> dict[str, float] | None:
    if not found.assessed[i]:
        return None
    shares = {
        "germinated": found.germinated,
        **{name: least for name, (least, _) in found.by_fate.items()},
        "unscored": found.unscored,
    }
    return {name: float(share.fraction[i]) for name, share in shares.items()}


def _replicates(found: finals.Finals, i: int) -> dict[str, Any] | None:
    """Return whether the dishes of a group lie as close together as chance allows, None where there is no telling."""
    compared = finals.replicates(found, i)
    if compared is None:
        return None
    mean, width, count, seeds = compared
    allowed = tolerance.tolerated(mean, count, seeds)
    if allowed is None:
        return None
    return {
        "dishes": count,
        "seeds": seeds,
        "mean": mean,
        "range": width,
        "tolerated": allowed.largest,
        "published": allowed.published,
        "within": width <= allowed.largest + 1e-9,
    }

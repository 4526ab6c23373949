"""How fast: the fitted curve of each group, its times, slope and germinable fraction."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from hilum.analyses.dishes import DishCounts, Key
from hilum.analyses.estimate import Estimate
from hilum.analyses.printer import Printer, hours
from hilum.analyses.time_course.finals import Finals
from hilum.stats import curve_intervals, germination_curve, spread
from hilum.stats.arrays import Array
from hilum.stats.curve_intervals import Curves, DishSpread, Limits
from hilum.stats.families import FAMILIES, LOG_LOGISTIC, Family
from hilum.stats.germination_curve import CurveFits, Window
from hilum.stats.interval_censored import log_hours

PARTS = {"t10": 0.1, "t50": 0.5, "t90": 0.9}
# G is told as a number only where this part of the germinable seeds surely germinated in the test
COMPLETE = 0.95
_PARAMETERS = 3
# a range that holds the truth less often than it misses it is worth nothing
_LEAST_CHANCE = 0.5
_FEW = 1.9  # degrees of freedom below which t is so large that little can be said: one pair has 1
_GO_ON = (
    "So few seeds germinated, or so late, that more may have been to come: sow more seeds, or go on "
    "inspecting until several inspections in a row find none."
)
_SOW_MORE_DISHES = (
    "The dishes differ, and so few cannot show how far: sow at least three, better four."
)
_STILL_GOING = "More seeds may have been to come after the last inspection; more seeds or a longer test could move this time."


@dataclass(frozen=True)
class Candidate:
    """One family fitted to all groups: log likelihood, and AIC with the likelihood scaled for dish spread."""

    family: Family
    fits: CurveFits
    loglik: float
    aic: float


@dataclass(frozen=True)
class Course:
    """The chosen curves of all groups (C) and their intervals.

    `candidates` are sorted by AIC, `scale` is how much wider dish spread makes the variance. `complete`
    marks groups of which COMPLETE of the germinable seeds surely germinated, `all_germinated` those without
    any seed left that could. The first seed was seen after `first_h`, the last inspection was at `end_h`; `window` is where a
    curve rises that rises all at once.
    """

    curves: Curves
    candidates: tuple[Candidate, ...]
    scale: float
    dishes: DishSpread
    times: Mapping[str, Limits]
    slope: Limits
    fraction: Limits
    complete: np.ndarray
    all_germinated: np.ndarray
    first_h: Array
    end_h: Array
    window: Window

    @property
    def family(self) -> Family:
        """Return the chosen family."""
        return self.candidates[0].family

    @property
    def fits(self) -> CurveFits:
        """Return the fits of the chosen family."""
        return self.candidates[0].fits


def course(
    dishes: DishCounts,
    groups: Mapping[Key, np.ndarray],
    *,
    correlation_when_unknown: float,
    confidence: float,
) -> Course:
    """Return the fitted curves of all groups: one family for the whole experiment, so that groups compare."""
    curves = Curves(dishes.cells, _rows(groups), np.zeros(len(groups), dtype=int))
    candidates, scale, spreads = _choose(curves, correlation_when_unknown)
    family, fits = candidates[0].family, candidates[0].fits
    pooled = curves.pooled()
    fraction = curve_intervals.fraction_limits(curves, fits, spreads, family, confidence=confidence)
    times = curve_intervals.all_quantile_limits(
        curves, fits, spreads, family, tuple(PARTS.values()), confidence=confidence
    )
    seen = pooled.count > 0
    return Course(
        curves,
        candidates,
        scale,
        spreads,
        dict(zip(PARTS, times, strict=True)),
        curve_intervals.slope_limits(curves, fits, spreads, family, confidence=confidence),
        fraction,
        _complete(curves, fits, spreads, family, correlation_when_unknown, confidence),
        _none_left(dishes, groups) & (pooled.germinated > 0),
        np.where(seen, pooled.start_h, np.inf).min(-1, initial=np.inf),
        pooled.last_h,
        germination_curve.window(pooled),
    )


def _none_left(dishes: DishCounts, groups: Mapping[Key, np.ndarray]) -> np.ndarray:
    """Return the groups in which no seed is left that could still germinate."""
    left = np.where(dishes.last, dishes.fates.waiting, dishes.cells.censored.sum(-1))
    return np.array([not left[rows].any() for rows in groups.values()], dtype=bool)


def reached(found: Course, i: int, hours: Array) -> Array:
    """Return the fitted share of the seeds of group i that germinates by `hours`, of any shape."""
    z = (log_hours(hours) - found.fits.log_t50[i]) / np.exp(found.fits.log_sigma[i])
    share: Array = found.fits.fraction[i] * np.exp(found.family.log_cdf(z))
    return np.where(hours > 0, share, 0.0)


def _complete(
    curves: Curves,
    fits: CurveFits,
    dishes: DishSpread,
    family: Family,
    correlation: float,
    confidence: float,
) -> np.ndarray:
    """Return which groups surely had COMPLETE of their germinable seeds germinated.

    F0(last) ≥ 0.95 says t95 ≤ last: the threshold is that of ln t95. A curve too steep to be fitted shows no dish
    spread; its seeds are taken to be correlated as the settings say.
    """
    z, sigma = float(family.quantile(np.asarray(COMPLETE))), np.exp(fits.log_sigma)
    contrast = np.stack((np.ones_like(sigma), z * sigma, np.zeros_like(sigma)), axis=-1)
    fitted = curve_intervals.thresholds(dishes, contrast, confidence=confidence).value
    a_dish = curves.pooled().germinated / np.maximum((curves.rows >= 0).sum(-1), 1)
    most = np.full(len(sigma), spread.MOST_DEGREES_OF_FREEDOM)
    steep = (1 + np.maximum(a_dish - 1, 0) * correlation) * spread.t_squared(most, confidence)
    threshold = np.where(fits.fitted, fitted, steep)
    return curve_intervals.surely_over(curves, fits, family, COMPLETE, threshold)


def _rows(groups: Mapping[Key, np.ndarray]) -> np.ndarray:
    widest = max((len(rows) for rows in groups.values()), default=1)
    table = np.full((len(groups), widest), -1)
    for i, rows in enumerate(groups.values()):
        table[i, : len(rows)] = rows
    return table


def _choose(
    curves: Curves, correlation_when_unknown: float
) -> tuple[tuple[Candidate, ...], float, DishSpread]:
    """Return the families by AIC, the scale, and the dish spread of the best; all have as many parameters."""
    pooled = curves.pooled()
    fits = [(family, germination_curve.fit(pooled, family)) for family in FAMILIES]
    best = max(fits, key=lambda one: float(one[1].loglik.sum()))
    dishes = curve_intervals.dish_spread(
        curves, best[1], best[0], correlation_when_unknown=correlation_when_unknown
    )
    fitted = best[1].fitted
    if not fitted.any():
        return (Candidate(LOG_LOGISTIC, fits[0][1], 0.0, 0.0),), 1.0, dishes
    scale = float(spread.mean_scale(dishes.scores, dishes.components)[fitted].mean())
    penalty = 2.0 * _PARAMETERS * int(fitted.sum())
    found = [
        Candidate(family, fit, total, -2 * total / scale + penalty)
        for family, fit in fits
        for total in [float(fit.loglik[fitted].sum())]
    ]
    return tuple(sorted(found, key=lambda c: c.aic)), scale, dishes


def estimates(found: Course, final: Finals, i: int, printer: Printer) -> list[Estimate]:
    """Return times, slope and germinable fraction of group i."""
    outcome = found.fits.outcome[i]
    if outcome == germination_curve.FITTED:
        return _fitted(found, final, i, printer)
    if outcome == germination_curve.TOO_FEW_INSPECTIONS:
        return _steep(found, final, i, printer)
    needs = {
        germination_curve.NONE_GERMINATED: "No seed germinated by the last inspection, so there is no "
        "time to estimate, and what would germinate later cannot be told.",
        germination_curve.NOT_INSPECTED: "No inspection has been recorded yet; count the seeds.",
    }[str(outcome)]
    names = ("germinable_fraction", *PARTS, "slope")
    method = "maximum likelihood on the counts between inspections"
    return [printer.not_identified(name, method=method, needs=needs) for name in names]


def method(found: Course, i: int) -> str:
    """Return how the figures of a fitted group were made."""
    seeds = found.curves.cells.seeds[found.curves.rows[i][found.curves.rows[i] >= 0]]
    if seeds.max(initial=0.0) <= 1:
        return f"{found.family.label} curve, profile likelihood of independent seeds"
    wider = "profile likelihood widened for dish spread"
    assumed = "" if found.dishes.known[i] else "; dish spread assumed, as no curve has two dishes"
    return f"{found.family.label} curve, {wider}{assumed}"


def _fitted(found: Course, final: Finals, i: int, printer: Printer) -> list[Estimate]:
    made = [_fraction(found, final, i, printer)]
    made += [_time(found, i, printer, name) for name in PARTS]
    made.append(_slope(found, i, printer))
    return made


def _fraction(found: Course, final: Finals, i: int, printer: Printer) -> Estimate:
    low, high = float(found.fraction.low[i]), float(found.fraction.high[i])
    how = method(found, i)
    if not (found.complete[i] or found.all_germinated[i]):
        return _fraction_bracket(found, final, i, printer, high, how)
    error = _error(found, i, np.array([0.0, 0.0, 1.0]))
    value = float(found.fits.fraction[i])
    return printer.estimated(
        "germinable_fraction", value, low, high, method=how, standard_error=error
    )


def _fraction_bracket(
    found: Course, final: Finals, i: int, printer: Printer, high: float, how: str
) -> Estimate:
    needs = _SOW_MORE_DISHES if _few_dishes(found, i) else _GO_ON
    low = min(float(final.each_to_its_end.low[i]), high)
    return printer.bracketed("germinable_fraction", low, high, method=how, needs=needs)


def _time(found: Course, i: int, printer: Printer, name: str) -> Estimate:
    z = float(found.family.quantile(np.asarray(PARTS[name])))
    sigma = float(np.exp(found.fits.log_sigma[i]))
    value = float(np.exp(found.fits.log_t50[i] + z * sigma))
    limits, how = found.times[name], method(found, i)
    low, high = float(limits.low[i]), float(limits.high[i])
    if np.isnan(low) or np.isnan(high) or value > found.end_h[i]:
        return printer.bracketed(
            name, low, high, method=how, needs=_time_needs(found, i, value, low)
        )
    error = _error(found, i, value * np.array([1.0, z * sigma, 0.0]))
    needs = "" if found.complete[i] or found.all_germinated[i] else _STILL_GOING
    return printer.estimated(name, value, low, high, method=how, standard_error=error, needs=needs)


def _few_dishes(found: Course, i: int) -> bool:
    """Return whether an interval is wide for want of dishes rather than of seeds or time."""
    return float(found.times["t90"].threshold.dof[i]) < _FEW


def _error(found: Course, i: int, gradient: Array) -> float | None:
    """Return the likelihood's own standard error, None for a boundary or a surface without a top."""
    variance = float(gradient @ found.fits.covariance[i] @ gradient)
    return float(np.sqrt(variance)) if variance > 0 else None


def _time_needs(found: Course, i: int, value: float, low: float) -> str:
    if found.all_germinated[i] and value > found.end_h[i]:
        return "All seeds had germinated sooner than any smooth curve says: inspect more often."
    if _few_dishes(found, i):
        return _SOW_MORE_DISHES
    if np.isnan(low):
        return "The first seeds germinated before the first inspections: inspect earlier and more often."
    end = hours(float(found.end_h[i]))
    return (
        f"The test ended at {end}, perhaps before this part of the seeds had germinated: go on inspecting, "
        "or sow more seeds."
    )


def _slope(found: Course, i: int, printer: Printer) -> Estimate:
    low, high = float(found.slope.low[i]), float(found.slope.high[i])
    if np.isnan(low) or np.isnan(high):
        needs = (
            "The seeds germinated within so few inspections that any steeper curve fits as well."
        )
        return printer.bracketed("slope", low, high, method=method(found, i), needs=needs)
    value = float(np.exp(-found.fits.log_sigma[i]))
    error = _error(found, i, np.array([0.0, -value, 0.0]))
    how = method(found, i)
    return printer.estimated("slope", value, low, high, method=how, standard_error=error)


def _steep(found: Course, final: Finals, i: int, printer: Printer) -> list[Estimate]:
    """Return what two adjacent inspections tell: the times lie between them, the slope is anything steep."""
    first, last = float(found.window.low_h[i]), float(found.window.high_h[i])
    how = "inspections between which all seeds germinated"
    needs = (
        f"All seeds that germinated did so between {hours(first)} and {hours(last)}, within two "
        "inspections: inspect more often in that time, or sow more seeds."
    )
    made = [_steep_fraction(found, final, i, printer)]
    for name, part in PARTS.items():
        chance = _chance_to_hold(found, final, i, part)
        if chance < _LEAST_CHANCE:
            why = f"{needs} So few seeds do not say within which time a share of {100 * part:.0f} % germinates."
            made.append(printer.not_identified(name, method=how, needs=why))
            continue
        sure = min(chance, printer.confidence)
        told = needs + (
            _only(found, i, part, printer.confidence, sure) if sure < printer.confidence else ""
        )
        made.append(printer.bracketed(name, first, last, method=how, needs=told, confidence=sure))
    return [*made, printer.not_identified("slope", method=how, needs=needs)]


def _chance_to_hold(found: Course, final: Finals, i: int, part: float) -> float:
    """Return the chance that a window that holds n seeds holds the time of a share of them: 1 − pⁿ − (1 − p)ⁿ.

    It fails where all n seeds are earlier than that time, or all later. Seeds of a dish are alike, so n is divided
    by the design effect of their correlation. # sign interval of a quantile (Thompson 1936)
    """
    pooled = found.curves.pooled()
    seeds, dishes = float(pooled.germinated[i]), float((found.curves.rows[i] >= 0).sum())
    rho = float(final.each_to_its_end.correlation.rho)
    n = seeds / (1 + max(seeds / dishes - 1, 0.0) * rho)
    return float(1 - part**n - (1 - part) ** n)


def _only(found: Course, i: int, part: float, wanted: float, sure: float) -> str:
    n = 1
    while 1 - part**n - (1 - part) ** n < wanted:
        n += 1
    seeds = float(found.curves.pooled().germinated[i])
    return (
        f" That is the range of the {seeds:g} seeds that germinated, and holds this figure with {100 * sure:.0f} % confidence "
        f"only: about {n} seeds would hold it with {100 * wanted:.0f} %."
    )


def _steep_fraction(found: Course, final: Finals, i: int, printer: Printer) -> Estimate:
    share = final.each_to_its_end
    low, high, how = float(share.low[i]), float(share.high[i]), share.method(i)
    if found.complete[i] or found.all_germinated[i]:
        value = float(share.fraction[i])
        return printer.estimated("germinable_fraction", value, low, high, method=how)
    return _fraction_bracket(found, final, i, printer, 1.0, how)

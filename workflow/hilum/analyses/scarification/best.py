"""The best dose of each series: whether it can be told, its interval, and the window around it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import expit

from hilum.analyses.estimate import Estimate
from hilum.analyses.printer import Printer
from hilum.analyses.scarification.harm import coats
from hilum.analyses.scarification.sown import OPENED, PLAIN, Sown
from hilum.analyses.scarification.words import Outcome, needs
from hilum.stats import scarification, spread
from hilum.stats.arrays import Array
from hilum.stats.scarification_curves import Named, measured

# how far beyond the doses tried the curve is followed to see where its top lies, on log dose
_BELOW, _ABOVE = 1.5, 1.0
_FEWEST_DOSES = 4
_ALL_DEAD = 0.9
_PERMEABLE = 0.1  # of untreated seeds hard: with fewer there is hardly a coat to open
_QUANTITIES: tuple[Named, ...] = ("best", "germinated", "window_low", "window_high")


@dataclass(frozen=True)
class Found:
    """What a series tells of its best dose: `values` and `ends` on log dose and logit, where it could be fitted."""

    sown: Sown
    outcome: Outcome
    fitted: scarification.DoseFit | None
    values: dict[str, float]
    ends: dict[str, scarification.Ends]
    assumed: bool


def find(series: Sequence[Sown], *, unknown: float, confidence: float) -> list[Found]:
    """Return what each series tells; dish and bath effects are pooled over the experiment."""
    before = [_before(sown, unknown, confidence) for sown in series]
    fits = [
        scarification.fit(sown.arrays()) if outcome == "estimated" else None
        for sown, outcome in zip(series, before, strict=True)
    ]
    found = []
    for sown, outcome, fitted in zip(series, before, fits, strict=True):
        if fitted is None:
            found.append(Found(sown, outcome, None, {}, {}, False))
            continue
        alike = [f for f, s in zip(fits, series, strict=True) if f and s.by_bath == sown.by_bath]
        pooled, assumed = _components(fitted, alike, sown, unknown)
        found.append(_found(sown, fitted, pooled, assumed, confidence))
    return found


def _before(sown: Sown, unknown: float, confidence: float) -> Outcome:
    """Return why a series cannot be fitted, or `estimated`."""
    if sown.left_out and not sown.doses:
        return "not_assessed"
    if len(sown.doses) + bool(sown.of(PLAIN)) < _FEWEST_DOSES:
        return "not_assessed" if sown.left_out else "too_few_doses"
    dosed = np.sum([u.fates for u in sown.units if u.kind not in (PLAIN, OPENED)], axis=0)
    if dosed[0] == 0:
        opened = dosed.sum() - dosed[3]
        return "all_dead" if opened and dosed[4] > _ALL_DEAD * opened else "none_germinated"
    # every dose has a chance of its own to look as if it had opened coats (Bonferroni)
    each = 1 - (1 - confidence) / len(sown.doses)
    _, plain, share = coats(sown, unknown, each)
    if plain is not None and plain.value[0] < _PERMEABLE:
        return "not_closed"
    if plain is not None and not (share[0] - share[1] > 0).any():
        return "not_opened"
    return "estimated"


def _components(
    fitted: scarification.DoseFit,
    alike: Sequence[scarification.DoseFit],
    sown: Sown,
    unknown: float,
) -> tuple[spread.Components, bool]:
    moments = [spread.moments(f.scores) for f in alike]
    parts = ("seen", "expected", "gain", "weight", "squared_weight")
    summed = spread.Moments(*(np.sum([getattr(m, p) for m in moments], axis=0) for p in parts))
    pooled = spread.components(summed)
    if sown.replicated:
        return pooled, False
    least = scarification.assumed(fitted, unknown)
    return spread.Components(np.maximum(pooled.variance, least.variance), least.dof), True


def _found(
    sown: Sown,
    fitted: scarification.DoseFit,
    pooled: spread.Components,
    assumed: bool,
    confidence: float,
) -> Found:
    lowest, highest = float(np.log(sown.doses[0])), float(np.log(sown.doses[-1]))
    at, _ = measured(fitted.parameters, lowest - _BELOW, highest + _ABOVE, "best")
    outcome: Outcome = "above" if at >= highest else "below" if at <= lowest else "estimated"
    # a best outside the doses is not followed: what is told is told of the doses tried
    edges = (
        (lowest if outcome == "below" else lowest - _BELOW),
        (highest if outcome == "above" else highest + _ABOVE),
    )

    def of(name: Named) -> scarification.Measure:
        return lambda parameters: measured(parameters, *edges, name)

    ends: dict[str, scarification.Ends] = {
        name: scarification.limits(fitted, pooled, of(name), confidence=confidence)
        for name in _QUANTITIES
    }
    values: dict[str, float] = {name: of(name)(fitted.parameters)[0] for name in _QUANTITIES}
    if outcome == "estimated" and ends["best"].high > highest:
        outcome = "open_above"
    elif outcome == "estimated" and not np.isfinite(ends["best"].low):
        outcome = "open_below"
    return Found(sown, outcome, fitted, values, ends, assumed)


def estimates(found: Found, printer: Printer, unknown: float) -> list[Estimate]:
    """Return best dose, germination there, and the window."""
    sown = found.sown
    names = (sown.series.quantity, "germination_at_best", "window_low", "window_high")
    how, why = _method(found, unknown), needs(found.outcome, sown)
    if found.fitted is None:
        return [
            printer.not_identified(name, method=how, needs=why, **_unit(sown, name))
            for name in names
        ]
    return [
        _best(found, printer, how, why),
        _germination(found, printer, how, why),
        _window(found, printer, how, low=True),
        _window(found, printer, how, low=False),
    ]


def _unit(sown: Sown, name: str) -> dict[str, str]:
    return {} if name == "germination_at_best" else {"unit": sown.series.unit}


def _method(found: Found, unknown: float) -> str:
    sown = found.sown
    if found.fitted is None:
        return "two binomial curves of dose"
    what = "baths, or dishes of seeds that had none" if sown.by_bath else "dishes"
    if found.assumed:
        return f"profile likelihood; one dish at each dose (dish spread assumed, correlation {unknown:g})"
    return f"profile likelihood, widened for the spread between {what} ({len(sown.units)})"


def _dose(found: Found, name: str) -> tuple[float, float, float]:
    """Return value and ends of a dose, nan for an end that is not there or lies above the doses tried."""
    highest = found.sown.doses[-1]
    ends = found.ends[name]
    with np.errstate(over="ignore"):
        value, low, high = (float(np.exp(x)) for x in (found.values[name], ends.low, ends.high))
    return value, low if np.isfinite(ends.low) else np.nan, high if high <= highest else np.nan


def _best(found: Found, printer: Printer, how: str, why: str) -> Estimate:
    sown = found.sown
    quantity, more = sown.series.quantity, {"unit": sown.series.unit, "method": how}
    value, low, high = _dose(found, "best")
    if found.outcome == "estimated":
        return printer.estimated(quantity, value, low, high, **more)
    if found.outcome == "above":
        # germination is within five points of that at the highest dose from here on
        low, high = _dose(found, "window_low")[1], np.nan
        low = sown.doses[0] if np.isnan(low) else low
    if found.outcome == "below":
        low, high = 0.0, _dose(found, "window_high")[2]
        high = sown.doses[-1] if np.isnan(high) else high
    if found.outcome == "open_below":
        low = 0.0
    return printer.bracketed(quantity, low, high, needs=why, **more)


def _germination(found: Found, printer: Printer, how: str, why: str) -> Estimate:
    ends = found.ends["germinated"]
    value, low, high = (float(expit(x)) for x in (found.values["germinated"], ends.low, ends.high))
    name = "germination_at_best"
    if found.outcome in ("above", "below"):
        return printer.bracketed(name, low, np.nan, method=how, needs=why)
    return printer.estimated(name, value, low, high, method=how)


def _window(found: Found, printer: Printer, how: str, *, low: bool) -> Estimate:
    sown, name = found.sown, "window_low" if low else "window_high"
    more = {"unit": sown.series.unit, "method": how}
    value, first, last = _dose(found, name)
    why = needs(found.outcome, sown)
    # the window is one around the best: where that lies outside, so may its ends
    if found.outcome == "above":
        end = np.nanmax([first, sown.doses[0]]) if low else sown.doses[-1]
        return printer.bracketed(name, end, np.nan, needs=why, **more)
    if found.outcome == "below":
        last = _dose(found, "window_high")[2]
        end = last if np.isfinite(last) else sown.doses[-1]
        return printer.bracketed(name, 0.0, end, needs=why, **more)
    if np.isfinite(value) and np.isfinite(first) and np.isfinite(last):
        return printer.estimated(name, value, first, last, **more)
    if low:
        high = last if np.isfinite(last) else sown.doses[-1]
        return printer.bracketed(name, 0.0, high, needs=needs("open_below", sown), **more)
    first = min(first, sown.doses[-1]) if np.isfinite(first) else sown.doses[-1]
    return printer.bracketed(name, first, np.nan, needs=needs("open_above", sown), **more)


def curve(found: Found, points: int = 81) -> Array:
    """Return the doses at which the fitted curves are drawn, (points,)."""
    lowest, highest = found.sown.doses[0], found.sown.doses[-1]
    return np.unique(
        [*np.geomspace(lowest / 10, lowest, 15), *np.linspace(lowest, highest, points)]
    )

"""What is printed of one store: viability at each test, the times to a half and to 85 %, what to expect later."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import ndtr

from hilum.analyses.estimate import Estimate
from hilum.analyses.printer import Printer
from hilum.analyses.quantities import DAYS_A_MONTH
from hilum.analyses.storage.falling import Falling, Measure
from hilum.analyses.storage.stored import SOWN
from hilum.analyses.storage.words import CUT, FAR, NEARLY, OPEN, VAGUE, needs, untested
from hilum.stats import viability
from hilum.stats.arrays import Array
from hilum.stats.scarification_harm import Limited, limited
from hilum.stats.viability import Stored

SHARE = 0.85  # of the viability before storage


def to_share(stored: Stored, at: Array) -> Array:
    """Return the days until 85 % of the viability before storage are left."""
    return viability.time_to_share(stored, at, SHARE)


def probit_at(days: float) -> Measure:
    """Return the measure of the probit after some days."""
    return lambda stored, at: viability.probit(stored, at, days)


TIMES: dict[str, Measure] = {
    "half_viability_period": viability.half_viability_period,
    "p85": to_share,
    "sigma": viability.sigma,
}


@dataclass(frozen=True)
class Claim:
    """A time in days: `value` nan where none is claimed, an open end 0 or infinite; why there is no value."""

    value: float
    low: float
    high: float
    needs: str = ""


def claim(found: Falling, quantity: str) -> Claim:
    """Return what is claimed of a time: nothing beyond what was tested twice over."""
    kept, outcome = found.kept, found.outcome
    if not found.fits:
        return _without_a_fit(found, quantity)
    if outcome == "rising" or (outcome == "low_start" and quantity == "half_viability_period"):
        return Claim(np.nan, 0.0, np.inf, _why(found))
    value, ends = found.value(TIMES[quantity]), found.ends(TIMES[quantity])
    bounded = quantity != "sigma"
    low = min(ends.low, FAR * kept.last) if bounded else ends.low
    if kept.unknown_share > VAGUE:
        return Claim(np.nan, low, ends.high, _why(found))
    near = np.isfinite(value) and (value <= FAR * NEARLY * kept.last or not bounded)
    if np.isfinite(ends.high) and not near:
        return Claim(np.nan, low, np.inf, needs("far", kept))
    if np.isinf(ends.high) or (bounded and ends.high > OPEN * kept.last):
        return Claim(np.nan, low, np.inf, needs("unsure" if near else "no_fall", kept))
    return Claim(value, ends.low, ends.high)


def _why(found: Falling) -> str:
    share = found.kept.unknown_share
    return (
        CUT.format(share=f"{100 * share:.2g} %")
        if share > VAGUE
        else needs(found.outcome, found.kept)
    )


def _without_a_fit(found: Falling, quantity: str) -> Claim:
    """Return between which tests a time lies, without any curve: after those with surely more alive, before those with less."""
    kept, why = found.kept, _why(found)
    nothing = Claim(np.nan, 0.0, np.inf, why)
    if not kept.told or quantity == "sigma" or (quantity == "p85" and found.outcome != "all_dead"):
        return nothing
    # one of several times could look so by chance
    least, most = _shares(found, 1 - (1 - found.confidence) / len(kept.times))
    times = np.array(kept.times)
    low = float(times[least.low > 1 / 2].max(initial=0.0))
    high = float(times[most.high < 1 / 2].min(initial=np.inf))
    return Claim(np.nan, low, high, why) if low < high else nothing


def _shares(found: Falling, confidence: float) -> tuple[Limited, Limited]:
    """Return the shares alive at each time, with seeds of which nobody knows taken as dead, and as alive."""
    _, *numbers = found.kept.counts()
    seeds, alive, unknown = (found.kept.by_time(values) for values in numbers)
    least, most = (
        limited(hits, seeds, unknown=found.correlation, confidence=confidence)
        for hits in (alive, alive + unknown)
    )
    return least, most


def estimates(found: Falling, printer: Printer, months: Sequence[float]) -> list[Estimate]:
    """Return all estimates of one store."""
    how = method(found)
    made = [_claimed(printer, quantity, claim(found, quantity), how) for quantity in TIMES]
    made.insert(2, _ki(found, printer, how))
    made += [_expected(found, printer, month, how) for month in months]
    return made + _seen(found, printer)


def method(found: Falling) -> str:
    """Return how the figures of a curve were found."""
    if not found.fits:
        return "probit of viability against storage time"
    what = "dishes" if found.kept.test == SOWN else "samples"
    if found.assumed:
        spread = f"dish spread assumed, correlation {found.correlation:g}"
    else:
        spread = f"widened for the spread between {what} ({len(found.kept.told)})"
    unknown = "; seeds of which nobody knows taken as dead or alive" if len(found.fits) > 1 else ""
    return f"profile likelihood of a falling probit, {spread}{unknown}"


def _claimed(printer: Printer, quantity: str, told: Claim, how: str) -> Estimate:
    if not told.needs:
        return printer.estimated(quantity, told.value, told.low, told.high, method=how)
    low = told.low if told.low > 0 or np.isfinite(told.high) else np.nan
    return printer.bracketed(quantity, low, told.high, method=how, needs=told.needs)


def _ki(found: Falling, printer: Printer, how: str) -> Estimate:
    if not found.fits or found.kept.unknown_share > VAGUE:
        return printer.not_identified("ki", method=how, needs=_why(found))
    ends = found.ends(lambda _, at: viability.ki(at))
    value = found.value(lambda _, at: viability.ki(at))
    return printer.estimated("ki", value, ends.low, ends.high, method=how)


def _expected(found: Falling, printer: Printer, month: float, how: str) -> Estimate:
    """Return the share expected alive after some months; long after the last test, at most that of the last test."""
    quantity, days, last = "predicted_viability", month * DAYS_A_MONTH, found.kept.last
    when: dict[str, Any] = {"at": float(month), "at_unit": "months"}
    if not found.fits or found.outcome == "rising":
        return printer.not_identified(quantity, method=how, needs=_why(found), **when)
    if days > FAR * NEARLY * last:
        high = ndtr(found.ends(probit_at(last)).high)
        return printer.bracketed(
            quantity, np.nan, high, method=how, needs=untested(found.kept), **when
        )
    ends = found.ends(probit_at(days))
    low, high = ndtr(ends.low), ndtr(ends.high)
    if found.kept.unknown_share > VAGUE:
        return printer.bracketed(quantity, low, high, method=how, needs=_why(found), **when)
    return printer.estimated(
        quantity, ndtr(found.value(probit_at(days))), low, high, method=how, **when
    )


def _seen(found: Falling, printer: Printer) -> list[Estimate]:
    """Return the share alive at each time that was tested."""
    if not found.kept.told:
        return []
    least, most = _shares(found, found.confidence)
    how = "Wilson limits, widened for the spread between dishes"
    made = []
    for i, days in enumerate(found.kept.times):
        when: dict[str, Any] = {"at": days, "at_unit": "d", "method": how}
        if most.value[i] - least.value[i] > VAGUE:
            why = CUT.format(share=f"{100 * (most.value[i] - least.value[i]):.2g} %")
            made.append(
                printer.bracketed("viability", least.low[i], most.high[i], needs=why, **when)
            )
        else:
            made.append(
                printer.estimated("viability", least.value[i], least.low[i], most.high[i], **when)
            )
    return made

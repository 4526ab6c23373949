"""Numbers as pages print them: as many digits as the interval allows, never without a unit."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

from markupsafe import Markup

from hilum.analyses import rounding
from hilum.analyses.estimate import Estimate
from hilum.analyses.quantities import clock, told_in
from hilum.report.markup import escape, ours

# a share is told to the percent at least: rounded to tens, an end of 5 % would read 10 %
_TO_THE_PERCENT = 35.0
MINUS = "\N{MINUS SIGN}"
GAP = "\N{NO-BREAK SPACE}"
DEFAULT_DIGITS = 3


def decimals(half_width: float) -> int:
    """Return how many decimals an interval of this half-width supports; negative for tens.

    The rounding rule of the Particle Data Group (Review of Particle Physics, introduction, section 5.3):
    of the three leading digits, 100 to 354 keep two, 355 to 949 keep one, 950 to 999 round up to 1000
    and keep two.
    """
    exponent = math.floor(math.log10(half_width))
    leading = round(half_width / 10**exponent * 100)
    if leading < 355:
        return 1 - exponent
    return -exponent


def _plain(value: float, half_width: float | None) -> str:
    if value == 0:
        return "0"
    if not half_width:
        leading = math.floor(math.log10(abs(value)))
        short = float(rounding.rounded(value, DEFAULT_DIGITS - 1 - leading))
        return f"{short:.10g}".replace("-", MINUS)
    return rounding.shown(value, decimals(half_width)).replace("-", MINUS)


def _scaled(value: float, unit: str) -> tuple[float, str]:
    return (100 * value, "%") if unit == "fraction" else (value, unit)


def with_unit(text: str, unit: str) -> Markup:
    """Return a number that is text already with its unit, no break between them."""
    shown = ours(text)
    return shown if unit in ("", "ratio") else shown + GAP + escape(unit)


def number(value: float, unit: str = "", *, half_width: float | None = None) -> Markup:
    """Return a number with its unit: to the digits that its half-width allows, else three.

    A fraction is printed in percent.
    """
    shown, name = _scaled(float(value), unit)
    return with_unit(_plain(shown, half_width and _told_to(half_width, unit)), name)


def _told_to(half_width: float, unit: str) -> float:
    """Return the half-width that decides the digits, in the unit as printed."""
    half = _scaled(half_width, unit)[0]
    return min(half, _TO_THE_PERCENT) if unit == "fraction" else half


def _half_width(estimate: Estimate) -> float | None:
    """Return the half-width that decides the digits: that of the narrower side, where there are two."""
    if estimate.low is None or estimate.high is None:
        return None
    half = (estimate.high - estimate.low) / 2
    if estimate.value is None or estimate.value in (estimate.low, estimate.high):
        return half
    sides = (estimate.value - estimate.low, estimate.high - estimate.value)
    # a side can be next to nothing, and its digits would be too
    return max(min(sides), half / 10)


def _estimated(estimate: Estimate) -> Markup:
    value, low, high = (_shown(n, estimate) for n in (estimate.value, estimate.low, estimate.high))
    unit = _unit_of(estimate)
    return with_unit(value, unit) + with_unit(f" ({low} to {high}", unit) + ")"


def _bracketed(estimate: Estimate) -> Markup:
    low, high = _shown(estimate.low, estimate), _shown(estimate.high, estimate)
    words = (
        f"between {low} and {high}" if low and high else f"above {low}" if low else f"below {high}"
    )
    return with_unit(words, _unit_of(estimate))


def _unit_of(estimate: Estimate) -> str:
    """Return the unit as printed: two percentages differ by points, since 5 % less than 80 % could be 76 %."""
    name = _scaled(0.0, estimate.unit)[1]
    return "points" if name == "%" and estimate.quantity == "difference" else name


def _shown(value: float | None, estimate: Estimate) -> str:
    """Return one number of an estimate without its unit; an open end is empty."""
    half = _half_width(estimate)
    scale = _scaled(1.0, estimate.unit)[0]
    return "" if value is None else _plain(scale * value, half and _told_to(half, estimate.unit))


Unit = tuple[float, str]


def _numbers(estimate: Estimate) -> list[float]:
    return [n for n in (estimate.value, estimate.low, estimate.high) if n is not None]


def alike(estimates: Iterable[Estimate]) -> dict[str, Unit]:
    """Return the larger unit of each quantity that most of its estimates are told in, if all can be told in it.

    Beside `5.1 d`, `67.6 h` would have to be worked out. Less than one of the unit stays in its own.
    """
    units: dict[str, list[Unit]] = {}
    least: dict[str, float] = {}
    for estimate in estimates:
        if numbers := _numbers(estimate):
            name = estimate.quantity
            units.setdefault(name, []).append(told_in(name, estimate.unit, *numbers))
            least[name] = min(least.get(name, math.inf), *map(abs, numbers))
    usual = {name: Counter(told).most_common(1)[0][0] for name, told in units.items()}
    return {name: unit for name, unit in usual.items() if least[name] >= unit[0] > 1}


def _as_told(estimate: Estimate, unit_beside: Unit | None) -> Estimate:
    """Return an estimate in the unit that people think of it in; an interval keeps to one unit."""
    numbers = _numbers(estimate)
    parts, unit = unit_beside or told_in(estimate.quantity, estimate.unit, *numbers)
    if parts == 1:
        return estimate
    value, low, high = (
        None if n is None else n / parts for n in (estimate.value, estimate.low, estimate.high)
    )
    return replace(estimate, unit=unit, value=value, low=low, high=high)


def duration(hours: float) -> Markup:
    """Return hours of a germination test as people think of them: `36 h`, `21 d`."""
    parts, unit = clock(hours)
    return number(hours / parts, unit)


def interval(estimate: Estimate, unit: Unit | None = None) -> Markup:
    """Return an estimate as it stands in a sentence: `10.2 °C (9.8 to 10.7 °C)`, or its bracket.

    `unit` is that of the estimates beside it, of `alike`.
    """
    if estimate.status == "not_identified":
        return Markup("not identified")
    if estimate.unit == "yes/no":
        return escape(
            "not settled" if estimate.value is None else ("no", "yes")[int(estimate.value)]
        )
    told = _as_told(estimate, unit)
    return _estimated(told) if estimate.status == "estimated" else _bracketed(told)

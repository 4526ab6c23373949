"""Numbers as pages print them: as many digits as the interval allows, never without a unit."""

from __future__ import annotations

import math

from markupsafe import Markup

from hilum.analyses.estimate import Estimate
from hilum.report.markup import escape, ours

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
        return f"{float(f'{value:.{DEFAULT_DIGITS}g}'):.10g}".replace("-", MINUS)
    places = decimals(half_width)
    shown = f"{round(value, places):.{max(places, 0)}f}"
    # a small loss rounds to −0.0, which no person would write
    negative = shown.startswith("-") and float(shown) != 0
    return (MINUS if negative else "") + shown.lstrip("-")


def _scaled(value: float, unit: str) -> tuple[float, str]:
    return (100 * value, "%") if unit == "fraction" else (value, unit)


def _with_unit(text: str, unit: str) -> Markup:
    shown = ours(text)
    return shown if unit in ("", "ratio") else shown + GAP + escape(unit)


def number(value: float, unit: str = "", *, half_width: float | None = None) -> Markup:
    """Return a number with its unit: to the digits that its half-width allows, else three.

    A fraction is printed in percent.
    """
    shown, name = _scaled(float(value), unit)
    half = None if half_width is None else _scaled(half_width, unit)[0]
    return _with_unit(_plain(shown, half), name)


def _ends(estimate: Estimate) -> tuple[str, str, str]:
    """Return both ends of an interval to one precision, and the unit; an open end is empty."""
    ends = [
        None if e is None else _scaled(e, estimate.unit)[0] for e in (estimate.low, estimate.high)
    ]
    given = [e for e in ends if e is not None]
    half = abs(given[-1] - given[0]) / 2
    low, high = ("" if e is None else _plain(e, half) for e in ends)
    return low, high, _scaled(0.0, estimate.unit)[1]


def _estimated(estimate: Estimate) -> Markup:
    low, high, unit = _ends(estimate)
    assert estimate.value is not None and estimate.low is not None and estimate.high is not None  # noqa: S101
    value = number(estimate.value, estimate.unit, half_width=(estimate.high - estimate.low) / 2)
    return value + _with_unit(f" ({low} to {high}", unit) + ")"


def interval(estimate: Estimate) -> Markup:
    """Return an estimate as it stands in a sentence: `10.2 °C (9.8 to 10.7 °C)`, or its bracket."""
    if estimate.unit == "yes/no":
        return escape(
            "not settled" if estimate.value is None else ("no", "yes")[int(estimate.value)]
        )
    if estimate.status == "not_identified":
        return Markup("not identified")
    if estimate.status == "estimated":
        return _estimated(estimate)
    low, high, unit = _ends(estimate)
    words = {(True, True): f"between {low} and {high}", (True, False): f"above {low}"}
    return _with_unit(words.get((bool(low), bool(high)), f"below {high}"), unit)

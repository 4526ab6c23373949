"""The one rule by which numbers are rounded for people, in sentences, tables and charts.

The half-width of an interval decides how many decimals its value and both its ends have. Shares and months are told in whole
ones, and have decimals only where the half-width is below one percent, or one month. A share without an interval is told to
the percent; what else has none, or is exact, as a limit of a rule is, to three digits. A half goes away from zero, as charts and pocket calculators do it. No number has an exponent:
what is smaller than 0.0001 is told to be that small.
"""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal

# more digits than any figure here has; what lies beyond them is the dust of binary fractions: 100 × 0.145 is 14.5
_EXACT = 12
MINUS = "\N{MINUS SIGN}"
GAP = "\N{NO-BREAK SPACE}"
DIGITS = 3
NOTHING = 1e-4
# an interval as narrow as that is one of the machine
_DUST = 1e-9
# the units that people count in whole ones
_WHOLE = ("fraction", "months")


def rounded(value: float, places: int = 0) -> Decimal:
    """Return a number to so many decimals, negative for tens: 80.5 is 81, and 100 × 0.145 is 15; 0 has no sign."""
    return Decimal(f"{value:.{_EXACT}g}").quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP) + 0


def shown(value: float, places: int = 0) -> str:
    """Return a number rounded to so many decimals as text."""
    return f"{rounded(value, places):f}".replace("-", MINUS)


def short(value: float, digits: int = DIGITS) -> str:
    """Return a number that has no interval to so many digits: `0.0234`, `12300`, `below 0.0001`."""
    if 0 < abs(value) < NOTHING:
        return (
            f"below {NOTHING:f}".rstrip("0")
            if value > 0
            else f"above {MINUS}{NOTHING:f}".rstrip("0")
        )
    places = digits - 1 - math.floor(math.log10(abs(value))) if value else 0
    text = shown(value, places)
    return text.rstrip("0").rstrip(".") if "." in text else text


def percent(share: float) -> str:
    """Return a share in whole percent, as sentences say it: `81 %`."""
    return f"{shown(100 * share)} %"


def decimals(half_width: float, unit: str = "") -> int:
    """Return how many decimals an interval of this half-width supports, in the unit as printed; negative for tens.

    The rounding rule of the Particle Data Group (Review of Particle Physics, introduction, section 5.3):
    of the three leading digits, 100 to 354 keep two, 355 to 949 keep one, 950 to 999 round up to 1000
    and keep two. Shares (`fraction`) and months have none from a half-width of one on.
    """
    if unit in _WHOLE and half_width >= 1:
        return 0
    exponent = math.floor(math.log10(half_width))
    leading = round(half_width / 10**exponent * 100)
    if leading < 355:
        return 1 - exponent
    return -exponent


def half_width(
    value: float | None, low: float | None, high: float | None, unit: str = ""
) -> float | None:
    """Return the half-width that decides the digits: that of the narrower side, where there are two; None for an open end.

    What is told in whole ones has enough digits with that of both sides together.
    """
    if low is None or high is None:
        return None
    half = (high - low) / 2
    if value is None or value in (low, high) or unit in _WHOLE:
        return half
    # a side can be next to nothing, and its digits would be too
    return max(min(value - low, high - value), half / 10)


def plain(value: float, half: float | None, unit: str = "") -> str:
    """Return a number as text: with the decimals that its half-width allows, else to three digits."""
    if half is None or half < _DUST:
        return short(value)
    return shown(value, decimals(half, unit))


def with_ends(
    value: float | None, low: float | None, high: float | None, unit: str = ""
) -> tuple[str, str, str]:
    """Return a value and the ends of its interval as text, all with the same decimals; what there is not is empty."""
    half = half_width(value, low, high, unit)
    # of a bracket with an open end
    if half is None and unit in _WHOLE:
        half = 1.0
    value_, low_, high_ = ("" if n is None else plain(n, half, unit) for n in (value, low, high))
    return value_, low_, high_

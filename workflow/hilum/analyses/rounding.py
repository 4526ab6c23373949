"""The one rule by which numbers are rounded for people: a half goes away from zero, as charts and pocket calculators do it."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

# more digits than any figure here has; what lies beyond them is the dust of binary fractions: 100 × 0.145 is 14.5
_EXACT = 12


def rounded(value: float, places: int = 0) -> Decimal:
    """Return a number to so many decimals, negative for tens: 80.5 is 81, and 100 × 0.145 is 15; 0 has no sign."""
    return Decimal(f"{value:.{_EXACT}g}").quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP) + 0


def shown(value: float, places: int = 0) -> str:
    """Return a number rounded to so many decimals as text."""
    return f"{rounded(value, places):f}"


def percent(share: float) -> str:
    """Return a share in whole percent, as sentences say it: `81 %`."""
    return f"{shown(100 * share)} %"

"""Numbers as pages print them: as many digits as the interval allows (`analyses/rounding.py`), never without a unit."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

from markupsafe import Markup

from hilum.analyses import rounding
from hilum.analyses.estimate import Estimate
from hilum.analyses.quantities import clock, told_in
from hilum.markup import escape, ours

GAP = rounding.GAP


def _scaled(value: float, unit: str) -> tuple[float, str]:
    return (100 * value, "%") if unit == "fraction" else (value, unit)


def with_unit(text: str, unit: str) -> Markup:
    """Return a number that is text already with its unit, no break between them."""
    shown = ours(text)
    return shown if unit in ("", "ratio") else shown + GAP + escape(unit)


def number(value: float, unit: str = "", *, half_width: float | None = None) -> Markup:
    """Return a number with its unit: to the digits that its half-width allows, else three.

    A fraction is printed in percent: without a half-width as it was typed, so a share that was counted takes `percent`.
    """
    shown, name = _scaled(float(value), unit)
    half = half_width and _scaled(half_width, unit)[0]
    return with_unit(rounding.plain(shown, half, unit), name)


def percent(share: float) -> Markup:
    """Return a share in whole percent."""
    return ours(rounding.percent(share).replace(" ", GAP))


def _estimated(estimate: Estimate) -> Markup:
    value, low, high = _told(estimate)
    unit = _unit_of(estimate)
    return with_unit(value, unit) + with_unit(f" ({low} to {high}", unit) + ")"


def _bracketed(estimate: Estimate) -> Markup:
    _, low, high = _told(estimate)
    if not (low or high):
        return with_unit("anywhere above 0", _unit_of(estimate))
    words = (
        f"between {low} and {high}"
        if low and high
        else f"above {low}"
        if low
        else f"below {high.removeprefix('below ')}"
    )
    return with_unit(words, _unit_of(estimate))


def _told(estimate: Estimate) -> tuple[str, str, str]:
    """Return value and ends of an estimate as text without their unit; what is open is empty."""
    scale = _scaled(1.0, estimate.unit)[0]
    value, low, high = (
        None if n is None else scale * n for n in (estimate.value, estimate.low, estimate.high)
    )
    # that a figure is above nothing says nothing
    if estimate.status == "bracketed" and low is not None and 0 < low < rounding.NOTHING:
        low = None
    return rounding.with_ends(value, low, high, estimate.unit)


def _unit_of(estimate: Estimate) -> str:
    """Return the unit as printed: two percentages differ by points, since 5 % less than 80 % could be 76 %."""
    name = _scaled(0.0, estimate.unit)[1]
    return "points" if name == "%" and estimate.quantity == "difference" else name


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

"""From printed figures and the truth to the table of coverage."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from hilum.analyses.estimate import Estimate
from hilum.analyses.quantities import QUANTITIES
from hilum.report.calibration import GOAL
from tests.calibration.design import Design, Key

# what can only be larger than 0 is as wide as its width in relation to the truth
_AS_SUCH = ("°C", "fraction", "bit")


@dataclass(frozen=True)
class Printed:
    """One printed figure of one study; a missing end is infinitely far away.

    `truth` is what is true of this figure alone, where that is drawn anew for each.
    """

    study: int
    key: Key
    status: str
    low: float
    high: float
    at_unit: str = "h"
    truth: float | None = None
    confidence: float = 0.95

    def true(self, known: Mapping[Key, float]) -> float:
        """Return what is true of the figure."""
        return known[self.key] if self.truth is None else self.truth


def printed(study: int, estimates: Iterable[Estimate]) -> list[Printed]:
    """Return the figures of a study."""
    return [
        Printed(
            study,
            Key(e.quantity, e.lot, e.treatment, e.temperature_c, e.versus, e.at),
            e.status,
            _or(e.low, -np.inf),
            _or(e.high, np.inf),
            e.at_unit,
            confidence=e.confidence,
        )
        for e in estimates
    ]


def _or(end: float | None, other: float) -> float:
    return other if end is None else end


def rows(design: Design, studies: int, figures: Sequence[Printed]) -> list[dict[str, Any]]:
    """Return a row of the table for each quantity of a design."""
    known = design.truths()
    quantities = list(dict.fromkeys(key.quantity for key in known))
    figures = [f if f.key in known else replace(f, key=f.key._replace(at=None)) for f in figures]
    return [
        _row(
            design,
            studies,
            quantity,
            [key for key in known if key.quantity == quantity],
            [f for f in figures if f.key.quantity == quantity and f.key in known],
            known,
        )
        for quantity in quantities
    ]


def _row(
    design: Design,
    studies: int,
    quantity: str,
    keys: Sequence[Key],
    figures: Sequence[Printed],
    known: Mapping[Key, float],
) -> dict[str, Any]:
    told = [f for f in figures if f.status == "estimated"]
    brackets = [f for f in figures if f.status == "bracketed"]
    # each pair of treatments is compared once, in the order in which it stands on the page
    asked = {f.key for f in figures} if any(key.versus for key in keys) else set(keys)
    lowest = _lowest(told, known)
    return {
        "analysis": design.analysis,
        "design": design.name,
        "quantity": quantity,
        "studies": studies,
        "figures": studies * len(asked),
        "estimated": len(told),
        "bracketed": len(brackets),
        "brackets_holding_the_truth": sum(_holds(f, known) for f in brackets),
        "brackets_say": _rounded(float(np.mean([f.confidence for f in brackets])))
        if brackets
        else "",
        "covered": sum(_holds(f, known) for f in told),
        "truth_below": sum(f.true(known) < f.low for f in told),
        "truth_above": sum(f.true(known) > f.high for f in told),
        "coverage": _rounded(_coverage(told, known)),
        "monte_carlo_error": _rounded(_error(told, known, studies)),
        "median_width": _rounded(_width(quantity, told, known)),
        "width_unit": _width_unit(quantity),
        "lowest_group": _words(lowest[0], keys, told[0].at_unit)
        if lowest and len(asked) > 1
        else "",
        "lowest_estimated": lowest[1] if lowest and len(asked) > 1 else "",
        "lowest_covered": lowest[2] if lowest and len(asked) > 1 else "",
    }


def _holds(figure: Printed, known: Mapping[Key, float]) -> bool:
    return figure.low <= figure.true(known) <= figure.high


def _coverage(told: Sequence[Printed], known: Mapping[Key, float]) -> float | None:
    return float(np.mean([_holds(f, known) for f in told])) if told else None


def _error(told: Sequence[Printed], known: Mapping[Key, float], studies: int) -> float | None:
    """Return the standard error of the coverage: studies are drawn anew, the intervals of one study are not."""
    if not told:
        return None
    away = np.zeros(studies)
    mean = _coverage(told, known)
    for figure in told:
        away[figure.study] += _holds(figure, known) - mean
    return float(np.sqrt((away**2).sum()) / len(told))


def _width(quantity: str, told: Sequence[Printed], known: Mapping[Key, float]) -> float | None:
    if not told:
        return None
    scale = [1.0 if QUANTITIES[quantity].unit in _AS_SUCH else known[f.key] for f in told]
    return float(np.median([(f.high - f.low) / s for f, s in zip(told, scale, strict=True)]))


def _width_unit(quantity: str) -> str:
    unit = QUANTITIES[quantity].unit
    return unit if unit in _AS_SUCH else "of the true value"


def _lowest(told: Sequence[Printed], known: Mapping[Key, float]) -> tuple[Key, int, int] | None:
    """Return the group that speaks most against the goal, with its intervals and those that hold the truth."""
    found: dict[Key, list[bool]] = {}
    for figure in told:
        found.setdefault(figure.key, []).append(_holds(figure, known))
    worst = min(found, key=lambda key: _against(found[key]), default=None)
    return None if worst is None else (worst, len(found[worst]), sum(found[worst]))


def _against(holds: Sequence[bool]) -> float:
    n = len(holds)
    return (sum(holds) - GOAL * n) / np.sqrt(n * GOAL * (1 - GOAL))


def _words(key: Key, keys: Sequence[Key], unit: str) -> str:
    several_lots = len({k.lot for k in keys}) > 1
    several_temperatures = len({k.temperature_c for k in keys}) > 1
    parts = [key.lot] if several_lots else []
    parts += [key.treatment] if len({k.treatment for k in keys}) > 1 else []
    parts += [f"{key.temperature_c:g} °C"] if several_temperatures else []
    parts += [f"{key.wanted} wanted"] if key.wanted else []
    parts += [f"at {key.at:g} {unit}"] if len({k.at for k in keys}) > 1 else []
    return " ".join(parts) + (f" against {key.versus}" if key.versus else "")


def _rounded(value: float | None) -> float | str:
    return "" if value is None else float(f"{value:.4g}")

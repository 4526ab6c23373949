"""How this analysis writes its estimates."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from hilum.analyses.estimate import Estimate
from hilum.analyses.quantities import QUANTITIES, possible
from hilum.analyses.temperature import words
from hilum.analyses.temperature.advice import Advice
from hilum.analyses.temperature.answers import Answer, Answers, Halves
from hilum.analyses.temperature.choice import Choice
from hilum.analyses.temperature.series import Sown

_METHOD = "thermal time"


@dataclass(frozen=True, kw_only=True)
class Printer:
    """Write the estimates of one series at one confidence."""

    sown: Sown
    confidence: float

    def row(self, quantity: str, **columns: Any) -> Estimate:
        """Return one estimate of the series."""
        filled: dict[str, Any] = {
            "condition": self.sown.condition,
            "unit": QUANTITIES[quantity].unit,
            "confidence": self.confidence,
        }
        return Estimate(
            lot=self.sown.lot,
            treatment=self.sown.treatment,
            quantity=quantity,
            **filled | columns,
        )

    def nothing(self, reason: str) -> tuple[Estimate, ...]:
        """Return the series without any figure, and why."""
        quantities = ("base_temperature", "thermal_time_50", "optimum_temperature")
        return tuple(
            self.row(q, status="not_identified", method=_METHOD, needs=reason) for q in quantities
        )

    def answer(self, quantity: str, answer: Answer, needs: str, method: str) -> Estimate:
        """Return an answer as an estimate; a lower end below all that is possible is open."""
        least, _ = possible(quantity, QUANTITIES[quantity].unit)
        is_open = answer.low is not None and answer.low < least
        return self.row(
            quantity,
            value=answer.value,
            low=None if is_open else answer.low,
            high=answer.high,
            standard_error=answer.standard_error,
            status=answer.status,
            method=method,
            needs=needs,
        )


def estimates(
    printer: Printer,
    choice: Choice,
    known: Answers,
    lowest_bend: float | None,
    advice: Advice | None,
) -> tuple[Estimate, ...]:
    """Return everything that is known of the chosen response."""
    method = words.method(choice)
    warmest = float(choice.pool.warmest[choice.pool.germinated > 0].max())
    base = words.needs(known.base, advice, warmest)
    time = words.needs_of_time(known.thermal_time, advice)
    bends = (
        printer.answer(quantity, bend, words.needs_of_bend(bend, advice, warmest), method)
        for quantity, bend in zip(_bend_names(choice), known.bends, strict=True)
    )
    return (
        printer.answer("base_temperature", known.base, base, method),
        printer.answer("thermal_time_50", known.thermal_time, time, method),
        *bends,
        *_warm_end(printer, choice, known, lowest_bend, method, warmest),
    )


def _bend_names(choice: Choice) -> tuple[str, ...]:
    return {
        "linear": (),
        "plateau": ("plateau_low",),
        "triangle": ("optimum_temperature",),
        "trapezoid": ("plateau_low", "plateau_high"),
    }[choice.chosen.shape]


def _warm_end(
    printer: Printer,
    choice: Choice,
    known: Answers,
    lowest_bend: float | None,
    method: str,
    warmest: float,
) -> list[Estimate]:
    """Return the warm end: a ceiling where the rate falls, else what is missing to see one."""
    if known.ceiling is not None:
        needs = words.needs(known.ceiling, None, warmest)
        return [printer.answer("ceiling_temperature", known.ceiling, needs, method)]
    missing: dict[str, Any] = {
        "status": "not_identified",
        "method": method,
        "needs": words.still_rising(warmest),
    }
    ceiling = printer.row("ceiling_temperature", **missing)
    if choice.chosen.shape == "plateau":
        return [printer.row("plateau_high", **missing), ceiling]
    if lowest_bend is not None:
        missing |= {"status": "bracketed", "low": lowest_bend}
    return [printer.row("optimum_temperature", **missing), ceiling]


def halves(printer: Printer, found: Halves, method: str) -> tuple[Estimate, ...]:
    """Return the time to half at each tested temperature, as the curve of all temperatures has it."""
    return tuple(
        printer.row(
            "t50",
            temperature_c=float(degrees),
            value=float(value),
            low=float(low),
            high=float(high),
            standard_error=float(value * error) if np.isfinite(error) else None,
            status="estimated",
            method=method,
        )
        for degrees, value, low, high, error in zip(
            found.temperature, found.hours, found.low, found.high, found.error, strict=True
        )
        if np.isfinite(low + high)
    )

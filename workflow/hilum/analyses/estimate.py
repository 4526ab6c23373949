"""What every analysis returns: estimates that carry their interval, unit, status and method."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, fields
from functools import cached_property
from itertools import pairwise
from typing import Any, Literal

import numpy as np

from hilum.analyses.quantities import possible

Status = Literal["estimated", "bracketed", "not_identified"]

# {table: {column: array}}: numbers are float with nan for missing, everything else is str with ""
Tables = Mapping[str, Mapping[str, np.ndarray]]


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """One printed number: a value with its interval, or the reason why there is none.

    `estimated` has value, low and high; `bracketed` has low and high and says in `needs` what would
    settle it (one open end is None); `not_identified` has the reason in `needs`.
    """

    lot: str = ""
    treatment: str = ""
    temperature_c: float | None = None
    condition: str = ""
    at: float | None = None
    at_unit: str = ""
    versus: str = ""
    quantity: str
    value: float | None = None
    low: float | None = None
    high: float | None = None
    standard_error: float | None = None
    confidence: float = 0.95
    unit: str = ""
    status: Status
    method: str
    needs: str = ""

    def __post_init__(self) -> None:
        """Refuse an estimate that breaks its own status: such a row is a bug of the analysis."""
        for name in ("value", "low", "high", "standard_error", "at", "temperature_c"):
            number = getattr(self, name)
            if number is not None and not np.isfinite(number):
                raise ValueError(f"{self.quantity}: {name} is {number}; use None and a status")
        if self.status == "estimated" and None in (self.value, self.low, self.high):
            raise ValueError(f"{self.quantity}: estimated, but value, low or high is missing")
        if self.status == "bracketed" and self.low is None and self.high is None:
            raise ValueError(f"{self.quantity}: bracketed, but neither end is given")
        if self.status == "bracketed" and self.value is not None:
            raise ValueError(f"{self.quantity}: bracketed, so a value must not be claimed")
        if self.status != "estimated" and not self.needs:
            raise ValueError(f"{self.quantity}: {self.status}, but `needs` does not say why")
        self._refuse_disorder()

    def _refuse_disorder(self) -> None:
        """Refuse numbers that are not in order, or that the quantity cannot have; a rounding error is neither."""
        least, most = possible(self.quantity, self.unit)
        given = [n for n in (least, self.low, self.value, self.high, most) if n is not None]
        for below, above in pairwise(given):
            if below > above and not math.isclose(below, above, rel_tol=1e-9, abs_tol=1e-12):
                raise ValueError(
                    f"{self.quantity}: {below:g} stands where no more than {above:g} can; low, value and high are "
                    f"{self.low}, {self.value}, {self.high}, and the quantity lies between {least:g} and {most:g}"
                )


COLUMNS = tuple(f.name for f in fields(Estimate))
# what each column says, for dictionary and data package
MEANINGS = {
    "lot": "The seed lot, as named in lots.csv.",
    "treatment": "The treatment, as named in treatments.csv.",
    "temperature_c": "Temperature in °C; empty where the figure is not tied to one.",
    "condition": "Light, night temperature, medium and storage in words; empty where plain.",
    "at": "The time or dose that the figure belongs to, in the unit of at_unit.",
    "at_unit": "Unit of at.",
    "versus": "The treatment or condition that this one is compared with.",
    "quantity": "What was estimated; the page on reading explains each.",
    "value": "The estimate; empty unless the status is estimated.",
    "low": "Lower end of the interval or bracket; empty where it is open.",
    "high": "Upper end of the interval or bracket; empty where it is open.",
    "standard_error": "Standard error, where the method has one.",
    "confidence": "Confidence of the interval.",
    "unit": "Unit of value, low and high; fractions are from 0 to 1.",
    "status": "estimated, bracketed (the data allow no more than this range) or not_identified.",
    "method": "How the estimate and its interval were made.",
    "needs": "What would settle a bracket, or why there is no figure.",
}


Rows = Mapping[str, Sequence[Mapping[str, Any]]]


@dataclass(frozen=True)
class Fit:
    """What `fit` of an analysis returns.

    `draw` holds what charts and pages draw and say, the `View` of the analysis (no nan in it); `tables` holds further
    tables, one list of rows each, written as `<analysis>_<name>.csv`. Either may be a function, called when it is asked for:
    a simulated study is never drawn.
    """

    estimates: tuple[Estimate, ...]
    draw: Any
    tables: Rows | Callable[[], Rows] = field(default_factory=dict)

    @cached_property
    def drawing(self) -> Any:
        """Return what charts and pages draw and say."""
        return self.draw() if callable(self.draw) else self.draw

    @cached_property
    def rows(self) -> Rows:
        """Return the rows of the further tables, by name."""
        return self.tables() if callable(self.tables) else self.tables

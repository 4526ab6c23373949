"""How fast seeds germinate at a temperature: rate curves made of straight pieces.

The rate of a seed lot is one divided by the time to half of its germinable seeds. Four responses nest in
each other: *linear* (rising from the base temperature), *plateau* (linear up to To, then flat),
*trapezoid* (falling again from To2 to the ceiling) and *triangle* (To = To2, no flat part).

Parameters stand where data are, not where the curve is extrapolated to: the rate at a temperature inside
the data, its rise per degree there, and the inverse distance of the ceiling from the warmest temperature
that germinated. A lot without a base (rise 0) or without a ceiling (fall 0) is then a regular point.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

Shape = Literal["linear", "plateau", "triangle", "trapezoid"]
SHAPES: tuple[Shape, ...] = ("linear", "plateau", "triangle", "trapezoid")
_NAMES: dict[Shape, tuple[str, ...]] = {
    "linear": ("log_rate", "rise"),
    "plateau": ("log_rate", "rise", "break"),
    "triangle": ("log_rate", "rise", "break", "fall"),
    "trapezoid": ("log_rate", "rise", "break", "break_2", "fall"),
}


@dataclass(frozen=True, kw_only=True)
class Response:
    """A rate curve without its numbers.

    `anchor` is the temperature that `log_rate` belongs to, `top` the one that `fall` is counted from
    (both °C). With `absolute`, `rise` is the slope of the line (1/h per °C, the inverse of the thermal
    time); else it is that slope divided by the rate at the anchor (1/°C).
    """

    shape: Shape
    anchor: float
    top: float
    absolute: bool = False

    @property
    def names(self) -> tuple[str, ...]:
        """Return the names of the parameters, in order."""
        return _NAMES[self.shape]

    @property
    def breaks(self) -> tuple[int, ...]:
        """Return where in the parameters the temperatures stand at which the curve bends."""
        return tuple(i for i, name in enumerate(self.names) if name.startswith("break"))


@dataclass(frozen=True)
class Rates:
    """Rates (1/h), shape (…, n), with their derivatives by the parameters, shape (…, n, q)."""

    value: np.ndarray
    gradient: np.ndarray


def rates(
    response: Response, parameters: np.ndarray, temperature: np.ndarray, *, extended: bool = False
) -> Rates:
    """Return the rate at each temperature (°C, shape (n,)) for parameters of shape (…, q).

    Below the base and above the ceiling the rate and its derivatives are 0; `extended` lets the lines run on,
    so that a rate that is not positive tells how far it is from being so.
    """
    q = _Columns.of(response, parameters)
    line, falling = _line(response, q, temperature), _falling(response, q, temperature)
    value = line.value * falling.value
    alive = (line.value > 0) & (falling.value > 0)
    gradient = line.gradient * falling.value[..., None] + falling.gradient * line.value[..., None]
    alive |= extended
    return Rates(
        np.where(alive, value, 0.0), np.where(alive[..., None], gradient, 0.0) @ _merge(response)
    )


def base_temperature(response: Response, parameters: np.ndarray) -> np.ndarray:
    """Return the base temperature (°C, shape (…)): minus infinity where the rate does not rise."""
    rise = _relative_rise(response, parameters)
    with np.errstate(divide="ignore"):
        return np.where(rise > 0, response.anchor - 1 / np.maximum(rise, 0.0), -np.inf)


def thermal_time(response: Response, parameters: np.ndarray) -> np.ndarray:
    """Return the thermal time to half (°C h, shape (…)): infinite where the rate does not rise."""
    slope = _relative_rise(response, parameters) * np.exp(parameters[..., 0])
    with np.errstate(divide="ignore"):
        return np.where(slope > 0, 1 / np.maximum(slope, 0.0), np.inf)


def ceiling_temperature(response: Response, parameters: np.ndarray) -> np.ndarray:
    """Return the ceiling temperature (°C, shape (…)): infinite where the rate does not fall."""
    if "fall" not in response.names:
        return np.full(parameters.shape[:-1], np.inf)
    fall = parameters[..., -1]
    with np.errstate(divide="ignore"):
        return np.where(fall > 0, response.top + 1 / np.maximum(fall, 0.0), np.inf)


def rise_at_base(response: Response, base: np.ndarray) -> np.ndarray:
    """Return the relative rise (1/°C) that puts the base at `base` (°C, minus infinity allowed)."""
    return 1 / (response.anchor - np.asarray(base, dtype=float))


def _relative_rise(response: Response, parameters: np.ndarray) -> np.ndarray:
    rise = parameters[..., 1]
    return rise / np.exp(parameters[..., 0]) if response.absolute else rise


# The five columns in which every shape is computed: log_rate, rise, break, break_2, fall.
_FULL = _NAMES["trapezoid"]


@dataclass(frozen=True)
class _Columns:
    """The parameters of any shape as those of a trapezoid, each with an axis for temperatures."""

    log_rate: np.ndarray
    rise: np.ndarray
    bend: np.ndarray
    bend_2: np.ndarray
    fall: np.ndarray

    @classmethod
    def of(cls, response: Response, parameters: np.ndarray) -> _Columns:
        given = dict(zip(response.names, np.moveaxis(parameters, -1, 0), strict=True))
        never = np.full(parameters.shape[:-1], np.inf)
        bend = given.get("break", never)
        bend_2 = given.get("break_2", bend if response.shape == "triangle" else never)
        flat = np.zeros(parameters.shape[:-1])
        columns = (given["log_rate"], given["rise"], bend, bend_2, given.get("fall", flat))
        return cls(*(column[..., None] for column in columns))


def _merge(response: Response) -> np.ndarray:
    """Return which of the five columns each parameter moves, shape (5, q)."""
    merge = np.array([[a == b for b in response.names] for a in _FULL], dtype=float)
    if response.shape == "triangle":
        merge[_FULL.index("break_2"), response.names.index("break")] = 1.0
    return merge


def _level(value: np.ndarray) -> Rates:
    return Rates(value, np.zeros((*value.shape, len(_FULL))))


def _line(response: Response, q: _Columns, temperature: np.ndarray) -> Rates:
    """Return the rising line, capped where it meets the plateau."""
    distance = np.minimum(temperature, q.bend) - response.anchor
    capped = temperature > q.bend
    rate = np.exp(q.log_rate)
    slope = q.rise if response.absolute else q.rise * rate
    line = _level(rate + slope * distance)
    line.gradient[..., 0] = rate if response.absolute else line.value
    line.gradient[..., 1] = distance if response.absolute else rate * distance
    line.gradient[..., 2] = slope * capped
    return line


def _falling(response: Response, q: _Columns, temperature: np.ndarray) -> Rates:
    """Return the share of the plateau's rate that is left above the second break."""
    if "fall" not in response.names:
        return _level(np.ones(np.broadcast_shapes(q.rise.shape, temperature.shape)))
    beyond = temperature > q.bend_2
    a, b = response.top - temperature, response.top - q.bend_2
    above, below = 1 + q.fall * a, 1 + q.fall * b
    share = _level(np.where(beyond, above / below, 1.0))
    share.gradient[..., 3] = beyond * above * q.fall / below**2
    share.gradient[..., 4] = beyond * (a - b) / below**2
    return share

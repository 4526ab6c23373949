"""How fast seeds germinate at a temperature: rate curves made of straight pieces.

The rate of a seed lot is one divided by the time to half of its germinable seeds. Four responses nest in
each other: *linear* (rising from the base temperature), *plateau* (linear up to To, then flat),
*trapezoid* (falling again from To2 to the ceiling) and *triangle* (To = To2, no flat part).

Parameters stand where data are, not where the curve is extrapolated to: the rate at a temperature inside
the data, its rise per degree there, and the inverse distance of the ceiling from the warmest temperature
that germinated. A lot without a base (rise 0) or without a ceiling (fall 0) is then a regular point.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
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
    time); else it is that slope divided by the rate at the anchor (1/°C). Where `at` is given, `log_rate` is
    that of the curve itself at this temperature (°C), on either side of a bend.
    """

    shape: Shape
    anchor: float
    top: float
    absolute: bool = False
    at: float | None = None

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
    response: Response,
    parameters: np.ndarray,
    temperature: np.ndarray,
    *,
    extended: bool = False,
    at: np.ndarray | None = None,
) -> Rates:
    """Return the rate at each temperature (°C, shape (n,)) for parameters of shape (…, q).

    Below the base and above the ceiling the rate and its derivatives are 0; `extended` lets the lines run on,
    so that a rate that is not positive tells how far it is from being so. With `at` (…) each row of parameters has
    a temperature of its own in the place of that of the response.
    """
    if at is None and response.at is not None:
        at = np.array(response.at)
    if at is not None:
        return _through(replace(response, at=None), at, parameters, temperature, extended=extended)
    q = dict(zip(response.names, np.moveaxis(parameters, -1, 0)[..., None], strict=True))
    line, falling = _line(response, q, temperature), _falling(response, q, temperature)
    if falling is None:
        value, gradient, alive = line.value, line.gradient, line.value > 0
    else:
        value = line.value * falling.value
        gradient = line.gradient * falling.value[..., None]
        gradient += falling.gradient * line.value[..., None]
        alive = (line.value > 0) & (falling.value > 0)
    if extended or alive.all():
        return Rates(value, gradient)
    return Rates(np.where(alive, value, 0.0), np.where(alive[..., None], gradient, 0.0))


def _through(
    response: Response,
    at: np.ndarray,
    parameters: np.ndarray,
    temperature: np.ndarray,
    *,
    extended: bool,
) -> Rates:
    """Return the rates where `log_rate` is that at a temperature (…), and 0 where the curve stands still there."""
    found = rates(response, parameters, temperature, extended=extended)
    own = rates(response, parameters, at[..., None], extended=extended)
    moving = own.value > 0
    there = np.where(moving, own.value, 1.0)
    factor = np.where(moving, np.exp(parameters[..., :1]) / there, 0.0)
    value = found.value * factor
    relative = value[..., None] * own.gradient / there[..., None]
    gradient = found.gradient * factor[..., None] - relative
    gradient[..., 0] = value
    return Rates(value, gradient)


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


_Named = Mapping[str, np.ndarray]  # parameters by name, each with an axis for temperatures


def _line(response: Response, q: _Named, temperature: np.ndarray) -> Rates:
    """Return the rising line, capped where it meets the plateau."""
    rate = np.exp(q["log_rate"])
    slope = q["rise"] if response.absolute else q["rise"] * rate
    bend = q.get("break")
    distance = temperature - response.anchor
    if bend is not None:
        distance = np.minimum(temperature, bend) - response.anchor
    value = rate + slope * distance
    gradient = np.zeros((*value.shape, len(response.names)))
    gradient[..., 0] = rate if response.absolute else value
    gradient[..., 1] = distance if response.absolute else rate * distance
    if bend is not None:
        gradient[..., 2] = slope * (temperature > bend)
    return Rates(value, gradient)


def _falling(response: Response, q: _Named, temperature: np.ndarray) -> Rates | None:
    """Return the share of the plateau's rate that is left above the last break, None where it does not fall."""
    if "fall" not in q:
        return None
    column = response.breaks[-1]
    last, fall = q[response.names[column]], q["fall"]
    beyond = temperature > last
    a, b = response.top - temperature, response.top - last
    above, below = 1 + fall * a, 1 + fall * b
    share = np.where(beyond, above / below, 1.0)
    gradient = np.zeros((*share.shape, len(response.names)))
    squared = beyond / below**2
    gradient[..., column] = squared * above * fall
    gradient[..., -1] = squared * (a - b)
    return Rates(share, gradient)

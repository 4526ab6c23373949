"""How fates of seeds follow a dose that opens coats and, in excess, harms what is inside.

With x the dose and l = log x, seeds take up water with the probability p = p0 + (1 − p0)·o, where
o = 1/(1 + exp(−b(l − m))) is the share of closed coats that the dose opens, and are unharmed with
S = 1/(1 + exp(c(l − h))). Seeds permeable by nature germinate with v0, opened ones with v1, so that

    G = [p0·v0 + (1 − p0)·o·v1]·S      germinates of the seeds sown, and
    q = G/p                            of those that took up water.

Without any treatment l is minus infinity: o = 0, S = 1. Seeds opened by hand have o = 1 and S = 1.
One viability for both kinds of seed (v0 = v1) overstates the best dose where the permeable ones are the poorer.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import expit

from hilum.stats.arrays import Array

# the seven parameters, in order
NAMES = ("logit_p0", "m", "log_b", "logit_v0", "logit_v1", "h", "log_c")
_EDGE = 1e-12
POINTS = 0.05  # below the best: where the window ends

Named = Literal["best", "germinated", "window_low", "window_high"]


@dataclass(frozen=True)
class Curves:
    """Shares at each dose, shape (n,), and their derivatives by the seven parameters, shape (n, 7).

    `on_logit` differentiates logit `permeable`, `on_germinated` differentiates `germinated`, which is of the permeable
    seeds; `of_sown` is germinated of the seeds sown.
    """

    permeable: Array
    germinated: Array
    of_sown: Array
    unharmed: Array
    on_logit: Array
    on_germinated: Array


def curves(parameters: Array, log_dose: Array, opened: np.ndarray | None = None) -> Curves:
    """Return the curves at log doses (n,), minus infinity for none; `opened` marks seeds opened by hand, (n,)."""
    a0, m, log_b, u0, u1, h, log_c = parameters
    by_hand = np.zeros(log_dose.shape, dtype=bool) if opened is None else opened
    dosed = np.isfinite(log_dose) & ~by_hand
    at = np.where(dosed, log_dose, 0.0)
    b, c, p0, v0, v1 = np.exp(log_b), np.exp(log_c), expit(a0), expit(u0), expit(u1)
    z, k = b * (at - m), -c * (at - h)
    o = np.where(dosed, expit(z), np.where(by_hand, 1.0, 0.0))
    S = np.where(dosed, expit(k), 1.0)
    p = np.clip(p0 + (1 - p0) * o, _EDGE, 1 - _EDGE)
    alive = np.maximum(p0 * v0 + (1 - p0) * o * v1, 1e-300)
    q = np.clip(alive * S / p, _EDGE, 1 - _EDGE)
    o_varies = np.where(dosed, expit(z) * expit(-z), 0.0)
    harm = np.where(dosed, expit(-k), 0.0)
    nothing = np.zeros_like(at)
    on_o = np.stack([nothing, -b * o_varies, z * o_varies, *(nothing,) * 4], axis=-1)
    on_p = (1 - p0) * on_o
    on_p[:, 0] = p0 * (1 - p0) * (1 - o)
    on_alive = (1 - p0) * v1 * on_o
    on_alive[:, 0] = p0 * (1 - p0) * (v0 - o * v1)
    on_alive[:, 3] = p0 * v0 * (1 - v0)
    on_alive[:, 4] = (1 - p0) * o * v1 * (1 - v1)
    on_log_q = on_alive / alive[:, None] - on_p / p[:, None]
    on_log_q[:, 5], on_log_q[:, 6] = c * harm, k * harm
    return Curves(p, q, alive * S, S, on_p / (p * (1 - p))[:, None], q[:, None] * on_log_q)


def rise(parameters: Array, log_dose: Array) -> Array:
    """Return d log G/d log x at finite log doses, (n,): the best dose is where it falls through 0."""
    a0, m, log_b, u0, u1, h, log_c = parameters
    b, c, p0 = np.exp(log_b), np.exp(log_c), expit(a0)
    z = b * (log_dose - m)
    gained = (1 - p0) * expit(u1)
    alive = np.maximum(p0 * expit(u0) + gained * expit(z), 1e-300)
    return np.asarray(gained * b * expit(z) * expit(-z) / alive - c * expit(c * (log_dose - h)))


@dataclass(frozen=True)
class Best:
    """The best dose between two doses and the window around it, as log doses; G there is `germinated`.

    `side` is −1 or 1 where germination still rises towards the lowest or highest dose, else 0. An end of the
    window that lies outside is infinite.
    """

    log_dose: float
    germinated: float
    window: tuple[float, float]
    side: int


def sown_germinated(parameters: Array, log_dose: Array) -> Array:
    """Return G at finite log doses, (n,): what germinates of the seeds sown."""
    a0, m, log_b, u0, u1, h, log_c = parameters
    p0 = expit(a0)
    opened = (1 - p0) * expit(np.exp(log_b) * (log_dose - m))
    alive = p0 * expit(u0) + opened * expit(u1)
    return np.asarray(alive * expit(-np.exp(log_c) * (log_dose - h)))


def best(parameters: Array, low: float, high: float, *, points: float = POINTS) -> Best:
    """Return the best log dose from `low` to `high`, and where G stays within `points` of it."""
    at, most, side = _top(parameters, low, high)
    below, above = (
        _window_end(parameters, at, most - points, end, towards)
        for end, towards in ((low, -1), (high, 1))
    )
    return Best(at, most, (below, above), side)


def _top(parameters: Array, low: float, high: float) -> tuple[float, float, int]:
    """Return the best log dose, G there, and the side of Best."""
    grid = np.linspace(low, high, 201)
    top = int(sown_germinated(parameters, grid).argmax())
    side = -1 if top == 0 else 1 if top == len(grid) - 1 else 0
    at = float(grid[top])
    if side == 0:
        at = _falls_through(lambda dose: rise(parameters, dose), grid[top - 1], grid[top + 1])
    return at, float(sown_germinated(parameters, np.array([at]))[0]), side


def _window_end(parameters: Array, at: float, least: float, end: float, towards: int) -> float:
    """Return the log dose between the best and an end beyond which G is below `least`, else infinity."""
    path = np.linspace(at, end, 121)
    outside = np.flatnonzero(sown_germinated(parameters, path) < least)
    if not len(outside):
        return float(towards * np.inf)
    i = int(outside[0])
    return _falls_through(
        lambda dose: sown_germinated(parameters, dose) - least, path[i - 1], path[i]
    )


def _falls_through(function: Callable[[Array], Array], inside: float, outside: float) -> float:
    """Return where a function that is positive at `inside` and negative at `outside` is 0, on finer and finer grids."""
    for _ in range(4):
        path = np.linspace(inside, outside, 33)
        values = function(path)
        i = max(int((values <= 0).argmax()), 1) if (values <= 0).any() else len(path) - 1
        inside, outside, ends = path[i - 1], path[i], values[i - 1 : i + 1]
    share = ends[0] / (ends[0] - ends[1]) if ends[0] > ends[1] else 0.5
    return float(inside + np.clip(share, 0.0, 1.0) * (outside - inside))


def measured(parameters: Array, low: float, high: float, name: Named) -> tuple[float, Array]:
    """Return log best dose, logit G there or a log end of the window, by its name, with its gradient, (7,).

    Gradients are those of implicit functions: the best is where the rise is 0, and there G does not change with the dose.
    An end of the window that is infinite, and a best at an edge, have a gradient of nan.
    """
    at, most, side = _top(parameters, low, high)
    nowhere = np.full(len(NAMES), np.nan)
    if name == "best":
        moves = -_gradient(rise, parameters, at) / _by_dose(rise, parameters, at)
        return at, nowhere if side else moves
    on_best = _gradient(sown_germinated, parameters, at)
    if name == "germinated":
        G = float(np.clip(most, _EDGE, 1 - _EDGE))
        return float(np.log(G / (1 - G))), on_best / (G * (1 - G))
    limit, towards = (low, -1) if name == "window_low" else (high, 1)
    end = _window_end(parameters, at, most - POINTS, limit, towards)
    if not np.isfinite(end):
        return end, nowhere
    gap = _gradient(sown_germinated, parameters, end) - on_best
    return end, -gap / _by_dose(sown_germinated, parameters, end)


_NUDGE = 1e-5


def _gradient(function: Callable[[Array, Array], Array], parameters: Array, at: float) -> Array:
    moved = _NUDGE * np.eye(len(NAMES))
    each = np.concatenate([parameters + moved, parameters - moved]).T
    values = function(each, np.full(each.shape[1], at))
    return np.asarray((values[: len(NAMES)] - values[len(NAMES) :]) / (2 * _NUDGE))


def _by_dose(function: Callable[[Array, Array], Array], parameters: Array, at: float) -> float:
    low, high = function(parameters, at + _NUDGE * np.array([-1.0, 1.0]))
    return float((high - low) / (2 * _NUDGE)) or 1e-300

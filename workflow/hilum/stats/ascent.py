"""Climb many likelihoods at once, each within bounds of its own.

Scoring steps with Levenberg's damping: near the top they are Newton's, on a flat ridge they stay short.
A bound may fix a parameter (low = high), which is how a profile holds the quantity that it asks about.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from hilum.stats.arrays import Array

_SMALLEST_GAIN = 1e-10  # of the log likelihood; the last digits of no printed number depend on it
_MOST_STEPS = 80
_NO_INFORMATION = 1e-100  # the root of an information that is 0 but for underflow
_STEEPEST = 1e60
# A point is given up once it lies this far below its best rival and promises no way up. No interval reaches
# so deep: 40 of the log likelihood is a threshold of 80.
HOPELESS = 40.0
_PROMISES = 10.0
# A point this far below its best rival that promises as little will not overtake it: it need not be followed to its last digit.
_BEHIND, _LITTLE = 2.0, 1e-4
# Two points of one stretch climb the same peak once they lie half a standard error apart, and as far in the log likelihood
# as that makes on a parabola: one of them is enough.
_SAME_PEAK = 0.5**2


@dataclass(frozen=True)
class Surface:
    """Log likelihood (B,), its gradient (B, p) and information (B, p, p) at B points."""

    value: Array
    gradient: Array
    information: Array

    def take(self, which: np.ndarray) -> Surface:
        """Return the surface at some of the points."""
        return Surface(self.value[which], self.gradient[which], self.information[which])


@dataclass
class _State:
    point: Array
    surface: Surface
    damping: Array


def climb(
    at: Callable[[Array], Surface],
    start: Array,
    low: Array,
    high: Array,
    rival: np.ndarray | None = None,
) -> Array:
    """Return the highest point reached from each start, shape (B, p), within `low` and `high` (B, p): see `tops`."""
    return tops(at, start, low, high, rival)[0]


def tops(
    at: Callable[[Array], Surface],
    start: Array,
    low: Array,
    high: Array,
    rival: np.ndarray | None = None,
    alike: np.ndarray | None = None,
) -> tuple[Array, Array]:
    """Return the highest point reached from each start within `low` and `high`, all (B, p), and its value (B,).

    `at` gives the surface at points of shape (b, p). A start whose value is −inf stays where it is. Of starts
    with the same number in `rival` (B,) only the best is wanted, and hopeless ones may stop early; so may those that
    come to climb the same peak as a higher one with the same number in `alike` (B,).
    """
    point = np.clip(start, low, high)
    state = _State(point, at(point), np.full(len(point), 1e-4))
    active = np.flatnonzero(np.isfinite(state.surface.value))
    for _ in range(_MOST_STEPS):
        if not len(active):
            break
        active, gain = _advance(at, state, active, low, high)
        if rival is not None:
            active = active[_hopeful(state.surface.value, rival, active, gain)]
        if alike is not None:
            active = active[_apart(state, alike, active)]
    return state.point, state.surface.value


def _hopeful(value: Array, rival: np.ndarray, active: np.ndarray, gain: Array) -> np.ndarray:
    best = np.full(int(rival.max()) + 1, -np.inf)
    np.maximum.at(best, rival, value)
    behind = best[rival[active]] - value[active]
    return np.asarray(
        (behind < HOPELESS + _PROMISES * gain) & ((behind < _BEHIND) | (gain > _LITTLE))
    )


def _apart(state: _State, alike: np.ndarray, active: np.ndarray) -> np.ndarray:
    """Return which active points do not climb the peak of the highest one of their kind."""
    value = state.surface.value
    highest = np.full(int(alike.max()) + 1, -np.inf)
    np.maximum.at(highest, alike, value)
    tops_of_all = np.flatnonzero(value == highest[alike])[::-1]
    leader = np.empty(len(highest), dtype=int)
    leader[alike[tops_of_all]] = tops_of_all  # the first one where several are as high
    leader = leader[alike[active]]
    away = state.point[active] - state.point[leader]
    distance = (away * (state.surface.information[leader] @ away[..., None])[..., 0]).sum(-1)
    near = (distance < _SAME_PEAK) & (value[leader] - value[active] < _SAME_PEAK)
    return np.asarray(~near | (leader == active))


def _advance(
    at: Callable[[Array], Surface], state: _State, active: np.ndarray, low: Array, high: Array
) -> tuple[np.ndarray, Array]:
    """Take one step from every active point; return those that can still gain, and what they were promised."""
    here, where, damping = state.surface.take(active), state.point[active], state.damping[active]
    floor, roof = low[active], high[active]
    step, gain = _step(here, where, floor, roof, damping)
    trial = np.minimum(np.maximum(where + step, floor), roof)
    there = at(trial)
    better = there.value >= here.value
    taken = active[better]
    state.point[taken] = trial[better]
    state.surface.value[taken] = there.value[better]
    state.surface.gradient[taken] = there.gradient[better]
    state.surface.information[taken] = there.information[better]
    won = np.where(better, there.value - here.value, 0.0)
    ratio = np.minimum(won / np.minimum(np.maximum(gain / 2, 1e-300), 1e300), 2.0)
    calmer = np.maximum(1 - (2 * ratio - 1) ** 3, 0.1)
    damping = np.maximum(damping * np.where(better, calmer, 4.0), 1e-6)
    state.damping[active] = damping
    going = (gain > _SMALLEST_GAIN) & (damping < 1e8)
    return active[going], gain[going]


def _step(
    here: Surface, where: Array, low: Array, high: Array, damping: Array
) -> tuple[Array, Array]:
    """Return the damped step (b, p), and twice the gain that it promises (b,)."""
    held = ((where <= low) & (here.gradient <= 0)) | ((where >= high) & (here.gradient >= 0))
    gradient = np.where(held, 0.0, here.gradient)
    diagonal = np.arange(where.shape[1])
    size = np.sqrt(here.information[:, diagonal, diagonal])
    size = np.where(held | ~(size > _NO_INFORMATION), 1.0, size)
    # scaled to a unit diagonal, so that neither hours nor days, °C nor fractions matter
    matrix = here.information / size[:, :, None] / size[:, None, :]
    matrix[held] = 0.0
    np.swapaxes(matrix, 1, 2)[held] = 0.0
    matrix[:, diagonal, diagonal] += held + damping[:, None]
    # far from any seed's time a slope can be beyond numbers; its sign is all that is needed
    with np.errstate(over="ignore"):
        slope = np.minimum(np.maximum(gradient / size, -_STEEPEST), _STEEPEST)
    step = np.linalg.solve(matrix, slope[..., None])[..., 0]
    return step / size, (step * slope).sum(-1)

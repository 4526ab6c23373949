"""Share a number of dishes out over temperatures so that the base temperature is known best.

Dishes of one temperature add the same to the information, so that a design is how many dishes stand at each temperature of a grid:
I = Σ n_k I_k, M = Σ n_k M_k, and the variance with dish spread is I⁻¹(I + M)I⁻¹. From several starts dishes are moved about one
by one, two by two, or a whole temperature at once, as long as that narrows the interval. Where guesses are unsure the mean
over what they may be is what is narrowed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from hilum.analyses.temperature.fractions import HALFWAY
from hilum.analyses.temperature.truth import rate
from hilum.plan.expected.warm import BREAK, RISE, Allocation, Warm, look, why_not
from hilum.plan.expected.warm_limits import SURE_BEND
from hilum.stats import foreseen, spread
from hilum.stats.arrays import Array
from hilum.stats.families import named

_FEW_SEEDS = 2.0
_NEAR = 0.01  # °C
_ENDLESS = -1e6  # °C; of a base without a lower limit
_LEAST_GAIN = 1e-4  # of a half-width; less is rounding
_Wide = Callable[[Array], Array]  # designs (m, K) to half-widths (m,)
FEWEST_DISHES = 2  # at a temperature; one shows no spread


@dataclass(frozen=True, kw_only=True)
class Limits:
    """What a researcher can do: temperatures (°C, (k,)) that can be set, how many at least and at most at once.

    Two of a design lie at least `apart` °C from each other: closer ones would be one temperature by two names.
    """

    grid: Array
    fewest: int
    most: int
    apart: float = 2.0

    def spread_out(self, dishes: Array) -> np.ndarray:
        """Return which designs (m, K) have their temperatures apart."""
        near = np.abs(self.grid[:, None] - self.grid) < self.apart - 1e-9
        used = (dishes > 0).astype(float)
        return np.asarray((used * (used @ near)).max(1) <= 1)


@dataclass(frozen=True)
class _View:
    """What one guess of the seeds says of one dish at each temperature of the grid, arrays (K, …).

    `own` and `between` are its shares of I and M, with one germinable fraction; `gradient` is that of its log rate.
    """

    own: Array
    between: Array
    gradient: Array
    germinated: Array
    log_rate: Array
    weight: Array
    level: np.ndarray
    beyond: Array
    anchor: float
    rise: float
    bends: bool


def _view(warm: Warm, grid: Array) -> _View | None:
    seen = look(warm, dict.fromkeys(grid.tolist(), 1))
    if seen is None or why_not(seen):
        return None
    truth, seeds = warm.truth, warm.series
    own, between = foreseen.by_dish(seen.scores, warm.components)
    speed = np.array([rate(seeds, float(t)) for t in grid])
    moving = speed > 0
    log_rate = np.log(np.where(moving, speed, 1e-12))
    family = named(truth.family)
    last = np.log(truth.inspections_h[-1])
    reached = np.exp(family.log_cdf((last + log_rate) / truth.sigma))
    halfway = truth.sigma * float(family.quantile(np.asarray(HALFWAY)))
    alone = 1 / np.maximum(seen.scores.information[:, 0, 0], 1e-12)
    assert seen.model.response is not None  # noqa: S101
    return _View(
        own=own,
        between=between,
        gradient=seen.scores.jacobian[:, 0],
        germinated=truth.seeds * seeds.germinable * reached * moving,
        log_rate=log_rate,
        weight=1 / (alone + warm.components.variance[0]),
        level=grid <= seeds.optimum_end,
        beyond=last + log_rate - halfway,
        anchor=seen.model.response.anchor,
        rise=float(seen.parameters[RISE]),
        bends=seen.model.rate_parameters > BREAK,
    )


def half_widths(view: _View, grid: Array, dishes: Array, confidence: float) -> Array:
    """Return the expected half-width of the base (°C) for designs (m, K), infinite where it cannot be told."""
    live = (dishes > 0) & (dishes * view.germinated >= _FEW_SEEDS)
    enough = live.sum(1) >= 2
    coolest = live.argmax(1)
    rows = np.arange(len(dishes))
    later = live.copy()
    later[rows, coolest] = False
    second = later.argmax(1)
    t = np.sqrt(spread.t_squared(dishes.sum(1) - view.own.shape[-1], confidence))
    one = _one(view, dishes)
    direction = view.gradient[coolest]
    error = np.sqrt(np.einsum("mp,mpq,mq->m", direction, one, direction))
    apart = ndtr(-view.beyond[coolest] / np.where(error > 0, error, 1.0))
    widths = [_limits(view, v, t) for v in (one, _apart(view, dishes, coolest))]
    low, high = ((1 - apart) * a + apart * b for a, b in zip(*widths, strict=True))
    possible = enough & (high < grid[coolest] - _NEAR) & (low > _ENDLESS / 2)
    if view.bends:
        possible &= _bend_shows(view, dishes, second) >= SURE_BEND
    return np.where(possible, (high - low) / 2, np.inf)


def _variance(information: Array, between: Array) -> Array:
    inverse = spread.inverse_information(information)
    return np.asarray(inverse + inverse @ between @ inverse)


def _one(view: _View, dishes: Array) -> Array:
    """Return the variance of the parameters with one germinable fraction, (m, p, p)."""
    parts = (np.einsum("mk,kpq->mpq", dishes, part) for part in (view.own, view.between))
    return _variance(*parts)


def _apart(view: _View, dishes: Array, coolest: np.ndarray) -> Array:
    """Return the variance where the coolest temperature has a germinable fraction of its own, (m, p + 1, p + 1)."""
    p = view.own.shape[-1]
    cold = np.zeros((p + 1, p))
    cold[: p - 1, : p - 1] = np.eye(p - 1)
    rest = cold.copy()
    cold[p, p - 1] = rest[p - 1, p - 1] = 1.0
    others = dishes.copy()
    rows = np.arange(len(dishes))
    others[rows, coolest] = 0.0
    there = dishes[rows, coolest, None, None]

    def summed(part: Array) -> Array:
        far = rest @ np.einsum("mk,kpq->mpq", others, part) @ rest.T
        return np.asarray(far + there * (cold @ part[coolest] @ cold.T))

    return _variance(summed(view.own), summed(view.between))


def _limits(view: _View, variance: Array, t: Array) -> tuple[Array, Array]:
    reach = t * np.sqrt(np.maximum(variance[:, RISE, RISE], 0.0))
    below = view.rise - reach
    known = (below > 0) & (reach > 0)
    low = np.where(known, view.anchor - 1 / np.where(known, below, 1.0), _ENDLESS)
    return low, view.anchor - 1 / (view.rise + reach)


def _bend_shows(view: _View, dishes: Array, second: np.ndarray) -> Array:
    """Return `warm_limits.bend_shows` of each design, (m,)."""
    from_there = np.arange(dishes.shape[1]) >= second[:, None]
    weight = dishes * view.weight * from_there * view.level
    total = np.maximum(weight.sum(1, keepdims=True), 1e-12)
    away = view.log_rate - (weight * view.log_rate).sum(1, keepdims=True) / total
    return np.asarray(np.sqrt((weight * away**2).sum(1)))


def guesses(warm: Warm, unsure: float) -> list[Warm]:
    """Return what the seeds may be: as guessed, and with the base and the optimum off by `unsure` °C either way."""
    made = [warm]
    for by in (-unsure, unsure) if unsure else ():
        made.append(warm.moved(base=warm.series.base + by))
        if np.isfinite(warm.series.optimum):
            made.append(warm.moved(optimum=warm.series.optimum + by))
    return made


def equal(limits: Limits, temperatures: int, total: int) -> dict[float, int]:
    """Return dishes at evenly spaced temperatures from one end of the limits to the other."""
    at = np.linspace(limits.grid[0], limits.grid[-1], temperatures)
    share, left = divmod(total, temperatures)
    return {round(float(t), 2): share + (i < left) for i, t in enumerate(at)}


def best(
    warm: Warm,
    total: int,
    limits: Limits,
    *,
    unsure: float,
    starts: Sequence[Allocation] = (),
    already: Allocation | None = None,
) -> dict[float, int] | None:
    """Return how to share out `total` dishes, None where no design within the limits could tell the base.

    Dishes that are there `already` are counted in and stay where they are.
    """
    fixed = already or {}
    grid = np.union1d(limits.grid, list(fixed))
    views = [_view(one, grid) for one in guesses(warm, unsure)]
    known = [view for view in views if view is not None]
    if len(known) < len(views) or total < FEWEST_DISHES * limits.fewest:
        return None

    here = np.isin(grid, limits.grid)
    there = np.array([fixed.get(t, 0) for t in grid.tolist()], dtype=float)

    def wide(dishes: Array) -> Array:
        every = np.tile(there, (len(dishes), 1))
        every[:, here] += dishes
        each = [half_widths(view, grid, every, warm.confidence) for view in known]
        return np.asarray(np.mean(each, axis=0))

    begun = [equal(limits, k, total) for k in range(limits.fewest, limits.most + 1)]
    found = [_climbed(_on_grid(start, limits), limits, wide) for start in (*begun, *starts)]
    width, dishes = min(found, key=lambda pair: pair[0])
    if not np.isfinite(width):
        return None
    return {float(t): int(n) for t, n in zip(limits.grid, dishes, strict=True) if n}


def _on_grid(allocation: Allocation, limits: Limits) -> Array:
    dishes = np.zeros(len(limits.grid))
    for degrees, n in allocation.items():
        dishes[np.abs(limits.grid - degrees).argmin()] += n
    return dishes


def _climbed(dishes: Array, limits: Limits, wide: _Wide) -> tuple[float, Array]:
    """Return the half-width and the design to which moves of dishes lead."""
    width = float(wide(dishes[None])[0])
    while True:
        moves = _moves(dishes, limits)
        if not len(moves):
            return width, dishes
        widths = wide(moves)
        first = int(widths.argmin())
        if not widths[first] < width * (1 - _LEAST_GAIN):
            return width, dishes
        width, dishes = float(widths[first]), moves[first]


def _moves(dishes: Array, limits: Limits) -> Array:
    """Return the designs one move away that keep to the limits, (m, K)."""
    made = []
    for i in np.flatnonzero(dishes):
        for many in {1, 2, int(dishes[i])}:
            moved = np.tile(dishes, (len(dishes), 1))
            moved[:, i] -= many
            moved += many * np.eye(len(dishes))
            made.append(moved)
    moves = np.concatenate(made)
    used = (moves > 0).sum(1)
    few = ((moves > 0) & (moves < FEWEST_DISHES)).any(1)
    ok = (moves.min(1) >= 0) & ~few & (used >= limits.fewest) & (used <= limits.most)
    ok &= limits.spread_out(moves)
    return np.asarray(moves[ok])

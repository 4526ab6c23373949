"""One likelihood over all dishes and all temperatures.

A seed germinates once the rates that it lived through add up to its own need: by time t a fraction
G·F0(ln(R·t)/sigma) of the seeds of a dish has germinated, where R is the rate of the median germinable seed
at the dish's temperature (the mean of the rates over the day where it alternates). Seeds differ by the
logarithm of the thermal time that they need (sigma), and share the base.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from hilum.stats import own_base
from hilum.stats import response as curves
from hilum.stats.arrays import Array
from hilum.stats.ascent import Surface
from hilum.stats.families import Family
from hilum.stats.interval_censored import Cells, DishTerms, Schedule, dish_terms
from hilum.stats.response import Response
from hilum.stats.spread import DishScores

_STANDSTILL = 1e-9  # 1/h; a rate that lets nothing germinate in a hundred thousand years
_NEVER = 60.0  # a log t50 at which no family has let a measurable share germinate


@dataclass(frozen=True)
class Series:
    """The dishes of one lot, treatment and condition, over temperatures.

    `temperature` (°C) and `weight` have shape (J, M): the temperatures that dish j lived at and the share of
    its time at each. `regime` (J,) numbers the different temperature regimes from 0, coolest first.
    """

    cells: Cells
    temperature: Array
    weight: Array
    regime: np.ndarray

    @cached_property
    def regimes(self) -> int:
        """Return how many different temperature regimes there are."""
        return int(self.regime.max()) + 1 if len(self.regime) else 0

    @cached_property
    def first(self) -> np.ndarray:
        """Return the first dish of each regime, shape (regimes,)."""
        return np.unique(self.regime, return_index=True)[1]

    @cached_property
    def mean_temperature(self) -> Array:
        """Return the mean temperature of each regime (°C, shape (regimes,))."""
        return np.asarray((self.temperature * self.weight).sum(-1)[self.first])

    @cached_property
    def warmest(self) -> Array:
        """Return the warmest temperature of each regime (°C, shape (regimes,)): its day where it alternates."""
        return np.asarray(self.temperature.max(-1)[self.first])

    @cached_property
    def germinated(self) -> Array:
        """Return the seeds that germinated at each regime, shape (regimes,)."""
        return np.asarray(
            np.bincount(self.regime, self.cells.germinated, self.regimes), dtype=float
        )

    @cached_property
    def seeds(self) -> Array:
        """Return the seeds sown at each regime, shape (regimes,)."""
        return np.asarray(np.bincount(self.regime, self.cells.seeds, self.regimes), dtype=float)

    @cached_property
    def key(self) -> bytes:
        """Return what tells the series from every other one."""
        c = self.cells
        parts = (c.start_h, c.end_h, c.count, c.censor_h, c.censored, self.temperature, self.weight)
        shapes = repr([part.shape for part in parts]).encode()
        return b"".join(
            (shapes, self.regime.astype(int).tobytes(), *map(np.ndarray.tobytes, parts))
        )

    def take(self, dishes: np.ndarray) -> Series:
        """Return the series of some dishes, its regimes numbered anew."""
        return Series(
            self.cells.take(dishes),
            self.temperature[dishes],
            self.weight[dishes],
            np.unique(self.regime[dishes], return_inverse=True)[1],
        )

    def germinating(self) -> Series:
        """Return the series without the regimes at which no seed germinated."""
        return self.take((self.germinated > 0)[self.regime])


def pooled(series: Series) -> Series:
    """Return the series with dishes of one regime and one schedule added up: the likelihood is the same."""
    cells = series.cells
    lived = series.regime[:, None], series.temperature, series.weight
    schedule = np.hstack((*lived, cells.start_h, cells.end_h, cells.censor_h))
    _, first, group = np.unique(schedule, axis=0, return_index=True, return_inverse=True)
    member = (group.ravel()[None, :] == np.arange(len(first))[:, None]).astype(float)
    summed = Cells(
        cells.start_h[first],
        cells.end_h[first],
        member @ cells.count,
        cells.censor_h[first],
        member @ cells.censored,
    )
    return Series(summed, series.temperature[first], series.weight[first], series.regime[first])


Shared = tuple[int, ...]  # for each regime, the number of its germinable fraction


def one_for_all(series: Series) -> Shared:
    """Return the numbers with which all regimes share one germinable fraction."""
    return (0,) * series.regimes


def one_for_each(series: Series) -> Shared:
    """Return the numbers with which each regime that germinated has a germinable fraction of its own.

    A cooler one shares that of the coolest, another one that of the next cooler: absent seeds tell of no fraction.
    """
    number = np.cumsum(series.germinated > 0) - 1
    return tuple(np.maximum(number, 0).tolist())


def coldest_apart(series: Series) -> Shared:
    """Return the numbers with which the regimes up to the coolest that germinated share one, the others another."""
    coolest = int(np.flatnonzero(series.germinated > 0)[0])
    return tuple(int(regime > coolest) for regime in range(series.regimes))


def among_germinating(series: Series, shared: Shared) -> Shared:
    """Return the numbers of the regimes that germinated, counted anew from 0."""
    kept = np.array(shared)[series.germinated > 0]
    return tuple(np.unique(kept, return_inverse=True)[1].ravel().tolist())


@dataclass(frozen=True)
class Model:
    """One candidate: a family, a response (None: a rate for each regime, free), and who shares a G.

    The parameters stand in the order: those of the response, log sigma, then the germinable fractions. With `own_bases`
    seeds differ in their base, and sigma is the spread of the bases over the thermal time, times `own_base.UNIT_H`.
    """

    family: Family
    response: Response | None
    shared: Shared
    own_bases: bool = False

    @property
    def rate_parameters(self) -> int:
        """Return how many parameters the rates have."""
        return len(self.shared) if self.response is None else len(self.response.names)

    @property
    def fractions(self) -> int:
        """Return how many germinable fractions there are."""
        return max(self.shared) + 1

    @property
    def size(self) -> int:
        """Return how many parameters there are."""
        return self.rate_parameters + 1 + self.fractions

    def fraction_of(self, parameters: Array) -> Array:
        """Return the germinable fraction of each regime, shape (…, regimes)."""
        return parameters[..., self.rate_parameters + 1 :][..., np.array(self.shared)]


@dataclass(frozen=True)
class _Lived:
    """The different temperatures of a series (°C, (U,)), and the share of its time that each dish lived at each, (J, U)."""

    temperature: Array
    share: Array

    @classmethod
    def of(cls, series: Series) -> _Lived:
        different, place = np.unique(series.temperature, return_inverse=True)
        member = place.reshape(series.temperature.shape)[..., None] == np.arange(len(different))
        return cls(different, np.einsum("jmu,jm->ju", member, series.weight))


def log_rates(model: Model, series: Series, parameters: Array) -> tuple[Array, Array]:
    """Return the log rate (…, J) of each dish, −inf where nothing moves, and its gradient (…, J, q)."""
    return _log_rates(model, series, _Lived.of(series), parameters)


def _log_rates(
    model: Model, series: Series, lived: _Lived, parameters: Array, there: Array | None = None
) -> tuple[Array, Array]:
    q = model.rate_parameters
    if model.response is None:
        value = parameters[..., :q][..., series.regime]
        return value, np.broadcast_to(np.eye(q)[series.regime], (*value.shape, q))
    found = curves.rates(model.response, parameters[..., :q], lived.temperature, at=there)
    rate, slope = found.value @ lived.share.T, lived.share @ found.gradient
    alive = rate > _STANDSTILL
    if alive.all():
        return np.log(rate), slope / rate[..., None]
    safe = np.where(alive, rate, 1.0)
    return np.where(alive, np.log(safe), -np.inf), slope / safe[..., None] * alive[..., None]


@dataclass(frozen=True)
class _Local:
    """What each dish sees of parameter vectors (…, p): its own three parameters and their Jacobian."""

    alive: np.ndarray
    log_t50: Array
    log_sigma: Array
    fraction: Array
    jacobian: Array


@dataclass(frozen=True)
class Dishes:
    """What a model needs of a series, whatever the parameters: `still` (J, 3, p) is the Jacobian without the rates.

    `number` (J,) is the column of each dish's germinable fraction.
    """

    model: Model
    series: Series
    schedule: Schedule
    lived: _Lived
    number: np.ndarray
    still: Array

    @classmethod
    def of(cls, model: Model, series: Series) -> Dishes:
        """Return what a model needs of a series."""
        cells = own_base.on_own_clock(series.cells) if model.own_bases else series.cells
        number = model.rate_parameters + 1 + np.array(model.shared)[series.regime]
        still = np.zeros((len(number), 3, model.size))
        still[:, 1, model.rate_parameters] = 1.0
        still[np.arange(len(number)), 2, number] = 1.0
        return cls(model, series, Schedule.of(cells), _Lived.of(series), number, still)

    def local(self, parameters: Array, there: Array | None = None) -> _Local:
        """Return what each dish sees of `parameters` (…, p), whose rate is that at temperatures of their own, `there` (…)."""
        value, slope = self._locations(parameters, there)
        q = self.model.rate_parameters
        jacobian = np.empty((*value.shape, *self.still.shape[1:]))
        jacobian[...] = self.still
        jacobian[..., 0, :q] = slope
        alive = np.isfinite(value)
        if not alive.all():
            value, jacobian = np.where(alive, value, _NEVER), jacobian * alive[..., None, None]
        return _Local(
            alive, value, parameters[..., q, None], parameters[..., self.number], jacobian
        )

    def _locations(self, parameters: Array, there: Array | None) -> tuple[Array, Array]:
        """Return the log t50 (…, J) of each dish, inf where nothing moves, and its gradient (…, J, q).

        Where seeds differ in their base it is minus the median seed's rate, which may be negative.
        """
        if not self.model.own_bases:
            value, slope = _log_rates(self.model, self.series, self.lived, parameters, there)
            return -value, -slope
        assert self.model.response is not None  # noqa: S101
        q, constant = self.model.rate_parameters, self.series.temperature[:, 0]
        found = curves.rates(
            self.model.response, parameters[..., :q], constant, extended=True, at=there
        )
        return -own_base.UNIT_H * found.value, -own_base.UNIT_H * found.gradient

    def terms(self, local: _Local) -> DishTerms:
        """Return what each dish adds to the likelihood."""
        return dish_terms(
            self.schedule, local.log_t50, local.log_sigma, local.fraction, self.model.family
        )


def surface(model: Model, series: Series) -> Callable[[Array], Surface]:
    """Return the likelihood surface of a model, ready to be climbed."""
    dishes = Dishes.of(model, series)
    still = standing(series)

    def at(parameters: Array) -> Surface:
        local = dishes.local(parameters)
        terms = dishes.terms(local)
        return added_up(local.alive, still, terms, local.jacobian)

    return at


def standing(series: Series) -> Array:
    """Return the log likelihood of each dish at or below the base: certain without germination, impossible with it."""
    return np.where(series.cells.germinated > 0, -np.inf, 0.0)


def added_up(alive: np.ndarray, still: Array, terms: DishTerms, jacobian: Array) -> Surface:
    """Return the likelihood of all dishes, of which those not `alive` add `still` (J,).

    `jacobian` (b, J, 3, p) leads from the parameters to those of each dish.
    """
    b, J, three, size = jacobian.shape
    A = jacobian.reshape(b, J * three, size)  # the three parameters of all dishes in one row
    weighted = (terms.information @ jacobian).reshape(b, J * three, size)
    value = terms.loglik if alive.all() else np.where(alive, terms.loglik, still)
    return Surface(
        value.sum(-1),
        (terms.score.reshape(b, 1, J * three) @ A)[:, 0],
        np.swapaxes(A, 1, 2) @ weighted,
    )


def equivalent_hours(hours: Array, logged_h: Array, rate: Array, steady: float) -> Array:
    """Return the hours at a steady rate that bring seeds as far as `hours` of a changing one, shape (n,).

    `rate` (m,) stands at `logged_h` (m,), which begins at 0. Where the steady rate is 0 hours stay as they are.
    """
    if steady <= 0:
        return hours
    steps = np.diff(logged_h) * (rate[1:] + rate[:-1]) / 2
    gone = np.concatenate(([0.0], np.cumsum(steps)))
    return np.asarray(np.interp(hours, logged_h, gone) / steady)


def dish_scores(model: Model, series: Series, parameters: Array) -> DishScores:
    """Return what each dish says at `parameters` (p,): the matter of every interval."""
    dishes = Dishes.of(model, series)
    local = dishes.local(parameters[None])
    terms = dishes.terms(local)
    jacobian = local.jacobian[0].copy()
    # a G on its boundary is no free parameter
    jacobian[local.fraction[0] >= 1, 2] = 0.0
    alive = local.alive[0]
    return DishScores(
        score=np.where(alive[:, None], terms.score[0], 0.0),
        information=np.where(alive[:, None, None], terms.information[0], 0.0),
        jacobian=jacobian,
        fraction=local.fraction[0],
        single=series.cells.seeds <= 1,
    )

"""Seeds over temperatures in the eyes of the likelihood: expected dishes, model, parameters."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from hilum.analyses.temperature.candidate import regular
from hilum.analyses.temperature.fractions import SHARE, Fractions
from hilum.analyses.temperature.truth import TemperatureTruth, TrueSeries, rate
from hilum.stats import spread, thermal
from hilum.stats.arrays import Array
from hilum.stats.cardinal import Peak
from hilum.stats.families import named
from hilum.stats.interval_censored import Cells
from hilum.stats.response import Response, Shape
from hilum.stats.spread import Components, DishScores
from hilum.stats.thermal import Model, Series, Shared

Allocation = Mapping[float, int]  # °C → dishes
_FEW_SEEDS = 2.0  # of a temperature: so few germinate that often none does
# where the relative rise of the rate and its first bend stand among the parameters
RISE, BREAK = 1, 2


@dataclass(frozen=True, kw_only=True)
class Warm:
    """One lot and treatment over temperatures: what is guessed of it, and how it is looked at.

    `truth` has one series, whose temperatures are not looked at. Of the dishes the `correlation` is guessed.
    """

    truth: TemperatureTruth
    correlation: float
    confidence: float

    @property
    def series(self) -> TrueSeries:
        """Return what is guessed of the seeds."""
        return self.truth.series[0]

    @property
    def components(self) -> Components:
        """Return the dish effects that are guessed."""
        sd = self.truth.sigma * named(self.truth.family).sd
        return spread.assumed(self.correlation, np.asarray(sd), np.asarray(self.series.germinable))

    def with_dish_sd(self, log_time: float, logit: float) -> Warm:
        """Return the same with simulated dishes that differ so."""
        truth = replace(self.truth, dish_sd_log_time=log_time, dish_sd_logit=logit)
        return replace(self, truth=truth)

    def moved(self, *, base: float | None = None, optimum: float | None = None) -> Warm:
        """Return the same with another base or optimum (°C)."""
        other = replace(
            self.series,
            base=self.series.base if base is None else base,
            optimum=self.series.optimum if optimum is None else optimum,
        )
        return replace(self, truth=replace(self.truth, series=(other,)))


def expected(warm: Warm, allocation: Allocation) -> Series:
    """Return the dishes as one expects them: counts are fractions of seeds, none where hardly a seed germinates."""
    truth, degrees = warm.truth, np.repeat(list(allocation), list(allocation.values()))
    hours = np.array(truth.inspections_h)
    speed = np.array([rate(warm.series, float(t)) for t in degrees])
    moving = speed > 0
    z = np.log(hours) + np.log(np.where(moving, speed, 1.0))[:, None]
    reached = np.where(moving[:, None], np.exp(named(truth.family).log_cdf(z / truth.sigma)), 0.0)
    count = truth.seeds * warm.series.germinable * np.diff(reached, axis=1, prepend=0.0)
    together = np.array([allocation[float(t)] for t in degrees])
    count[count.sum(1) * together < _FEW_SEEDS] = 0.0
    end = np.tile(hours, (len(degrees), 1))
    start = np.concatenate((np.zeros((len(degrees), 1)), end[:, :-1]), axis=1)
    left = (truth.seeds - count.sum(1))[:, None]
    cells = Cells(start, end, count, end[:, -1:].copy(), left)
    regime = np.unique(degrees, return_inverse=True)[1].ravel()
    return Series(cells, degrees[:, None], np.ones((len(degrees), 1)), regime)


def model_of(warm: Warm, sprouting: Array, shared: Shared = (0,)) -> Model:
    """Return the model that the analysis would find for temperatures (°C, (n,)) at which seeds germinate."""
    seeds, top = warm.series, float(sprouting.max())
    shape: Shape = "linear"
    if top > seeds.optimum_end and np.isfinite(seeds.ceiling):
        shape = "trapezoid" if seeds.optimum_end > seeds.optimum else "triangle"
    elif top > seeds.optimum:
        shape = "plateau"
    anchor = float(sprouting[min(1, len(sprouting) - 1)])
    response = Response(shape=shape, anchor=anchor, top=top)
    return Model(named(warm.truth.family), response, shared)


def parameters(warm: Warm, model: Model) -> Array:
    """Return what is guessed of the seeds as parameters of the model."""
    seeds, response = warm.series, model.response
    assert response is not None  # noqa: S101
    above = response.anchor - seeds.base
    line = min(response.anchor, seeds.optimum) - seeds.base
    known = {
        # the anchor may lie on the flat part, where the line would be above the curve
        "log_rate": np.log(above / seeds.thermal_time_50),
        "rise": 1 / above,
        "break": seeds.optimum,
        "break_2": seeds.optimum_end,
        "fall": 1 / (seeds.ceiling - response.top) if line else 0.0,
    }
    rates = [float(known[name]) for name in response.names]
    return np.array([*rates, np.log(warm.truth.sigma), *[seeds.germinable] * model.fractions])


@dataclass(frozen=True)
class Look:
    """A design in the eyes of the likelihood: expected dishes, model, parameters (p,) and dish scores."""

    series: Series
    model: Model
    parameters: Array
    scores: DishScores

    @property
    def sprouting(self) -> Array:
        """Return the temperatures at which seeds germinate, coolest first."""
        return np.unique(self.series.warmest[self.series.germinated > 0])


def look(warm: Warm, allocation: Allocation, sharing: Fractions = "one") -> Look | None:
    """Return how the likelihood sees a design, None where seeds germinate at fewer than two temperatures."""
    series = expected(warm, allocation)
    sprouting = np.unique(series.warmest[series.germinated > 0])
    if len(sprouting) < 2:
        return None
    model = model_of(warm, sprouting, SHARE[sharing](series))
    beta = parameters(warm, model)
    return Look(series, model, beta, thermal.dish_scores(model, series, beta))


def why_not(seen: Look | None) -> str:
    """Return why a design cannot tell the base temperature, empty where it can as far as the curve goes."""
    if seen is None:
        return (
            "Seeds are expected to germinate at fewer than two temperatures: two are needed on the rising part of the "
            "curve."
        )
    none = np.zeros(0)
    peak = Peak(seen.model, seen.parameters, 0.0, none, none, none, none)
    if not regular(peak, seen.series):
        return (
            "Too few of the temperatures at which seeds germinate lie on the rising part of the curve: add one between the "
            "base and the temperature from which on germination gets no faster."
        )
    return ""

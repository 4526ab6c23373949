"""Dishes over temperatures: what they are expected to tell of the base temperature."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.special import ndtr

from hilum.analyses.temperature import answers, choice
from hilum.analyses.temperature.candidate import regular
from hilum.analyses.temperature.fractions import HALFWAY, LEVEL, SHARE, Fractions
from hilum.analyses.temperature.series import of_tables
from hilum.analyses.temperature.truth import TemperatureTruth, TrueSeries, rate, simulate
from hilum.plan.prospect import middle
from hilum.stats import foreseen, spread, thermal
from hilum.stats.cardinal import Peak
from hilum.stats.families import FAMILIES, Array, named
from hilum.stats.interval_censored import Cells
from hilum.stats.response import Response, Shape
from hilum.stats.spread import Components, DishScores
from hilum.stats.thermal import Model, Series, Shared

Allocation = Mapping[float, int]  # °C → dishes
_FEW_SEEDS = 2.0  # of a temperature: so few germinate that often none does
_NEAR = 0.01  # °C; a limit this near to the coolest germination is at it
_OWN_DISHES = (
    2.0  # degrees of freedom from which the analysis of temperatures uses the spread of its dishes
)
_QUARTERS = (-1.15, -0.32, 0.32, 1.15)  # middles of the four quarters of a normal distribution
SURE_BEND = 6.0  # of bend_shows: simulated designs with less lost their base now and then
RISE, BREAK = (
    1,
    2,
)  # where the relative rise of the rate and its first bend stand among the parameters


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


_BEND = (
    "The temperature from which on germination gets no faster may lie below the second coolest one at which seeds germinate, so "
    "that only one is surely on the rising part: add a temperature there."
)
_AT_COOLEST = "The base may be as high as the coolest temperature at which seeds germinate: more dishes there, or a cooler one."


def limits(warm: Warm, allocation: Allocation, *, seed: int) -> tuple[float, float, str]:
    """Return the middle limits of the base temperature (°C), or why there are none."""
    seen = look(warm, allocation)
    why = why_not(seen)
    if seen is None or why:
        return np.nan, np.nan, why
    if bend_shows(seen, warm) < SURE_BEND:
        return np.nan, np.nan, _BEND
    rng, ends = np.random.default_rng(seed), []
    for bent, weight in _bends(seen, warm):
        for sharing, chance in _sharing(seen, warm).items():
            other = look(bent, allocation, sharing)
            draws = round(foreseen.DRAWS * weight * chance)
            if other is not None and draws and not why_not(other):
                ends.append(base_limits(other, _drawn_reach(other, bent, draws, rng)))
    low, high = middle(*(np.concatenate(end) for end in zip(*ends, strict=True)))
    if not np.isfinite(low) or high >= seen.sprouting[0] - _NEAR:
        return np.nan, np.nan, _AT_COOLEST
    return low, high, ""


def _bends(seen: Look, warm: Warm) -> list[tuple[Warm, float]]:
    """Return the seeds with the bend where studies will see it, each with its weight.

    A temperature at the bend is on the rising part for some studies, and on the flat part for others.
    """
    if seen.model.rate_parameters <= BREAK:
        return [(warm, 1.0)]
    error = np.sqrt(_variance(seen, warm)[BREAK, BREAK])
    return [
        (warm.moved(optimum=float(warm.series.optimum + error * z)), 1 / len(_QUARTERS))
        for z in _QUARTERS
    ]


def _variance(seen: Look, warm: Warm) -> Array:
    """Return the variance of the parameters with the guessed dish effects."""
    own, between = foreseen.by_dish(seen.scores, warm.components)
    inverse = spread.inverse_information(own.sum(0))
    return np.asarray(inverse + inverse @ between.sum(0) @ inverse)


def _drawn_reach(seen: Look, warm: Warm, draws: int, rng: np.random.Generator) -> Array:
    """Return how far the limits of the relative rise reach in drawn studies, (draws,)."""
    drawn = foreseen.drawn_scores(seen.scores, warm.components, draws=draws, rng=rng)
    components = foreseen.found([spread.moments(drawn)], warm.components, fewest=_OWN_DISHES)
    contrast = np.eye(seen.model.size)[RISE]
    found = spread.threshold(drawn, components, contrast, confidence=warm.confidence)
    return foreseen.reach(found)


def _sharing(seen: Look, warm: Warm) -> dict[Fractions, float]:
    """Return with which chance the analysis lets temperatures share a germinable fraction, and in which way.

    Its test of one fraction errs at its own level; a coolest temperature that seems not to come to its half stands apart.
    """
    if seen.series.regimes < 3:
        return {"one": 1.0}
    apart = chance_apart(seen, warm)
    return {"one": (1 - LEVEL) * (1 - apart), "cold apart": (1 - LEVEL) * apart, "each": LEVEL}


def chance_apart(seen: Look, warm: Warm) -> float:
    """Return the chance that the coolest temperature seems not to come to half of its germinable seeds."""
    variance = _variance(seen, warm)
    coolest = int(np.flatnonzero(seen.series.temperature[:, 0] == seen.sprouting[0])[0])
    gradient = seen.scores.jacobian[coolest, 0]
    log_rate, _ = thermal.log_rates(seen.model, seen.series, seen.parameters)
    last = np.log(seen.series.cells.last_h[coolest])
    wanted = warm.truth.sigma * float(seen.model.family.quantile(np.asarray(HALFWAY)))
    beyond = float(last + log_rate[coolest] - wanted)
    return float(ndtr(-beyond / np.sqrt(gradient @ variance @ gradient)))


def bend_shows(seen: Look, warm: Warm) -> float:
    """Return how surely the curve still rises above the second coolest temperature, in standard errors.

    A bend at or below it would leave one rate to all temperatures from there on: the log rates are tested for being one,
    each with the variance of its dishes. Infinite for a curve that never bends.
    """
    if seen.model.rate_parameters <= BREAK:
        return np.inf
    degrees = seen.series.temperature[:, 0]
    level = (degrees >= seen.sprouting[1]) & (degrees <= warm.series.optimum_end)
    log_rate = np.log(np.minimum(degrees[level], warm.series.optimum) - warm.series.base)
    alone = 1 / np.maximum(seen.scores.information[level, 0, 0], 1e-12)
    weight = 1 / (alone + warm.components.variance[0])
    away = log_rate - np.average(log_rate, weights=weight)
    return float(np.sqrt((weight * away**2).sum()))


def base_limits(seen: Look, reach: Array) -> tuple[Array, Array]:
    """Return the limits of the base (°C) for how far those of the relative rise reach, (n,) each."""
    assert seen.model.response is not None  # noqa: S101
    anchor, rise = seen.model.response.anchor, seen.parameters[RISE]
    below = rise - reach
    low = np.where(below > 0, anchor - 1 / np.where(below > 0, below, 1.0), -np.inf)
    return low, anchor - 1 / (rise + reach)


def simulated(
    warm: Warm, allocation: Allocation, *, studies: int, rng: np.random.Generator, only: bool = True
) -> Array:
    """Return the half-widths of the base in simulated studies, (studies,), infinite where a study has none.

    With `only` the analysis knows the family of times, which saves two thirds of the time.
    """
    certainty = choice.Certainty(confidence=warm.confidence, correlation=warm.correlation)
    families = (named(warm.truth.family),) if only else FAMILIES
    widths = np.full(studies, np.inf)
    for study in range(studies):
        series = next(iter(of_tables(drawn_tables(warm, allocation, rng)))).series
        if not series.germinated.any():
            continue
        base = answers.answers(choice.choose(series, certainty, families=families), certainty).base
        if base.status == "estimated":
            assert base.low is not None and base.high is not None  # noqa: S101
            widths[study] = (base.high - base.low) / 2
    return widths


def drawn_tables(
    warm: Warm, allocation: Allocation, rng: np.random.Generator
) -> dict[str, dict[str, np.ndarray]]:
    """Return the tables of one simulated study, its dishes as allocated."""
    most = max(allocation.values())
    series = replace(warm.series, temperatures=tuple(allocation))
    truth = replace(warm.truth, series=(series,), dishes=most, assessed=False)
    tables = simulate(truth, rng=rng)
    dishes = tables["dishes"]
    number = np.arange(len(dishes["dish"])) % most
    used = number < np.array([allocation[float(t)] for t in dishes["temperature_c"]])
    kept = np.isin(tables["counts"]["dish"], dishes["dish"][used])
    return {
        "dishes": {name: column[used] for name, column in dishes.items()},
        "counts": {name: column[kept] for name, column in tables["counts"].items()},
    }


@dataclass(frozen=True)
class WarmDesign:
    """Dishes over temperatures as a question: that of the base temperature.

    `each` dishes are added to a temperature; `already` are those of a finished study, which stay as they are.
    """

    seeds: Warm
    dishes: Allocation
    each: int
    already: Allocation = field(default_factory=dict)

    @property
    def together(self) -> Allocation:
        """Return all dishes, coolest first."""
        return added(self.already, self.dishes)

    def limits(self, *, seed: int) -> tuple[float, float, str]:
        """Return the middle limits of the base (°C), or why there are none."""
        return limits(self.seeds, self.together, seed=seed)

    def simulated(self, *, studies: int, rng: np.random.Generator) -> Array:
        """Return the half-widths of the base in simulated studies (°C)."""
        return simulated(self.seeds, self.together, studies=studies, rng=rng)

    def resized(self, dishes: int, seeds: int) -> WarmDesign:
        """Return the same with other dishes at each temperature, and other seeds in each dish."""
        truth = replace(self.seeds.truth, seeds=seeds)
        other = replace(self.seeds, truth=truth)
        return replace(self, seeds=other, dishes=dict.fromkeys(self.dishes, dishes), each=dishes)

    def with_place(self, at: float) -> WarmDesign:
        """Return the same with dishes more at a temperature (°C)."""
        return replace(self, dishes=added(self.dishes, {at: self.each}))

    def inspected(self, hours: tuple[float, ...]) -> WarmDesign:
        """Return the same with other inspections."""
        truth = replace(self.seeds.truth, inspections_h=hours)
        return replace(self, seeds=replace(self.seeds, truth=truth))


def added(one: Allocation, other: Allocation) -> dict[float, int]:
    """Return the dishes of both, coolest first."""
    return {t: one.get(t, 0) + other.get(t, 0) for t in sorted({*one, *other})}

"""The expected interval of the base temperature, which is where simulated studies have theirs."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

from hilum.analyses.temperature.fractions import HALFWAY, LEVEL, Fractions
from hilum.plan.expected.prospect import middle
from hilum.plan.expected.warm import BREAK, RISE, Allocation, Look, Warm, look, why_not
from hilum.stats import foreseen, spread, thermal
from hilum.stats.arrays import Array

_NEAR = 0.01  # °C; a limit this near to the coolest germination is at it
# degrees of freedom from which the analysis of temperatures uses the spread of its dishes
_OWN_DISHES = 2.0
_QUARTERS = (-1.15, -0.32, 0.32, 1.15)  # middles of the four quarters of a normal distribution
SURE_BEND = 6.0  # of bend_shows: simulated designs with less lost their base now and then
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

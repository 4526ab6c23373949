"""Simulated dishes for calibration: seeds one by one, with code that shares nothing with the package.

Every seed has its own time; dishes shift the log time of all their seeds and the logit of their germinable
fraction. Some options break what the fits assume, on purpose.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np


@dataclass(frozen=True, kw_only=True)
class Dishes:
    """Truth about a set of dishes: medians in hours, spread of log time among seeds, germinable fraction.

    `t50_h` and `fraction` have one value for each curve. `times` is lognormal, loglogistic, or two_kinds: a quarter
    of the seeds come from coats that soften late, `late` times as slow. `heavy` takes dish effects from Student's t
    with 3 degrees of freedom, `uneven` gives the last curve twice, the first half the dish effects.

    `dish_correlation` is that between the fates of two seeds of one dish: fractions are then drawn from a beta
    distribution, and `dish_sd_logit` is not used. `chamber_sd_log_time` shifts all dishes of a curve alike.
    `base_sd_c` lets seeds differ in the temperature below which they do not germinate; a curve's dishes stand
    `above_base_c` warmer than the median seed needs.
    """

    t50_h: tuple[float, ...] = (120.0,)
    fraction: tuple[float, ...] = (0.8,)
    sd_log: float = 0.3
    times: str = "loglogistic"
    late: float = 1.5
    dishes: int = 4
    seeds: int = 25
    inspections_h: tuple[float, ...] = field(default=tuple(24.0 * d for d in range(1, 22)))
    dish_sd_log_time: float = 0.0
    dish_sd_logit: float = 0.0
    heavy: bool = False
    uneven: bool = False
    dish_correlation: float = 0.0
    chamber_sd_log_time: float = 0.0
    base_sd_c: float = 0.0
    above_base_c: tuple[float, ...] = ()


def counts(truth: Dishes, *, studies: int, rng: np.random.Generator) -> np.ndarray:
    """Return newly germinated seeds, shape (studies, curves, dishes, inspections)."""
    return inspected(times(truth, studies=studies, rng=rng), truth.inspections_h)


def inspected(time: np.ndarray, inspections_h: tuple[float, ...]) -> np.ndarray:
    """Return how many of the seeds (…, seeds) germinated before each inspection and after the one before it."""
    edges = np.array((0.0, *inspections_h))
    seen = [((time > a) & (time <= b)).sum(-1) for a, b in pairwise(edges)]
    return np.stack(seen, axis=-1)


def times(truth: Dishes, *, studies: int, rng: np.random.Generator) -> np.ndarray:
    """Return when each seed germinates, hours, infinite where never, (studies, curves, dishes, seeds)."""
    curves = len(truth.t50_h)
    shape = (studies, curves, truth.dishes)
    sizes = np.linspace(0.5, 2.0, curves)[:, None] if truth.uneven else np.ones((curves, 1))
    slow = truth.dish_sd_log_time * sizes * _effects(truth, shape, rng)
    chance = _chances(truth, sizes, shape, rng)
    log_time = np.log(np.array(truth.t50_h))[:, None, None] + slow[..., None]
    log_time = log_time + truth.sd_log * _standard(truth, (*shape, truth.seeds), rng)
    if truth.chamber_sd_log_time:
        log_time += truth.chamber_sd_log_time * rng.normal(size=(studies, curves, 1, 1))
    if truth.base_sd_c:
        log_time += _slower_by_base(truth, (*shape, truth.seeds), rng)
    return np.where(rng.random((*shape, truth.seeds)) < chance[..., None], np.exp(log_time), np.inf)


def _chances(
    truth: Dishes, sizes: np.ndarray, shape: tuple[int, ...], rng: np.random.Generator
) -> np.ndarray:
    """Return the germinable fraction of each dish."""
    better = truth.dish_sd_logit * sizes * _effects(truth, shape, rng)
    mean = np.array(truth.fraction)[:, None]
    if truth.dish_correlation:
        alike = 1 / (truth.dish_correlation * sizes**2) - 1
        drawn = rng.beta(
            np.maximum(mean * alike, 1e-9), np.maximum((1 - mean) * alike, 1e-9), shape
        )
        return np.where(mean < 1, drawn, 1.0)
    odds = mean / np.where(mean < 1, 1 - mean, 1.0) * np.exp(better)
    return np.where(mean < 1, odds / (1 + odds), 1.0)


def _slower_by_base(truth: Dishes, shape: tuple[int, ...], rng: np.random.Generator) -> np.ndarray:
    """Return what a seed's own base temperature adds to its log time, infinite where it is too cool for it."""
    above = np.array(truth.above_base_c)[:, None, None]
    own = above - truth.base_sd_c * rng.normal(size=shape)
    return np.where(own > 0, np.log(above / np.where(own > 0, own, 1.0)), np.inf)


def _effects(truth: Dishes, shape: tuple[int, ...], rng: np.random.Generator) -> np.ndarray:
    if truth.heavy:
        return np.asarray(rng.standard_t(3, size=shape) / np.sqrt(3))
    return rng.normal(size=shape)


def _standard(truth: Dishes, shape: tuple[int, ...], rng: np.random.Generator) -> np.ndarray:
    """Return log times of median 0, and of standard deviation 1 but for two_kinds."""
    if truth.times == "lognormal":
        return rng.normal(size=shape)
    draws = rng.logistic(size=shape) * np.sqrt(3) / np.pi
    if truth.times == "two_kinds":
        draws = draws + (rng.random(shape) < 0.25) * np.log(truth.late) / truth.sd_log
    return np.asarray(draws)

"""Residuals of dishes: whether each has as many seeds as the curve fitted to it says, and as soon."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import bdtr, ndtri

from hilum.stats.arrays import Array
from hilum.stats.interval_censored import Cells

LIMIT = 2.0  # beyond it lies one dish in twenty by chance alone: P(|z| > 2) = 0.046
_NEVER = 1e-12  # of a chance; a curve that is next to 0 or 1 everywhere says nothing of when


@dataclass(frozen=True)
class DishResiduals:
    """Standardised residuals of J dishes, shape (J,): 0 is on the curve, beyond ±LIMIT is rare by chance alone.

    `number` is above 0 where more germinated by the last inspection than fitted; `time` where those that germinated
    came later than fitted. They are nan where the data cannot tell.
    """

    number: Array
    time: Array


@dataclass(frozen=True)
class Leverage:
    """The part of a dish that its own curve takes up, (J,): 1/n where n equal dishes share one curve, 1 where it is alone."""

    number: Array
    time: Array


def of_dishes(cells: Cells, before: Array, after: Array, leverage: Leverage) -> DishResiduals:
    """Return the residuals of dishes of `cells` (J, K) against a curve that was fitted to them.

    `before` and `after` (J, K) are the fitted chances that a seed germinates by the start and by the end of each cell.
    Residuals shrink by the leverage of their dish, and are divided by √(1 − leverage). Seeds are taken as independent, so
    more residuals beyond ±LIMIT than chance leaves show dish spread, or a curve that does not fit.

    The number is scored as `of_numbers` does. The time is the mean place of the seeds in the fitted distribution of those that
    germinate, each in the middle of its cell (ridits: Bross I.D.J. (1958), Biometrics 14:18–38; from memory): under the
    curve its mean is ½ and its variance (1 − Σp³)/(12 m) for m seeds and cells of chance p.
    """
    germinated, seeds = cells.germinated, cells.germinated + cells.censored[:, 0]
    end = after[:, -1] if after.shape[1] else np.zeros(len(seeds))
    return DishResiduals(
        of_numbers(germinated, seeds, end, leverage.number),
        _time(cells.count, before, after, end) / _left(leverage.time),
    )


def of_numbers(number: Array, seeds: Array, chance: Array, leverage: Array) -> Array:
    """Return the standardised residual of each `number` of `seeds` that had a fitted `chance`, all (J,).

    It is the middle of the binomial chance, P(fewer) + ½ P(as many), as a normal deviate: the quantile residual (Dunn P.K.,
    Smyth G.K. (1996), Journal of Computational and Graphical Statistics 5:236–244; from memory), without its random draw;
    divided by √(1 − leverage). It is nan where there are no seeds.
    """
    whole = seeds.astype(int)
    fewer = np.where(number > 0, bdtr(np.maximum(number - 1, 0), whole, chance), 0.0)
    middle = (fewer + bdtr(number, whole, chance)) / 2
    found: Array = np.where(seeds > 0, ndtri(np.clip(middle, _NEVER, 1 - _NEVER)), np.nan)
    return found / _left(leverage)


def _left(leverage: Array) -> Array:
    found: Array = np.sqrt(np.where(leverage < 1, 1 - leverage, np.nan))
    return found


def _time(count: Array, before: Array, after: Array, end: Array) -> Array:
    germinated = count.sum(-1)
    told = (germinated > 0) & (end > _NEVER)
    whole = np.where(told, end, 1.0)[:, None]
    chance = (after - before) / whole
    place = (count * (before + after) / (2 * whole)).sum(-1) / np.maximum(germinated, 1)
    variance = (1 - (chance**3).sum(-1)) / (12 * np.maximum(germinated, 1))
    told &= variance > _NEVER
    found: Array = np.where(told, (place - 0.5) / np.sqrt(np.where(told, variance, 1.0)), np.nan)
    return found

"""Germination expected at constant temperatures and along courses, and where else the data let it lie.

A share of the seeds sown, P = G·F0(ln(S(t))/sigma) with the progress S = ∫R(T)dt, is far from linear in the parameters, and is cut off at
the base temperature. The parameters themselves are well behaved: to the data, P lies elsewhere where they are moved along

    beta(u) = beta_hat + u·I⁻¹c/√(c'I⁻¹c),  c = dP/d beta,

the line on which P changes most for what the likelihood loses. P is taken on that line with all its bends, so
that its limits stay within 0 and 1, and a temperature a little below the estimated base may still let seeds germinate.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import expit, logit, stdtrit

from hilum.stats import response as curves
from hilum.stats import spread
from hilum.stats.arrays import Array
from hilum.stats.families import ratio
from hilum.stats.spread import Components, DishScores
from hilum.stats.thermal import Model

_LOWEST = -1e3  # a z at which no family has let a measurable share germinate
_MOST_ALIKE = 0.95  # intra-dish correlation; at 1 all seeds of a dish would do the same


@dataclass(frozen=True)
class Grid:
    """Where germination is expected: n places at m times.

    By time j a place had its `temperature` (°C, (n, k)) for `hours` (h, (m, k)), one for each of k. `mixing`
    (n, fractions) says how much of each germinable fraction of the model holds at each place.
    """

    temperature: Array
    hours: Array
    mixing: Array


def constant(temperature: Array, hours: Array, mixing: Array) -> Grid:
    """Return the grid of constant temperatures (°C, (n,)) by `hours` after sowing (m,), above 0."""
    return Grid(temperature[:, None], hours[:, None], mixing)


def along(hours: Array, temperature: Array, until: Array, mixing: Array) -> Grid:
    """Return the grid of one course: `temperature` (°C, (k,)) at `hours` (k,) from 0, by times among them (m,).

    Between two readings the rate is taken to change evenly.
    """
    steps = np.diff(hours)
    # times come from days, and may be a rounding error off
    passed = (until[:, None] >= hours[1:] - 1e-6) * steps
    parts = np.zeros((len(until), len(hours)))
    parts[:, 1:] += passed / 2
    parts[:, :-1] += passed / 2
    return Grid(temperature[None], parts, mixing[None])


@dataclass(frozen=True)
class Expected:
    """The germinated share of the seeds sown, (…, n, m), with its derivatives by two dish effects.

    `by_log_time` is that by a dish's effect on log time, `by_logit` that by its effect on logit G.
    """

    share: Array
    by_log_time: Array
    by_logit: Array

    def correlation(self, components: Components) -> Array:
        """Return the correlation between the fates of two seeds of one dish, shape (…, n, m)."""
        between = self.by_log_time**2 * components.variance[0]
        between = between + self.by_logit**2 * components.variance[1]
        alone = self.share * (1 - self.share)
        found = np.where(alone > 0, between / np.where(alone > 0, alone, 1.0), 0.0)
        return np.asarray(np.minimum(found, _MOST_ALIKE))


def expected(model: Model, parameters: Array, grid: Grid) -> Expected:
    """Return what is expected for parameters of shape (p,), or (…, n, m, p) with their own at each place."""
    response, q = _response(model), model.rate_parameters
    rate = curves.rates(response, parameters[..., :q], grid.temperature[:, None, :]).value
    sigma, fraction = np.exp(parameters[..., q]), _fraction(model, parameters, grid)
    z = _z((rate * grid.hours).sum(-1), sigma)
    reached, density = np.exp(model.family.log_cdf(z)), np.exp(model.family.log_pdf(z))
    return Expected(
        share=fraction * reached,
        by_log_time=fraction * density / sigma,
        by_logit=fraction * (1 - fraction) * reached,
    )


def _response(model: Model) -> curves.Response:
    assert model.response is not None  # noqa: S101
    return model.response


def _fraction(model: Model, parameters: Array, grid: Grid) -> Array:
    fractions = parameters[..., model.rate_parameters + 1 :]
    return np.asarray((grid.mixing[:, None, :] * fractions).sum(-1))


def _z(progress: Array, sigma: Array) -> Array:
    moving = progress > 0
    z = np.log(np.where(moving, progress, 1.0)) / sigma
    return np.asarray(np.where(moving, np.maximum(z, _LOWEST), _LOWEST))


def _contrasts(model: Model, parameters: Array, grid: Grid) -> Array:
    """Return the direction of dP/d beta, shape (n, m, p): divided by F, which may be too small for a number.

    Where nothing moves P is 0 for the rate alone, whose own direction it then is, where it is nearest to moving.
    """
    q = model.rate_parameters
    progress, gradient = _progress(model, parameters, grid)
    sigma, moving = np.exp(parameters[q]), progress > 0
    z = _z(progress, sigma)
    steep = ratio(model.family.log_pdf(z), model.family.log_cdf(z)) * _fraction(
        model, parameters, grid
    )
    by_progress = np.where(moving, steep / (np.where(moving, progress, 1.0) * sigma), 1.0)
    contrast = np.zeros((*z.shape, model.size))
    contrast[..., :q] = by_progress[..., None] * gradient
    contrast[..., q] = np.where(moving, -steep * z, 0.0)
    contrast[..., q + 1 :] = np.where(moving[..., None], grid.mixing[:, None, :], 0.0)
    return contrast


def _progress(model: Model, parameters: Array, grid: Grid) -> tuple[Array, Array]:
    """Return how far seeds came, 1 for the median germinable one, (n, m), with its derivatives, (n, m, q)."""
    q, degrees = model.rate_parameters, grid.temperature
    found = curves.rates(_response(model), parameters[:q], degrees)
    progress = found.value @ grid.hours.T
    gradient = grid.hours @ found.gradient
    nearly = curves.rates(_response(model), parameters[:q], degrees, extended=True)
    passed = np.where(grid.hours > 0, nearly.value[:, None, :], -np.inf)
    nearest = nearly.gradient[np.arange(len(degrees))[:, None], passed.argmax(-1)]
    return progress, np.where((progress > 0)[..., None], gradient, nearest)


@dataclass(frozen=True)
class Outlook:
    """What is expected on a grid, and the lines on which it changes most: `step` (n, m, p) by one standard error.

    The standard error is the likelihood's own; `limit` says how much wider dish spread makes it.
    """

    model: Model
    parameters: Array
    grid: Grid
    step: Array
    limit: spread.Threshold

    @property
    def best(self) -> Expected:
        """Return what is expected at the maximum of the likelihood."""
        return expected(self.model, self.parameters, self.grid)

    def moved(self, u: Array) -> Expected:
        """Return what is expected where each place (…, n, m) is `u` standard errors of the likelihood away."""
        beta = _moved(self.model, self.parameters, u[..., None] * self.step)
        return expected(self.model, _possible(self.model, beta), self.grid)

    def at(self, level: float) -> Expected:
        """Return the quantile of what the data let lie there, at a level between 0 and 1."""
        return self.moved(np.sqrt(self.limit.scale) * stdtrit(np.maximum(self.limit.dof, 1), level))


def outlook(
    model: Model,
    parameters: Array,
    grid: Grid,
    *,
    scores: DishScores,
    components: Components,
    confidence: float,
) -> Outlook:
    """Return the outlook on a grid of the fit `parameters` (p,) with what its dishes say there.

    How far the data let P lie elsewhere is the wider of pooled components and CR2 at `confidence`, for each place.
    """
    contrast = _contrasts(model, parameters, grid)
    intervals = spread.Intervals.of(scores, components)
    limit = intervals.threshold(contrast, confidence=confidence)
    step = contrast @ intervals.inverse / np.sqrt(limit.model_variance)[..., None]
    return Outlook(model, parameters, grid, step, limit)


def _moved(model: Model, parameters: Array, shift: Array) -> Array:
    """Return parameters moved by `shift`; germinable fractions on their logit, near 1 far straighter."""
    fractions = slice(model.rate_parameters + 1, None)
    G = parameters[fractions]
    free = (G > 0) & (G < 1)
    odds = logit(np.where(free, G, 0.5))
    moved = parameters + shift
    by = shift[..., fractions] / np.where(free, G * (1 - G), 1.0)
    moved[..., fractions] = np.where(free, expit(odds + by), G)
    return moved


def _possible(model: Model, parameters: Array) -> Array:
    """Return parameters that a curve can have: moved along a line they may leave what is possible."""
    response, held = _response(model), parameters.copy()
    held[..., 1] = np.maximum(held[..., 1], 0.0)
    for column in response.breaks:
        held[..., column] = np.minimum(held[..., column], response.top)
    if "fall" in response.names:
        column = model.rate_parameters - 1
        held[..., column] = np.maximum(held[..., column], 0.0)
    return held


def band(found: Outlook) -> tuple[Array, Array]:
    """Return the limits of the germinated share, shape (n, m) each; neither falls as time goes on."""
    reach, best = np.sqrt(found.limit.value), found.best.share
    ends = np.stack((found.moved(-reach).share, best, found.moved(reach).share))
    low, high = ends.min(0), ends.max(0)
    later = np.maximum.accumulate(low, axis=1)
    earlier = np.minimum.accumulate(high[:, ::-1], axis=1)[:, ::-1]
    return np.minimum(later, best), np.maximum(earlier, best)


def half_time(
    model: Model,
    parameters: Array,
    grid: Grid,
    hours: Array,
    *,
    scores: DishScores,
    components: Components,
    confidence: float,
) -> Array:
    """Return hours to half of the germinable seeds at one place with its limits, (3,): value, low, high.

    `hours` (m,) are the times of the grid. What is not reached by the last of them is infinite.
    """
    progress, gradient = _progress(model, parameters, grid)
    best = progress[0]
    # where half is not reached the last time is the nearest to it
    at = min(int(np.searchsorted(best, 1.0)), len(hours) - 1)
    contrast = np.zeros(model.size)
    contrast[: model.rate_parameters] = gradient[0, at]
    intervals = spread.Intervals.of(scores, components)
    limit = intervals.threshold(contrast, confidence=confidence)
    step = intervals.inverse @ contrast / np.sqrt(limit.model_variance)
    ends = [best]
    for u in np.sqrt(limit.value) * np.array((1.0, -1.0)):
        beta = _possible(model, _moved(model, parameters, u * step))
        ends.append(_progress(model, beta, grid)[0][0])
    times = np.array([_reached(end, hours) for end in ends])
    return np.array((times[0], times.min(), times.max()))


def _reached(progress: Array, hours: Array) -> float:
    """Return when a progress that does not fall comes to 1, infinite where it does not."""
    if progress[-1] < 1:
        return np.inf
    after = int(np.searchsorted(progress, 1.0))
    start = (hours[after - 1], progress[after - 1]) if after else (0.0, 0.0)
    gained = progress[after] - start[1]
    return float(start[0] + (1 - start[1]) / gained * (hours[after] - start[0]))


def thinned(found: Outlook, fractions: Array) -> Outlook:
    """Return the outlook with other germinable fractions, where data only bound them."""
    parameters = found.parameters.copy()
    parameters[found.model.rate_parameters + 1 :] = fractions
    return replace(found, parameters=parameters)

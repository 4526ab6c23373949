"""Logit regression of dish counts whose dishes differ: beta-binomial, and a normal dish effect.

Beta-binomial: the fraction of a dish is drawn from a beta(a, b) of mean p with a + b = (1 − rho)/rho, so that
rho is the intra-dish correlation and Var r = n p q [1 + (n − 1) rho]. Normal dish effect: logit p = X b + sigma z,
z integrated out by Gauss and Hermite's rule. Both likelihoods are standard ones.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.linalg import eigh
from scipy.special import betaln, expit, gammaln, log_expit, logsumexp

from hilum.stats.dish_counts import DishCounts, binomial
from hilum.stats.families import Array

Outcome = Literal["fitted", "separated", "no_spread"]
_NODES = 60
_STEP = 1e-4  # of differences: rounding and truncation both stay below 1e-7
_MOST_STEPS = 100
_NO_GAIN = 1e-6  # of the log likelihood over the binomial: dishes differ no more than a binomial


@dataclass(frozen=True, kw_only=True)
class SpreadFit:
    """Coefficients (p,) and their covariance (p, p), the spread (rho or sigma) with its error, and log likelihood.

    `no_spread`: the likelihood is highest at spread 0, whose fit is the binomial one, and the spread has no
    standard error. `separated`: a coefficient has no finite estimate; nothing else is given.
    """

    outcome: Outcome
    coefficients: Array
    covariance: Array
    spread: float
    spread_error: float | None
    log_likelihood: float


def beta_binomial(data: DishCounts) -> SpreadFit:
    """Return the beta-binomial fit of highest likelihood; `spread` is the intra-dish correlation rho."""

    def log_likelihood(at: Array) -> float:
        p, rho = expit(data.design @ at[:-1]), float(expit(at[-1]))
        total = (1 - rho) / rho
        a, b = total * p, total * (1 - p)
        parts = betaln(data.hits + a, data.seeds - data.hits + b) - betaln(a, b)
        return float((parts + _ways(data)).sum())

    return _fit(data, log_likelihood, (-3.0, -5.0), expit, lambda rho: rho * (1 - rho))


def normal_effects(data: DishCounts) -> SpreadFit:
    """Return the fit with a normal dish effect of highest likelihood; `spread` is its sd on logit p."""
    node, weight = np.polynomial.hermite.hermgauss(_NODES)
    z, log_weight = np.sqrt(2) * node, np.log(weight / np.sqrt(np.pi))

    def log_likelihood(at: Array) -> float:
        eta = (data.design @ at[:-1])[:, None] + np.exp(at[-1]) * z
        misses = (data.seeds - data.hits)[:, None]
        inside = data.hits[:, None] * log_expit(eta) + misses * log_expit(-eta)
        return float((logsumexp(inside + log_weight, axis=1) + _ways(data)).sum())

    return _fit(data, log_likelihood, (-0.7, -2.0), np.exp, lambda sigma: sigma)


def _ways(data: DishCounts) -> Array:
    n, r = data.seeds, data.hits
    return np.asarray(gammaln(n + 1) - gammaln(r + 1) - gammaln(n - r + 1))


def _fit(
    data: DishCounts,
    log_likelihood: Callable[[Array], float],
    starts: tuple[float, ...],
    spread: Callable[[float], float],
    slope: Callable[[float], float],
) -> SpreadFit:
    """Climb from the binomial fit with each start of the free spread, whose value and slope are given."""
    plain = binomial(data)
    p = expit(data.design @ plain.coefficients)
    if plain.outcome == "separated":
        return _without(plain.coefficients, plain.covariance, "separated", float("nan"))
    sure = data.hits * np.log(p) + (data.seeds - data.hits) * np.log1p(-p)
    lowest = float((sure + _ways(data)).sum())
    tops = [_climb(log_likelihood, np.append(plain.coefficients, start)) for start in starts]
    top = max(tops, key=log_likelihood)
    if log_likelihood(top) < lowest + _NO_GAIN:
        return _without(plain.coefficients, plain.covariance, "no_spread", lowest)
    covariance = np.asarray(np.linalg.inv(-_hessian(log_likelihood, top)))
    value = float(spread(top[-1]))
    return SpreadFit(
        outcome="fitted",
        coefficients=top[:-1],
        covariance=covariance[:-1, :-1],
        spread=value,
        spread_error=float(slope(value) * covariance[-1, -1] ** 0.5),
        log_likelihood=log_likelihood(top),
    )


def _without(b: Array, covariance: Array, outcome: Outcome, log_likelihood: float) -> SpreadFit:
    return SpreadFit(
        outcome=outcome,
        coefficients=b,
        covariance=covariance,
        spread=0.0,
        spread_error=None,
        log_likelihood=log_likelihood,
    )


def _climb(f: Callable[[Array], float], start: Array) -> Array:
    """Return the top reached by Newton's steps, shortened until they rise; −H is made positive where it is not."""
    point, value = start, f(start)
    for _ in range(_MOST_STEPS):
        gradient, curve = _gradient(f, point), -_hessian(f, point)
        size, axes = eigh(curve)
        step = axes @ ((axes.T @ gradient) / np.maximum(np.abs(size), 1e-6))
        step *= min(1.0, 2.0 / max(1e-12, float(np.abs(step).max())))
        while f(point + step) < value and np.abs(step).max() > 1e-10:
            step = step / 2
        if f(point + step) < value or float(gradient @ step) < 1e-13:
            break
        point, value = point + step, f(point + step)
    return point


def _gradient(f: Callable[[Array], float], at: Array) -> Array:
    moves = _STEP * np.eye(len(at))
    return np.array([(f(at + move) - f(at - move)) / (2 * _STEP) for move in moves])


def _hessian(f: Callable[[Array], float], at: Array) -> Array:
    moves, here = _STEP * np.eye(len(at)), f(at)
    found = np.empty((len(at), len(at)))
    for i, one in enumerate(moves):
        found[i, i] = (f(at + one) - 2 * here + f(at - one)) / _STEP**2
        for j, other in enumerate(moves[:i]):
            up = f(at + one + other) + f(at - one - other)
            down = f(at + one - other) + f(at - one + other)
            found[i, j] = found[j, i] = (up - down) / (4 * _STEP**2)
    return found

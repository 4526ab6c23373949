"""How germination times are spread among the seeds of a dish: three families on one scale.

Each family is written in z = (ln t − mu)/sigma and shifted so that z = 0 is its median: mu is ln t50 in
every family, and 1/sigma is the slope. Every function keeps its accuracy far out in both tails.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import exprel, log_ndtr, logit, ndtri

from hilum.stats.arrays import Array

_LOG_LOG_2 = float(np.log(np.log(2.0)))
LARGEST_LOG = 300.0  # exp of it can still be squared


@dataclass(frozen=True)
class Family:
    """One family of times: its logarithms of probability as functions of z, all of any shape.

    `slope` is d log_pdf / dz; `cell(a, b)` gives log P and the densities pdf(a)/P and pdf(b)/P, P the
    probability of a < z ≤ b, and `log_cell(a, b)` log P alone; `quantile` the z that a fraction of the germinable seeds has reached, and `sd`
    the standard deviation of z.
    """

    name: str
    label: str
    log_cdf: Callable[[Array], Array]
    log_sf: Callable[[Array], Array]
    log_pdf: Callable[[Array], Array]
    slope: Callable[[Array], Array]
    log_cell: Callable[[Array, Array], Array]
    cell: Callable[[Array, Array], tuple[Array, Array, Array]]
    quantile: Callable[[Array], Array]
    sd: float


def log_one_minus_exp(x: Array) -> Array:
    """Return log(1 − exp(−x)) for x > 0 without cancellation at small x."""
    return np.asarray(np.log(-np.expm1(-x)))


def ratio(log_top: Array, log_bottom: Array) -> Array:
    """Return exp(log_top − log_bottom), held below overflow."""
    return np.asarray(np.exp(np.minimum(log_top - log_bottom, LARGEST_LOG)))


def _logistic_log_sf(z: Array) -> Array:
    """Return log S(z) = −log(1 + exp(z)); numpy's own functions are several times as fast as log_expit."""
    return np.asarray(-(np.maximum(z, 0.0) + np.log1p(np.exp(-np.abs(z)))))


def _logistic_cell(a: Array, b: Array) -> tuple[Array, Array, Array]:
    """Return log P and the densities over P, without any difference of F.

    P = F(b) − F(a) = S(a)·F(b)·(1 − exp(−(b − a))), and pdf = F·S: so pdf(b)/P = S(b)/S(a)/(1 − exp(a − b)) and
    pdf(a)/P = F(a)/F(b)/(1 − exp(a − b)).
    """
    inside = -np.expm1(a - b)
    if np.abs(b).max(initial=0.0) < LARGEST_LOG:
        # a ≤ b, so products of both odds are numbers
        odds_a, odds_b = np.exp(a), np.exp(b)
        s_a, s_b = 1 + odds_a, 1 + odds_b
        left = s_a / s_b  # S(b)/S(a)
        log_p = b + np.log(inside / (s_a * s_b))
        return log_p, odds_a / (odds_b * left * inside), left / inside
    log_s_a, log_s_b = _logistic_log_sf(a), _logistic_log_sf(b)
    log_f_b = b + log_s_b
    log_p = log_s_a + log_f_b + np.log(inside)
    return log_p, np.exp(a + log_s_a - log_f_b) / inside, np.exp(log_s_b - log_s_a) / inside


def _logistic_log_cell(a: Array, b: Array) -> Array:
    """Return log P, as `_logistic_cell` does."""
    inside = -np.expm1(a - b)
    if np.abs(b).max(initial=0.0) < LARGEST_LOG:
        return np.asarray(b + np.log(inside / ((1 + np.exp(a)) * (1 + np.exp(b)))))
    return np.asarray(_logistic_log_sf(a) + b + _logistic_log_sf(b) + np.log(inside))


def _with_densities(
    log_cell: Callable[[Array, Array], Array], log_pdf: Callable[[Array], Array]
) -> Callable[[Array, Array], tuple[Array, Array, Array]]:
    """Return the cell terms of a family from its log probability and log density."""

    def cell(a: Array, b: Array) -> tuple[Array, Array, Array]:
        log_p = log_cell(a, b)
        return log_p, ratio(log_pdf(a), log_p), ratio(log_pdf(b), log_p)

    return cell


def _normal_log_cell(a: Array, b: Array) -> Array:
    """Return log(Φ(b) − Φ(a)), taken in the tail in which both are small."""
    flip = a + b > 0
    near, far = np.where(flip, -a, b), np.where(flip, -b, a)
    log_near = log_ndtr(near)
    return np.asarray(log_near + log_one_minus_exp(log_near - log_ndtr(far)))


def _normal_log_pdf(z: Array) -> Array:
    return np.asarray(-0.5 * z * z - 0.5 * np.log(2 * np.pi))


def _log_hazard(z: Array) -> Array:
    """Return log H(z) of the Weibull, S = exp(−H), with H(0) = ln 2."""
    return np.minimum(z + _LOG_LOG_2, LARGEST_LOG)


def _weibull_log_cdf(z: Array) -> Array:
    log_hazard = _log_hazard(z)
    return np.asarray(log_hazard + np.log(exprel(-np.exp(log_hazard))))


def _weibull_log_sf(z: Array) -> Array:
    return np.asarray(-np.exp(_log_hazard(z)))


def _weibull_log_pdf(z: Array) -> Array:
    log_hazard = _log_hazard(z)
    return np.asarray(log_hazard - np.exp(log_hazard))


def _weibull_log_cell(a: Array, b: Array) -> Array:
    """Return log(S(a) − S(b)) = −H(a) + log x + log((1 − exp(−x))/x), x = H(b) − H(a)."""
    log_a, log_b = _log_hazard(a), _log_hazard(b)
    hazard_a = np.exp(log_a)
    x = np.exp(log_b) - hazard_a
    log_x = log_b + log_one_minus_exp(np.maximum(log_b - log_a, 1e-300))
    return np.asarray(-hazard_a + log_x + np.log(exprel(-x)))


LOG_LOGISTIC = Family(
    name="log_logistic",
    label="log-logistic",
    log_cdf=lambda z: _logistic_log_sf(-z),
    log_sf=_logistic_log_sf,
    log_pdf=lambda z: np.asarray(z + 2 * _logistic_log_sf(z)),
    slope=lambda z: np.asarray(-np.tanh(z / 2)),
    log_cell=_logistic_log_cell,
    cell=_logistic_cell,
    quantile=logit,
    sd=float(np.pi / np.sqrt(3)),
)

LOG_NORMAL = Family(
    name="log_normal",
    label="log-normal",
    log_cdf=log_ndtr,
    log_sf=lambda z: np.asarray(log_ndtr(-z)),
    log_pdf=_normal_log_pdf,
    slope=lambda z: np.asarray(-z),
    log_cell=_normal_log_cell,
    cell=_with_densities(_normal_log_cell, _normal_log_pdf),
    quantile=ndtri,
    sd=1.0,
)

WEIBULL = Family(
    name="weibull",
    label="Weibull",
    log_cdf=_weibull_log_cdf,
    log_sf=_weibull_log_sf,
    log_pdf=_weibull_log_pdf,
    slope=lambda z: np.asarray(1 - np.exp(_log_hazard(z))),
    log_cell=_weibull_log_cell,
    cell=_with_densities(_weibull_log_cell, _weibull_log_pdf),
    quantile=lambda p: np.asarray(np.log(-np.log1p(-p)) - _LOG_LOG_2),
    sd=float(np.pi / np.sqrt(6)),
)

FAMILIES = (LOG_LOGISTIC, LOG_NORMAL, WEIBULL)


def named(name: str) -> Family:
    """Return the family of that name. Raises KeyError for an unknown one."""
    return {family.name: family for family in FAMILIES}[name]

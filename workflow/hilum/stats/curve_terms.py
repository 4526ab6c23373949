"""Log likelihood of whole curves with G maximised out exactly, its gradient and Hessian.

Many curves at once: every array has a leading axis of B curves. The germinable fraction is found in closed
form where all seeds share one last inspection, G = min(1, N/(n·F0)), else by a safe Newton iteration in
(0, 1]; G = 1 is an exact boundary, not a parameter that runs away.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hilum.stats.arrays import Array
from hilum.stats.families import Family, ratio
from hilum.stats.interval_censored import Cells, log_hours, log_survivor

_FRACTION_STEPS = 60


@dataclass(frozen=True)
class LogCells:
    """Counts of B curves in log hours: cells that hold seeds (B, K), and last looks (B, M)."""

    start: Array
    end: Array
    count: Array
    filled: np.ndarray
    look: Array
    left: Array
    germinated: Array

    def take(self, curves: np.ndarray) -> LogCells:
        """Return some of the curves."""
        return LogCells(*(value[curves] for value in vars(self).values()))


@dataclass(frozen=True)
class CurveTerms:
    """Log likelihood (B,), G (B,), gradient (B, 2) and Hessian (B, 2, 2) in (log t50, log sigma)."""

    loglik: Array
    fraction: Array
    gradient: Array
    hessian: Array

    def take(self, curves: np.ndarray) -> CurveTerms:
        """Return the terms of some curves."""
        return CurveTerms(*(value[curves] for value in vars(self).values()))


@dataclass(frozen=True)
class _Part:
    """Sums over the cells or the looks of each curve: first and second derivatives in (mu, ln sigma)."""

    loglik: Array
    by_mu: Array
    by_sigma: Array
    mu_mu: Array
    mu_sigma: Array
    sigma_sigma: Array


def pack(cells: Cells) -> LogCells:
    """Return only what the likelihood needs: cells and looks with seeds, packed to the left."""
    start, end, count = _packed(cells.count, cells.start_h, cells.end_h)
    look, left = _packed(cells.censored, cells.censor_h)
    filled = count == 0
    return LogCells(
        log_hours(start), log_hours(end), count, filled, log_hours(look), left, cells.germinated
    )


def _packed(seeds: Array, *hours: Array) -> tuple[Array, ...]:
    """Return the columns that hold seeds (hours first, seeds last), at least one, filled up with 1 h."""
    row, column = np.nonzero(seeds)
    held = np.bincount(row, minlength=len(seeds))
    place = np.arange(len(row)) - np.repeat(np.cumsum(held) - held, held)
    packed = np.ones((len(hours) + 1, len(seeds), max(int(held.max(initial=0)), 1)))
    packed[-1] = 0
    for target, values in zip(packed, (*hours, seeds), strict=True):
        target[row, place] = values[row, column]
    return tuple(packed)


def fraction_at(cells: LogCells, log_cdf: Array) -> Array:
    """Return the G of highest likelihood, shape (B,), where F0 at the last looks is exp(log_cdf), (B, M)."""
    N = cells.germinated
    if cells.left.shape[-1] == 1:
        sown = N + cells.left[:, 0]
        return np.asarray(np.minimum(1.0, ratio(np.log(N / sown), log_cdf[:, 0])))
    return best_fraction(N, cells.left, np.exp(log_cdf))


def best_fraction(N: Array, left: Array, reached: Array) -> Array:
    """Return the G of highest likelihood, (B,), where F0 is `reached` at the last looks, (B, M).

    It is the root of N/G = Σ left·F0/(1 − G·F0), or 1; the difference falls in G, so the root is bracketed.
    """
    low, high = N / (N + left.sum(-1)), np.ones_like(N)
    whole, _ = _fraction_slope(N, left, reached, high)
    G = low.copy()
    for _ in range(_FRACTION_STEPS):
        value, bend = _fraction_slope(N, left, reached, G)
        low, high = np.where(value >= 0, G, low), np.where(value < 0, G, high)
        step = G + value / bend
        trial = np.where((step > low) & (step < high), step, (low + high) / 2)
        if np.abs(trial - G).max(initial=0) < 1e-15:
            break
        G = trial
    return np.where(whole >= 0, 1.0, G)


def _fraction_slope(N: Array, left: Array, reached: Array, G: Array) -> tuple[Array, Array]:
    """Return the slope of the log likelihood in G, and how fast it falls; F0 near 1 at G = 1 may not divide by 0."""
    term = reached / np.maximum(1 - G[:, None] * reached, 1e-100)
    return N / G - (left * term).sum(-1), N / G**2 + (left * term**2).sum(-1)


def _cell_part(cells: LogCells, mu: Array, sigma: Array, family: Family) -> _Part:
    b = (cells.end - mu) / sigma
    a = np.where(cells.filled, b - 1, (cells.start - mu) / sigma)
    log_p, r_a, r_b = family.cell(a, b)
    n = cells.count
    z_a, z_b = a * r_a, b * r_b
    D, E = r_b - r_a, z_b - z_a
    slope_a, slope_b = family.slope(a), family.slope(b)
    bend_a, bend_b = slope_a * z_a, slope_b * z_b
    s = sigma[:, 0]
    return _Part(
        loglik=_total(n, log_p),
        by_mu=-_total(n, D) / s,
        by_sigma=-_total(n, E),
        mu_mu=_total(n, slope_b * r_b - slope_a * r_a - D * D) / s**2,
        mu_sigma=_total(n, D + bend_b - bend_a - D * E) / s,
        sigma_sigma=_total(n, E + b * bend_b - a * bend_a - E * E),
    )


def _total(seeds: Array, values: Array) -> Array:
    return np.asarray(np.einsum("bk,bk->b", seeds, values))


@dataclass(frozen=True)
class _Looks:
    """The seeds that had not germinated: derivatives in (mu, ln sigma), and with G."""

    part: _Part
    by_fraction: Array
    fraction_fraction: Array
    mu_fraction: Array
    sigma_fraction: Array


def _look_part(cells: LogCells, mu: Array, sigma: Array, G: Array, family: Family) -> _Looks:
    z = (cells.look - mu) / sigma
    g = G[:, None]
    log_left = log_survivor(z, g, family)
    n, s = cells.left, sigma[:, 0]
    density, passed = ratio(family.log_pdf(z), log_left), ratio(family.log_cdf(z), log_left)
    r = g * density
    bend = r * (family.slope(z) + r)
    # d²/dmu dG is f/(1 − G·F0)²
    cross = np.minimum(density * ratio(np.zeros_like(z), log_left), 1e150)
    part = _Part(
        loglik=_total(n, np.where(n > 0, log_left, 0.0)),
        by_mu=_total(n, r) / s,
        by_sigma=_total(n, z * r),
        mu_mu=-_total(n, bend) / s**2,
        mu_sigma=-_total(n, r + z * bend) / s,
        sigma_sigma=-_total(n, z * (r + z * bend)),
    )
    return _Looks(
        part,
        by_fraction=-_total(n, passed),
        fraction_fraction=-_total(n, passed**2),
        mu_fraction=_total(n, cross) / s,
        sigma_fraction=_total(n, z * cross),
    )


def curve_terms(
    cells: LogCells, log_t50: Array, log_sigma: Array, family: Family, fraction: Array | None = None
) -> CurveTerms:
    """Return the likelihood of B curves and its derivatives in (log t50, log sigma), shapes (B,).

    G is maximised out unless `fraction` (B,) holds it.
    """
    mu, sigma = log_t50[:, None], np.exp(log_sigma)[:, None]
    free = fraction is None
    G = (
        fraction_at(cells, family.log_cdf((cells.look - mu) / sigma))
        if fraction is None
        else fraction
    )
    inside = _cell_part(cells, mu, sigma, family)
    looks = _look_part(cells, mu, sigma, G, family)
    gradient, hessian = _sums(inside, looks.part)
    if free:
        hessian = _without_fraction(cells.germinated, G, looks, hessian)
    loglik = inside.loglik + looks.part.loglik + cells.germinated * np.log(G)
    return CurveTerms(loglik, G, gradient, hessian)


def _sums(inside: _Part, outside: _Part) -> tuple[Array, Array]:
    gradient = np.stack((inside.by_mu + outside.by_mu, inside.by_sigma + outside.by_sigma), axis=-1)
    cross = inside.mu_sigma + outside.mu_sigma
    hessian = np.empty((*cross.shape, 2, 2))
    hessian[:, 0, 0] = inside.mu_mu + outside.mu_mu
    hessian[:, 1, 1] = inside.sigma_sigma + outside.sigma_sigma
    hessian[:, 0, 1] = hessian[:, 1, 0] = cross
    return gradient, hessian


def _without_fraction(N: Array, G: Array, looks: _Looks, hessian: Array) -> Array:
    """Return the Hessian of the profile likelihood: H − h h'/H_GG where G is inside (0, 1)."""
    bend = -N / G**2 + looks.fraction_fraction
    h = np.where(G[:, None] < 1, np.stack((looks.mu_fraction, looks.sigma_fraction), axis=-1), 0.0)
    return np.asarray(hessian - h[:, :, None] * h[:, None, :] / bend[:, None, None])


def full_hessian(
    cells: LogCells, log_t50: Array, log_sigma: Array, fraction: Array, family: Family
) -> Array:
    """Return the Hessian in (log t50, log sigma, G), shape (B, 3, 3); rows of a G = 1 are 0."""
    mu, sigma = log_t50[:, None], np.exp(log_sigma)[:, None]
    looks = _look_part(cells, mu, sigma, fraction, family)
    _, two = _sums(_cell_part(cells, mu, sigma, family), looks.part)
    hessian = np.zeros((len(fraction), 3, 3))
    hessian[:, :2, :2] = two
    inside = fraction < 1
    hessian[:, 0, 2] = hessian[:, 2, 0] = np.where(inside, looks.mu_fraction, 0.0)
    hessian[:, 1, 2] = hessian[:, 2, 1] = np.where(inside, looks.sigma_fraction, 0.0)
    bend = -cells.germinated / fraction**2 + looks.fraction_fraction
    hessian[:, 2, 2] = np.where(inside, bend, 0.0)
    return hessian

"""Random counts through the curve fits of all families, and random dishes through the proportions, many at once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np

from hilum.stats import germination_curve, proportions
from hilum.stats.arrays import Array
from hilum.stats.curve_terms import curve_terms, pack
from hilum.stats.families import FAMILIES, Family
from hilum.stats.germination_curve import CurveFits
from hilum.stats.interval_censored import Cells
from hilum.stats.proportions import Groups

BATCH = 2000
# steps from a fitted point in (log t50, log sigma) by which no point may be better
_AROUND = [(a, b) for a in (-0.3, -0.03, 0, 0.03, 0.3) for b in (-0.3, -0.03, 0, 0.03, 0.3)]
_LIKELIER = 1e-3
_OUTCOMES = {
    germination_curve.FITTED,
    germination_curve.NONE_GERMINATED,
    germination_curve.TOO_FEW_INSPECTIONS,
    germination_curve.NOT_INSPECTED,
}


def draw(rng: np.random.Generator, curves: int) -> Cells:
    """Return the counts of so many curves, all with as many inspections, at times from seconds to decades."""
    K = int(rng.integers(1, 13))
    gaps = np.where(
        rng.random((curves, 1)) < 0.5, 1.0, rng.gamma(rng.choice([0.1, 1.0, 9.0]), 1, (curves, K))
    )
    scale = np.where(rng.random(curves) < 0.5, 24.0, 10 ** rng.uniform(-3, 5.5, curves))
    end = np.cumsum(np.maximum(gaps, 1e-6), axis=1) * scale[:, None]
    start = np.hstack((np.zeros((curves, 1)), end[:, :-1]))
    share = rng.dirichlet(np.full(K + 1, rng.choice([0.02, 0.2, 1.0, 10.0])), curves)
    smooth = np.diff(1 / (1 + np.exp(-np.linspace(-4, 6, K + 2) * rng.uniform(0.3, 3))))
    share = np.where(rng.random((curves, 1)) < 0.4, smooth / smooth.sum(), share)
    seeds = rng.choice([1, 2, 3, 4, 10, 25, 100, 400, 10_000], curves)
    counts = rng.multinomial(seeds, share).astype(float)
    # some of the others were lost at one of the inspections
    lost = np.floor(counts[:, K] * rng.random(curves) * (rng.random(curves) < 0.2))
    when = end[np.arange(curves), rng.integers(K, size=curves)]
    look = np.stack((end[:, -1], when), axis=1)
    return Cells(start, end, counts[:, :K], look, np.stack((counts[:, K] - lost, lost), axis=1))


def stress(curves: int, seed: int) -> tuple[Counter[str], list[str]]:
    """Return the outcomes of every curve in every family, and what is wrong with any."""
    found: Counter[str] = Counter()
    wrong: list[str] = []
    for batch in range(0, curves, BATCH):
        cells = draw(np.random.default_rng([seed, batch]), min(BATCH, curves - batch))
        for family in FAMILIES:
            with np.errstate(divide="raise", over="raise", invalid="raise"):
                fits = germination_curve.fit(cells, family)
            found.update(fits.outcome.tolist())
            place = f"{family.label}, seed {[seed, batch]}"
            wrong += [f"{place}, curves {rows}" for rows in _wrong(cells, fits, family)]
    return found, wrong


def _wrong(cells: Cells, fits: CurveFits, family: Family) -> Iterator[str]:
    """Yield which curves have no named outcome, a number that is none, or a better point beside theirs."""
    unnamed = ~np.isin(fits.outcome, sorted(_OUTCOMES))
    here = fits.fitted
    numbers = np.stack((fits.log_t50, fits.log_sigma, fits.fraction, fits.loglik), axis=-1)
    nan = ~np.isfinite(numbers).all(-1) | ~np.isfinite(fits.hessian).all((-2, -1))
    impossible = (fits.fraction < 0) | (fits.fraction > 1) | (fits.loglik > 1e-9)
    for says, rows in (
        ("without an outcome", unnamed),
        ("fitted to a number that is none", here & nan),
        ("with a fraction or a likelihood that cannot be", here & impossible),
        ("not at the top", here & (_climbable(cells, fits, family) > _LIKELIER)),
    ):
        if rows.any():
            yield f"{np.flatnonzero(rows)[:5].tolist()} of {int(rows.sum())} {says}"


def _climbable(cells: Cells, fits: CurveFits, family: Family) -> Array:
    """Return by how much the log likelihood is higher at the best point around each fit, (B,)."""
    gain = np.zeros(len(fits.outcome))
    rows = np.flatnonzero(fits.fitted)
    if not len(rows):
        return gain
    packed = pack(cells.take(rows))
    at, width = fits.log_t50[rows], np.exp(fits.log_sigma[rows])
    for a, b in _AROUND:
        # the range that the fit itself may search
        spread = np.clip(fits.log_sigma[rows] + b, *germination_curve._SIGMA_RANGE)
        there = curve_terms(packed, at + a * width, spread, family).loglik
        gain[rows] = np.maximum(gain[rows], there - fits.loglik[rows])
    return gain


def stress_proportions(groups: int, seed: int) -> list[str]:
    """Return what is wrong with the fractions, limits and differences of so many groups of dishes."""
    wrong: list[str] = []
    for batch in range(0, groups, BATCH):
        rng = np.random.default_rng([seed, 7, batch])
        shape = (BATCH // 2, 2, int(rng.integers(1, 6)))
        seeds = rng.choice([0, 1, 2, 10, 50, 1000], shape).astype(float)
        hits = np.floor(seeds * rng.choice([0.0, 1.0, 0.5, rng.random()], shape))
        with np.errstate(divide="raise", over="raise", invalid="raise"):
            wrong += [f"seed {[seed, 7, batch]}: {says}" for says in _odd(Groups(hits, seeds))]
    return wrong


def _odd(groups: Groups) -> Iterator[str]:
    rho = proportions.correlation(groups, unknown=0.05)
    width = proportions.spread(groups, rho).threshold(0.95)
    low, high = proportions.wilson(groups.hits.sum(-1), groups.total, width)
    p = groups.fraction
    apart = proportions.difference(
        (p[:, 0], p[:, 1]), (low[:, 0], low[:, 1]), (high[:, 0], high[:, 1])
    )
    for name, values in (
        ("width", width),
        ("limits", np.stack((low, high))),
        ("difference", apart),
    ):
        if not np.isfinite(values).all():
            yield f"a {name} is no number"
    seen = groups.total > 0
    if not ((low <= p + 1e-9) & (p <= high + 1e-9) & (low >= 0) & (high <= 1))[seen].all():
        yield "a fraction outside its limits"
    if not ((apart[1] <= apart[0] + 1e-9) & (apart[0] <= apart[2] + 1e-9)).all():
        yield "a difference outside its limits"

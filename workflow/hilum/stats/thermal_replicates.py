"""Refit a straight line to many replicates of one temperature series at once.

All replicates start at the fit of the original counts. Newton's first step is one matrix product, since there every cell has
the same derivatives in all of them; two more, each in its own place, end it for nearly all. What does not settle within a few
is climbed one by one, as any other series is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hilum.stats import cardinal, response
from hilum.stats.cardinal import Peak
from hilum.stats.families import LOG_LOGISTIC, Array
from hilum.stats.interval_censored import Cells
from hilum.stats.replicate_surface import Counts, Design, curvature
from hilum.stats.thermal import Series, one_for_all

# outcomes, by what a fit ends in
FITTED = "fitted"
ALL_GERMINABLE = "all germinable"  # G is exactly 1
NO_RISE = "no rise"  # the rate does not rise with the temperature: there is no base
ONE_TEMPERATURE = "one temperature"  # seeds germinated at one only: no line goes through it
NOTHING_GERMINATED = "nothing germinated"
BASE_ABOVE_ANCHOR = "base above the anchor"  # of the original fit, where these seeds stand still

_TOGETHER = 1000
_MOST_STEPS = 12
# of twice the log likelihood that the last step gains: the next one would move no parameter by 1e-7
_SETTLED = 1e-6
_FARTHEST = 1.5  # of a parameter in one step
_HIGHEST_START = 0.98  # of G, from which both a lower one and 1 can be reached
_WIDEST, _NARROWEST = np.log(5.0), np.log(0.01)  # of sigma, as the climb has it
_FEWEST = 1e-4  # of G, likewise


@dataclass(frozen=True)
class Refits:
    """What came of B replicates: `parameters` (B, 4) as in the original fit, `loglik` (B,), nan where there is no line.

    `outcome` (B,) says in what each fit ended; `climbed` (B,) marks those that were climbed one by one.
    """

    parameters: Array
    loglik: Array
    outcome: np.ndarray
    climbed: np.ndarray


def refit(peak: Peak, series: Series, count: Array, censored: Array) -> Refits:
    """Return the fits of replicates of `series` with counts (B, J, K) and censored (B, J, M) in the place of its own.

    `peak` is the fit of the series: log-logistic times, a linear response, one germinable fraction; its parameters are
    log rate (of 1/h, at its anchor), rise (1/°C), log sigma and G. The design is that of the series: cells of replicates
    are its cells. Raises ValueError for another model.
    """
    model = peak.model
    if (
        model.family is not LOG_LOGISTIC
        or model.response is None
        or (model.response.shape, model.fractions, model.own_bases) != ("linear", 1, False)
    ):
        raise ValueError("replicates are refitted for log-logistic times on a line with one G")
    B = len(count)
    warm = _germinating(series, count)
    outcome = np.full(B, FITTED, dtype="<U24")
    outcome[warm.sum(1) == 1] = ONE_TEMPERATURE
    outcome[warm.sum(1) == 0] = NOTHING_GERMINATED
    refits = Refits(np.full((B, 4), np.nan), np.full(B, np.nan), outcome, np.zeros(B, dtype=bool))
    # where a temperature stays silent the likelihood has more than one peak, which only a climb from several starts tells
    # apart
    near = np.flatnonzero(warm.all(1) & (warm.sum(1) > 1))
    _in_batches(refits, peak, series, (count, censored), near)
    for one in np.flatnonzero((outcome == FITTED) & np.isnan(refits.loglik)).tolist():
        _climb(refits, one, peak, series, (count[one], censored[one]))
    return refits


def _germinating(series: Series, count: Array) -> np.ndarray:
    """Return at which regimes seeds germinated in each replicate, shape (B, regimes)."""
    dish = count.sum(-1) > 0
    return np.stack([dish[:, series.regime == r].any(1) for r in range(series.regimes)], axis=1)


def _in_batches(
    refits: Refits,
    peak: Peak,
    series: Series,
    drawn: tuple[Array, Array],
    near: np.ndarray,
) -> None:
    """Fit replicates by Newton's steps, and write those that settle."""
    assert peak.model.response is not None  # noqa: S101
    count, censored = (array.reshape(len(array), -1) for array in drawn)
    design = Design.of(series, peak.model.response.anchor, count.sum(0) > 0, censored.sum(0) > 0)
    log_rate, rise, log_sigma, G = peak.parameters
    G = min(G, _HIGHEST_START)
    start = np.array([log_rate, rise, log_sigma, np.log(G / (1 - G))])[:, None]
    one = np.array([log_rate, rise, log_sigma, np.inf])[:, None]
    with np.errstate(all="ignore"):  # what leaves the numbers does not settle
        for i in range(0, len(near), _TOGETHER):
            which = near[i : i + _TOGETHER]
            counts = Counts.of(design, count[which], censored[which])
            rest = _settle(refits, design, counts, which, start)
            if len(rest):
                counts = counts.take(rest)
                _settle(refits, design, counts, which[rest], one)


def _settle(
    refits: Refits, design: Design, counts: Counts, which: np.ndarray, start: Array
) -> np.ndarray:
    """Step from `start` (4, 1) to the peak of each replicate; return the places of those that did not settle."""
    active, point, lost = np.arange(len(which)), start, [np.arange(0)]
    all_germinable = bool(np.isinf(start[3, 0]))
    for _ in range(_MOST_STEPS):
        here = curvature(design, counts, point)
        step, definite = solve(here.information, here.gradient)
        gain = (here.gradient * step).sum(0)
        point = point + np.clip(step, -_FARTHEST, _FARTHEST)
        settled = definite & (gain <= _SETTLED) & _within(point)
        if all_germinable:
            settled &= here.pull >= 0
        done = which[active[settled]]
        refits.parameters[done, :3] = point[:3, settled].T
        refits.parameters[done, 3] = 1 / (1 + np.exp(-point[3, settled]))
        if len(done):
            refits.loglik[done] = here.value()[settled] + gain[settled] / 2
        refits.outcome[done] = ALL_GERMINABLE if all_germinable else FITTED
        hopeless = ~(definite & np.isfinite(point[:3]).all(0))
        going = ~settled & ~hopeless
        lost.append(active[hopeless])
        if settled.any() or hopeless.any():
            active, point, counts = active[going], point[:, going], counts.take(going)
        if not len(active):
            break
    return np.concatenate((*lost, active))


def _within(point: Array) -> np.ndarray:
    """Return which points the climb would allow: a rate that rises, sigma and G within their bounds."""
    inside = (point[1] > 0) & (point[2] > _NARROWEST) & (point[2] < _WIDEST)
    return np.asarray(inside & (point[3] > np.log(_FEWEST)))


def solve(matrix: Array, vector: Array) -> tuple[Array, np.ndarray]:
    """Return the solutions (n, b) of b symmetric systems (n, n, b), and which of them are positive definite."""
    rows = np.concatenate((matrix, vector[:, None]), axis=1)
    definite = np.ones(vector.shape[1:], dtype=bool)
    for i in range(len(rows)):
        definite &= rows[i, i] > 0
        rows[i] /= rows[i, i]
        for k in range(len(rows)):
            if k != i:
                rows[k] -= rows[k, i] * rows[i]
    return rows[:, -1], definite


def _climb(
    refits: Refits, one: int, peak: Peak, series: Series, drawn: tuple[Array, Array]
) -> None:
    """Fit one replicate as any series is fitted, and write what came of it."""
    original = peak.model.response
    assert original is not None  # noqa: S101
    c = series.cells
    own = replace(series, cells=Cells(c.start_h, c.end_h, drawn[0], c.censor_h, drawn[1]))
    found = cardinal.fitted(LOG_LOGISTIC, "linear", own, one_for_all(own))
    assert found.model.response is not None  # noqa: S101
    refits.climbed[one] = True
    refits.loglik[one] = found.loglik
    rate = response.rates(found.model.response, found.parameters[:2], np.array([original.anchor]))
    if not rate.value[0] > 0:
        refits.outcome[one] = BASE_ABOVE_ANCHOR
        return
    slope = found.parameters[1] * np.exp(found.parameters[0])
    refits.parameters[one] = np.log(rate.value[0]), slope / rate.value[0], *found.parameters[2:]
    if found.parameters[1] <= 0:
        refits.outcome[one] = NO_RISE
    elif found.parameters[3] >= 1:
        refits.outcome[one] = ALL_GERMINABLE

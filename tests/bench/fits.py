"""Fits of time courses, all curves in one batch, against a scipy.optimize loop and lifelines on the same data."""

import lifelines
import numpy as np
from scipy.optimize import minimize

from hilum.stats import families, germination_curve
from hilum.stats.interval_censored import Cells
from tests.bench import cpu

CURVES, LOOPED, LIFELINES = 2000, 100, 5


def _simulated(rng: np.random.Generator) -> Cells:
    """Return curves of 100 seeds, 85 % germinable, inspected daily for 21 days."""
    hours = np.arange(0, 22) * 24.0
    t50, shape = rng.uniform(96, 240, CURVES)[:, None], 5.0
    with np.errstate(divide="ignore"):
        F = 1 / (1 + (hours / t50) ** -shape)
    p = np.hstack([0.85 * np.diff(F), 1 - 0.85 * F[:, -1:]])
    counts = rng.multinomial(100, p / p.sum(1, keepdims=True)).astype(float)
    edges = np.broadcast_to(hours, (CURVES, len(hours)))
    return Cells(edges[:, :-1], edges[:, 1:], counts[:, :-1], edges[:, -1:], counts[:, -1:])


def _one_by_scipy(start: np.ndarray, end: np.ndarray, count: np.ndarray, left: float) -> float:
    def loss(p: np.ndarray) -> float:
        limit, shape = 1 / (1 + np.exp(-p[0])), np.exp(p[2])
        with np.errstate(divide="ignore", over="ignore"):
            low = limit / (1 + (start / np.exp(p[1])) ** -shape)
            high = limit / (1 + (end / np.exp(p[1])) ** -shape)
            seen = np.log(np.maximum(high - low, 1e-300))
        return -float((count * seen).sum() + left * np.log(max(1 - high[-1], 1e-300)))

    middle = float((count * end).sum() / count.sum())
    return float(np.exp(minimize(loss, [1.0, np.log(middle), 1.5], method="BFGS").x[1]))


def _one_by_lifelines(start: np.ndarray, end: np.ndarray, count: np.ndarray, left: float) -> None:
    kept = count > 0
    lower, upper = np.append(start[kept], end[-1]), np.append(end[kept], np.inf)
    fitter = lifelines.LogLogisticFitter()
    fitter.fit_interval_censoring(lower, upper, weights=np.append(count[kept], max(left, 1)))


def run() -> None:
    """Print the CPU of one fit by each way, and the ratios."""
    cells = _simulated(np.random.default_rng(1))
    rows = [
        (cells.start_h[i], cells.end_h[i], cells.count[i], float(cells.censored[i, 0]))
        for i in range(LOOPED)
    ]
    batch = cpu.of_function(lambda: germination_curve.fit(cells, families.LOG_LOGISTIC)) / CURVES
    loop = cpu.of_function(lambda: [_one_by_scipy(*row) for row in rows], times=1) / LOOPED
    named = [_one_by_lifelines(*row) for row in rows[:1]]  # the first call imports
    slow = cpu.of_function(lambda: [_one_by_lifelines(*r) for r in rows[:LIFELINES]], times=1)
    assert named == [None]
    print(f"time course, batched        {batch * 1e6:9.1f} µs CPU a fit")
    print(f"time course, scipy loop     {loop * 1e6:9.1f} µs   {loop / batch:7.0f} x the batch")
    each = slow / LIFELINES
    print(f"time course, lifelines      {each * 1e6:9.1f} µs   {each / batch:7.0f} x the batch")

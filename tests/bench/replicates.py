"""Ten thousand refits of a temperature series, in one batch and by a scipy.optimize loop on the same counts."""

import numpy as np
from scipy.optimize import minimize

from hilum.stats import cardinal, thermal, thermal_replicates
from hilum.stats.families import LOG_LOGISTIC
from hilum.stats.interval_censored import Cells
from hilum.stats.thermal import Series
from tests.bench import cpu

REFITS, LOOPED, WANTED = 10_000, 20, 1000
TEMPERATURES = np.array([10.0, 12.5, 15.0, 20.0, 25.0, 30.0])
HOURS = np.arange(0, 29) * 24.0
SEEDS = 100  # at each temperature


def drawn(rng: np.random.Generator, studies: int) -> np.ndarray:
    """Return seeds of each cell and the rest: a base of 8 °C, 1500 °C h to half, 85 % germinable, counted daily."""
    half = 1500 / (TEMPERATURES[:, None] - 8)
    with np.errstate(divide="ignore"):
        reached = 0.85 / (1 + (HOURS / half) ** -5.0)
    cells = np.concatenate((np.diff(reached), 1 - reached[:, -1:]), axis=1)
    return rng.multinomial(SEEDS, cells, size=(studies, len(cells))).astype(float)


def series_of(counts: np.ndarray) -> Series:
    """Return the series of one study."""
    J = len(TEMPERATURES)
    edges = np.tile(HOURS, (J, 1))
    cells = Cells(edges[:, :-1], edges[:, 1:], counts[:, :-1], edges[:, -1:], counts[:, -1:])
    return Series(cells, TEMPERATURES[:, None], np.ones((J, 1)), np.arange(J))


def loss(x: np.ndarray, counts: np.ndarray, anchor: float) -> float:
    """Return minus the log likelihood at log rate, rise, log sigma and logit G."""
    relative = 1 + x[1] * (TEMPERATURES - anchor)
    if (relative <= 0).any():
        return 1e10
    rate, fraction = np.exp(x[0]) * relative, 1 / (1 + np.exp(-x[3]))
    with np.errstate(divide="ignore", over="ignore"):
        reached = fraction / (1 + (HOURS * rate[:, None]) ** -np.exp(-x[2]))
        seen = np.log(np.maximum(np.diff(reached), 1e-300))
        left = np.log(np.maximum(1 - reached[:, -1], 1e-300))
    return -float((counts[:, :-1] * seen).sum() + (counts[:, -1] * left).sum())


def run() -> None:
    """Print the CPU of one refit by each way, and how far apart their maxima are."""
    first, *rest = drawn(np.random.default_rng(1), REFITS + 1)
    counts, series = np.array(rest), series_of(first)
    peak = cardinal.fitted(LOG_LOGISTIC, "linear", series, thermal.one_for_all(series))
    assert peak.model.response is not None
    anchor, G = peak.model.response.anchor, peak.parameters[3]
    start = np.array([*peak.parameters[:3], np.log(G / (1 - G))])
    looped = [-minimize(loss, start, (c, anchor), "BFGS").fun for c in counts[:LOOPED]]
    refits = thermal_replicates.refit(peak, series, counts[..., :-1], counts[..., -1:])
    apart = np.abs(refits.loglik[:LOOPED] - looped).max()
    batch = cpu.of_function(
        lambda: thermal_replicates.refit(peak, series, counts[..., :-1], counts[..., -1:])
    )
    loop = cpu.of_function(
        lambda: [minimize(loss, start, (c, anchor), "BFGS") for c in counts[:LOOPED]]
    )
    each, ratio = batch / REFITS, loop / LOOPED / batch * REFITS
    print(f"temperature, {REFITS} refits  {each * 1e6:7.1f} µs CPU a refit")
    print(
        f"temperature, scipy loop     {loop / LOOPED * 1e6:9.1f} µs   {ratio:7.0f} x the batch (wanted: {WANTED}); "
        f"log likelihoods at most {apart:.0e} apart"
    )

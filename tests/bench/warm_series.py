"""Temperature series for the bench, and the likelihood of a straight line as scipy.optimize takes it."""

import numpy as np

from hilum.stats.interval_censored import Cells
from hilum.stats.thermal import Series

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

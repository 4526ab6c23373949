"""Dishes over temperatures from the independent generator, as the thermal likelihood takes them."""

import numpy as np

from hilum.stats.interval_censored import Cells
from hilum.stats.thermal import Series
from tests import generator

DAYS_28 = tuple(24.0 * day for day in range(1, 29))
NEVER = 1e12


def median_hours(temperature, *, base, time, optimum=np.inf):
    """Return the time to half at one temperature, of a lot that is no faster above its optimum."""
    above = min(temperature, optimum) - base
    return time / above if above > 0 else NEVER


def series(temperatures, counts, seeds, inspections_h=DAYS_28):
    """Return the series of counts, shape (temperatures, dishes, inspections)."""
    flat = counts.reshape(-1, counts.shape[-1]).astype(float)
    J, regime = len(flat), np.repeat(np.arange(len(temperatures)), counts.shape[1])
    end = np.tile(inspections_h, (J, 1))
    start = np.concatenate((np.zeros((J, 1)), end[:, :-1]), axis=1)
    left = (seeds - flat.sum(1))[:, None]
    cells = Cells(start, end, flat, end[:, -1:].copy(), left)
    degrees = np.asarray(temperatures, dtype=float)[regime][:, None]
    return Series(cells, degrees, np.ones((J, 1)), regime)


def studies(temperatures, *, rng, number=1, base=8.0, time=1500.0, optimum=np.inf, **truth):
    """Return studies with dishes at each temperature (°C); `truth` goes to the generator."""
    hours = tuple(median_hours(t, base=base, time=time, optimum=optimum) for t in temperatures)
    fraction = truth.pop("fraction", 0.85)
    fractions = fraction if isinstance(fraction, tuple) else (fraction,) * len(temperatures)
    dishes = generator.Dishes(t50_h=hours, fraction=fractions, inspections_h=DAYS_28, **truth)
    drawn = generator.counts(dishes, studies=number, rng=rng)
    return [series(temperatures, counts, dishes.seeds) for counts in drawn]

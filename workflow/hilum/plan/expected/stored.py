"""Seeds sown after storage: what dishes are expected to tell of the days after which half of them are alive."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr

from hilum.analyses.estimate import Tables
from hilum.analyses.storage import falling, printed
from hilum.analyses.storage.stored import gather
from hilum.analyses.storage.truth import StorageTruth, alive_after, simulate
from hilum.stats import foreseen, spread, viability
from hilum.stats.arrays import Array
from hilum.stats.viability import Stored, ViabilityFit

_ENDLESS = "Viability hardly falls over the storage planned, so the days to half could be any: store for longer, or sow more seeds."


@dataclass(frozen=True, kw_only=True)
class Kept:
    """One lot and treatment in its store: what is guessed of it (`truth` has one store), and how it is looked at."""

    truth: StorageTruth
    correlation: float
    confidence: float

    def limits(self, *, seed: int) -> tuple[float, float, str]:
        """Return the middle limits of the half-viability period (d), or why there are none."""
        fitted = viability.fit(expected(self))
        ki, fall = fitted.parameters
        slope = np.array([1 / fall, -ki / fall**2])
        components = _components(self, fitted)
        drawn = foreseen.drawn_scores(
            fitted.scores, components, draws=foreseen.DRAWS, rng=np.random.default_rng(seed)
        )
        found = foreseen.found([spread.moments(drawn)], components, fewest=spread.FEW_DISHES)
        value = spread.threshold(drawn, found, slope, confidence=self.confidence).value
        low, high = (float(np.median(end)) for end in _fieller(fitted, value))
        if not np.isfinite(high):
            return np.nan, np.nan, _ENDLESS
        return low, high, ""

    def simulated(self, *, studies: int, rng: np.random.Generator) -> Array:
        """Return the half-widths of the half-viability period in simulated studies (d)."""
        return np.array([_half_width(self, simulate(self.truth, rng=rng)) for _ in range(studies)])

    def resized(self, dishes: int, seeds: int) -> Kept:
        """Return the same with other dishes at each time, and other seeds in each dish."""
        return replace(self, truth=replace(self.truth, samples=dishes, seeds=seeds))

    def with_place(self, at: float) -> Kept:
        """Return the same with one more time of storage (d)."""
        days = tuple(sorted({*self.truth.days, at}))
        return replace(self, truth=replace(self.truth, days=days))


def _half_width(kept: Kept, tables: Tables) -> float:
    """Return the half-width in one study (d), infinite without one: that of the analysis, without all else that it prints and draws."""
    found = falling.find(gather(tables), unknown=kept.correlation, confidence=kept.confidence)
    told = [printed.claim(one, "half_viability_period") for one in found]
    known = [claim for claim in told if not claim.needs]
    return (known[0].high - known[0].low) / 2 if known else np.inf


def half(kept: Kept) -> float:
    """Return the days after which half of the seeds are alive, as guessed."""
    store = kept.truth.stores[0]
    return store.ki * store.sigma_d


def expected(kept: Kept) -> Stored:
    """Return the dishes as one expects them, in fractions of seeds."""
    truth = kept.truth
    days = np.repeat(truth.days, truth.samples)
    seeds = np.full(len(days), float(truth.seeds))
    return Stored(days, seeds, seeds * alive_after(truth.stores[0], days))


def _components(kept: Kept, fitted: ViabilityFit) -> spread.Components:
    """Return the guessed effects of dishes on the logit of viability."""
    found, _ = viability.components([fitted], kept.correlation)
    stored = fitted.stored
    v = ndtr(viability.probit(stored, fitted.parameters, stored.days))
    varied = max(float((v * (1 - v)).mean()), 0.02)
    return spread.Components(np.array([0.0, kept.correlation / varied]), np.maximum(found.dof, 1.0))


def _fieller(fitted: ViabilityFit, value: Array) -> tuple[Array, Array]:
    """Return the days t at which (Ki − fall·t)² is no more than `value` times its variance, ends (draws,) each.

    Fieller (1954): the ratio of two normal estimates.
    """
    (ki, fall), V, last = fitted.parameters, fitted.inverse, fitted.stored.last
    a = fall**2 - value * V[1, 1]
    b = ki * fall - value * V[0, 1]
    c = ki**2 - value * V[0, 0]
    inside = np.maximum(b**2 - a * c, 0.0)
    known = (a > 0) & (b**2 > a * c)
    safe = np.where(known, a, 1.0)
    low = np.where(known, (b - np.sqrt(inside)) / safe, 0.0)
    high = np.where(known, (b + np.sqrt(inside)) / safe, np.inf)
    return last * np.maximum(low, 0.0), last * high

"""Durations of a treatment that opens coats: what dishes are expected to tell of the best one.

Where a duration has one bath, that moves all its dishes alike: the interval then misses more often than it says, which `held` counts.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from hilum.analyses.scarification.truth import ScarificationTruth, germinating
from hilum.plan.asked.added import SownAlike
from hilum.plan.simulated.treated import Treated
from hilum.stats import foreseen, scarification, spread
from hilum.stats.arrays import Array
from hilum.stats.scarification import DoseFit
from hilum.stats.scarification_curves import POINTS, Named, measured

# how far beyond the durations tried a best one is followed, on their logarithm: as the analysis does
_BELOW, _ABOVE = 1.5, 1.0
_DRAWN = 200  # studies that a stretch is taken from
_STRETCHES = (0.4, 2.0, 161)  # first, last, how many
WINDOW: tuple[Named, ...] = ("window_low", "window_high")
_FEWEST = 4  # durations, untreated seeds among them
_TOO_FEW = "A best duration takes untreated seeds and three durations at least: add durations."
_AT_END = "Germination may still rise at the longest duration: add a longer one."
_AT_START = "Germination may be best at less than the shortest duration: add a shorter one."


@dataclass(frozen=True, kw_only=True)
class Dosed:
    """One lot's series of durations: what is guessed of it (`truth` has one lot), and how it is looked at.

    The dishes of each duration, as many as `truth` has, come from `baths`, which differ by `bath_sd` on the logits of opening
    and of germination; those sown `already` stay as they are. Asked for is the best duration, or an end of its window, by `name`;
    `stretch` is by how much limits of the expected dishes are stretched about it, on its logarithm; `held` the share of the drawn
    studies with an interval in which it holds what is asked for.
    """

    truth: ScarificationTruth
    correlation: float
    confidence: float
    baths: int = 1
    bath_sd: float = 0.0
    already: tuple[SownAlike, ...] = ()
    name: Named = "best"
    stretch: float = 1.0
    held: float = np.nan

    @property
    def treated(self) -> Treated:
        """Return the dishes with their baths."""
        return Treated(self.truth, self.baths, self.bath_sd, self.already)

    def limits(self, *, seed: int) -> tuple[float, float, str]:
        """Return the middle limits of the duration asked for (min), or why there are none."""
        if len(self.treated.doses) < _FEWEST:
            return np.nan, np.nan, _TOO_FEW
        fitted, (lowest, highest) = scarification.fit(self.treated.expected), self._tried
        best, _ = self._measure("best")(fitted.parameters)
        if not lowest < best < highest:
            return np.nan, np.nan, _AT_END if best >= highest else _AT_START
        measure = self._measure(self.name)
        at, slope = measure(fitted.parameters)
        if not np.isfinite(at):
            return np.nan, np.nan, _AT_END if at > 0 else _AT_START
        ends = scarification.within(fitted, measure, _threshold(self, fitted, slope, seed))
        low, high = at + self.stretch * (ends.low - at), at + self.stretch * (ends.high - at)
        if high > highest:
            return np.nan, np.nan, _AT_END
        if not np.isfinite(low):
            return np.nan, np.nan, _AT_START
        return float(np.exp(low)), float(np.exp(high)), ""

    def calibrated(self, *, seed: int) -> Dosed:
        """Return the same with limits stretched until they are as wide as the middle one of drawn studies.

        In expected dishes, which have no noise, the top of the curve is flatter than in most studies: what is expected of them
        was 5 to 12 % too wide in four designs simulated. The stretch of one design holds for its neighbours to a few percent.
        """
        low, high, why = self.limits(seed=seed)
        ends = _drawn(self, seed)
        truly = value(self)
        told = np.isfinite(ends).all(-1)
        inside = (ends[:, 0] <= truly) & (truly <= ends[:, 1])
        counted = replace(self, held=float(inside[told].mean()) if told.any() else np.nan)
        wanted = float(np.quantile(_half_widths(ends), 0.5, method="higher"))
        if why or not np.isfinite(wanted):
            return counted
        tried = np.linspace(*_STRETCHES)
        at = np.log(truly)
        below, above = np.log(low) - at, np.log(high) - at
        halves = np.exp(at) * (np.exp(tried * above) - np.exp(tried * below)) / 2
        return replace(counted, stretch=float(np.interp(wanted, halves, tried)))

    def drawn(self, *, seed: int) -> Array:
        """Return the half-widths of the studies by which it is calibrated (min), infinite where a study has none."""
        return _half_widths(_drawn(self, seed))

    def simulated(self, *, studies: int, rng: np.random.Generator) -> Array:
        """Return the half-widths of the duration asked for in simulated studies (min), infinite where a study has none.

        Fit, dish spread and limits are those of the analysis; its other quantities are left out, which saves most of the time.
        """
        return _half_widths(_studies(self, studies, rng))

    @property
    def _tried(self) -> tuple[float, float]:
        """Return the logarithms of the shortest and the longest duration."""
        doses = [dose for dose in self.treated.doses if dose > 0]
        return float(np.log(doses[0])), float(np.log(doses[-1]))

    def _measure(self, name: Named) -> scarification.Measure:
        lowest, highest = self._tried
        return lambda parameters: measured(parameters, lowest - _BELOW, highest + _ABOVE, name)

    def asking(self, name: Named) -> Dosed:
        """Return the same dishes, asked for another duration."""
        return replace(self, name=name, stretch=1.0, held=np.nan)

    def resized(self, dishes: int, seeds: int) -> Dosed:
        """Return the same with other dishes at each duration, and other seeds in each dish."""
        return replace(self, truth=replace(self.truth, dishes=dishes, seeds=seeds))

    def in_baths(self, baths: int) -> Dosed:
        """Return the same dishes, those of each duration from so many baths."""
        return replace(self, baths=baths, stretch=1.0, held=np.nan)

    def with_place(self, at: float) -> Dosed:
        """Return the same with one more duration (min)."""
        lot = self.truth.lots[0]
        lot = replace(lot, doses=tuple(sorted({*lot.doses, at})))
        return replace(self, truth=replace(self.truth, lots=(lot,)))


def _drawn(dosed: Dosed, seed: int) -> Array:
    return _studies(dosed, _DRAWN, np.random.default_rng([seed, 2]))


def _studies(dosed: Dosed, studies: int, rng: np.random.Generator) -> Array:
    """Return the limits of the duration asked for in simulated studies (min), (studies, 2), infinite where a study has none."""
    fits = _fits(dosed.treated, studies, int(rng.integers(2**63)))
    return np.array([_ends(dosed, fitted) for fitted in fits])


# the same studies tell several durations
@lru_cache(maxsize=8)
def _fits(treated: Treated, studies: int, seed: int) -> list[DoseFit]:
    rng = np.random.default_rng(seed)
    return [scarification.fit(treated.drawn(rng)) for _ in range(studies)]


def _half_widths(ends: Array) -> Array:
    low, high = np.where(np.isfinite(ends), ends, np.array([0.0, np.inf])).T
    return np.asarray((high - low) / 2)


def _ends(dosed: Dosed, fitted: DoseFit) -> tuple[float, float]:
    pooled = spread.components(spread.moments(fitted.scores))
    if not dosed.treated.replicated:
        assumed = scarification.assumed(fitted, dosed.correlation)
        pooled = spread.Components(np.maximum(pooled.variance, assumed.variance), assumed.dof)
    (lowest, highest), measure = dosed._tried, dosed._measure(dosed.name)
    inside = lowest < dosed._measure("best")(fitted.parameters)[0] < highest
    ends = scarification.limits(fitted, pooled, measure, confidence=dosed.confidence)
    if not inside or ends.high > highest or not np.isfinite(ends.low):
        return np.inf, np.inf
    return float(np.exp(ends.low)), float(np.exp(ends.high))


def value(dosed: Dosed) -> float:
    """Return the duration asked for, as guessed (min): that after which most seeds would germinate, or an end of the window."""
    minutes = np.geomspace(1.0, 3 * max(dosed.treated.doses), 2000)
    share = germinating(dosed.truth.lots[0], minutes)
    inside = minutes[share >= share.max() - POINTS]
    found = {"best": minutes[share.argmax()], "window_low": inside[0], "window_high": inside[-1]}
    return float(found[dosed.name])


def _threshold(dosed: Dosed, fitted: DoseFit, slope: Array, seed: int) -> float:
    """Return the middle threshold of a contrast in drawn studies."""
    variance, shared = dosed.treated.effects(len(fitted.scores.fraction))
    drawn = foreseen.drawn_scores(
        fitted.scores,
        spread.Components(variance, np.full(2, np.inf)),
        draws=foreseen.DRAWS,
        rng=np.random.default_rng(seed),
        shared=shared,
    )
    assumed = scarification.assumed(fitted, dosed.correlation)
    found = foreseen.found([spread.moments(drawn)], assumed, fewest=spread.FEW_DISHES)
    values = spread.threshold(drawn, found, slope, confidence=dosed.confidence).value
    return float(np.median(values))

"""Durations of a treatment that opens coats: what dishes are expected to tell of the best one."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import expit, logit

from hilum.analyses.scarification.truth import ScarificationTruth, germinating, shares
from hilum.stats import foreseen, scarification, spread
from hilum.stats.families import Array
from hilum.stats.scarification import DoseFit, Units
from hilum.stats.scarification_curves import measured

# how far beyond the durations tried a best one is followed, on their logarithm: as the analysis does
_BELOW, _ABOVE = 1.5, 1.0
_EDGE = 1e-9
_DRAWN = 200  # studies that a stretch is taken from
_STRETCHES = (0.4, 2.0, 161)  # first, last, how many
_FEWEST = 4  # durations, untreated seeds among them
_TOO_FEW = "A best duration takes untreated seeds and three durations at least: add durations."
_AT_END = "Germination may still rise at the longest duration: add a longer one."
_AT_START = "Germination may be best at less than the shortest duration: add a shorter one."


@dataclass(frozen=True, kw_only=True)
class Dosed:
    """One lot's series of durations: what is guessed of it (`truth` has one lot), and how it is looked at.

    `stretch` is by how much limits of the expected dishes are stretched about the best duration, on its logarithm.
    """

    truth: ScarificationTruth
    correlation: float
    confidence: float
    stretch: float = 1.0

    def limits(self, *, seed: int) -> tuple[float, float, str]:
        """Return the middle limits of the best duration (min), or why there are none."""
        doses = [dose for dose in self.truth.lots[0].doses if dose > 0]
        if len(self.truth.lots[0].doses) < _FEWEST:
            return np.nan, np.nan, _TOO_FEW
        fitted = scarification.fit(expected(self))
        lowest, highest = np.log(doses[0]), np.log(doses[-1])

        def best(parameters: Array) -> tuple[float, Array]:
            return measured(parameters, lowest - _BELOW, highest + _ABOVE)["best"]

        at, slope = best(fitted.parameters)
        if not lowest < at < highest:
            return np.nan, np.nan, _AT_END if at >= highest else _AT_START
        ends = scarification.within(fitted, best, _threshold(self, fitted, slope, seed))
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
        drawn_widths = self.simulated(studies=_DRAWN, rng=np.random.default_rng([seed, 2]))
        wanted = float(np.quantile(drawn_widths, 0.5, method="higher"))
        if why or not np.isfinite(wanted):
            return self
        tried = np.linspace(*_STRETCHES)
        at = np.log(best_duration(self))
        below, above = np.log(low) - at, np.log(high) - at
        halves = np.exp(at) * (np.exp(tried * above) - np.exp(tried * below)) / 2
        return replace(self, stretch=float(np.interp(wanted, halves, tried)))

    def simulated(self, *, studies: int, rng: np.random.Generator) -> Array:
        """Return the half-widths of the best duration in simulated studies (min), infinite where a study has none.

        Fit, dish spread and limits are those of the analysis; its other quantities are left out, which saves most of the time.
        """
        return np.array([_half_width(self, drawn(self, rng)) for _ in range(studies)])

    def resized(self, dishes: int, seeds: int) -> Dosed:
        """Return the same with other dishes at each duration, and other seeds in each dish."""
        return replace(self, truth=replace(self.truth, dishes=dishes, seeds=seeds))

    def with_place(self, at: float) -> Dosed:
        """Return the same with one more duration (min)."""
        lot = self.truth.lots[0]
        lot = replace(lot, doses=tuple(sorted({*lot.doses, at})))
        return replace(self, truth=replace(self.truth, lots=(lot,)))


def expected(dosed: Dosed) -> Units:
    """Return the dishes as one expects them, in fractions of seeds."""
    truth, lot = dosed.truth, dosed.truth.lots[0]
    dose = np.repeat(lot.doses, truth.dishes)
    _, permeable, growing = shares(lot, dose)
    with np.errstate(divide="ignore"):
        log_dose = np.log(dose)
    opened = np.zeros(len(dose), dtype=bool)
    if lot.opened:
        n = truth.dishes
        viable = lot.permeable * lot.viable_permeable + (1 - lot.permeable) * lot.viable
        log_dose = np.append(log_dose, np.full(n, -np.inf))
        opened = np.append(opened, np.ones(n, dtype=bool))
        permeable = np.append(permeable, np.ones(n))
        growing = np.append(growing, np.full(n, viable * (1 - lot.fresh)))
    sown = np.full(len(log_dose), float(truth.seeds))
    return Units(log_dose, opened, sown, sown * permeable, sown * permeable * growing)


def drawn(dosed: Dosed, rng: np.random.Generator) -> Units:
    """Return dishes drawn with effects of their own, as those of the truth's tables are."""
    units = expected(dosed)
    sown = units.sown.astype(int)
    effect = dosed.truth.dish_sd * rng.normal(size=(2, len(sown)))
    opens = np.clip(units.permeable / units.sown, _EDGE, 1 - _EDGE)
    grows = np.clip(units.germinated / units.permeable, _EDGE, 1 - _EDGE)
    permeable = rng.binomial(sown, expit(logit(opens) + effect[0]))
    permeable = np.where(units.opened, sown, permeable)
    germinated = rng.binomial(permeable, expit(logit(grows) + effect[1]))
    return replace(units, permeable=permeable.astype(float), germinated=germinated.astype(float))


def _half_width(dosed: Dosed, units: Units) -> float:
    fitted = scarification.fit(units)
    doses = [dose for dose in dosed.truth.lots[0].doses if dose > 0]
    lowest, highest = np.log(doses[0]), np.log(doses[-1])

    def best(parameters: Array) -> tuple[float, Array]:
        return measured(parameters, lowest - _BELOW, highest + _ABOVE)["best"]

    pooled = spread.components(spread.moments(fitted.scores))
    if dosed.truth.dishes == 1:
        assumed = scarification.assumed(fitted, dosed.correlation)
        pooled = spread.Components(np.maximum(pooled.variance, assumed.variance), assumed.dof)
    ends = scarification.limits(fitted, pooled, best, confidence=dosed.confidence)
    inside = lowest < best(fitted.parameters)[0] < highest
    if not inside or ends.high > highest or not np.isfinite(ends.low):
        return np.inf
    return float(np.exp(ends.high) - np.exp(ends.low)) / 2


def best_duration(dosed: Dosed) -> float:
    """Return the duration after which most seeds would germinate, as guessed (min)."""
    doses = dosed.truth.lots[0].doses
    minutes = np.geomspace(1.0, 3 * max(doses), 2000)
    return float(minutes[germinating(dosed.truth.lots[0], minutes).argmax()])


def _threshold(dosed: Dosed, fitted: DoseFit, slope: Array, seed: int) -> float:
    """Return the middle threshold of a contrast in drawn studies."""
    components = spread.Components(np.full(2, dosed.truth.dish_sd**2), np.full(2, np.inf))
    drawn = foreseen.drawn_scores(
        fitted.scores, components, draws=foreseen.DRAWS, rng=np.random.default_rng(seed)
    )
    assumed = scarification.assumed(fitted, dosed.correlation)
    found = foreseen.found([spread.moments(drawn)], assumed, fewest=spread.FEW_DISHES)
    values = spread.threshold(drawn, found, slope, confidence=dosed.confidence).value
    return float(np.median(values))

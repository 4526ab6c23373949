"""Fit every candidate, and choose one: which family, which response, one germinable fraction or many."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from hilum.analyses.temperature.candidate import Candidate, Candidates, Peaks
from hilum.analyses.temperature.fractions import (
    LOST_LEVEL,
    SHARE,
    Fractions,
    Share,
    lost_test,
    who_shares,
)
from hilum.stats import response, spread, thermal
from hilum.stats.arrays import Array
from hilum.stats.candidates import RatioTest, ratio_test
from hilum.stats.cardinal import Peak
from hilum.stats.families import FAMILIES, Family
from hilum.stats.response import SHAPES, Shape
from hilum.stats.spread import Components
from hilum.stats.thermal import Series, Shared

_CLEARLY_BETTER = 2.0  # of the AIC; a candidate that is not identifiable, or of another kind, must be better by more than this
_RISING = ("linear", "plateau")  # responses in which a seed may have a base of its own


@dataclass(frozen=True, kw_only=True)
class Certainty:
    """How sure intervals are to be, and the intra-dish correlation where too few dishes show one."""

    confidence: float
    correlation: float


@dataclass(frozen=True, kw_only=True)
class Choice:
    """The chosen candidate among all, the spread between dishes, and the tests on the way.

    `series` is what the chosen one was fitted to, dish by dish, `pool` the same with dishes added up; `own_bases` are
    candidates in which seeds differ in their base. `fractions` tests one germinable fraction, `lost` whether seeds can
    germinate where none did, `fit` the chosen response against a free rate at each temperature.
    """

    chosen: Candidate
    candidates: tuple[Candidate, ...]
    own_bases: tuple[Candidate, ...]
    rates: Peak
    components: Components
    spread_assumed: bool
    scale: float
    fractions: RatioTest | None
    lost: RatioTest | None
    fit: RatioTest | None
    sharing: Fractions
    series: Series
    pool: Series

    def rate(self, temperature: Array) -> Array:
        """Return the rate (1/h) of the chosen response at each temperature (°C, (n,))."""
        model, parameters = self.chosen.peak.model, self.chosen.peak.parameters
        assert model.response is not None  # noqa: S101
        found = response.rates(model.response, parameters[: model.rate_parameters], temperature)
        return found.value

    @property
    def free(self) -> bool:
        """Return whether there is more than one germinable fraction."""
        return self.sharing != "one"

    @property
    def seeds_differ(self) -> Candidate | None:
        """Return the candidate in which seeds differ in their base, None where it is not clearly the better one."""
        best = min(self.own_bases, key=lambda c: c.aic, default=None)
        lowest = min(c.aic for c in self.candidates)
        return best if best and best.aic < lowest - _CLEARLY_BETTER else None

    @property
    def left_out(self) -> bool:
        """Return whether temperatures without germination were left out, the ability being lost there."""
        return self.lost is not None and self.lost.p < LOST_LEVEL


def choose(
    series: Series,
    certainty: Certainty,
    *,
    families: Sequence[Family] = FAMILIES,
    shapes: Sequence[Shape] = SHAPES,
) -> Choice:
    """Return the choice for a series in which seeds germinated at one regime or more.

    Candidates are all pairs of `families` and of those `shapes` for which there are temperatures enough.
    """
    sprouted = series.germinating()
    peaks = Peaks()
    rates, components, assumed, scale = _free_rates(
        sprouted, families, certainty.correlation, peaks
    )
    reach = scale * float(spread.t_squared(components.dof.max(), certainty.confidence))
    fit_all = Candidates(shapes=shapes, scale=scale, reach=reach, peaks=peaks)
    test, fractions = who_shares(rates.model.family, sprouted, components, fit_all)
    share = SHARE[fractions]
    lost = lost_test(rates.model.family, series, share, components, fit_all)
    used = sprouted if lost is not None and lost.p < LOST_LEVEL else series
    _all_at_once(used, families, share, fit_all)
    candidates = fit_all(used, families, share(used))
    own_bases = _own_bases(used, families, share, fit_all)
    chosen = _pick(candidates)
    return Choice(
        chosen=chosen,
        candidates=candidates,
        own_bases=own_bases,
        rates=rates,
        components=components,
        spread_assumed=assumed,
        scale=scale,
        fractions=test,
        lost=lost,
        fit=_fit_test(chosen, used, scale, components, peaks),
        sharing=fractions,
        series=used,
        pool=thermal.pooled(used),
    )


def _all_at_once(
    series: Series, families: Sequence[Family], share: Share, fit_all: Candidates
) -> None:
    """Fit all candidates together, which is several times as fast as one after the other."""
    pool = thermal.pooled(series)
    wanted = fit_all.wanted(pool, families, share(series))
    rising = _with_own_bases(fit_all)
    for shared in _shares_of_own_bases(series, share):
        wanted += rising.wanted(pool, families, shared, own_bases=True)
    fit_all.peaks.fitted(pool, wanted)


def _own_bases(
    series: Series, families: Sequence[Family], share: Share, fit_all: Candidates
) -> tuple[Candidate, ...]:
    """Return the candidates in which seeds differ in their base, none for temperatures that alternate.

    Seeds whose base lies above a temperature never germinate there, so fractions that seem to differ may be one.
    """
    rising = _with_own_bases(fit_all)
    each = [
        rising(series, families, shared, own_bases=True)
        for shared in _shares_of_own_bases(series, share)
    ]
    return tuple(min(pair, key=lambda c: c.aic) for pair in zip(*each, strict=True))


def _with_own_bases(fit_all: Candidates) -> Candidates:
    return replace(fit_all, shapes=[s for s in fit_all.shapes if s in _RISING])


def _shares_of_own_bases(series: Series, share: Share) -> tuple[Shared, ...]:
    """Return who may share a fraction where seeds differ in their base; nothing is known of it at temperatures that alternate."""
    if np.ptp(series.temperature, axis=1).any():
        return ()
    return tuple(dict.fromkeys((share(series), thermal.one_for_all(series))))


def dish_components(
    peak: Peak, series: Series, correlation: float
) -> tuple[Components, spread.DishScores, bool]:
    """Return the dish components at a fit, its dish scores, and whether a component had to be assumed."""
    scores = thermal.dish_scores(peak.model, series, peak.parameters)
    found = spread.components(spread.moments(scores))
    sigma = np.exp(peak.parameters[peak.model.rate_parameters])
    guess = spread.assumed(
        correlation, np.asarray(sigma * peak.model.family.sd), np.asarray(scores.fraction.mean())
    )
    unknown = found.dof < 2
    components = Components(
        np.where(unknown, guess.variance, found.variance), np.where(unknown, guess.dof, found.dof)
    )
    return components, scores, bool(unknown.any())


def _free_rates(
    sprouted: Series, families: Sequence[Family], correlation: float, peaks: Peaks
) -> tuple[Peak, Components, bool, float]:
    """Return the free rates of the best family, and the dish spread around them."""
    pool = thermal.pooled(sprouted)
    own = thermal.one_for_each(pool)
    # those with one fraction are asked for later: together they cost hardly more
    both = [(family, shared) for shared in (own, thermal.one_for_all(pool)) for family in families]
    found = peaks.free_rates(pool, both)[: len(families)]
    rates = max(found, key=lambda peak: peak.loglik)
    components, scores, assumed = dish_components(rates, sprouted, correlation)
    return rates, components, assumed, float(spread.mean_scale(scores, components))


def _pick(candidates: tuple[Candidate, ...]) -> Candidate:
    """Return the lowest AIC, or a simpler response that fits nearly as well and that the data can pin down.

    Where no such response exists the data speak for a curve that they do not hold, and the answer is a bracket.
    A larger response is no way out: it would be pinned down by chance.
    """
    best = min(candidates, key=lambda c: c.aic)
    simple = best.peak.model.rate_parameters
    held = [c for c in candidates if c.identifiable and c.peak.model.rate_parameters <= simple]
    near = min(held, key=lambda c: c.aic, default=best)
    return near if near.aic <= best.aic + _CLEARLY_BETTER else best


def _fit_test(
    chosen: Candidate, series: Series, scale: float, components: Components, peaks: Peaks
) -> RatioTest | None:
    """Return the test of the chosen response against free rates, None where it has as many parameters."""
    model = chosen.peak.model
    extra = int((series.germinated > 0).sum()) - model.rate_parameters
    if extra < 1:
        return None
    (rates,) = peaks.free_rates(thermal.pooled(series), [(model.family, model.shared)])
    return ratio_test(
        chosen.peak.loglik, rates.loglik, extra=extra, scale=scale, dof=float(components.dof[0])
    )

"""Fit every candidate, and choose one: which family, which response, one germinable fraction or many."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from hilum.stats import cardinal, spread, thermal
from hilum.stats.candidates import RatioTest, contrast_scale, ratio_test, scaled_aic
from hilum.stats.cardinal import Peak
from hilum.stats.families import FAMILIES, Array, Family
from hilum.stats.response import SHAPES, Shape
from hilum.stats.spread import Components
from hilum.stats.thermal import Model, Series, Shared

# Level of the test of one germinable fraction against many: a needless switch costs a little width, a missed
# one shifts the base by a degree and more.
LEVEL = 0.15
# Level of the same test where nothing germinated: a base that few temperatures hold looks much the same, and
# taking its cold for lost ability would throw away the lower end of its bracket.
LOST_LEVEL = 0.01
# Below this share of them no test tells few seeds that can germinate from slow ones.
HALFWAY = 0.5
_FEWEST_GERMINATING = {"linear": 1, "plateau": 3, "triangle": 3, "trapezoid": 4}
_FEWEST_TESTED = {"linear": 2, "plateau": 3, "triangle": 4, "trapezoid": 5}
_CLEARLY_BETTER = 2.0  # of the AIC; a candidate that is not identifiable, or of another kind, must be better by more than this
_RISING = ("linear", "plateau")  # responses in which a seed may have a base of its own
_SINGULAR = 1e-7
_NOTHING = 1e-12  # an information from which a parameter is known to a million million of its units


Fractions = Literal["one", "cold apart", "each"]
Share = Callable[[Series], Shared]
_SHARE: dict[Fractions, Share] = {
    "one": thermal.one_for_all,
    "cold apart": thermal.coldest_apart,
    "each": thermal.one_for_each,
}


@dataclass(frozen=True, kw_only=True)
class Certainty:
    """How sure intervals are to be, and the intra-dish correlation where too few dishes show one."""

    confidence: float
    correlation: float


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """One fitted model.

    `rising` and `falling` count the germinating temperatures that stand on either slope in every curve that the data
    allow; `identifiable` where two stand on each slope that the response has.
    """

    shape: Shape
    peak: Peak
    aic: float
    rising: int
    falling: int
    identifiable: bool


@dataclass(frozen=True, kw_only=True)
class Choice:
    """The chosen candidate among all, the spread between dishes, and the tests on the way.

    `series` is what the chosen one was fitted to, dish by dish, `pool` the same with dishes added up. `fractions`
    tests one germinable fraction, `lost` says that seeds are absent where one would let some germinate, `fit` tests the chosen response against a free rate at each temperature.
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
    rates, components, assumed, scale = _free_rates(sprouted, families, certainty.correlation)
    reach = scale * float(spread.t_squared(components.dof.max(), certainty.confidence))
    fit_all = _Candidates(shapes=shapes, scale=scale, reach=reach)
    test, fractions = _fractions(rates.model.family, sprouted, components, fit_all)
    share = _SHARE[fractions]
    lost = _lost_test(rates.model.family, series, share, components, fit_all)
    used = sprouted if lost is not None and lost.p < LOST_LEVEL else series
    shared = share(used)
    candidates = fit_all(used, families, shared)
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
        fit=_fit_test(chosen, used, scale, components),
        sharing=fractions,
        series=used,
        pool=thermal.pooled(used),
    )


def _own_bases(
    series: Series, families: Sequence[Family], share: Share, fit_all: _Candidates
) -> tuple[Candidate, ...]:
    """Return the candidates in which seeds differ in their base, none for temperatures that alternate.

    Seeds whose base lies above a temperature never germinate there, so fractions that seem to differ may be one.
    """
    if np.ptp(series.temperature, axis=1).any():
        return ()
    rising = replace(fit_all, shapes=[s for s in fit_all.shapes if s in _RISING])
    return tuple(
        min(pair, key=lambda c: c.aic)
        for pair in zip(
            *(
                rising(series, families, shared, own_bases=True)
                for shared in dict.fromkeys((share(series), thermal.one_for_all(series)))
            ),
            strict=True,
        )
    )


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
    sprouted: Series, families: Sequence[Family], correlation: float
) -> tuple[Peak, Components, bool, float]:
    """Return the free rates of the best family, and the dish spread around them."""
    pool = thermal.pooled(sprouted)
    own = thermal.one_for_each(pool)
    peaks = [cardinal.free_rates(family, pool, own) for family in families]
    rates = max(peaks, key=lambda peak: peak.loglik)
    components, scores, assumed = dish_components(rates, sprouted, correlation)
    return rates, components, assumed, float(spread.mean_scale(scores, components))


@dataclass(frozen=True, kw_only=True)
class _Candidates:
    """Fit candidates: `scale` is that of their AIC, `reach` how far −2 log likelihood may lie below the best."""

    shapes: Sequence[Shape]
    scale: float
    reach: float

    def __call__(
        self,
        series: Series,
        families: Sequence[Family],
        shared: Shared,
        *,
        own_bases: bool = False,
    ) -> tuple[Candidate, ...]:
        """Return every candidate that the temperatures suffice for, and a straight line in any case.

        With `own_bases` seeds differ in their base.
        """
        pool = thermal.pooled(series)
        live = pool.germinating()
        warm = len(cardinal.sprouting_temperatures(pool))
        enough = [
            shape
            for shape in self.shapes
            if warm >= _FEWEST_GERMINATING[shape] and pool.regimes >= _FEWEST_TESTED[shape]
        ]
        found = []
        for family in families:
            known = cardinal.free_rates(family, live, thermal.among_germinating(pool, shared))
            for shape in enough or SHAPES[:1]:
                peak = cardinal.fitted(
                    family, shape, pool, shared, known=known, own_bases=own_bases
                )
                found.append(_candidate(shape, peak, pool, self.reach, self.scale))
        return tuple(found)


def _candidate(shape: Shape, peak: Peak, pool: Series, reach: float, scale: float) -> Candidate:
    # the data allow the stretches whose peak lies within `reach` (of −2 log likelihood) of the best one
    near = peak.peaks[2 * (peak.loglik - peak.values) <= reach]
    rising, falling = (int(count.min()) for count in limbs(peak.model, near, pool))
    held = rising >= 2 and (falling >= 2 or shape in ("linear", "plateau"))
    return Candidate(
        shape=shape,
        peak=peak,
        aic=scaled_aic(peak.loglik, peak.model.size, scale),
        rising=rising,
        falling=falling,
        identifiable=held and bool(peak.parameters[1] > 0) and regular(peak, pool),
    )


def limbs(model: Model, parameters: Array, pool: Series) -> tuple[Array, Array]:
    """Return how many germinating temperatures lie on the rising and on the falling limb, shapes (…)."""
    response = model.response
    assert response is not None  # noqa: S101
    warm = cardinal.sprouting_temperatures(pool)
    none = np.zeros(parameters.shape[:-1])
    if not response.breaks:
        return none + len(warm), none
    first, last = (parameters[..., response.breaks[i], None] for i in (0, -1))
    falling = (warm > last).sum(-1) if "fall" in response.names else none
    return (warm < first).sum(-1), falling


def regular(peak: Peak, pool: Series) -> bool:
    """Return whether the data inform every direction of the parameters at the peak."""
    scores = thermal.dish_scores(peak.model, pool, peak.parameters)
    A: Array = scores.jacobian
    total = np.einsum("jap,jab,jbq->pq", A, scores.information, A)
    size = np.sqrt(np.diag(total))
    live = size > _NOTHING
    unit = (total / np.outer(np.where(live, size, 1), np.where(live, size, 1)))[live][:, live]
    return bool(
        live[: peak.model.rate_parameters].all() and np.linalg.eigvalsh(unit)[0] > _SINGULAR
    )


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


def _fractions(
    family: Family, live: Series, components: Components, fit_all: _Candidates
) -> tuple[RatioTest | None, Fractions]:
    """Return the scaled test of one germinable fraction among the regimes that germinated, and who shares one.

    The response is the one that fits best with free fractions. Two alternatives: a fraction for each temperature, and
    one for the coolest apart from the rest, which is how lots fail in the cold. The sharper counts, at twice its p
    value (Bonferroni). Where the coolest was not watched to its half no test tells, and it stands apart.
    """
    if live.regimes < 2:
        return None, "one"
    pool = thermal.pooled(live)
    free = min(fit_all(live, (family,), thermal.one_for_each(live)), key=lambda c: c.aic)
    common = cardinal.fitted(family, free.shape, pool, thermal.one_for_all(pool))
    cold = cardinal.fitted(family, free.shape, pool, thermal.coldest_apart(pool))
    tests = [_against_common(common, larger, live, components) for larger in (free.peak, cold)]
    sharper = min(tests, key=lambda test: test.p)
    test = replace(sharper, p=min(1.0, 2 * sharper.p))
    if test.p < LEVEL:
        return test, "each"
    return test, "cold apart" if _coolest_reached(common, pool) < HALFWAY else "one"


def _coolest_reached(common: Peak, pool: Series) -> float:
    """Return the share of the germinable seeds that had time to germinate at the coolest regime."""
    log_rate, _ = thermal.log_rates(common.model, pool, common.parameters)
    sigma = np.exp(common.parameters[common.model.rate_parameters])
    coolest = pool.regime == 0
    z = (np.log(pool.cells.last_h[coolest]) + log_rate[coolest]) / sigma
    return float(np.exp(common.model.family.log_cdf(z)).max())


def _lost_test(
    family: Family, series: Series, share: Share, components: Components, fit_all: _Candidates
) -> RatioTest | None:
    """Return the scaled test of whether seeds can germinate where none did, None where some did everywhere.

    Absent seeds speak for a lost ability only if no response explains them by its base or its ceiling, so the best
    response with them stands against the best without.
    """
    live = series.germinating()
    if live.regimes == series.regimes:
        return None
    everywhere, without = (
        max((c.peak for c in fit_all(part, (family,), share(part))), key=lambda peak: peak.loglik)
        for part in (series, live)
    )
    return ratio_test(
        everywhere.loglik,
        without.loglik,
        extra=_expected_but_absent(everywhere, thermal.pooled(series)),
        scale=fit_all.scale,
        dof=float(components.dof[1]),
    )


def _against_common(
    common: Peak, larger: Peak, series: Series, components: Components
) -> RatioTest:
    """Return the test of one germinable fraction against those of a larger model."""
    model = larger.model
    scores = thermal.dish_scores(model, series, larger.parameters)
    contrasts = np.zeros((model.fractions - 1, model.size))
    columns = np.arange(model.rate_parameters + 1, model.size)
    contrasts[np.arange(len(contrasts)), columns[:-1]] = 1.0
    contrasts[np.arange(len(contrasts)), columns[1:]] = -1.0
    return ratio_test(
        common.loglik,
        larger.loglik,
        extra=len(contrasts),
        scale=contrast_scale(*spread.variances(scores, components), contrasts),
        dof=float(components.dof[1]),
    )


def _expected_but_absent(common: Peak, pool: Series) -> int:
    """Return at how many regimes nothing germinated although the rate is not 0."""
    log_rate, _ = thermal.log_rates(common.model, pool, common.parameters)
    absent = (pool.germinated == 0)[pool.regime]
    return len(set(pool.regime[absent & np.isfinite(log_rate)].tolist()))


def _fit_test(
    chosen: Candidate, series: Series, scale: float, components: Components
) -> RatioTest | None:
    """Return the test of the chosen response against free rates, None where it has as many parameters."""
    model, sprouted = chosen.peak.model, series.germinating()
    extra = sprouted.regimes - model.rate_parameters
    if extra < 1:
        return None
    own = thermal.among_germinating(series, model.shared)
    rates = cardinal.free_rates(model.family, thermal.pooled(sprouted), own)
    return ratio_test(
        chosen.peak.loglik, rates.loglik, extra=extra, scale=scale, dof=float(components.dof[0])
    )

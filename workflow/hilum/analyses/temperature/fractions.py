"""Who shares a germinable fraction: all temperatures, all but the coolest, or each its own.

A seed that cannot germinate in the cold looks like a slow one, and a common fraction would put the base too high.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Literal

import numpy as np

from hilum.analyses.temperature.candidate import Candidates
from hilum.stats import spread, thermal
from hilum.stats.candidates import RatioTest, contrast_scale, ratio_test
from hilum.stats.cardinal import Peak, Wanted
from hilum.stats.families import Family
from hilum.stats.spread import Components
from hilum.stats.thermal import Series, Shared

# Level of the test of one germinable fraction against many: a needless switch costs a little width, a missed
# one shifts the base by a degree and more.
LEVEL = 0.15
# Level of the same test where nothing germinated: a base that few temperatures hold looks much the same, and
# taking its cold for lost ability would throw away the lower end of its bracket.
LOST_LEVEL = 0.01
# Where fewer of the germinable seeds than this had time to germinate, no test tells few of them from slow ones.
HALFWAY = 0.5

Fractions = Literal["one", "cold apart", "each"]
Share = Callable[[Series], Shared]
SHARE: dict[Fractions, Share] = {
    "one": thermal.one_for_all,
    "cold apart": thermal.coldest_apart,
    "each": thermal.one_for_each,
}


def who_shares(
    family: Family, live: Series, components: Components, fit_all: Candidates
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
    shares = thermal.one_for_all(pool), thermal.coldest_apart(pool)
    common, cold = fit_all.peaks.fitted(
        pool, [Wanted(family, free.shape, shared) for shared in shares]
    )
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


def lost_test(
    family: Family, series: Series, share: Share, components: Components, fit_all: Candidates
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

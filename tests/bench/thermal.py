"""The whole analysis of a temperature series, beside a naive loop for the straight line alone.

The loop fits one family with scipy.optimize and searches each limit of the base by refits; the analysis fits all families, responses
and fractions, every interval, and what to expect.
"""

import numpy as np
from scipy.optimize import brentq, minimize

from hilum.analyses.temperature import model
from hilum.settings import Settings
from hilum.stats import cardinal, thermal
from hilum.stats.families import LOG_LOGISTIC
from tests.bench import cpu, warm_series

LOOPED, WHOLE = 4, 4
THRESHOLD = 3.841458820694124  # of chi-squared with one degree of freedom, at 95 %; scipy.stats.chi2.ppf(0.95, 1)
COLDEST = -20.0  # °C, where the loop gives an end up


def _naively(start: np.ndarray, counts: np.ndarray, anchor: float) -> tuple[float, float]:
    """Return the limits of the base by a search through refits."""
    best = minimize(warm_series.loss, start, (counts, anchor), "BFGS")
    base, others = anchor - 1 / best.x[1], np.delete(best.x, 1)

    def over(at: float) -> float:
        def held(x: np.ndarray) -> float:
            return warm_series.loss(np.insert(x, 1, 1 / (anchor - at)), counts, anchor)

        return 2 * (minimize(held, others, method="BFGS").fun - best.fun) - THRESHOLD

    warmest = float(warm_series.TEMPERATURES[0]) - 0.01
    return brentq(over, COLDEST, base, xtol=1e-4), brentq(over, base, warmest, xtol=1e-4)


def _whole() -> float:
    tables = [model.simulate(model.TRUTH, rng=np.random.default_rng(seed)) for seed in range(WHOLE)]
    settings, rng = Settings(study="bench"), np.random.default_rng(0)
    return cpu.of_function(
        lambda: [model.fit(t, settings=settings, rng=rng) for t in tables], times=1
    )


def run() -> None:
    """Print the CPU of one series by each way."""
    first, *rest = warm_series.drawn(np.random.default_rng(2), LOOPED + 1)
    series = warm_series.series_of(first)
    peak = cardinal.fitted(LOG_LOGISTIC, "linear", series, thermal.one_for_all(series))
    assert peak.model.response is not None
    anchor, G = peak.model.response.anchor, peak.parameters[3]
    start = np.array([*peak.parameters[:3], np.log(G / (1 - G))])
    loop = cpu.of_function(lambda: [_naively(start, c, anchor) for c in rest], times=1) / LOOPED
    whole = _whole() / WHOLE
    print(f"temperature, whole analysis     {whole:6.3f} s CPU a series")
    print(
        f"temperature, scipy loop         {loop:6.3f} s for one line and its base   {loop / whole:5.2f} x the whole analysis"
    )

"""A thousand experiments over temperatures: the line and the interval of its base, in one batch and by a naive loop.

The loop fits with scipy.optimize and searches each limit by refits, on the same counts. Then the whole analysis of one series:
all families, responses and fractions, every interval, and what to expect.
"""

import numpy as np
from scipy.optimize import brentq, minimize

from hilum.analyses.temperature import model
from hilum.settings import Settings
from hilum.stats import cardinal, thermal, thermal_intervals, thermal_replicates
from hilum.stats.families import LOG_LOGISTIC
from tests.bench import cpu, replicates

EXPERIMENTS, LOOPED, WHOLE, WANTED = 1000, 4, 4, 100
THRESHOLD = 3.841458820694124  # of chi-squared with one degree of freedom, at 95 %; scipy.stats.chi2.ppf(0.95, 1)
COLDEST = -20.0  # °C, where the loop gives an end up


def _naively(start: np.ndarray, counts: np.ndarray, anchor: float) -> tuple[float, float]:
    """Return the limits of the base by a search through refits."""
    best = minimize(replicates.loss, start, (counts, anchor), "BFGS")
    base, others = anchor - 1 / best.x[1], np.delete(best.x, 1)

    def over(at: float) -> float:
        def held(x: np.ndarray) -> float:
            return replicates.loss(np.insert(x, 1, 1 / (anchor - at)), counts, anchor)

        return 2 * (minimize(held, others, method="BFGS").fun - best.fun) - THRESHOLD

    warmest = float(replicates.TEMPERATURES[0]) - 0.01
    return brentq(over, COLDEST, base, xtol=1e-4), brentq(over, base, warmest, xtol=1e-4)


def _whole() -> float:
    tables = [model.simulate(model.TRUTH, rng=np.random.default_rng(seed)) for seed in range(WHOLE)]
    settings, rng = Settings(study="bench"), np.random.default_rng(0)
    return cpu.of_function(
        lambda: [model.fit(t, settings=settings, rng=rng) for t in tables], times=1
    )


def run() -> None:
    """Print the CPU of one experiment by each way, and how far apart their limits are."""
    first, *rest = replicates.drawn(np.random.default_rng(2), EXPERIMENTS + 1)
    counts, series = np.array(rest), replicates.series_of(first)
    peak = cardinal.fitted(LOG_LOGISTIC, "linear", series, thermal.one_for_all(series))
    assert peak.model.response is not None
    anchor, G = peak.model.response.anchor, peak.parameters[3]
    start = np.array([*peak.parameters[:3], np.log(G / (1 - G))])

    def batch() -> tuple[np.ndarray, np.ndarray]:
        newly, left = counts[..., :-1], counts[..., -1:]
        refits = thermal_replicates.refit(peak, series, newly, left)
        threshold = np.full(EXPERIMENTS, THRESHOLD)
        return thermal_intervals.base_limits(peak, series, refits, newly, left, threshold)

    looped = np.array([_naively(start, c, anchor) for c in counts[:LOOPED]])
    apart = np.abs(np.stack(batch(), axis=1)[:LOOPED] - looped).max()
    each = cpu.of_function(batch) / EXPERIMENTS
    loop = cpu.of_function(lambda: [_naively(start, c, anchor) for c in counts[:LOOPED]], times=1)
    ratio = loop / LOOPED / each
    print(f"thermal experiments, {EXPERIMENTS} in a batch {each * 1e6:7.1f} µs CPU each")
    print(
        f"thermal experiments, scipy loop {loop / LOOPED * 1e6:9.1f} µs   {ratio:7.0f} x the batch (wanted: {WANTED}); "
        f"limits at most {apart:.0e} °C apart"
    )
    print(f"thermal experiments, whole analysis {_whole() / WHOLE:6.2f} s CPU a series")

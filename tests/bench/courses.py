"""A thousand experiments of four treatments: all that `time_course` fits and bounds, in one process and by a naive loop.

In one process the curves of many experiments are fitted together, each experiment with a family and a dish spread of its own:
times to 10, 50 and 90 %, slopes and germinable fractions with their profile intervals, differences, p values and ratios.
The loop (`naively.py`) finds the same families, times, slopes and fractions and their limits on the same counts, at thresholds
that it is given; it is spared the dish spread and the comparisons. Then the analysis itself, one experiment after the other, from its
tables to its estimates, with the indices that no likelihood is needed for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import combinations

import numpy as np

from hilum.analyses.dishes import DishCounts, assemble
from hilum.analyses.estimate import Fit, Tables
from hilum.analyses.time_course import model
from hilum.settings import Settings
from hilum.stats import curve_intervals, germination_curve, proportions
from hilum.stats.arrays import Array
from hilum.stats.curve_intervals import Curves
from hilum.stats.families import FAMILIES, Family
from hilum.stats.interval_censored import Cells
from tests.bench import cpu
from tests.bench.naively import PARTS, one_by_one
from tests.calibration.sown import Place, Sown
from tests.generator import Dishes

EXPERIMENTS, TOGETHER, LOOPED, WHOLE, WANTED = 1000, 50, 3, 20, 100
TREATMENTS = ("chipped", "acid", "filed", "hot water")
SOWN = Sown(
    dishes=Dishes(
        t50_h=(90.0, 120.0, 150.0, 200.0),
        fraction=(0.9, 0.7, 0.85, 0.4),
        dish_correlation=0.05,
        dish_sd_log_time=0.1,
    ),
    places=tuple(Place(treatment=name) for name in TREATMENTS),
)
SETTINGS = Settings(study="bench")
CONFIDENCE, UNKNOWN = SETTINGS.confidence, SETTINGS.dish_correlation_when_unknown
PAIRS = np.array(list(combinations(range(len(TREATMENTS)), 2)))
QUANTITY = {"fraction": "germinable_fraction"}  # where the analysis names it otherwise
PAIRED = ("difference", "time_ratio")
BISECTIONS = 40
# value, low, high, and what −2 log likelihood ratio may reach, of each curve or pair
Told = dict[str, Array]


# in one process


def together(experiments: Sequence[DishCounts]) -> Told:
    """Return all figures of experiments with as many curves, dishes and inspections each, (experiments × curves,)."""
    E, C, D = len(experiments), len(TREATMENTS), SOWN.dishes.dishes
    cells = Cells(
        *(
            np.concatenate(part)
            for part in zip(*(_parts(d.cells) for d in experiments), strict=True)
        )
    )
    curves = Curves(cells, np.arange(E * C * D).reshape(E * C, D), np.repeat(np.arange(E), C))
    pooled = curves.pooled()
    fits = [germination_curve.fit(pooled, family) for family in FAMILIES]
    best = np.array([fit.loglik.reshape(E, C).sum(1) for fit in fits]).argmax(0)
    told: Told = {name: np.full((4, E * C), np.nan) for name in (*PARTS, "slope", "fraction")}
    for number, (family, fit) in enumerate(zip(FAMILIES, fits, strict=True)):
        mine = np.flatnonzero(np.repeat(best == number, C))
        if len(mine):
            study = np.unique(curves.study[mine], return_inverse=True)[1]
            own = Curves(cells, curves.rows[mine], study)
            for name, found in _limits(own, fit.take(mine), family).items():
                told[name][:, mine] = found
    hits = cells.count.sum(-1).reshape(E, C, D)
    told |= _differences(hits, cells.seeds.reshape(E, C, D))
    return told | {"time_ratio": _ratios(told["t50"].reshape(4, E, C))}


def _parts(cells: Cells) -> tuple[Array, ...]:
    return cells.start_h, cells.end_h, cells.count, cells.censor_h, cells.censored


def _limits(curves: Curves, fits: germination_curve.CurveFits, family: Family) -> dict[str, Array]:
    dishes = curve_intervals.dish_spread(curves, fits, family, correlation_when_unknown=UNKNOWN)
    given = curves, fits, dishes, family
    sigma, z = np.exp(fits.log_sigma), family.quantile(np.array(list(PARTS.values())))
    values = [*np.exp(fits.log_t50 + sigma * z[:, None]), 1 / sigma, fits.fraction]
    limits = [
        *curve_intervals.all_quantile_limits(*given, tuple(PARTS.values()), confidence=CONFIDENCE),
        curve_intervals.slope_limits(*given, confidence=CONFIDENCE),
        curve_intervals.fraction_limits(*given, confidence=CONFIDENCE),
    ]
    return {
        name: np.stack((value, one.low, one.high, one.threshold.value))
        for name, value, one in zip((*PARTS, "slope", "fraction"), values, limits, strict=True)
    }


def _ratios(t50: Array) -> Array:
    """Return ratios of t50 with their limits, (3, pairs of all experiments), from (4, experiments, curves)."""
    value, low, high = ((x[:, PAIRS[:, 0]], x[:, PAIRS[:, 1]]) for x in np.log(t50[:3]))
    return np.exp(np.stack([x.ravel() for x in proportions.difference(value, low, high)]))


def _differences(hits: Array, seeds: Array) -> Told:
    """Return differences of final germination with their limits, and their p values, of all pairs."""
    groups = proportions.Groups(hits, seeds)
    spread = proportions.spread(groups, proportions.correlation(groups, unknown=UNKNOWN))
    sides = [(groups.hits[:, side].sum(-1), groups.total[:, side]) for side in PAIRS.T]
    spreads = [
        proportions.Spread(*(value[:, side] for value in vars(spread).values())) for side in PAIRS.T
    ]

    def at(confidence: Array | float) -> tuple[Array, Array, Array]:
        ends = [
            (h / n, *proportions.wilson(h, n, s.shared_threshold(confidence)))
            for (h, n), s in zip(sides, spreads, strict=True)
        ]
        value, low, high = zip(*ends, strict=True)
        return proportions.difference(value, low, high)

    low, high = np.zeros(sides[0][0].shape), np.ones(sides[0][0].shape)
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        _, down, up = at(middle)
        reaches = (down <= 0) & (up >= 0)
        low, high = np.where(reaches, low, middle), np.where(reaches, middle, high)
    p = (1 - (low + high) / 2).ravel()
    return {"difference": np.stack([*(x.ravel() for x in at(CONFIDENCE)), p])}


# how many times as long


def run() -> None:
    """Print the CPU of an experiment by each way, how far apart their figures are, and the ratios."""
    tables = [SOWN.draw(np.random.default_rng([1, i])) for i in range(EXPERIMENTS)]
    read = _each(lambda: [assemble(one) for one in tables], EXPERIMENTS)
    dishes = [assemble(one) for one in tables]
    parts = [dishes[i : i + TOGETHER] for i in range(0, EXPERIMENTS, TOGETHER)]
    batch = _each(lambda: [together(part) for part in parts], EXPERIMENTS)
    told = together(parts[0])
    looped: list[dict[str, Array]] = []
    loop = _each(
        lambda: looped.extend(_looped(d, told, i) for i, d in enumerate(dishes[:LOOPED])), LOOPED
    )
    fits: list[Fit] = []
    whole = _each(lambda: fits.extend(_fitted(t) for t in tables[:WHOLE]), WHOLE)
    apart = max(
        _apart(_of(told, name, i), found)
        for i, one in enumerate(looped)
        for name, found in one.items()
    )
    also = max(_from_analysis(told, i, fit) for i, fit in enumerate(fits))
    print(
        f"time-course experiments, {EXPERIMENTS} in a process {batch * 1e3:6.2f} ms CPU each, and {read * 1e3:.2f} ms to read them from tables"
    )
    print(
        f"time-course experiments, scipy loop {loop * 1e3:11.1f} ms   {loop / batch:7.0f} x the process (wanted: {WANTED}), "
        f"{loop / (batch + read):.0f} x with the reading; limits at most {apart:.0e} of themselves apart"
    )
    print(
        f"time-course experiments, whole analysis {whole * 1e3:7.1f} ms, {loop / whole:.0f} times as fast as the loop; "
        f"its figures are at most {also:.0e} of themselves from those of the process"
    )


def _each(work: Callable[[], object], number: int) -> float:
    return cpu.of_function(work, times=1) / number


def _fitted(tables: Tables) -> Fit:
    return model.fit(tables, settings=SETTINGS, rng=np.random.default_rng(0))


def _of(told: Told, name: str, experiment: int) -> Array:
    """Return what is told of the curves, or of the pairs, of one experiment."""
    each = len(PAIRS) if name in PAIRED else len(TREATMENTS)
    return told[name][:, experiment * each : (experiment + 1) * each]


def _looped(dishes: DishCounts, told: Told, experiment: int) -> dict[str, Array]:
    thresholds = {name: _of(told, name, experiment)[3] for name in told if name not in PAIRED}
    return one_by_one(dishes, TREATMENTS, thresholds)


def _apart(one: Array, other: Array) -> float:
    return float(np.abs(one[:3] / other - 1).max())


def _from_analysis(told: Told, experiment: int, fit: Fit) -> float:
    """Return how far the estimates of the analysis lie from what was told in one process."""
    pairs = [(TREATMENTS[i], TREATMENTS[j]) for i, j in PAIRS.tolist()]
    places = {(name, ""): i for i, name in enumerate(TREATMENTS)} | {
        p: i for i, p in enumerate(pairs)
    }
    worst = 0.0
    for name in told:
        for e in fit.estimates:
            if e.status == "estimated" and e.quantity == QUANTITY.get(name, name):
                own = np.array([e.value, e.low, e.high], dtype=float)
                worst = max(
                    worst,
                    _apart(_of(told, name, experiment)[:, places[e.treatment, e.versus]], own),
                )
    return worst

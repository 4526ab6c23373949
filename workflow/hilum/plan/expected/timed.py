"""Treatments beside each other at one temperature: how many germinate, how fast, and whether they differ."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from hilum.analyses.time_course.curves import COMPLETE
from hilum.analyses.time_course.finals import shares
from hilum.plan.expected import timed_limits
from hilum.plan.expected.prospect import Prospect, middle
from hilum.plan.simulated.sown import Kind, draw
from hilum.stats import curve_intervals, foreseen, germination_curve, proportions, spread
from hilum.stats.arrays import Array
from hilum.stats.curve_intervals import Curves
from hilum.stats.families import LOG_LOGISTIC
from hilum.stats.interval_censored import Cells, dish_terms
from hilum.stats.spread import Components, DishScores

_FEWEST_SEEDS = 15.0  # germinated; with fewer a good part of studies has no curve
_TOO_SHORT = (
    "The test may end before 95 of 100 germinable seeds have germinated: inspect for longer."
)
_NO_CURVE = "So few seeds are expected to germinate that their times tell little: sow more seeds."
# quantity, lot, treatment, versus
Key = tuple[str, str, str, str]


@dataclass(frozen=True, kw_only=True)
class Timed:
    """The kinds of seeds of an experiment at one temperature, and what is guessed of dishes."""

    experiment: str
    kinds: Sequence[Kind]
    correlation: float
    confidence: float
    wanted: Mapping[str, float]

    @property
    def dishes(self) -> list[int]:
        """Return the dishes of each kind."""
        return [kind.place.dishes for kind in self.kinds]

    @property
    def sd_log_time(self) -> float:
        """Return the standard deviation of dish effects on log time."""
        sigma = np.asarray(self.kinds[0].sigma * LOG_LOGISTIC.sd)
        return float(np.sqrt(spread.assumed(self.correlation, sigma, np.asarray(0.5)).variance[0]))


def prospects(timed: Timed, *, seed: int) -> list[Prospect]:
    """Return what the experiment is expected to tell of each lot and treatment, and of their differences."""
    rng = np.random.default_rng(seed)
    return [*_of_curves(timed, rng), *_of_shares(timed, rng)]


# curves


def _of_curves(timed: Timed, rng: np.random.Generator) -> list[Prospect]:
    assumed = [_assumed(timed, kind) for kind in timed.kinds]
    kinds = [
        _pooled(kind, float(a.variance[0])) for kind, a in zip(timed.kinds, assumed, strict=True)
    ]
    scores = [_scores(kind) for kind in kinds]
    draws = [
        foreseen.drawn_scores(s, a, draws=foreseen.DRAWS, rng=rng)
        for s, a in zip(scores, assumed, strict=True)
    ]
    moments = [spread.moments(d) for d in draws]
    made = []
    for kind, one, guess in zip(kinds, draws, assumed, strict=True):
        components = foreseen.found(moments, guess, fewest=spread.FEW_DISHES)
        made += _of_curve(timed, kind, one, components)
    return made


def _assumed(timed: Timed, kind: Kind) -> Components:
    sd = np.asarray(kind.sigma * LOG_LOGISTIC.sd)
    return spread.assumed(timed.correlation, sd, np.asarray(kind.shares[0]))


def _pooled(kind: Kind, between: float) -> Kind:
    """Return the seeds as one curve through all dishes sees them: log times of dishes with this variance between them spread more.

    The variance of a logistic distribution is π²/3·sigma², to which that between dishes adds.
    """
    return replace(kind, sigma=float(np.sqrt(kind.sigma**2 + 3 * between / np.pi**2)))


def _scores(kind: Kind) -> DishScores:
    """Return the expected information of each dish of a kind, (dishes, …)."""
    J, hours = kind.place.dishes, np.array(kind.hours)
    end = np.tile(hours, (J, 1))
    start = np.concatenate((np.zeros((J, 1)), end[:, :-1]), axis=1)
    cells = Cells(
        start, end, np.zeros_like(end), end[:, -1:].copy(), np.full((J, 1), float(kind.seeds))
    )
    G = np.full(J, kind.shares[0])
    at = np.full(J, np.log(kind.t50_h)), np.full(J, np.log(kind.sigma))
    terms = dish_terms(cells, *at, G, LOG_LOGISTIC)
    single = np.full(J, kind.seeds <= 1)
    return DishScores(terms.score, terms.information, np.tile(np.eye(3), (J, 1, 1)), G, single)


def _of_curve(timed: Timed, kind: Kind, one: DishScores, components: Components) -> list[Prospect]:
    def found(contrast: Array) -> spread.Threshold:
        return spread.threshold(one, components, contrast, confidence=timed.confidence)

    if kind.place.dishes * kind.seeds * kind.shares[0] * kind.reached[-1] < _FEWEST_SEEDS:
        return [_none(timed, kind, name, _NO_CURVE) for name in ("t50", "germinable_fraction")]
    known = (kind, one, components, timed.confidence)
    low, high = timed_limits.of_t50(*known)
    made = [_prospect(timed, kind, "t50", "h", kind.t50_h, low, high)]
    z = float(LOG_LOGISTIC.quantile(np.asarray(COMPLETE)))
    late = foreseen.reach(found(np.array([1.0, z * kind.sigma, 0.0])))
    if np.log(kind.t50_h) + z * kind.sigma + np.median(late) > np.log(kind.hours[-1]):
        return [*made, _none(timed, kind, "germinable_fraction", _TOO_SHORT)]
    ends = timed_limits.of_fraction(*known)
    return [*made, _prospect(timed, kind, "germinable_fraction", "fraction", kind.shares[0], *ends)]


def _prospect(
    timed: Timed, kind: Kind, quantity: str, unit: str, value: float, low: float, high: float
) -> Prospect:
    return Prospect(
        quantity=quantity,
        unit=unit,
        lot=kind.place.lot,
        treatment=kind.place.treatment,
        experiment=timed.experiment,
        temperature_c=kind.place.temperature_c,
        value=value,
        low=low,
        high=high,
        wanted=timed.wanted.get(quantity),
    )


def _none(timed: Timed, kind: Kind, quantity: str, why: str) -> Prospect:
    return Prospect(
        quantity=quantity,
        unit="h" if quantity == "t50" else "fraction",
        lot=kind.place.lot,
        treatment=kind.place.treatment,
        experiment=timed.experiment,
        temperature_c=kind.place.temperature_c,
        wanted=timed.wanted.get(quantity),
        why=why,
    )


# shares of the seeds sown


def hits(
    share: Sequence[float],
    dishes: Sequence[int],
    seeds: int,
    correlation: float,
    rng: np.random.Generator,
) -> tuple[Array, Array]:
    """Return drawn seeds with a property in dishes that differ, and the seeds of each, (draws, groups, most dishes)."""
    alike, p = 1 / correlation - 1, np.array(share)[:, None]
    shape = (foreseen.DRAWS, len(share), max(dishes))
    chance = rng.beta(np.maximum(p * alike, 1e-9), np.maximum((1 - p) * alike, 1e-9), shape)
    sown = np.broadcast_to(seeds * _there(dishes), shape)
    return np.where(sown > 0, rng.binomial(seeds, chance), 0).astype(float), sown.astype(float)


def _there(dishes: Sequence[int]) -> np.ndarray:
    """Return which places of an array are dishes, (groups, most dishes): groups with fewer are filled up."""
    return np.asarray(np.arange(max(dishes)) < np.array(dishes)[:, None])


def _of_shares(timed: Timed, rng: np.random.Generator) -> list[Prospect]:
    seeds = timed.kinds[0].seeds
    spreads = {"unknown": timed.correlation, "confidence": timed.confidence}

    def limits(share: Sequence[float]) -> tuple[Array, Array, Array]:
        drawn_hits, sown = hits(share, timed.dishes, seeds, timed.correlation, rng)
        found = shares(drawn_hits, sown, **spreads)
        return found.fraction, found.low, found.high

    germinated = [kind.shares[0] * float(kind.reached[-1]) for kind in timed.kinds]
    told = limits(germinated)
    made = _each(timed, "germinated", germinated, told)
    if all(kind.ends_with != "nothing" for kind in timed.kinds):
        hard = [kind.shares[1] + kind.shares[2] for kind in timed.kinds]
        made += _each(timed, "hard", hard, limits(hard))
    return made + _differences(timed, told)


def _each(
    timed: Timed, quantity: str, guessed: Sequence[float], told: tuple[Array, Array, Array]
) -> list[Prospect]:
    _, low, high = told
    return [
        _prospect(timed, kind, quantity, "fraction", guessed[i], *middle(low[:, i], high[:, i]))
        for i, kind in enumerate(timed.kinds)
    ]


def pairs(timed: Timed) -> list[tuple[int, int]]:
    """Return the pairs of treatments that are compared: those of one lot."""
    kinds = timed.kinds
    return [
        (i, j)
        for i, j in combinations(range(len(kinds)), 2)
        if kinds[i].place.lot == kinds[j].place.lot
    ]


def _differences(timed: Timed, told: tuple[Array, Array, Array]) -> list[Prospect]:
    made = []
    for i, j in pairs(timed):
        value, low, high = proportions.difference(*((x[:, i], x[:, j]) for x in told))
        one, other = timed.kinds[i], timed.kinds[j]
        made.append(
            Prospect(
                quantity="difference",
                unit="fraction",
                lot=one.place.lot,
                treatment=one.place.treatment,
                versus=other.place.treatment,
                experiment=timed.experiment,
                temperature_c=one.place.temperature_c,
                value=float(np.median(value)),
                low=float(np.median(low)),
                high=float(np.median(high)),
                wanted=timed.wanted.get("difference"),
            )
        )
    return made


def power(timed: Timed, share: float, difference: float, *, dishes: int, seed: int) -> float:
    """Return how often a difference between two treatments, one with `share` germinated, would surely be found."""
    other = share - difference if share > difference else share + difference
    rng, seeds = np.random.default_rng(seed), timed.kinds[0].seeds
    drawn_hits, sown = hits((share, other), (dishes, dishes), seeds, timed.correlation, rng)
    found = shares(
        drawn_hits,
        sown,
        unknown=timed.correlation,
        confidence=timed.confidence,
    )
    told = (found.fraction, found.low, found.high)
    _, low, high = proportions.difference(*((x[:, 0], x[:, 1]) for x in told))
    return float(((low > 0) | (high < 0)).mean())


# simulated studies: all of them in one batch, fitted as the analysis fits its own


def simulated(timed: Timed, *, studies: int, rng: np.random.Generator) -> dict[Key, Array]:
    """Return the half-widths of all quantities in simulated studies, infinite where a study could not tell."""
    rows = [_study(timed, rng) for _ in range(studies)]
    newly = np.concatenate([row for row, _ in rows])
    fates = np.stack([row for _, row in rows])
    found = _curves_of(timed, newly, studies)
    shares_of = {"germinated": fates[..., 0]}
    if all(kind.ends_with != "nothing" for kind in timed.kinds):
        shares_of["hard"] = fates[..., 1] + fates[..., 2]
    spreads = {"unknown": timed.correlation, "confidence": timed.confidence}
    sown = np.broadcast_to(timed.kinds[0].seeds * _there(timed.dishes), fates.shape[:-1])
    for quantity, seen in shares_of.items():
        told = shares(seen, sown, **spreads)
        half = (told.high - told.low) / 2
        for i, kind in enumerate(timed.kinds):
            found[quantity, kind.place.lot, kind.place.treatment, ""] = half[:, i]
        if quantity == "germinated":
            found |= _differences_of(timed, (told.fraction, told.low, told.high))
    return found


def _study(timed: Timed, rng: np.random.Generator) -> tuple[Array, Array]:
    """Return one study: newly germinated seeds (dishes, k), fates (kinds, most dishes, 6)."""
    drawn = [draw(kind, timed.correlation, timed.sd_log_time, rng) for kind in timed.kinds]
    fates = np.zeros((len(drawn), max(timed.dishes), 6))
    fates[_there(timed.dishes)] = np.concatenate([own for own, _ in drawn])
    return np.concatenate([newly for _, newly in drawn]), fates


def _differences_of(timed: Timed, told: tuple[Array, Array, Array]) -> dict[Key, Array]:
    made = {}
    for i, j in pairs(timed):
        _, low, high = proportions.difference(*((x[:, i], x[:, j]) for x in told))
        one, other = timed.kinds[i].place, timed.kinds[j].place
        made["difference", one.lot, one.treatment, other.treatment] = (high - low) / 2
    return made


def _curves_of(timed: Timed, newly: Array, studies: int) -> dict[Key, Array]:
    """Return the half-widths of t50 and of the germinable fraction, from newly germinated seeds (dishes, k)."""
    kinds, first = len(timed.kinds), timed.kinds[0]
    end = np.tile(first.hours, (len(newly), 1))
    start = np.concatenate((np.zeros((len(newly), 1)), end[:, :-1]), axis=1)
    left = (first.seeds - newly.sum(1))[:, None]
    cells = Cells(start, end, newly, end[:, -1:].copy(), left)
    there = np.tile(_there(timed.dishes), (studies, 1))
    dishes = np.full(there.shape, -1)
    dishes[there] = np.arange(len(newly))
    curves = Curves(cells, dishes, np.repeat(np.arange(studies), kinds))
    fits = germination_curve.fit(curves.pooled(), LOG_LOGISTIC)
    known = curve_intervals.dish_spread(
        curves, fits, LOG_LOGISTIC, correlation_when_unknown=timed.correlation
    )
    given = (curves, fits, known, LOG_LOGISTIC)
    half = curve_intervals.quantile_limits(*given, 0.5, confidence=timed.confidence)
    fraction = curve_intervals.fraction_limits(*given, confidence=timed.confidence)
    z = float(LOG_LOGISTIC.quantile(np.asarray(COMPLETE)))
    late = np.stack((np.ones(len(dishes)), z * np.exp(fits.log_sigma), np.zeros(len(dishes))), -1)
    limit = curve_intervals.thresholds(known, late, confidence=timed.confidence).value
    complete = curve_intervals.surely_over(curves, fits, LOG_LOGISTIC, COMPLETE, limit)
    told = fits.fitted & np.isfinite(half.low) & np.isfinite(half.high)
    told &= np.exp(fits.log_t50) <= first.hours[-1]
    widths = {
        "t50": np.where(told, (half.high - half.low) / 2, np.inf),
        "germinable_fraction": np.where(complete, (fraction.high - fraction.low) / 2, np.inf),
    }
    return {
        (name, kind.place.lot, kind.place.treatment, ""): values.reshape(studies, kinds)[:, i]
        for name, values in widths.items()
        for i, kind in enumerate(timed.kinds)
    }

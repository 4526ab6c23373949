"""Seeds weighed one by one while they soak: what they are expected to tell of hard coats, and how many would be told wrongly.

The likelihood of a seed's weighings under each kind (impermeable, imbibing from the start, late) is that of the analysis, at the
guessed film, balance and uptake. Studies draw their seeds from a `Pool` of many; each then has the posterior of its
impermeable fraction and its limits, as the analysis takes them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from hilum.analyses.imbibition.samples import fraction_limits, limits_of_batches
from hilum.analyses.imbibition.truth import ImbibitionTruth, TrueCoats
from hilum.plan.expected.prospect import middle
from hilum.plan.simulated.pool import KINDS, Pool
from hilum.stats import imbibition_posterior, proportions
from hilum.stats.arrays import Array

_DRAWS = 1000
_MOST_CELLS = 4_000_000  # numbers at once; more would fill the memory
_LEAST = 1e-9


@dataclass(frozen=True, kw_only=True)
class Soaked:
    """The treatments of one lot: what is guessed of them (`coats`, with the seeds of one dish), and how they are weighed.

    `truth` is that of seeds and balance; its coats are not looked at.
    """

    experiment: str
    lot: str
    coats: tuple[TrueCoats, ...]
    truth: ImbibitionTruth
    dishes: int
    correlation: float
    confidence: float
    wanted: Mapping[str, float]

    @property
    def hours(self) -> tuple[float, ...]:
        """Return the hours of all weighings, the dry one first."""
        return self.truth.hours

    @property
    def coarse(self) -> bool:
        """Return whether the balance hardly feels a seed, whose mass is then what it shows at least."""
        return self.truth.balance_readability_mg > min(self.truth.mass_mg.values()) / 2

    def weighed(self, hours: tuple[float, ...]) -> Soaked:
        """Return the same with other weighings; coats still open until the last hour planned at first."""
        return replace(self, truth=replace(self.truth, hours=hours))

    def resized(self, dishes: int, seeds: int) -> Soaked:
        """Return the same with other dishes of each treatment, and other seeds in each."""
        coats = tuple(replace(c, seeds=seeds) for c in self.coats)
        return replace(self, coats=coats, dishes=dishes)

    def with_balance(self, readability_mg: float) -> Soaked:
        """Return the same with another balance."""
        truth = replace(
            self.truth, balance_sd_mg=readability_mg, balance_readability_mg=readability_mg
        )
        return replace(self, truth=truth)


@dataclass(frozen=True, kw_only=True)
class Foreseen:
    """What weighings are expected to tell of one treatment.

    `low` and `high` are the middle limits of its impermeable fraction, infinitely apart where it cannot be told. Of its seeds the
    part `wrong` has the likelier answer wrong, and `uncertain` is the part of which neither answer is as probable as asked.
    """

    low: float
    high: float
    wrong: float
    uncertain: float

    @property
    def half_width(self) -> float:
        """Return half of the width of the interval."""
        return (self.high - self.low) / 2


def fates(soaked: Soaked, draws: int, rng: np.random.Generator) -> np.ndarray:
    """Return the kind of each seed of drawn studies, numbered as KINDS: (draws, treatments, dishes, seeds)."""
    alike = 1 / soaked.correlation - 1
    never = np.array([c.impermeable for c in soaked.coats])[:, None]
    late = np.array([c.late / max(1 - c.impermeable, _LEAST) for c in soaked.coats])
    shape = (draws, len(soaked.coats), soaked.dishes, soaked.coats[0].seeds)
    chance = rng.beta(
        np.maximum(never * alike, _LEAST), np.maximum((1 - never) * alike, _LEAST), shape[:3]
    )
    opens_late = rng.random(shape) < late[:, None, None]
    kinds = np.where(opens_late, KINDS.index("late"), KINDS.index("start"))
    return np.where(rng.random(shape) < chance[..., None], KINDS.index("never"), kinds)


def foreseen(soaked: Soaked, pool: Pool, *, seed: int, draws: int = _DRAWS) -> list[Foreseen]:
    """Return what is expected of each treatment."""
    rng = np.random.default_rng(seed)
    kinds = fates(soaked, draws, rng)
    picked = pool.pick(kinds, rng)
    likely = pool.told(soaked.truth)
    found = [_drawn(soaked, i, likely[:, picked[:, i]], kinds[:, i]) for i in range(kinds.shape[1])]
    batches = _of_batches(soaked, np.stack([one.hits for one in found], axis=1))
    return [_foreseen(one, limits) for one, limits in zip(found, batches, strict=True)]


@dataclass(frozen=True)
class _Drawn:
    """One treatment in drawn studies: limits (draws, 2), expected impermeable seeds (draws, dishes), wrong and uncertain parts."""

    limits: Array
    hits: Array
    wrong: Array
    uncertain: Array


def _drawn(soaked: Soaked, i: int, likely: Array, kinds: np.ndarray) -> _Drawn:
    """Return treatment i in studies whose seeds have these log likelihoods (kinds, draws, dishes, seeds)."""
    coat, draws = soaked.coats[i], kinds.shape[0]
    never, imbibed = (x.reshape(draws, -1) for x in of_coat(coat, likely))
    p, limits = np.empty_like(never), np.empty((draws, 2))
    for rows in _blocks(draws, never.shape[1]):
        p[rows], weights = imbibition_posterior.of_group(never[rows], imbibed[rows])
        limits[rows] = [
            fraction_limits(own, imbibition_posterior.quantiles(w), soaked.confidence)
            for own, w in zip(p[rows], weights, strict=True)
        ]
    told = np.maximum(p, 1 - p) >= soaked.confidence
    truly = (kinds == KINDS.index("never")).reshape(draws, -1)
    return _Drawn(
        limits=limits,
        hits=p.reshape(kinds.shape).sum(-1),
        wrong=((p > 0.5) != truly).mean(-1),
        uncertain=(~told).mean(-1),
    )


def of_coat(coat: TrueCoats, likely: Array) -> tuple[Array, Array]:
    """Return the log likelihoods of seeds if they are impermeable, and if they imbibed from the start or late."""
    late = np.clip(coat.late / max(1 - coat.impermeable, _LEAST), _LEAST, 1 - _LEAST)
    never, start, later = likely
    return never, np.logaddexp(np.log1p(-late) + start, np.log(late) + later)


def _blocks(draws: int, seeds: int) -> Iterator[slice]:
    size = max(1, _MOST_CELLS // (seeds * (16 + 4 * int(np.sqrt(seeds)))))
    for first in range(0, draws, size):
        yield slice(first, min(first + size, draws))


def _of_batches(soaked: Soaked, hits: Array) -> list[tuple[Array, Array] | None]:
    """Return the limits of each treatment with dishes as replicates, None with one dish; hits (draws, treatments, dishes)."""
    if soaked.dishes < 2:
        return [None] * hits.shape[1]
    groups = proportions.Groups(hits, np.full_like(hits, soaked.coats[0].seeds))
    low, high = limits_of_batches(groups, confidence=soaked.confidence, unknown=soaked.correlation)
    return [(low[:, i], high[:, i]) for i in range(hits.shape[1])]


def _foreseen(one: _Drawn, batches: tuple[Array, Array] | None) -> Foreseen:
    low, high = one.limits.T
    if batches is not None:
        wider = batches[1] - batches[0] > high - low
        low = np.where(wider, np.minimum(low, batches[0]), low)
        high = np.where(wider, np.maximum(high, batches[1]), high)
    # the analysis tells no fraction where most seeds stay uncertain
    dull = one.uncertain > 0.5
    low, high = np.where(dull, -np.inf, low), np.where(dull, np.inf, high)
    ends = middle(low, high)
    return Foreseen(
        low=ends[0],
        high=ends[1],
        wrong=float(one.wrong.mean()),
        uncertain=float(one.uncertain.mean()),
    )

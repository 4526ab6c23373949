"""The seeds of one lot and treatment, weighed one by one, with what the mixture says of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hilum.analyses.imbibition.weighed import Trace
from hilum.stats import proportions, uptake
from hilum.stats.arrays import Array
from hilum.stats.imbibition_mixture import Mixture
from hilum.stats.imbibition_posterior import PROBABILITIES
from hilum.stats.imbibition_quantities import LogNormal, Quantity, estimate, weights
from hilum.stats.spread import MOST_DEGREES_OF_FREEDOM

_FEWEST_BATCHES = 3  # beyond one for each sample, below which their spread is assumed


@dataclass(frozen=True, kw_only=True)
class Sample:
    """One lot × treatment: its traces, and the answer for each seed and for all.

    `impermeable` and `from_start` (seeds,) are probabilities, `onset_h` (3, seeds) median and limits, `fraction`
    quantiles at PROBABILITIES. `own` (12,), `covariance` and `draws` (64, 12) are the parameters of its seeds. `scatters` tells
    whether weighings err by more than the balance promises.
    """

    lot: str
    treatment: str
    traces: tuple[Trace, ...]
    left_out: int
    confidence: float
    impermeable: Array
    from_start: Array
    onset_h: Array
    fraction: Array
    own: Array
    covariance: Array
    draws: Array
    scatters: bool
    curve: uptake.Curve
    candidates: tuple[tuple[uptake.Shape, float, Array], ...]

    @property
    def calls(self) -> list[str]:
        """Return what each seed is called: impermeable, imbibed, or uncertain."""
        return [
            "impermeable"
            if p >= self.confidence
            else "imbibed"
            if p <= 1 - self.confidence
            else "uncertain"
            for p in self.impermeable
        ]

    @property
    def imbibed(self) -> np.ndarray:
        """Return which seeds rather imbibed than not."""
        return self.impermeable < 0.5

    @property
    def at_once(self) -> int:
        """Return how many seeds rather imbibed from the start than late or never."""
        return int((self.from_start > 0.5).sum())

    @property
    def soakings(self) -> int:
        """Return the most masses of one seed after it was put into water."""
        return max(len(trace.hours) - 1 for trace in self.traces)

    @property
    def last_h(self) -> float:
        """Return when the seeds were last seen."""
        return max(trace.last_h for trace in self.traces)

    @property
    def dry_mg(self) -> float:
        """Return the median mass before soaking."""
        return float(np.median([trace.mass_mg[0] for trace in self.traces]))

    @property
    def limits(self) -> tuple[float, float]:
        """Return the limits of the impermeable fraction."""
        return fraction_limits(self.impermeable, self.fraction, self.confidence)

    def quantity(self, quantity: Quantity) -> LogNormal:
        """Return a quantity of the curve of the seeds that imbibed from the start."""
        shape = self.curve.shape
        return estimate(quantity, self.own, self.covariance, shape, self.candidates)


def fraction_limits(impermeable: Array, fraction: Array, confidence: float) -> tuple[float, float]:
    """Return the limits of an impermeable fraction: of the posterior, or mid-P, the wider on each side.

    `impermeable` (seeds,) are probabilities, `fraction` quantiles at PROBABILITIES. Where surely none or all are
    impermeable the limit is 0 or 1. # Brown, Cai and DasGupta (2001), section 4.1
    """
    tail, seeds = (1 - confidence) / 2, len(impermeable)
    expected = float(impermeable.sum())
    low, high = np.interp([tail, 1 - tail], PROBABILITIES, fraction)
    least, most = proportions.mid_p(expected, seeds, confidence)
    none, all_ = expected < 0.5, expected > seeds - 0.5
    return 0.0 if none else min(float(low), least), 1.0 if all_ else max(float(high), most)


def of_mixture(
    samples: Sequence[tuple[str, str]],
    singles: Sequence[Trace],
    left_out: Sequence[Trace],
    mixture: Mixture,
    confidence: float,
) -> dict[tuple[str, str], Sample]:
    """Return the sample of each lot × treatment, numbered in the mixture as in `samples`."""
    found, weight = mixture.posterior, weights(mixture.candidates)
    made = {}
    for group, key in enumerate(samples):
        member = np.array([trace.sample == key for trace in singles])
        first = int(np.flatnonzero(member)[0])
        made[key] = Sample(
            lot=key[0],
            treatment=key[1],
            traces=tuple(trace for trace in singles if trace.sample == key),
            left_out=sum(trace.sample == key for trace in left_out),
            confidence=confidence,
            impermeable=found.impermeable[member],
            from_start=found.from_start[member],
            onset_h=found.onset_h[:, member],
            fraction=found.fraction[group],
            own=found.own[group],
            covariance=found.covariance[group],
            draws=found.draws[:, group],
            scatters=mixture.scatters,
            curve=mixture.curve,
            candidates=tuple(
                (c.curve.shape, float(w), c.own[first])
                for c, w in zip(mixture.candidates, weight, strict=True)
            ),
        )
    return made


def batch_limits(
    samples: Sequence[Sample], *, confidence: float, unknown: float
) -> list[tuple[float, float] | None]:
    """Return limits of each sample's fraction with its batches as replicates, None where it has but one."""
    batches = [list(dict.fromkeys(t.batch for t in s.traces if t.batch)) for s in samples]
    several = [i for i, names in enumerate(batches) if len(names) > 1]
    limits: list[tuple[float, float] | None] = [None] * len(samples)
    if not several:
        return limits
    groups = _batches([samples[i] for i in several], [batches[i] for i in several])
    low, high = limits_of_batches(groups, confidence=confidence, unknown=unknown)
    for i, a, b in zip(several, low, high, strict=True):
        limits[i] = (float(a), float(b))
    return limits


def limits_of_batches(
    groups: proportions.Groups, *, confidence: float, unknown: float
) -> tuple[Array, Array]:
    """Return Wilson's limits of each fraction (…), widened for the spread between batches."""
    rho = _correlation(groups, unknown)
    threshold = proportions.spread(groups, rho).threshold(confidence)
    return proportions.wilson(groups.hits.sum(-1), groups.total, threshold)


def _correlation(groups: proportions.Groups, unknown: float) -> proportions.Correlation:
    """Return the correlation within batches: as found where enough batches show it, else at least `unknown`."""
    rho = proportions.correlation(groups, unknown=unknown)
    many = rho.dof >= _FEWEST_BATCHES
    # two batches that agree by chance do not show that batches agree, nor does t with 1 degree of freedom help
    return proportions.Correlation(
        np.where(many, rho.rho, np.maximum(rho.rho, unknown)),
        np.where(many, rho.dof, MOST_DEGREES_OF_FREEDOM),
        rho.known,
    )


def _batches(samples: Sequence[Sample], names: Sequence[list[str]]) -> proportions.Groups:
    """Return the expected impermeable seeds in each batch; seeds without one are left out."""
    hits = np.zeros((len(samples), max(map(len, names))))
    seeds = np.zeros_like(hits)
    for i, (sample, own) in enumerate(zip(samples, names, strict=True)):
        for trace, p in zip(sample.traces, sample.impermeable, strict=True):
            if trace.batch:
                hits[i, own.index(trace.batch)] += p
                seeds[i, own.index(trace.batch)] += 1
    return proportions.Groups(hits, seeds)

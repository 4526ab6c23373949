"""Average what the weighings say of each seed over all that is not known exactly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import log_expit

from hilum.stats.families import Array
from hilum.stats.hierarchy import Layout, Mode
from hilum.stats.imbibition_likelihood import CLOSED, LAG, LATE, Seeds, without_lag
from hilum.stats.uptake_courses import AT_ONCE, LATER, NEVER, Courses

_DRAWS = 64
_CHUNK = 8  # draws in memory at once
PROBABILITIES = (np.arange(400) + 0.5) / 400


@dataclass(frozen=True, kw_only=True)
class Posterior:
    """What the weighings say of each seed and of each group (lot × treatment).

    `impermeable` and `from_start` (seeds,) are probabilities, through the last weighing; `onset_h` (3, seeds)
    the median onset and its limits, if the seed imbibed. `fraction` (groups, 400) holds quantiles of the
    impermeable fraction at PROBABILITIES. `own` (groups, 10) are the parameters at the mode, as numbered in
    `imbibition_likelihood`, `covariance` (groups, 10, 10) theirs, and `draws` (64, groups, 10) draws.
    """

    impermeable: Array
    from_start: Array
    onset_h: Array
    fraction: Array
    own: Array
    covariance: Array
    draws: Array


@dataclass(frozen=True)
class _Fraction:
    """The impermeable fraction of one group: its values at the nodes, and their weights, averaged."""

    value: Array
    weight: Array


def average(
    model: Seeds, layout: Layout, top: Mode, *, confidence: float, rng: np.random.Generator
) -> Posterior:
    """Return the posterior of seeds and groups, averaged over draws of the parameters around the mode."""
    group = model.weighings.group
    first = np.unique(group, return_index=True)[1]
    draws = _draw(top, rng)
    chunks = [_chunk(model, layout.of_units(d)) for d in np.split(draws, _DRAWS // _CHUNK)]
    probability = np.mean([each for each, _ in chunks], axis=0)
    own = layout.of_units(top.effects[None])[0]
    lag = _lag(
        without_lag(own, model.curve), without_lag(layout.of_units(draws), model.curve), confidence
    )
    weights = [layout.weights(int(seed)) for seed in first]
    return Posterior(
        impermeable=_of_kind(model.courses, probability, NEVER),
        from_start=_of_kind(model.courses, probability, AT_ONCE),
        onset_h=_onset(model.courses, probability, lag, confidence),
        fraction=np.array(
            [_quantiles(parts) for parts in zip(*(f for _, f in chunks), strict=True)]
        ),
        own=without_lag(own, model.curve)[first],
        covariance=np.array([w @ top.covariance @ w.T for w in weights]),
        draws=without_lag(layout.of_units(draws), model.curve)[:, first],
    )


def _draw(top: Mode, rng: np.random.Generator) -> Array:
    """Return draws of the effects, in opposite pairs, so that their mean is the mode."""
    half = rng.standard_normal((_DRAWS // 2, len(top.effects)))
    z = np.concatenate([half, -half])
    return np.asarray(top.effects + z @ np.linalg.cholesky(top.covariance).T)


def _chunk(model: Seeds, own: Array) -> tuple[Array, Sequence[_Fraction]]:
    """Return the mean probability of each course over these draws, and the fraction of each group."""
    kinds, group = model.kinds(own), model.weighings.group
    # the impermeable fraction is averaged over below: its value in these draws is taken out again
    stays = log_expit(own[..., CLOSED]) + log_expit(-own[..., LATE])
    never, imbibed = kinds.never - stays, kinds.imbibed - np.log(-np.expm1(stays))
    impermeable, fractions = np.zeros_like(never), []
    for g in range(int(group.max()) + 1):
        member = group == g
        impermeable[:, member], fraction = _impermeable(never[:, member], imbibed[:, member])
        fractions.append(fraction)
    late = np.exp(kinds.late - kinds.imbibed)
    of_kinds = [impermeable, (1 - impermeable) * (1 - late), (1 - impermeable) * late]
    courses = kinds.share * model.courses.of_courses(np.concatenate(of_kinds, axis=-1))
    return courses.mean(0), fractions


def _impermeable(never: Array, imbibed: Array) -> tuple[Array, _Fraction]:
    """Return the probability that each seed is impermeable, and the impermeable fraction of the group.

    From log likelihoods (draws, seeds). Jeffreys' prior for the fraction p is flat in the angle whose sin²
    is p, so that equal steps of the angle are equally likely before anything is weighed.
    """
    size = 16 + 4 * int(np.sqrt(never.shape[1]))
    p = np.sin((np.arange(size) + 0.5) * np.pi / (2 * size)) ** 2
    as_never, as_imbibed = never[..., None] + np.log(p), imbibed[..., None] + np.log1p(-p)
    either = np.logaddexp(as_never, as_imbibed)
    weight = _normalised(either.sum(1))
    probability = np.einsum("dsn,dn->ds", np.exp(as_never - either), weight)
    return probability, _Fraction(p, weight.mean(0))


def _normalised(log_weight: Array) -> Array:
    weight = np.exp(log_weight - log_weight.max(-1, keepdims=True))
    return np.asarray(weight / weight.sum(-1, keepdims=True))


def _quantiles(parts: Sequence[_Fraction]) -> Array:
    """Return the quantiles at PROBABILITIES of a fraction known at weighted nodes."""
    weight = np.array([part.weight for part in parts]).mean(0)
    edges = np.sin(np.linspace(0, np.pi / 2, len(weight) + 1)) ** 2
    below = np.concatenate([[0.0], np.cumsum(weight)])
    return np.asarray(np.interp(PROBABILITIES, below, edges))


def _lag(own: Array, draws: Array, confidence: float) -> Array:
    """Return the lag of each seed and its limits, (3, seeds): in a single seed it is not told from none."""
    high = np.quantile(np.exp(draws[..., LAG]), (1 + confidence) / 2, axis=0)
    return np.array([np.exp(own[:, LAG]), np.zeros(len(own)), high])


def _of_kind(courses: Courses, probability: Array, kind: int) -> Array:
    return np.asarray(np.bincount(courses.seed, probability * (courses.kind == kind)), dtype=float)


def _onset(courses: Courses, probability: Array, lag: Array, confidence: float) -> Array:
    """Return the median onset and its limits, (3, seeds), if the seed imbibed."""
    wanted = np.array([0.5, (1 - confidence) / 2, (1 + confidence) / 2])
    start = _of_kind(courses, probability, AT_ONCE)
    late = courses.kind == LATER
    seed, low, high, mass = (
        x[late] for x in (courses.seed, courses.low_h, courses.high_h, probability)
    )
    cells = np.split(np.arange(len(seed)), np.searchsorted(seed, np.arange(1, len(start))))
    out = [
        _with_atom(wanted, start[s], lag[:, s], mass[c], low[c], high[c])
        for s, c in enumerate(cells)
    ]
    return np.array(out).T


def _with_atom(
    wanted: Array, atom: float, at: Array, mass: Array, low: Array, high: Array
) -> Array:
    """Return quantiles of an atom and of cells in time order, in each of which all values are alike."""
    upto = atom + np.concatenate([[0.0], np.cumsum(mass)])
    x = np.column_stack([upto[:-1], upto[1:]]).ravel() / upto[-1]
    y = np.column_stack([low, high]).ravel()
    return np.where(wanted <= atom / upto[-1], at, np.interp(wanted, x, y))

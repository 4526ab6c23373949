"""Average what the weighings say of each seed over all that is not known exactly."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import log_expit

from hilum.stats.arrays import Array
from hilum.stats.hierarchy import Layout, Mode
from hilum.stats.imbibition_likelihood import CLOSED, LAG, LATE, Seeds
from hilum.stats.uptake_courses import AT_ONCE, LATER, NEVER, Courses

_DRAWS = 64
_NEXT_TO_NOTHING = 1e-300  # probability, so that what cannot be has quantiles too
_LEAST_DRAWS = 16  # that the weights must leave, as the effective number of Kish (1965)
PROBABILITIES = (np.arange(400) + 0.5) / 400


@dataclass(frozen=True, kw_only=True)
class Posterior:
    """What the weighings say of each seed and of each group (lot × treatment).

    `impermeable` and `from_start` (seeds,) are probabilities, through the last weighing; `onset_h` (3, seeds)
    the median onset and its limits, if the seed imbibed. `fraction` (groups, 400) holds quantiles of the
    impermeable fraction at PROBABILITIES. `own` (groups, 12) are the parameters at the mode, as numbered in
    `imbibition_likelihood`, `covariance` (groups, 12, 12) theirs, and `draws` (64, groups, 12) draws.
    """

    impermeable: Array
    from_start: Array
    onset_h: Array
    fraction: Array
    own: Array
    covariance: Array
    draws: Array


def average(
    model: Seeds,
    layout: Layout,
    top: Mode,
    *,
    parts: int,
    confidence: float,
    rng: np.random.Generator,
) -> Posterior:
    """Return the posterior of seeds and groups, averaged over draws of the parameters around the mode.

    The onset's cells are cut into so many `parts` before: limits are read from them.
    """
    group = model.weighings.group
    first = np.unique(group, return_index=True)[1]
    draws = _draw(top, rng)
    drawn = layout.of_units(draws)
    weight = weigh(model(drawn).sum(1) + layout.log_prior(draws) - top.log_density(draws))
    model = replace(model, courses=model.courses.refine(parts))
    probability, fractions = _averaged(model, drawn, weight)
    own = model.within_bounds(layout.of_units(top.effects[None])[0])
    drawn = model.within_bounds(drawn)
    lag = _lag(own, drawn, confidence)
    weights = [layout.weights(int(seed)) for seed in first]
    return Posterior(
        impermeable=_of_kind(model.courses, probability, NEVER),
        from_start=_of_kind(model.courses, probability, AT_ONCE),
        onset_h=_onset(model.courses, probability, lag, confidence),
        fraction=np.array([quantiles(at_nodes) for at_nodes in fractions]),
        own=own[first],
        covariance=np.array([w @ top.covariance @ w.T for w in weights]),
        draws=drawn[:, first],
    )


def _draw(top: Mode, rng: np.random.Generator) -> Array:
    """Return draws of the effects, in opposite pairs, so that their mean is the mode."""
    half = rng.standard_normal((_DRAWS // 2, len(top.effects)))
    z = np.concatenate([half, -half])
    return np.asarray(top.effects + z @ np.linalg.cholesky(top.covariance).T)


def weigh(log_ratio: Array) -> Array:
    """Return the weights of draws, (draws,), summing to 1, from their true log density less the drawn one.

    The posterior has longer tails than the normal density that was drawn from: weights put that right. Where
    parameters are many, the whole ratio would leave one draw: it is raised to the highest power that leaves enough.
    """
    for power in np.linspace(1.0, 0.0, 21):
        weight = _normalised(power * log_ratio)
        if weight @ weight <= 1 / _LEAST_DRAWS:
            break
    return weight


def _averaged(model: Seeds, drawn: Array, weight: Array) -> tuple[Array, list[Array]]:
    """Return the probability of each course, (courses,), and the weights of each group's fraction at the nodes.

    Averaged with the weights (draws,) of the draws (draws, seeds, 12), a few at a time.
    """
    blocks = model.blocks(drawn)
    weights = np.array_split(weight, len(blocks))
    probability, *fractions = _look(model, blocks[0], weights[0])
    for own, share in zip(blocks[1:], weights[1:], strict=True):
        for total, more in zip((probability, *fractions), _look(model, own, share), strict=True):
            total += more
    return probability, fractions


def _look(model: Seeds, own: Array, weight: Array) -> list[Array]:
    """Return what these draws add to the probability of each course, and to the fraction of each group."""
    kinds, group = model.kinds(own), model.weighings.group
    # the impermeable fraction is averaged over below: its value in these draws is taken out again
    stays = log_expit(own[..., CLOSED]) + log_expit(-own[..., LATE])
    never, imbibed = kinds.never - stays, kinds.imbibed - np.log(-np.expm1(stays))
    impermeable, fractions = np.zeros_like(never), list[Array]()
    for g in range(int(group.max()) + 1):
        member = group == g
        impermeable[:, member], at_nodes = of_group(never[:, member], imbibed[:, member])
        fractions.append(weight @ at_nodes)
    late = np.exp(kinds.late - kinds.imbibed)
    of_kinds = [impermeable, (1 - impermeable) * (1 - late), (1 - impermeable) * late]
    courses = kinds.share * model.courses.of_courses(np.concatenate(of_kinds, axis=-1))
    return [weight @ courses, *fractions]


def of_group(never: Array, imbibed: Array) -> tuple[Array, Array]:
    """Return the probability that each seed is impermeable, and the weights of their group's fraction at the nodes.

    From log likelihoods (draws, seeds). Jeffreys' prior for the fraction p is flat in the angle whose sin²
    is p, so that equal steps of the angle are equally likely before anything is weighed.
    """
    size = 16 + 4 * int(np.sqrt(never.shape[1]))
    p = np.sin((np.arange(size) + 0.5) * np.pi / (2 * size)) ** 2
    as_never, as_imbibed = never[..., None] + np.log(p), imbibed[..., None] + np.log1p(-p)
    either = np.logaddexp(as_never, as_imbibed)
    weight = _normalised(either.sum(1))
    probability = np.einsum("dsn,dn->ds", np.exp(as_never - either), weight)
    return probability, weight


def _normalised(log_weight: Array) -> Array:
    weight = np.exp(log_weight - log_weight.max(-1, keepdims=True))
    return np.asarray(weight / weight.sum(-1, keepdims=True))


def quantiles(weight: Array) -> Array:
    """Return the quantiles at PROBABILITIES of a fraction known at weighted nodes."""
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
    """Return the median onset and its limits, (3, seeds), if the seed imbibed.

    The limits hold for late seeds by themselves, and reach down to the start unless that is improbable. What is
    so of most seeds of a lot must not cut off the few that differ, where weighings cannot tell the two apart.
    """
    tail = (1 - confidence) / 2
    start, late = _of_kind(courses, probability, AT_ONCE), courses.kind == LATER
    cells = courses.take(late)
    mass = probability[late] + _NEXT_TO_NOTHING
    total = np.bincount(cells.seed, mass)
    # seed s takes the stretch from s to s + 1 of one cumulative distribution
    upto = np.concatenate([[0.0], np.cumsum(mass / total[cells.seed])])
    x = np.column_stack([upto[:-1], upto[1:]]).ravel()
    y = np.column_stack([cells.low_h, cells.high_h]).ravel()

    def late_h(part: Array | float) -> Array:
        return np.asarray(np.interp(np.arange(len(total)) + part, x, y))

    at_once = start / (start + total)
    of_late = np.maximum(0.5 - at_once, 0) / np.maximum(1 - at_once, 0.5)
    median = np.where(at_once >= 0.5, lag[0], late_h(of_late))
    low = np.where(at_once > tail, lag[1], late_h(tail))
    high = np.where(at_once > tail, np.maximum(late_h(1 - tail), lag[2]), late_h(1 - tail))
    return np.array([median, low, high])

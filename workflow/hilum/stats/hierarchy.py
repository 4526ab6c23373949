"""Mode and curvature of a likelihood of many units whose parameters partly pool.

Each unit (a seed) has k parameters of its own, on a scale on which a normal prior makes sense (mostly
logarithms). They are sums of effects: one of the whole experiment, and, where a parameter differs between
groups of units, one of each group, shrunk towards 0 as far as the data allow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Protocol

import numpy as np

from hilum.stats.arrays import Array


class Likelihood(Protocol):
    """The log likelihood of each unit, (points, units), as a function of its parameters (points, units, k)."""

    @property
    def moves(self) -> Sequence[int]:
        """Return which of the k parameters it depends on."""

    def __call__(self, own: Array) -> Array:
        """Return the log likelihood."""


_NUDGE = 1e-3  # of a logarithm: small against its curvature, large against rounding
_STRIDE = 0.02  # for second differences, which lose twice the digits
_NUMBERS = 2**22  # in memory at once
_ENOUGH = 0.01  # twice the log density that is still to be gained: no printed number hangs on it
_LONGEST = 2.0  # in sd of the prior: beyond, the slope here says nothing of what is there


@dataclass(frozen=True)
class Parameter:
    """One parameter of a unit: the prior of its centre, and how far groups lie apart.

    `groups` (units,) numbers the group of each unit; None where the whole experiment shares one value.
    """

    name: str
    centre: float
    spread: float
    between: float = 0.0
    groups: np.ndarray | None = None


@dataclass(frozen=True)
class Layout:
    """The effects, p of them: which parameter each adds to, for which units, and its normal prior."""

    parameter: np.ndarray
    member: Array
    centre: Array
    spread: Array
    size: int

    def of_units(self, effects: Array) -> Array:
        """Return the parameters of each unit, shape (points, units, k), from effects (points, p)."""
        weights, kind = self._kinds
        return np.asarray((effects @ weights).reshape(len(effects), -1, self.size)[:, kind])

    @cached_property
    def _kinds(self) -> tuple[Array, np.ndarray]:
        """Return the matrix (p, kinds × k) that gives the parameters of units that share all effects, and their kind."""
        _, first, kind = np.unique(self.member, axis=1, return_index=True, return_inverse=True)
        return np.concatenate([self.weights(int(unit)) for unit in first]).T, kind

    def with_groups(self, effects: Array, parameter: int, values: Array) -> Array:
        """Return the effects (p,) with this parameter at the values of its groups, (groups,)."""
        out = effects.copy()
        first, *groups = np.flatnonzero(self.parameter == parameter)
        out[first] = values.mean()
        if groups:
            out[groups] = values - values.mean()
        return out

    def weights(self, unit: int) -> Array:
        """Return the matrix (k, p) that gives a unit's parameters from the effects."""
        out = np.zeros((self.size, len(self.parameter)))
        out[self.parameter, np.arange(len(self.parameter))] = self.member[:, unit]
        return out

    def log_prior(self, effects: Array) -> Array:
        """Return the log density, less its constant, of effects (points, p)."""
        return np.asarray(-0.5 * (((effects - self.centre) / self.spread) ** 2).sum(-1))


def lay_out(parameters: Sequence[Parameter], units: int) -> Layout:
    """Return the effects of these parameters: one for all units, then one for each group."""
    effects = [(k, np.ones(units), p.centre, p.spread) for k, p in enumerate(parameters)]
    for k, p in enumerate(parameters):
        if p.groups is not None and p.groups.max() > 0:
            alike = (p.groups == group for group in range(int(p.groups.max()) + 1))
            effects += [(k, a.astype(float), 0.0, p.between) for a in alike]
    parameter, member, centre, spread = zip(*effects, strict=True)
    return Layout(
        np.array(parameter), np.array(member), np.array(centre), np.array(spread), len(parameters)
    )


@dataclass(frozen=True)
class Mode:
    """The effects (p,) of highest posterior density, and their covariance (p, p) there."""

    effects: Array
    covariance: Array

    def log_density(self, effects: Array) -> Array:
        """Return the log density, less its constant, of effects (points, p) that are normal around the mode."""
        z = np.linalg.solve(np.linalg.cholesky(self.covariance), (effects - self.effects).T)
        return np.asarray(-0.5 * (z**2).sum(0))


def climb(likelihood: Likelihood, layout: Layout, start: Array, *, steps: int) -> Array:
    """Return the effects (p,) of highest posterior density, reached from `start` in at most `steps`.

    A quasi-Newton climb: information begins as the covariance of the units' scores, plus the prior's, and
    learns from every step by the formula of Broyden, Fletcher, Goldfarb and Shanno (1970).
    """
    here = _look(likelihood, layout, start)
    for _ in range(steps):
        there = _step(likelihood, layout, here)
        if there is None:
            return here.effects
        here = replace(there, information=_learn(here, there))
        if here.gradient @ np.linalg.solve(here.information, here.gradient) < _ENOUGH:
            break
    return here.effects


@dataclass(frozen=True)
class _Point:
    """The log posterior at some effects (p,), its gradient (p,) and its information (p, p)."""

    effects: Array
    value: float
    gradient: Array
    information: Array


def _step(likelihood: Likelihood, layout: Layout, here: _Point) -> _Point | None:
    """Return a point that gains what can be expected of its distance, None where rounding hides any gain."""
    step = np.linalg.solve(here.information, here.gradient)
    step *= min(1.0, _LONGEST / np.abs(step / layout.spread).max())
    for _ in range(12):
        there = _look(likelihood, layout, here.effects + step)
        if there.value >= here.value + 1e-4 * (here.gradient @ step):
            return there
        step = step / 3
    return None


def _learn(here: _Point, there: _Point) -> Array:
    """Return the information after a step along which the gradient fell."""
    step, fall = there.effects - here.effects, here.gradient - there.gradient
    if step @ fall <= 1e-8:
        return here.information
    known = here.information @ step
    learnt = np.outer(fall, fall) / (fall @ step) - np.outer(known, known) / (step @ known)
    return np.asarray(here.information + learnt)


def _look(likelihood: Likelihood, layout: Layout, effects: Array) -> _Point:
    """Return the point at these effects; its information is the covariance of the units' scores."""
    moves = list(likelihood.moves)
    nudges = np.vstack([np.zeros(layout.size), _NUDGE * np.eye(layout.size)[moves]])
    values = likelihood(layout.of_units(effects[None]) + nudges[:, None, :])
    own = np.zeros((layout.size, values.shape[1]))
    own[moves] = (values[1:] - values[0]) / _NUDGE
    gradient = (own[layout.parameter] * layout.member).sum(1)
    gradient -= (effects - layout.centre) / layout.spread**2
    # what the likelihood does not depend on is held, not drawn to its prior
    moved = np.zeros(layout.size, dtype=bool)
    moved[moves] = True
    gradient *= moved[layout.parameter]
    # far from the top all scores pull one way: their mean would pass for information
    apart = (own - own.mean(1, keepdims=True))[layout.parameter] * layout.member
    information = apart @ apart.T + np.diag(layout.spread**-2.0)
    value = float(values[0].sum() + layout.log_prior(effects))
    return _Point(effects, value, gradient, information)


def mode(likelihood: Likelihood, layout: Layout, effects: Array) -> Mode:
    """Return the mode at `effects` with the inverse of the observed information there."""
    own = _second_derivatives(likelihood, layout.of_units(effects[None])[0])
    k = layout.parameter
    information = -np.einsum("ijn,in,jn->ij", own[k][:, k], layout.member, layout.member)
    # in units of the priors' sd the prior adds 1; less than that is a ridge that the prior alone holds
    scale = layout.spread[:, None] * layout.spread
    size, axes = np.linalg.eigh(information * scale + np.eye(len(k)))
    return Mode(effects, (axes / np.maximum(size, 1.0)) @ axes.T * scale)


def _second_derivatives(likelihood: Likelihood, own: Array) -> Array:
    """Return the second derivatives of each unit's log likelihood at `own` (units, k), shape (k, k, units)."""
    k = own.shape[-1]
    pairs = [(i, j) for i in likelihood.moves for j in likelihood.moves if j <= i]
    steps = _STRIDE * np.array([np.eye(k)[i] + np.eye(k)[j] * (i != j) for i, j in pairs])
    nudges = np.concatenate([np.zeros((1, k)), steps, -steps])
    blocks = np.array_split(nudges, min(len(nudges), 1 + nudges.size * len(own) // _NUMBERS))
    here, *there = np.concatenate([likelihood(own + block[:, None, :]) for block in blocks])
    ups, downs = np.split(np.array(there), 2)
    bend = dict(zip(pairs, (ups + downs - 2 * here) / _STRIDE**2, strict=True))
    out = np.zeros((k, k, len(own)))
    for i, j in pairs:
        mixed = bend[i, j] if i == j else (bend[i, j] - bend[i, i] - bend[j, j]) / 2
        out[i, j] = out[j, i] = mixed
    return out

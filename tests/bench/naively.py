"""Curves of one experiment, fitted and bounded naively: one scipy.optimize.minimize for each family and curve, and each limit by brentq."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq, minimize
from scipy.special import expit, logit

from hilum.analyses.dishes import DishCounts
from hilum.stats.arrays import Array
from hilum.stats.families import FAMILIES, Family
from hilum.stats.interval_censored import Cells

PARTS = {"t10": 0.1, "t50": 0.5, "t90": 0.9}
FARTHEST = 30.0  # of a logit or a logarithm, where an end is given up


@dataclass(frozen=True)
class Held:
    """One of the five quantities on its own scale: a log time (its z), log slope or logit G."""

    column: int
    z: float = 0.0

    def value(self, x: Array) -> float:
        """Return the quantity at the parameters."""
        return float(x[self.column] + self.z * np.exp(x[1]))

    def others(self, x: Array) -> Array:
        """Return the other two parameters."""
        return np.delete(x, self.column)

    def point(self, at: float, others: Array) -> Array:
        """Return the parameters at which the quantity is `at`."""
        x = np.insert(others, self.column, at)
        if self.z:
            x[0] = at - self.z * np.exp(x[1])
        return x


class _Curve:
    """The counts of one curve, and its likelihood by one family."""

    def __init__(self, cells: Cells, family: Family) -> None:
        self.family, self.count, self.left = family, cells.count.sum(0), cells.censored.sum()
        with np.errstate(divide="ignore"):
            self.start, self.end = np.log(cells.start_h[0]), np.log(cells.end_h[0])

    def loss(self, x: Array) -> float:
        """Return −log likelihood at (log t50, log sigma, logit G)."""
        sigma, G = np.exp(np.clip(x[1], -12, 4)), expit(x[2])
        before, after = (
            np.exp(self.family.log_cdf((t - x[0]) / sigma)) for t in (self.start, self.end)
        )
        inside = np.log(np.maximum(G * (after - before), 1e-300))
        return -float(
            (self.count * inside).sum() + self.left * np.log(max(1 - G * after[-1], 1e-300))
        )

    def fit(self) -> Array:
        """Return the parameters of the best fit."""
        middle = float((self.count * self.end).sum() / self.count.sum())
        share = (self.count.sum() + 0.5) / (self.count.sum() + self.left + 1)
        return minimize(self.loss, [middle, -1.5, logit(share)], method="BFGS").x

    def limits(self, best: Array, threshold: float, held: Held) -> tuple[float, float]:
        """Return both limits of what `held` holds: found by brentq, with a minimisation at each trial."""
        top, value, other = self.loss(best), held.value(best), held.others(best)

        def over(at: float) -> float:
            found = minimize(lambda y: self.loss(held.point(at, y)), other, method="BFGS")
            return 2 * (found.fun - top) - threshold

        return self._end(over, value, -1), self._end(over, value, 1)

    @staticmethod
    def _end(over: Callable[[float], float], value: float, side: int) -> float:
        step = 0.1
        while over(value + side * step) < 0:
            step *= 2
            if step > FARTHEST:
                return side * np.inf
        return float(brentq(over, value, value + side * step, xtol=1e-6))


def one_by_one(
    dishes: DishCounts, treatments: Sequence[str], thresholds: Mapping[str, Array]
) -> dict[str, Array]:
    """Return value, low and high of each quantity, (3, curves) each; `thresholds` (curves,) are given for each of them."""
    rows = [np.flatnonzero(dishes.treatment == name) for name in treatments]
    fits = {}
    for family in FAMILIES:
        curves = [_Curve(dishes.cells.take(own), family) for own in rows]
        fits[family.name] = curves, [curve.fit() for curve in curves]
    curves, best = min(
        fits.values(), key=lambda fit: sum(c.loss(x) for c, x in zip(*fit, strict=True))
    )
    family = curves[0].family
    held = {name: Held(0, float(family.quantile(np.array(part)))) for name, part in PARTS.items()}
    held |= {"slope": Held(1), "fraction": Held(2)}
    told = {}
    for name, one in held.items():
        own = zip(curves, best, thresholds[name], strict=True)
        ends = [(one.value(x), *c.limits(x, float(t), one)) for c, x, t in own]
        told[name] = np.array(ends).T
    told["slope"] = np.exp(-told["slope"])[[0, 2, 1]]
    told["fraction"] = expit(told["fraction"])
    return told | {name: np.exp(told[name]) for name in PARTS}

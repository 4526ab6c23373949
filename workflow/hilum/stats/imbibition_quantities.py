"""What people read from the curve of a group of seeds, each as a logarithm with its standard deviation."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from hilum.stats import uptake
from hilum.stats.arrays import Array
from hilum.stats.imbibition_curves import Candidate
from hilum.stats.imbibition_likelihood import BALANCE, FILM, FILM_SPREAD, HALF_TIME, LAG, PLATEAU

# a logarithm, from parameters (12,) and the shape of their curve
Quantity = Callable[[Array, uptake.Shape], float]

_NUDGE = 1e-4
# of an impermeable seed's gain: 5 % false alarms and 5 % missed (Currie 1968, the limit of detection)
_DETECTION = 3.29


def half_time(own: Array, shape: uptake.Shape) -> float:  # noqa: ARG001 (written by its half-time, any shape)
    """Return the logarithm of the hours from soaking to half of the plateau, a lag included."""
    return float(np.log(np.exp(own[LAG]) + np.exp(own[HALF_TIME])))


def plateau(own: Array, shape: uptake.Shape) -> float:  # noqa: ARG001 (the same for any shape)
    """Return the logarithm of the final uptake, % of the mass before soaking."""
    return float(np.log(100) + own[PLATEAU])


def initial_rate(own: Array, shape: uptake.Shape) -> float:
    """Return the logarithm of the rate at which uptake begins, % of the mass before soaking per hour."""
    slope = uptake.share_and_slope(0.0, shape)[1]
    return float(np.log(100 * slope) + own[PLATEAU] - own[HALF_TIME])


def smallest_gain(dry_mg: float) -> Quantity:
    """Return the quantity: the logarithm of the smallest gain, %, that is told from a film on such a seed."""

    def gain(own: Array, shape: uptake.Shape) -> float:  # noqa: ARG001 (a film knows no curve)
        film, spread, balance = np.exp(own[[FILM, FILM_SPREAD, BALANCE]])
        weighing = (balance / dry_mg) ** 2
        # the dry weighing errs as well, and its error grows with the mass that it is held against
        variance = weighing * (1 + (1 + film) ** 2) + (film * spread) ** 2
        return float(np.log(100 * _DETECTION * np.sqrt(variance)))

    return gain


@dataclass(frozen=True)
class LogNormal:
    """A positive quantity: mean and standard deviation of its logarithm."""

    mean: float
    sd: float

    @property
    def value(self) -> float:
        """Return the quantity itself."""
        return float(np.exp(self.mean))

    def limits(self, confidence: float, dof: float = np.inf) -> tuple[float, float]:
        """Return the limits by Student's t with `dof` degrees of freedom."""
        reach = float(stdtrit(min(dof, 1e9), (1 + confidence) / 2)) * self.sd
        return float(np.exp(self.mean - reach)), float(np.exp(self.mean + reach))


def estimate(
    quantity: Quantity,
    own: Array,
    covariance: Array,
    shape: uptake.Shape,
    candidates: Sequence[tuple[uptake.Shape, float, Array]] = (),
) -> LogNormal:
    """Return a quantity at parameters (12,) with their covariance (12, 12).

    The other curves that the data allow, as shape, Akaike weight and parameters, add the square of what they
    differ by. # Eq. 9 of Buckland et al. (1997), with the chosen curve as the centre
    """
    value = quantity(own, shape)
    ups = [quantity(own + _NUDGE * axis, shape) for axis in np.eye(len(own))]
    gradient = (np.array(ups) - value) / _NUDGE
    variance = float(gradient @ covariance @ gradient)
    variance += sum(w * (quantity(other, s) - value) ** 2 for s, w, other in candidates)
    return LogNormal(value, float(np.sqrt(variance)))


def weights(candidates: Sequence[Candidate]) -> Array:
    """Return the Akaike weights of the candidates, which sum to 1."""
    above = np.array([c.aic for c in candidates]) - candidates[0].aic if candidates else np.zeros(0)
    weight = np.exp(-above / 2)
    return np.asarray(weight / weight.sum() if candidates else weight)

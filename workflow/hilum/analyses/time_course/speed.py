"""The usual indices of a group: computed dish by dish, their mean with the dishes' t interval."""

from __future__ import annotations

import numpy as np

from hilum.analyses.dishes import DishCounts
from hilum.analyses.estimate import Estimate
from hilum.analyses.printer import Printer
from hilum.stats.arrays import Array
from hilum.stats.indices import INDICES
from hilum.stats.spread import t_squared

SOURCES = {
    "time_to_half_of_germinated": "Farooq et al. 2005, seed n/2 of the n germinated, interpolated",
    "time_to_middle_seed": "Coolbear et al. 1984, seed (n + 1)/2 of the n germinated, interpolated",
    "mean_germination_time": "mean time of the germinated seeds",
    "mean_germination_rate": "1 / mean germination time, Ranal and Santana 2006",
    "coefficient_of_velocity": "Kotowski 1926, 100 / mean germination time",
    "entropy_of_times": "entropy of the shares of inspections, Ranal and Santana 2006",
    "synchrony": "pairs of germinated seeds of the same inspection / all pairs, Ranal and Santana 2006",
    "germination_speed_index": "Maguire 1962, sum of newly germinated seeds / time",
}
_MORE_DISHES = (
    "An index needs two dishes or more in which seeds germinated: one dish cannot show how far dishes "
    "differ."
)
# a sum over seeds; the others are means
_SUM = "germination_speed_index"
_ALIKE = "All dishes gave the same value, which leaves no spread to make an interval from."


def estimates(dishes: DishCounts, printer: Printer) -> list[Estimate]:
    """Return the indices of the dishes of one group."""
    n, t = dishes.cells.count, dishes.cells.end_h
    return [_estimate(name, index(n, t), printer) for name, index in INDICES.items()]


def _estimate(name: str, values: Array, printer: Printer) -> Estimate:
    given = values[np.isfinite(values)]
    scale = ", on cube roots" if name == _SUM else ""
    method = (
        f"{SOURCES[name]}; mean of {len(given)} dishes, t interval{scale}; "
        "leaves out seeds that did not germinate"
    )
    if len(given) < 2 or (name == _SUM and not given.any()):
        return printer.not_identified(name, method=method, needs=_MORE_DISHES)
    error = float(given.std(ddof=1) / np.sqrt(len(given)))
    if error <= 1e-12 * abs(float(given.mean())):
        return printer.not_identified(name, method=method, needs=_ALIKE)
    half = error * float(np.sqrt(t_squared(np.array(len(given) - 1.0), printer.confidence)))
    mean = float(given.mean())
    low, high = limits_of_speed(mean, half) if name == _SUM else (mean - half, mean + half)
    if name == "synchrony":
        high = min(high, 1.0)
    ends = (max(low, 0.0), high)
    return printer.estimated(name, mean, *ends, method=method, standard_error=error)


def limits_of_speed(mean: float, half: float) -> tuple[float, float]:
    """Return the limits of a mean speed from `half` the width that it would have if both were as far away.

    They are as far from it on its cube root, on which sums of few seeds and their errors are near normal (Wilson and Hilferty 1931,
    Proc. Natl Acad. Sci. 17:684–688, from memory): where few seeds germinate, dishes slow by chance also look alike by chance.
    """
    root = mean ** (1 / 3)
    reach = half / (3 * root**2)
    return max(root - reach, 0.0) ** 3, (root + reach) ** 3

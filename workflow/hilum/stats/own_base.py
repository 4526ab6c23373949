"""Seeds that differ in their base temperature, where others differ in the thermal time that they need.

A seed of base b has germinated by time t at temperature T once theta/t ≤ T − b. With bases spread about their
median b50 that is a share F0((T − b50 − theta/t)/s): a straight line in T and in 1/t. So the likelihood is that of
the log times with −1/t in the place of ln t, minus the rate (T − b50)/theta in that of ln t50, and s/theta in that of
sigma. Below b50 the rate is negative: fewer than half of the germinable seeds ever germinate.

The form is that of the hydrotime and thermal time models of Gummerson (1986, J. Exp. Bot. 37:729–741); cited from memory.
"""

from __future__ import annotations

import numpy as np

from hilum.stats.arrays import Array
from hilum.stats.interval_censored import Cells

UNIT_H = 100.0  # hours; −1/t is counted in this unit, so that it is of the size of ln t


def on_own_clock(cells: Cells) -> Cells:
    """Return the cells with each time t (h) as exp(−`UNIT_H`/t), whose logarithm is −`UNIT_H`/t."""
    return Cells(
        _clock(cells.start_h),
        _clock(cells.end_h),
        cells.count,
        _clock(cells.censor_h),
        cells.censored,
    )


def _clock(hours: Array) -> Array:
    return np.where(hours > 0, np.exp(-UNIT_H / np.where(hours > 0, hours, 1.0)), 0.0)

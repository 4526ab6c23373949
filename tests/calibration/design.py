"""What a design of the calibration is: how its studies are drawn, and what is true of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from hilum.analyses.estimate import Fit
    from tests.calibration.tally import Printed

Tables = Mapping[str, Mapping[str, np.ndarray]]


class Key(NamedTuple):
    """What a printed figure is about; `at` only where a quantity is printed at several hours or doses.

    `wanted` is the number of germinated seeds for which seeds are to be sown.
    """

    quantity: str
    lot: str
    treatment: str
    temperature_c: float | None = None
    versus: str = ""
    at: float | None = None
    wanted: int | None = None


@dataclass(frozen=True, kw_only=True)
class Design:
    """Studies of one kind: `about` says in a sentence what was simulated.

    `draw` returns the checked tables of one study, `truths` what is true of every study. `within` where the studies keep
    to what the models assume; `identified` where the data of a study hold the base temperature, None where there is none.
    `further` reads figures of one study from tables beside its estimates.
    """

    name: str
    analysis: str
    about: str
    draw: Callable[[np.random.Generator], Tables]
    truths: Callable[[], Mapping[Key, float]]
    within: bool = True
    identified: bool | None = None
    further: Callable[[int, Fit, np.random.Generator], Sequence[Printed]] | None = None

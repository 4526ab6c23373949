"""What one bath for each duration cannot tell, and what two would."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import expit

from hilum.plan.asked.experiments import Doses
from hilum.plan.expected.dosed import Dosed


@dataclass(frozen=True, kw_only=True)
class Baths:
    """How often the interval of a best duration holds it, `held` of those drawn, with baths that differ by `sd` on a logit.

    `two_held` is of the same dishes from two baths, of which half of the studies have half-widths between `two_widths`; nan where several
    baths are planned.
    """

    experiment: str
    lot: str
    sd: float
    baths: int
    held: float
    two_widths: tuple[float, float] = (np.nan, np.nan)
    two_held: float = np.nan

    @property
    def around_half(self) -> tuple[float, float]:
        """Return between which shares two of three baths open coats, where they open half of them on average."""
        return float(expit(-self.sd)), float(expit(self.sd))


def compared(one: Doses, lot: str, question: Dosed, *, seed: int) -> Baths | None:
    """Return what the planned baths tell, of a question that was calibrated; None where baths do not matter."""
    if not question.bath_sd:
        return None
    planned = Baths(
        experiment=one.experiment,
        lot=lot,
        sd=question.bath_sd,
        baths=question.treated.most_baths,
        held=question.held,
    )
    if question.treated.by_bath:
        return planned
    # each of two baths needs a dish
    more = question.resized(max(2, question.truth.dishes), question.truth.seeds)
    two = more.in_baths(2).calibrated(seed=seed)
    low, high = np.quantile(two.drawn(seed=seed), (0.25, 0.75), method="nearest")
    return replace(planned, two_widths=(float(low), float(high)), two_held=two.held)

"""Which seed of a soaking experiment gets which treatment: drawn, the same number for each treatment and vessel."""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np

from hilum.plan.asked.design import Plan
from hilum.plan.asked.experiments import Soaking


@dataclass(frozen=True, kw_only=True)
class Weighed:
    """One seed that is weighed by itself: numbered as it comes out of the bag, with the treatment that was drawn for it.

    `batch` is the vessel that it is treated and soaked in.
    """

    seed: str
    lot: str
    treatment: str
    batch: str


def seeds(plan: Plan, one: Soaking) -> list[Weighed]:
    """Return the seeds of an experiment in the order of their numbers; the same plan gives the same."""
    made: list[Weighed] = []
    for lot in one.lots:
        kinds = [
            (treatment, f"{treatment} vessel {vessel}")
            for treatment in one.treatments
            for vessel in range(1, one.dishes + 1)
            for _ in range(one.seeds)
        ]
        words = f"seeds of {lot} in {one.experiment}"
        rng = np.random.default_rng([plan.seed, zlib.crc32(words.encode())])
        for number in rng.permutation(len(kinds)):
            treatment, batch = kinds[number]
            made.append(Weighed(seed="", lot=lot, treatment=treatment, batch=batch))
    digits = len(str(len(made)))
    return [
        Weighed(seed=f"s{n:0{digits}d}", lot=s.lot, treatment=s.treatment, batch=s.batch)
        for n, s in enumerate(made, 1)
    ]

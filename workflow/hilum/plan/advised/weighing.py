"""An imbibition experiment worked out: half-widths, seeds told wrongly, and what would tell more."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hilum.plan.advised import reweighed
from hilum.plan.advised.reweighed import Reweighed
from hilum.plan.asked.design import Plan
from hilum.plan.asked.experiments import Soaking
from hilum.plan.expected import guessed, soaked_studies
from hilum.plan.expected.prospect import AGREED, KNOWN_TO, Prospect, error_of_middle
from hilum.plan.expected.sizes import DISHES, SEEDS, Size, size
from hilum.plan.expected.soaked import Foreseen, Soaked, foreseen
from hilum.plan.expected.soaked_studies import Seen
from hilum.plan.simulated import pool
from hilum.stats.arrays import Array

_DRAWS = 200  # of studies of other sizes: a chart shows no more
_DULL = "Most seeds would stay uncertain: weigh to a finer step, or for longer."


@dataclass(frozen=True, kw_only=True)
class Calls:
    """How the seeds of one treatment would be called: parts expected `wrong` and `uncertain`, and those of simulated studies."""

    experiment: str
    lot: str
    treatment: str
    wrong: float
    uncertain: float
    wanted: float | None
    wrong_simulated: Array
    uncertain_simulated: Array

    @property
    def enough(self) -> bool | None:
        """Return whether as few are told wrongly as wanted, None where nothing was wanted."""
        return None if self.wanted is None else self.wrong <= self.wanted

    @property
    def agrees(self) -> bool:
        """Return whether simulated studies tell as many wrongly, as far as so many studies can show."""
        error = float(np.std(self.wrong_simulated)) / np.sqrt(len(self.wrong_simulated))
        apart = abs(float(self.wrong_simulated.mean()) - self.wrong)
        return bool(apart <= AGREED * self.wrong + 2 * error)


@dataclass(frozen=True, kw_only=True)
class Weighed:
    """What is expected of an imbibition experiment: one entry for each treatment, or each lot."""

    prospects: Sequence[Prospect]
    sizes: Sequence[Size]
    calls: Sequence[Calls]
    advice: Sequence[Reweighed]


def work_out(plan: Plan, one: Soaking, *, seed: int) -> Weighed:
    """Return an experiment worked out. Raises Missing where a guess is missing."""
    lots = [_of_lot(plan, one, guessed.soaked(plan, one, lot), seed) for lot in one.lots]
    return Weighed(
        prospects=[p for found in lots for p in found.prospects],
        sizes=[s for found in lots for s in found.sizes],
        calls=[c for found in lots for c in found.calls],
        advice=[a for found in lots for a in found.advice],
    )


def _of_lot(plan: Plan, one: Soaking, own: Soaked, seed: int) -> Weighed:
    longest = max(one.hours[-1], one.longest_h or 0.0)
    hours = tuple(sorted({*own.hours, *reweighed.candidates(own, longest)}))
    seeds = pool.drawn(own.truth, hours, np.random.default_rng([seed, 0]))
    told = foreseen(own, seeds, seed=seed)
    studies = _simulated(own, plan.simulations, np.random.default_rng([seed, 1]))
    prospects = [
        prospect.checked(seen.half_width)
        for prospect, seen in zip(prospects_of(own, told), studies, strict=True)
    ]
    sizes = [
        size(p, dishes, many)
        for dishes in DISHES
        for many in SEEDS
        for other in [own.resized(dishes, many)]
        for p in prospects_of(other, foreseen(other, seeds, seed=seed, draws=_DRAWS))
    ]
    calls = [
        Calls(
            experiment=own.experiment,
            lot=own.lot,
            treatment=coat.treatment,
            wrong=expected.wrong,
            uncertain=expected.uncertain,
            wanted=own.wanted.get("misclassified"),
            wrong_simulated=seen.wrong,
            uncertain_simulated=seen.uncertain,
        )
        for coat, expected, seen in zip(own.coats, told, studies, strict=True)
    ]
    advice = reweighed.advise(own, seeds, longest, seed=seed)
    return Weighed(prospects=prospects, sizes=sizes, calls=calls, advice=[advice])


def _simulated(own: Soaked, studies: int, rng: np.random.Generator) -> list[Seen]:
    """Return what at least so many studies see, twice as many where those do not tell their middle well."""
    found = soaked_studies.simulated(own, studies=studies, rng=rng)
    if max(error_of_middle(seen.half_width) for seen in found) <= KNOWN_TO:
        return found
    more = soaked_studies.simulated(own, studies=studies, rng=rng)
    return [one.and_more(other) for one, other in zip(found, more, strict=True)]


def prospects_of(own: Soaked, told: Sequence[Foreseen]) -> list[Prospect]:
    """Return the interval to come of each treatment's impermeable fraction."""
    return [
        Prospect(
            quantity="impermeable_fraction",
            unit="fraction",
            lot=own.lot,
            treatment=coat.treatment,
            experiment=own.experiment,
            value=coat.impermeable,
            low=expected.low,
            high=expected.high,
            why="" if np.isfinite(expected.half_width) and not own.coarse else _DULL,
            wanted=own.wanted.get("impermeable_fraction"),
        )
        for coat, expected in zip(own.coats, told, strict=True)
    ]

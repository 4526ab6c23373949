"""Which weighing, added, would tell more of hard coats, and how a number of weighings is best placed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import expit, logit

from hilum.plan.expected.soaked import Foreseen, Soaked, foreseen, of_coat
from hilum.plan.simulated.pool import KINDS, Pool

# hours that people keep to
_HOURS = (0.5, 1, 2, 3, 4, 6, 8, 12, 18, 24, 36, 48, 72, 96, 120, 168, 240, 336, 504, 672)
_FINER = 10.0  # as balances are made
_LEAST = 1e-6
_ALIKE = 0.05  # of seeds told wrongly; less is hardly known
_DRAWS = 300  # of the same seeds for each design, which are compared


@dataclass(frozen=True)
class Told:
    """What an experiment would tell: the half-width of the treatment known worst, and the part of all seeds told wrongly."""

    half_width: float
    wrong: float


@dataclass(frozen=True, kw_only=True)
class Reweighed:
    """What would tell more of the coats of one lot.

    `points` are one more weighing: its hour, and what is told then. `steps` are things to add, in words. `best` are as many
    weighings as planned, placed so that fewest seeds are told wrongly, with the last one of `last`; `best_told` what they tell.
    """

    experiment: str
    lot: str
    planned: tuple[float, ...]
    now: Told
    points: Sequence[tuple[float, Told]]
    steps: Sequence[tuple[str, Told]]
    best: tuple[float, ...]
    best_told: Told
    longest_h: float

    @property
    def added(self) -> tuple[float, Told]:
        """Return the weighing, and what is told with it, that leaves the fewest seeds told wrongly."""
        return min(self.points, key=lambda point: point[1].wrong)


def candidates(soaked: Soaked, longest_h: float) -> list[float]:
    """Return the hours at which one more weighing is looked at, without those planned."""
    first = min(soaked.hours[1:]) / 2
    tried = {float(hour) for hour in _HOURS if first <= hour <= longest_h} | {float(longest_h)}
    return sorted(tried - set(soaked.hours))


def advise(soaked: Soaked, pool: Pool, longest_h: float, *, seed: int) -> Reweighed:
    """Return what would tell more; the pool has every hour that is looked at."""

    def told(other: Soaked) -> Told:
        return together(other, foreseen(other, pool, seed=seed, draws=_DRAWS), pool)

    now = told(soaked)
    points = [
        (at, told(soaked.weighed(tuple(sorted((*soaked.hours, at))))))
        for at in candidates(soaked, longest_h)
    ]
    dishes, seeds = soaked.dishes, soaked.coats[0].seeds
    finer = soaked.truth.balance_readability_mg / _FINER
    steps = [
        ("as many dishes again", told(soaked.resized(2 * dishes, seeds))),
        ("twice as many seeds in each dish", told(soaked.resized(dishes, 2 * seeds))),
        (f"a balance that reads {finer:g} mg", told(soaked.with_balance(finer))),
    ]
    if points:
        at, most = min(points, key=lambda point: point[1].wrong)
        steps.append((f"one more weighing at {at:g} h", most))
    best = placed(soaked, pool, longest_h)
    return Reweighed(
        experiment=soaked.experiment,
        lot=soaked.lot,
        planned=soaked.hours,
        now=now,
        points=points,
        steps=sorted(steps, key=lambda step: step[1].half_width),
        best=best,
        best_told=told(soaked.weighed(best)),
        longest_h=longest_h,
    )


def together(soaked: Soaked, found: Sequence[Foreseen], pool: Pool) -> Told:
    """Return what is told of all treatments."""
    return Told(max(one.half_width for one in found), wrong(soaked, pool))


def wrong(soaked: Soaked, pool: Pool) -> float:
    """Return the part of all seeds whose likelier answer is wrong, if the shares of each treatment were known.

    Of a seed with the probability p that part is the smaller of p and 1 − p: in the mean over a pool that is known better than
    how often it comes true.
    """
    likely = pool.told(soaked.truth)
    size = likely.shape[1] // len(KINDS)
    each = []
    for coat in soaked.coats:
        hard = float(np.clip(coat.impermeable, _LEAST, 1 - _LEAST))
        never, imbibed = of_coat(coat, likely)
        p = expit(never - imbibed + logit(hard))
        share = np.array([coat.impermeable, 1 - coat.impermeable - coat.late, coat.late])
        each.append(float(np.repeat(share / size, size) @ np.minimum(p, 1 - p)))
    return float(np.mean(each))


def _best(more: Mapping[float, float], planned: Sequence[float]) -> float:
    """Return the hour with which fewest seeds are told wrongly, one of those planned where that is about as good."""
    good = [hour for hour, part in more.items() if part <= (1 + _ALIKE) * min(more.values())]
    return min(good, key=lambda hour: (hour not in planned, more[hour]))


def placed(soaked: Soaked, pool: Pool, longest_h: float) -> tuple[float, ...]:
    """Return as many weighings as planned, those that leave fewest seeds told wrongly: from the last one on, one after the other."""
    many, last = len(soaked.hours), soaked.hours[-1]
    tried = sorted({*soaked.hours[1:], *candidates(soaked, longest_h)})
    found = [soaked.hours]
    for end in sorted({last, longest_h}):
        hours: tuple[float, ...] = (0.0, end)
        free = [hour for hour in tried if hour < end]
        while len(hours) < many and free:
            more = {
                hour: wrong(soaked.weighed(tuple(sorted((*hours, hour)))), pool) for hour in free
            }
            hours = tuple(sorted((*hours, _best(more, soaked.hours))))
            free = [hour for hour in free if hour not in hours]
        found.append(hours)
    return min(found, key=lambda own: wrong(soaked.weighed(own), pool))

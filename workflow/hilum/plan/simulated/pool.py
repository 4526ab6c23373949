"""Many invented seeds of each kind, weighed at every hour that a plan may look at."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from hilum.analyses.imbibition.truth import ImbibitionTruth, TrueCoats, simulate
from hilum.stats import uptake
from hilum.stats.arrays import Array
from hilum.stats.imbibition_likelihood import Seeds, Weighings
from hilum.stats.uptake_courses import possible

KINDS = ("never", "start", "late")
_SIZE = 600  # seeds of each kind: as many know a share told wrongly to a twentieth of itself where it matters
_PARTS = 4  # of a stretch between weighings, for the onset
_TURNS = 3  # tangents taken until they touch the curve where the seed is


@dataclass(frozen=True)
class Pool:
    """Seeds sorted by KINDS: `hours` (k,) of all weighings, and what the scale would show without error of its own.

    `mass_mg` (seeds, k) are true masses with their films, `error` (seeds, k) the errors of the balance, in its sd.
    """

    hours: tuple[float, ...]
    mass_mg: Array
    error: Array
    _told: dict[object, Array] = field(default_factory=dict, repr=False, compare=False)

    def pick(self, kinds: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        """Return places of seeds of these kinds, drawn with replacement."""
        size = len(self.mass_mg) // len(KINDS)
        return np.asarray(kinds * size + rng.integers(size, size=kinds.shape))

    def told(self, truth: ImbibitionTruth) -> Array:
        """Return the log likelihood of each seed under each kind, (kinds, seeds), if weighed as `truth` says.

        It is worked out once for each balance and hours.
        """
        key = truth.hours, truth.balance_sd_mg, truth.balance_readability_mg
        if key not in self._told:
            self._told[key] = self._likely(truth)
        return self._told[key]

    def _likely(self, truth: ImbibitionTruth) -> Array:
        at = [self.hours.index(hour) for hour in truth.hours]
        step, n = truth.balance_readability_mg, len(self.mass_mg)
        shown = self.mass_mg[:, at] + truth.balance_sd_mg * self.error[:, at]
        weighings = Weighings(
            hours=np.tile(truth.hours, (n, 1)),
            mass_mg=np.maximum(np.round(shown / step), 1.0) * step,
            group=np.zeros(n, dtype=int),
            treatment=np.zeros(n, dtype=int),
            germinated_h=np.full(n, np.nan),
        )
        curve = next(c for c in uptake.CANDIDATES if c.shape == truth.shape and not c.lag)
        own = np.tile(_parameters(truth), (1, n, 1))
        model = Seeds(weighings, possible(weighings.seen_h, parts=_PARTS), curve)
        for _ in range(_TURNS):
            model = model.with_speeds(own[0])
        kinds = model.kinds(own)
        # without the even odds that `_parameters` holds: a closed coat, and one that stays so
        return np.stack(
            [
                kinds.never[0] + 2 * np.log(2),
                kinds.start[0] + np.log(2),
                kinds.late[0] + 2 * np.log(2),
            ]
        )


def _parameters(truth: ImbibitionTruth) -> Array:
    """Return a seed's parameters in the order of `imbibition_likelihood`, with even odds."""
    balance = np.hypot(truth.balance_sd_mg, truth.balance_readability_mg / np.sqrt(12))
    mass = next(iter(truth.mass_mg.values())) * np.exp(truth.mass_spread**2 / 2)
    known = [truth.film, truth.film_spread, balance, truth.plateau, truth.half_time_h]
    spreads = [truth.plateau_spread, truth.speed_spread]
    odds_and_lag = [1.0, 1.0, 1e-300]
    return np.log([*known, *spreads, *odds_and_lag, mass, truth.mass_spread])


def drawn(
    truth: ImbibitionTruth, hours: tuple[float, ...], rng: np.random.Generator, *, size: int = _SIZE
) -> Pool:
    """Return a pool of the seeds of `truth`, which has one lot, weighed at `hours`, the dry weighing first: `size` of each kind."""
    (lot,) = truth.mass_mg
    shares = {"never": (1.0, 0.0), "start": (0.0, 0.0), "late": (0.0, 1.0)}
    coats = tuple(
        TrueCoats(
            lot=lot, treatment=kind, impermeable=shares[kind][0], late=shares[kind][1], seeds=size
        )
        for kind in KINDS
    )
    # a balance that shows everything: each design adds the error of its own
    exact = replace(truth, coats=coats, hours=hours, balance_sd_mg=0.0, balance_readability_mg=1e-9)
    mass = simulate(exact, rng=rng)["weighings"]["mass_mg"].reshape(-1, len(hours))
    return Pool(hours, mass, rng.normal(size=mass.shape))

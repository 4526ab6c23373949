"""From the table of weighings to the trace of each seed, and what is known of the balance."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from hilum.stats.arrays import Array
from hilum.stats.imbibition_balance import Balance
from hilum.stats.imbibition_likelihood import LEAST_ERROR_MG, Weighings

# The sd of one weighing is about one step of the display (common practice, no source); the second number is
# how sure that is, as the sd of its logarithm.
_STEP_GIVEN, _STEP_GUESSED, _STEP_UNKNOWN = 0.4, 0.6, 1.5
_OF_THE_SEED = 0.005  # a balance of which nothing is known errs by this part of a seed's mass
_FINEST_STEP_MG = 1e-3


@dataclass(frozen=True, kw_only=True)
class Trace:
    """The weighings of one seed, or of several weighed together: hours ascending, masses in mg.

    `germinated_h` is when the radicle was first seen out, nan where it was not; no later mass is kept.
    """

    seed: str
    lot: str
    treatment: str
    batch: str
    seeds: int
    hours: Array
    mass_mg: Array
    germinated_h: float

    @property
    def sample(self) -> tuple[str, str]:
        """Return lot and treatment."""
        return self.lot, self.treatment

    @property
    def usable(self) -> bool:
        """Return whether the seed was weighed dry and seen again."""
        dry = len(self.hours) > 0 and self.hours[0] == 0 and self.mass_mg[0] > 0
        return dry and (len(self.hours) > 1 or bool(np.isfinite(self.germinated_h)))

    @property
    def uptake_pct(self) -> Array:
        """Return the uptake at each weighing, % of the mass before soaking."""
        return np.asarray(100 * (self.mass_mg / self.mass_mg[0] - 1))

    @property
    def last_h(self) -> float:
        """Return when the seed was last seen."""
        return float(np.fmax(self.hours[-1], self.germinated_h))


def traces(weighings: Mapping[str, np.ndarray]) -> list[Trace]:
    """Return the trace of each seed, in the order of the table."""
    names = zip(*(weighings[c].tolist() for c in ("lot", "treatment", "seed")), strict=True)
    rows: dict[tuple[str, str, str], list[int]] = {}
    for row, name in enumerate(names):
        rows.setdefault(name, []).append(row)
    return [_trace(weighings, np.array(found)) for found in rows.values()]


def _trace(weighings: Mapping[str, np.ndarray], rows: np.ndarray) -> Trace:
    rows = rows[np.argsort(weighings["soaked_h"][rows], kind="stable")]
    hours, mass = weighings["soaked_h"][rows], weighings["mass_mg"][rows]
    out = hours[weighings["radicle"][rows] == 1]
    germinated = float(out[0]) if len(out) else np.nan
    # from then on the seed grows
    kept = np.isfinite(mass) & ~(hours >= germinated)
    together = weighings["seeds"][rows[0]]
    return Trace(
        seed=str(weighings["seed"][rows[0]]),
        lot=str(weighings["lot"][rows[0]]),
        treatment=str(weighings["treatment"][rows[0]]),
        batch=str(weighings["batch"][rows[0]]),
        seeds=1 if np.isnan(together) else int(together),
        hours=hours[kept],
        mass_mg=mass[kept],
        germinated_h=germinated,
    )


def as_weighings(
    found: Sequence[Trace], samples: Sequence[tuple[str, str]], step: Step
) -> Weighings:
    """Return usable traces of single seeds as arrays, their groups numbered as in `samples`."""
    size = max(len(trace.hours) for trace in found)
    hours, mass = np.zeros((len(found), size)), np.full((len(found), size), np.nan)
    for row, trace in enumerate(found):
        hours[row, : len(trace.hours)] = trace.hours
        mass[row, : len(trace.hours)] = trace.mass_mg
    treatments = list(dict.fromkeys(treatment for _, treatment in samples))
    return Weighings(
        hours=hours,
        mass_mg=mass,
        group=np.array([samples.index(trace.sample) for trace in found]),
        treatment=np.array([treatments.index(trace.treatment) for trace in found]),
        germinated_h=np.array([trace.germinated_h for trace in found]),
        least_error_mg=step.least_error_mg,
    )


@dataclass(frozen=True)
class Step:
    """The step of the balance's display, mg (nan where unknown), and how it is known."""

    mg: float
    known: str

    @property
    def least_error_mg(self) -> float:
        """Return the least sd of a weighing that is held possible, mg, next to none where the step is unknown.

        Rounding alone has the sd step/√12, that of a uniform error. A fit may by chance find less, but not less than half.
        """
        return LEAST_ERROR_MG if np.isnan(self.mg) else self.mg / np.sqrt(12) / 2

    def balance(self, dry_mg: Array) -> Balance:
        """Return what is known of the balance's error before any seed is weighed again."""
        if self.known == "given":
            return Balance(self.mg, _STEP_GIVEN)
        if self.known == "decimals":
            return Balance(self.mg, _STEP_GUESSED)
        return Balance(_OF_THE_SEED * float(np.median(dry_mg)), _STEP_UNKNOWN)


def step_of_balance(experiment: Mapping[str, np.ndarray] | None, mass_mg: Array) -> Step:
    """Return the step of the balance: as given, else the coarsest power of ten that all masses share."""
    given = np.nan if experiment is None else float(experiment["balance_readability_mg"][0])
    if np.isfinite(given):
        return Step(given, "given")
    step = 100.0
    while step > _FINEST_STEP_MG / 2:
        off = np.abs(mass_mg / step - np.round(mass_mg / step))
        # what is left of a subtracted container or of grams is a rounding error of the machine
        if off.max(initial=0.0) < 1e-6 * max(1.0, 1 / step):
            return Step(step, "decimals")
        step /= 10
    return Step(np.nan, "unknown")

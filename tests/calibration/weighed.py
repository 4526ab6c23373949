"""Studies of soaked seeds, weighed one by one, and what is true of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tests import soaked
from tests.calibration.design import Key, Tables

_DETECTION = 3.29  # standard deviations: the limit of detection of Currie (1968)


@dataclass(frozen=True, kw_only=True)
class Coats:
    """Seeds of one lot and treatment, treated in `batches` whose coats open alike by `correlation`."""

    lot: str = "lot"
    treatment: str = "intact"
    seeds: soaked.Design
    batches: int = 1
    correlation: float = 0.0

    def weighings(self, rng: np.random.Generator) -> list[dict[str, np.ndarray]]:
        """Return the weighings of each batch."""
        mean, made = self.seeds.impermeable, []
        for batch in range(self.batches):
            share = mean
            if self.correlation:
                alike = 1 / self.correlation - 1
                share = float(rng.beta(mean * alike, (1 - mean) * alike))
            one = replace(self.seeds, seeds=self.seeds.seeds // self.batches, impermeable=share)
            rows = soaked.tables(one, soaked.draw(one, rng))["weighings"]
            n = len(rows["mass_mg"])
            rows["seed"] = np.array([f"{batch}-{name}" for name in rows["seed"]])
            rows["lot"], rows["treatment"] = np.full(n, self.lot), np.full(n, self.treatment)
            rows["batch"] = np.full(n, f"bath {batch + 1}" if self.batches > 1 else "")
            made.append(rows)
        return made


def draw(coats: Sequence[Coats], rng: np.random.Generator) -> Tables:
    """Return one study as checked tables."""
    parts = [rows for one in coats for rows in one.weighings(rng)]
    weighings = {name: np.concatenate([rows[name] for rows in parts]) for name in parts[0]}
    step = coats[0].seeds.readability
    return {"weighings": weighings, "experiment": {"balance_readability_mg": np.array([step])}}


def truths(coats: Sequence[Coats]) -> dict[Key, float]:
    """Return the truths of each lot and treatment."""
    return {
        Key(quantity, one.lot, one.treatment): value
        for one in coats
        for quantity, value in _of_seeds(one.seeds).items()
    }


def _of_seeds(seeds: soaked.Design) -> dict[str, float]:
    # in the first hours Peleg's curve rises by 1, the exponential by ln 2, of the final uptake in a half-time
    first = 1.0 if seeds.peleg else np.log(2)
    true = {"impermeable_fraction": seeds.impermeable}
    # films that differ by seed or session, and seeds of two sizes, have no one gain that could just be seen
    if not (seeds.own_film or seeds.session or seeds.two_sizes):
        true["smallest_detectable_gain"] = 100 * _DETECTION * _error_of_a_gain(seeds)
    if seeds.impermeable + seeds.late < 1:
        true["half_time"] = seeds.half_time
        true["plateau_uptake"] = 100 * seeds.plateau
        true["initial_rate"] = 100 * first * seeds.plateau / seeds.half_time
    return true


def _error_of_a_gain(seeds: soaked.Design) -> float:
    """Return the standard deviation of an impermeable seed's gain: both weighings, and the film."""
    weighing = (seeds.balance**2 + seeds.readability**2 / 12) / seeds.mass**2
    film = seeds.film * seeds.film_cv
    return float(np.sqrt(weighing * (1 + (1 + seeds.film) ** 2) + film**2))

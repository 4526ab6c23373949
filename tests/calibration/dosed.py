"""Studies of one lot after several durations of acid, seed by seed, and what is true of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.calibration.design import Key, Tables

LOT, SERIES = "lot", "acid by duration"
_NUMBERS = ("night_temperature_c", "warm_h", "stored_d", "stored_at_c", "stored_moisture_pct")
_WORDS = ("chamber", "light", "medium", "sown_at")
_STEP_NUMBERS = ("concentration", "temperature_c")
_STEP_WORDS = ("position", "agent", "concentration_unit")


@dataclass(frozen=True, kw_only=True)
class Dosed:
    """What is true of the lot and the bench; durations in minutes.

    A share `soft` of the seeds is permeable untreated, `soft_alive` of them alive; of the others `alive`. Each closed
    coat opens at a duration of its own (log-logistic, median `opens`, slope `opens_slope`), each embryo bears one of its own.
    Baths differ by `bath_sd`, dishes by `dish_sd`, on the logit of opening, of life and of bearing.
    """

    durations: tuple[float, ...] = (0.0, 30.0, 60.0, 120.0, 240.0, 360.0, 480.0)
    soft: float = 0.08
    soft_alive: float = 0.6
    alive: float = 0.9
    opens: float = 90.0
    opens_slope: float = 2.0
    bears: float = 500.0
    bears_slope: float = 3.0
    baths: int = 1
    dishes: int = 4
    seeds: int = 25
    bath_sd: float = 0.0
    dish_sd: float = 0.3
    by_hand: bool = True

    def draw(self, rng: np.random.Generator) -> Tables:
        """Return one study as checked tables."""
        rows: list[tuple[str, str, float, float]] = []
        for minutes in self.durations:
            for bath in range(self.baths):
                shift = self.bath_sd * rng.normal(size=3) if minutes else np.zeros(3)
                name = f"{minutes:g} min" if minutes else "intact"
                batch = f"{name} {bath}" if minutes else ""
                for _ in range(self.dishes):
                    rows.append((name, batch, *self._dish(minutes, shift, rng)))
        for _ in range(self.baths * self.dishes if self.by_hand else 0):
            rows.append(("chipped", "", *self._dish(np.inf, np.zeros(3), rng)))
        return self._tables(rows)

    def _dish(
        self, minutes: float, bath: np.ndarray, rng: np.random.Generator
    ) -> tuple[float, float]:
        """Return the seeds of one dish that germinated and those that stayed hard; infinitely long opens by hand."""
        opening, life, bearing = bath + self.dish_sd * rng.normal(size=3)
        n = self.seeds
        soft = rng.random(n) < self.soft
        odds = np.where(
            soft, self.soft_alive / (1 - self.soft_alive), self.alive / (1 - self.alive)
        )
        odds = odds * np.exp(life)
        lives = rng.random(n) < odds / (1 + odds)
        opens_at = self.opens * np.exp((rng.logistic(size=n) - opening) / self.opens_slope)
        bears_to = self.bears * np.exp((rng.logistic(size=n) + bearing) / self.bears_slope)
        wet = soft | (opens_at < minutes)
        unharmed = (bears_to > minutes) | np.isinf(minutes)
        return float((wet & lives & unharmed).sum()), float((~wet).sum())

    def _tables(self, rows: list[tuple[str, str, float, float]]) -> Tables:
        treatment, batch, germinated, hard = zip(*rows, strict=True)
        n = len(rows)
        names = np.array([f"d{i + 1}" for i in range(n)])
        line = np.arange(2.0, n + 2)
        dishes = {
            "line": line,
            "dish": names,
            "lot": np.full(n, LOT),
            "treatment": np.array(treatment),
            "batch": np.array(batch),
            "temperature_c": np.full(n, 25.0),
            "seeds": np.full(n, float(self.seeds)),
        }
        dishes |= {name: np.full(n, np.nan) for name in _NUMBERS}
        dishes |= {name: np.full(n, "") for name in _WORDS}
        grown, closed = np.array(germinated), np.array(hard)
        counts = {
            "line": line,
            "dish": names,
            "elapsed_h": np.full(n, 504.0),
            "germinated": grown,
            "removed": np.full(n, np.nan),
            "removed_as": np.full(n, ""),
        }
        outcomes = {
            "line": np.arange(2.0, 2 * n + 2),
            "dish": np.tile(names, 2),
            "seed": np.full(2 * n, ""),
            "outcome": np.repeat(["hard", "dead"], n),
            "seeds": np.concatenate([closed, self.seeds - grown - closed]),
            "alive": np.full(2 * n, np.nan),
            "assessed_by": np.full(2 * n, "cutting"),
        }
        return {
            "dishes": dishes,
            "counts": counts,
            "outcomes": outcomes,
            "treatments": self._treatments(),
        }

    def _treatments(self) -> dict[str, np.ndarray]:
        timed = [d for d in self.durations if d]
        n = len(timed) + 2
        table = {
            "line": np.arange(2.0, n + 2),
            "treatment": np.array(["intact", "chipped", *(f"{d:g} min" for d in timed)]),
            "step": np.ones(n),
            "method": np.array(["none", "chipping", *("acid" for _ in timed)]),
            "duration": np.array([np.nan, np.nan, *timed]),
            "duration_unit": np.array(["", "", *("min" for _ in timed)]),
        }
        table |= {name: np.full(n, np.nan) for name in _STEP_NUMBERS}
        return table | {name: np.full(n, "") for name in _STEP_WORDS}

    def truths(self) -> dict[Key, float]:
        """Return the best duration, germination there and its window, of the mean of very many baths and dishes."""
        minutes = np.geomspace(2.0, 4000.0, 40_001)
        sd = float(np.hypot(self.bath_sd, self.dish_sd))
        opened = _mean(self.opens_slope * np.log(minutes / self.opens), sd)
        bears = _mean(-self.bears_slope * np.log(minutes / self.bears), sd)
        soft, closed = (
            float(_mean(np.log([v / (1 - v)]), sd)[0]) for v in (self.soft_alive, self.alive)
        )
        share = (self.soft * soft + (1 - self.soft) * opened * closed) * bears
        inside = minutes[share >= share.max() - 0.05]
        found = {
            "best_duration": minutes[share.argmax()],
            "germination_at_best": share.max(),
            "window_low": inside[0],
            "window_high": inside[-1],
        }
        return {Key(q, LOT, SERIES, 25.0): float(value) for q, value in found.items()}


def _mean(logit: np.ndarray, sd: float) -> np.ndarray:
    """Return the mean of a share whose logit differs by `sd` between dishes, by Gauss and Hermite."""
    at, weight = np.polynomial.hermite_e.hermegauss(21)
    shares = 1 / (1 + np.exp(-(logit[:, None] + sd * at)))
    return np.asarray(shares @ weight / weight.sum())

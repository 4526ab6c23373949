"""Studies of stored seed that dies seed by seed, and what is true of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import ndtr

from tests.calibration.design import Design, Key, Tables

LOT = "lot"
_MONTHS = (12.0, 24.0, 36.0)  # the settings of the calibration
_EVERY = {"stored_at_c": 15.0, "stored_moisture_pct": 9.0, "empty": np.nan}


@dataclass(frozen=True)
class Group:
    """One treatment: each seed that is not dead from the start dies at an age of its own, normal with `mean_d` and `sd_d`.

    An age below 0 is a seed dead before storage. `skewed` where ages are not normal but lognormal, with the same median and a
    standard deviation of sd_d/mean_d on the logarithm.
    """

    treatment: str = "acid"
    mean_d: float = 900.0
    sd_d: float = 600.0
    skewed: bool = False

    def alive(self, days: np.ndarray, shift: np.ndarray) -> np.ndarray:
        """Return the share alive after some days, where a sample's seeds live longer by `shift` standard deviations."""
        if self.skewed:
            with np.errstate(divide="ignore"):
                age = np.log(days / self.mean_d) / (self.sd_d / self.mean_d)
        else:
            age = (days - self.mean_d) / self.sd_d
        return np.asarray(ndtr(shift - age))


@dataclass(frozen=True, kw_only=True)
class Stored:
    """An experiment: `samples` of `seeds` at each time, which differ by `sample_sd` standard deviations of age."""

    groups: tuple[Group, ...] = (Group(),)
    days: tuple[float, ...] = (0.0, 91.0, 182.0, 365.0, 547.0, 730.0)
    samples: int = 4
    seeds: int = 50
    sample_sd: float = 0.2

    def draw(self, rng: np.random.Generator) -> Tables:
        """Return one study as checked tables."""
        days = np.repeat(self.days, self.samples)
        alive = [
            rng.binomial(self.seeds, g.alive(days, self.sample_sd * rng.normal(size=len(days))))
            for g in self.groups
        ]
        n, treatments = len(days), [g.treatment for g in self.groups]
        hits = np.concatenate(alive).astype(float)
        total = len(hits)
        viability = {
            "line": np.arange(2.0, total + 2),
            "sample": np.array([f"s{i + 1}" for i in range(total)]),
            "lot": np.full(total, LOT),
            "treatment": np.repeat(treatments, n),
            "method": np.full(total, "tetrazolium"),
            "seeds": np.full(total, float(self.seeds)),
            "alive": hits,
            "dead": self.seeds - hits,
            "stored_d": np.tile(days, len(self.groups)),
        }
        viability |= {name: np.full(total, value) for name, value in _EVERY.items()}
        methods = ["none" if t == "intact" else "acid" for t in treatments]
        steps = {"treatment": np.array(treatments), "method": np.array(methods)}
        return {"viability": viability, "treatments": steps}

    def truths(self) -> dict[Key, float]:
        """Return what is true of the mean of very many samples."""
        found: dict[Key, float] = {}
        for g in self.groups:
            of = {
                q: Key(q, LOT, g.treatment) for q in ("half_viability_period", "p85", "ki", "sigma")
            }
            start = self._mean(g, np.zeros(1))[0]
            found[of["half_viability_period"]] = g.mean_d
            found[of["p85"]] = self._when(g, 0.85 * start)
            if not g.skewed:
                # samples that differ flatten the mean of all: its probit has both terms smaller
                flat = np.hypot(1.0, self.sample_sd)
                found[of["ki"]] = g.mean_d / g.sd_d / flat
                found[of["sigma"]] = g.sd_d * flat
            for month in _MONTHS:
                share = self._mean(g, np.array([month * 365.25 / 12]))[0]
                found[Key("predicted_viability", LOT, g.treatment, at=month)] = float(share)
            for day in self.days:
                share = self._mean(g, np.array([day]))[0]
                found[Key("viability", LOT, g.treatment, at=day)] = float(share)
        if len(self.groups) > 1:
            plain, treated = self.groups
            key = Key("half_viability_ratio", LOT, treated.treatment, versus=plain.treatment)
            found[key] = treated.mean_d / plain.mean_d
        return found

    def _mean(self, g: Group, days: np.ndarray) -> np.ndarray:
        at, weight = np.polynomial.hermite_e.hermegauss(21)
        shares = g.alive(days[:, None], self.sample_sd * at)
        return np.asarray(shares @ weight / weight.sum())

    def _when(self, g: Group, share: float) -> float:
        days = np.linspace(1e-6, 6 * g.mean_d, 60_001)
        return float(np.interp(-share, -self._mean(g, days), days))


_WORDS = "Seed tested six times within two years, 4 samples of 50 each time; half of it is alive after 900 days"


def _design(name: str, about: str, *, within: bool = True, **study: Any) -> Design:
    drawn = Stored(**study)
    return Design(
        name=f"stored seed, {name}",
        analysis="storage",
        about=f"{_WORDS}; {about}.",
        draw=drawn.draw,
        truths=drawn.truths,
        within=within,
    )


STORED = (
    _design("no spread", "samples differ by chance alone", sample_sd=0.0),
    _design(
        "treated and untreated",
        "samples differ by 0.2 probits; half of the untreated seed is alive after 1,200 days",
        groups=(Group("intact", 1200.0, 700.0), Group()),
    ),
    _design(
        "2 samples of 25", "but two samples of 25, which differ by 0.2 probits", samples=2, seeds=25
    ),
    _design(
        "1 sample of 100", "but one sample of 100 each time, of 0.2 probits", samples=1, seeds=100
    ),
    _design(
        "nearly all dead at the end",
        "but half is alive after 250 days; samples differ by 0.2 probits",
        groups=(Group(mean_d=250.0, sd_d=150.0),),
    ),
    _design(
        "one year",
        "but four times within a year, long before half of it is dead; samples differ by 0.2 probits",
        days=(0.0, 91.0, 182.0, 365.0),
    ),
    _design("samples differ much", "samples differ by 0.5 probits", sample_sd=0.5),
    _design(
        "ages not normal",
        "but it dies at lognormal ages; samples differ by 0.2 probits",
        within=False,
        groups=(Group(skewed=True),),
    ),
)

"""Seeds in water, drawn by code that shares nothing with the analysis, and how well its intervals fare.

`python -m tests.floated 400` prints the coverage of each quantity and hour.
"""

import sys
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import SimpleNamespace

import numpy as np

from hilum.analyses.buoyancy import model

SETTINGS = SimpleNamespace(confidence=0.95, dish_correlation_when_unknown=0.05)
BY_HOUR = (
    "sensitivity",
    "specificity",
    "predictive_value_floating",
    "predictive_value_sinking",
    "live_thrown_away",
    "youden_index",
)
EIGHT = (1.0, 3.0, 6.0, 12.0, 24.0, 48.0, 96.0, 168.0)


@dataclass(frozen=True, kw_only=True)
class Design:
    """One simulated experiment: water fills an air cavity after a Weibull time, and some seeds come up once again."""

    seeds: int = 60
    live: float = 0.7
    cavity: float = 0.75
    cavity_dead: float = 0.5
    forever: float = 0.35  # of the dead seeds, hollow ones that never sink
    scale_h: float = 30.0
    shape: float = 1.3
    up_again: float = 0.25
    hours: tuple[float, ...] = EIGHT
    batches: int = 1
    correlation: float = 0.0
    known: float = 1.0


DESIGNS = {
    "60 seeds": Design(),
    "25 seeds": Design(seeds=25),
    "12 seeds, 4 looks": Design(seeds=12, hours=(6.0, 24.0, 72.0, 168.0)),
    "200 seeds, 3 looks": Design(seeds=200, hours=(6.0, 24.0, 168.0)),
    "4 batches of 25, alike by 0.05": Design(seeds=100, batches=4, correlation=0.05),
    "8 batches of 10, alike by 0.1": Design(seeds=80, batches=8, correlation=0.1),
    "a third of the fates unknown": Design(known=0.67),
    "nearly all live": Design(live=0.93),
    "most come up again": Design(up_again=0.8),
}


@dataclass(frozen=True)
class Drawn:
    """Seeds (n,): their batch, whether they live, when they sink for good, and the spell before in which they are sunk."""

    batch: np.ndarray
    alive: np.ndarray
    sinks: np.ndarray
    spell: np.ndarray

    def floats(self, hours: np.ndarray) -> np.ndarray:
        """Return whether each seed floats at each hour, (n, k)."""
        down, up = self.spell[..., None]
        return (hours < self.sinks[:, None]) & ~((hours >= down) & (hours < up))


def draw(design: Design, rng: np.random.Generator) -> Drawn:
    """Return the seeds of one experiment of the design."""
    n, b = design.seeds, design.batches
    share = np.full(b, design.live)
    if design.correlation:
        alike = 1 / design.correlation - 1
        share = rng.beta(design.live * alike, (1 - design.live) * alike, size=b)
    batch = np.arange(n) % b
    alive = rng.random(n) < share[batch]
    air = rng.random(n) < np.where(alive, design.cavity, design.cavity_dead)
    sinks = np.where(air, design.scale_h * rng.weibull(design.shape, n), 0.0)
    sinks[~alive & (rng.random(n) < design.forever)] = np.inf
    again = (rng.random(n) < design.up_again) & np.isfinite(sinks)
    parts = np.sort(rng.random((2, n)), axis=0)
    spell = np.where(again, parts * np.where(again, sinks, 0.0), np.inf)
    return Drawn(batch, alive, sinks, spell)


def tables(design: Design, drawn: Drawn, rng: np.random.Generator) -> dict[str, dict]:
    """Return the checked tables of one experiment."""
    n, k = design.seeds, len(design.hours)
    names = np.array([f"s{i:03d}" for i in range(n)])
    batches = [f"bath {b + 1}" if design.batches > 1 else "" for b in drawn.batch]
    weighings = {
        "seed": np.repeat(names, k),
        "lot": np.full(n * k, "lot"),
        "treatment": np.full(n * k, "chipped"),
        "batch": np.repeat(batches, k),
        "dish": np.full(n * k, ""),
        "seeds": np.ones(n * k),
        "soaked_h": np.tile(design.hours, n),
        "mass_mg": np.full(n * k, np.nan),
        "floats": drawn.floats(np.array(design.hours)).astype(float).ravel(),
        "radicle": np.full(n * k, np.nan),
    }
    told = rng.random(n) < design.known
    m = told.sum()
    outcomes = {
        "dish": np.full(m, ""),
        "seed": names[told],
        "outcome": np.where(drawn.alive[told], "germinated", "dead"),
        "seeds": np.ones(m),
        "alive": np.full(m, np.nan),
        "assessed_by": np.full(m, ""),
    }
    return {"weighings": weighings, "outcomes": outcomes}


@cache
def truths(design: Design, many: int = 400_000) -> Mapping[tuple[str, float | None], float]:
    """Return what is true of each quantity and hour, counted on very many seeds of one batch each."""
    crowd = Design(**{**design.__dict__, "seeds": many, "batches": 1, "correlation": 0.0})
    drawn = draw(crowd, np.random.default_rng(2))
    known: dict[tuple[str, float | None], float] = {
        ("sinking_t50", None): float(np.median(drawn.sinks)),
    }
    for hour in design.hours:
        up, live = drawn.floats(np.array([hour]))[:, 0], drawn.alive
        caught, lost = up[~live].mean(), up[live].mean()
        values = (caught, 1 - lost, (~live)[up].mean(), live[~up].mean(), lost, caught - lost)
        known |= {(q, hour): float(v) for q, v in zip(BY_HOUR, values, strict=True)}
    known["still_floating", design.hours[-1]] = float(up.mean())
    return known


def count(design: Design, studies: int, seed: int) -> dict[tuple, np.ndarray]:
    """Return for each quantity and hour: studies with an interval, truth below it, above it, brackets, brackets missing it."""
    known = truths(design)
    found: dict[tuple, np.ndarray] = defaultdict(lambda: np.zeros(5, dtype=int))
    for number in range(studies):
        rng = np.random.default_rng([seed, number])
        made = tables(design, draw(design, rng), rng)
        for e in model.fit(made, settings=SETTINGS, rng=rng).estimates:
            if (key := (e.quantity, e.at)) in known:
                low = -np.inf if e.low is None else e.low
                high = np.inf if e.high is None else e.high
                misses = np.array([known[key] < low - 1e-9, known[key] > high + 1e-9])
                if e.status == "estimated":
                    found[key][:3] += [1, *misses]
                elif e.status == "bracketed":
                    found[key][3:] += [1, misses.any()]
    return found


def main() -> None:
    """Print the coverage of each design, quantity and hour."""
    studies = int(sys.argv[1]) if len(sys.argv) > 1 else 400
    for name, design in DESIGNS.items():
        print(name)
        found = count(design, studies, 1)
        for quantity in dict.fromkeys(q for q, _ in found):
            rows = {at: found[q, at] for q, at in found if q == quantity}
            all_, below, above, brackets, missed = sum(rows.values())
            share = {at: 1 - (r[1] + r[2]) / r[0] for at, r in rows.items() if r[0]}
            worst = min(share, key=share.get, default=None)
            print(
                f"  {quantity}: {all_} intervals, {100 * (1 - (below + above) / max(all_, 1)):.1f} % hold the truth, it lies "
                f"below {100 * below / max(all_, 1):.1f} %, above {100 * above / max(all_, 1):.1f} %; lowest "
                f"{100 * share.get(worst, np.nan):.1f} % at {worst} h (true {truths(design).get((quantity, worst), np.nan):.3g}); "
                f"{brackets} brackets, {missed} miss"
            )


if __name__ == "__main__":
    main()

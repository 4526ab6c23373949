"""Seedlings drawn by code that shares nothing with the analysis, and how well it finds pauses and late seedlings.

`python -m tests.leaved 100` prints how often a pause, or none, is found, and how many sound and stunted seedlings are called late.
"""

import sys
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from types import SimpleNamespace

import numpy as np

from hilum.analyses.seedlings import model

SETTINGS = SimpleNamespace(confidence=0.95)
LEVELS = {"t5": 0.05, "t50": 0.5, "t95": 0.95}
LEAVES = 7  # of which truths are told
_MOST = 18


@dataclass(frozen=True, kw_only=True)
class Design:
    """One simulated experiment: stays are gamma, the pause is Weibull, and seedlings differ in speed by a gamma factor.

    Times are days. `lasting` of the seedlings pause twice as long, `stunted` never go on. Seedlings of one of `trays` share a
    factor of their speed (`tray_sd` of its logarithm), and the table names the trays where they are `named`. `dying` die at any time, `weak` of them only while they pause, the slowest first.
    """

    seedlings: int = 40
    first: float = 8.0
    stay: float = 5.0
    shape: float = 20.0  # of the gamma: a coefficient of variation of 22 %
    paused_at: int = 2  # 0 for none
    pause: float = 16.0
    pause_shape: float = 3.5
    frailty: float = 60.0
    lasting: float = 0.0
    stunted: int = 0
    trays: int = 0
    tray_sd: float = 0.15
    named: bool = True
    dying: float = 0.0
    weak: bool = False
    step: float = 3.0
    horizon: float = 63.0


def opened(design: Design, rng: np.random.Generator) -> np.ndarray:
    """Return the day on which each seedling opens each leaf, (n, m)."""
    n = design.seedlings
    means = np.full(_MOST, design.stay)
    means[0] = design.first
    stays = means * rng.gamma(design.shape, 1 / design.shape, (n, _MOST))
    if design.paused_at:
        long = np.where(rng.random(n) < design.lasting, 2.0, 1.0)
        stays[:, design.paused_at] = design.pause * long * rng.weibull(design.pause_shape, n)
        stays[: design.stunted, design.paused_at] = np.inf
    slow = rng.gamma(design.frailty, 1 / design.frailty, n)
    if design.trays:
        slow = (
            slow
            * np.exp(design.tray_sd * rng.normal(size=design.trays))[np.arange(n) % design.trays]
        )
    return np.cumsum(stays, axis=1) * slow[:, None]


def deaths(design: Design, days: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Return the day on which each seedling dies, infinity for most, (n,)."""
    n = len(days)
    if design.weak:
        # the slowest to end the pause die within it
        begun, ended = days[:, design.paused_at - 1], days[:, design.paused_at]
        slowest = np.argsort(ended - begun)[n - round(design.dying * n) :]
        died = np.full(n, np.inf)
        died[slowest] = (begun + 0.8 * (ended - begun))[slowest]
        return died
    dies = rng.random(n) < design.dying
    return np.where(dies, design.horizon * rng.random(n), np.inf)


def draw(design: Design, rng: np.random.Generator) -> dict[str, dict]:
    """Return the checked table of one experiment; a seedling is looked at until it is found dead."""
    days = opened(design, rng)
    died = deaths(design, days, rng)
    looks = np.arange(design.step, design.horizon + 1e-9, design.step)
    n = len(days)
    living = looks < died[:, None]
    # the last look at a dead seedling is the one that finds it so
    found = ~living & np.pad(living, ((0, 0), (1, 0)), constant_values=True)[:, :-1]
    seen = living | found
    leaves = (days[:, None, :] <= np.minimum(looks, died[:, None])[..., None]).sum(-1)
    row, look = np.nonzero(seen)
    table = {
        "seedling": np.array([f"p{i:03d}" for i in range(n)])[row],
        "lot": np.full(len(row), "lot"),
        "treatment": np.full(len(row), "chipped"),
        "elapsed_d": looks[look],
        "leaves": leaves[row, look].astype(float),
        "alive": living[row, look].astype(float),
    }
    if design.trays and design.named:
        table["tray"] = np.array([f"t{i % design.trays + 1}" for i in range(n)])[row]
    return {"stages": table}


@cache
def truths(design: Design, many: int = 200_000) -> Mapping[tuple[str, float], float]:
    """Return what is true of each quantity and leaf number, counted on very many seedlings that all live."""
    crowd = replace(design, seedlings=many, stunted=0, trays=0)
    rng = np.random.default_rng(2)
    days = opened(crowd, rng)
    if design.trays:
        days *= np.exp(design.tray_sd * rng.normal(size=many))[:, None]
    known = {}
    for name, level in LEVELS.items():
        for leaf in range(1, LEAVES + 1):
            known[f"leaf_{name}", float(leaf)] = float(np.quantile(days[:, leaf - 1], level))
        if design.paused_at:
            pause = days[:, design.paused_at] - days[:, design.paused_at - 1]
            known[f"pause_{name}", float(design.paused_at)] = float(np.quantile(pause, level))
    for leaf in range(1, LEAVES):
        stay = days[:, leaf] - days[:, leaf - 1]
        known["stay_t50", float(leaf)] = float(np.median(stay))
    return known


FINDING = {
    "a pause, 40 seedlings": Design(),
    "a pause, 15 seedlings": Design(seedlings=15),
    "a pause, 40 seedlings, weekly": Design(step=7.0),
    "no pause, 40 seedlings": Design(paused_at=0),
    "no pause, 15 seedlings": Design(paused_at=0, seedlings=15),
    "no pause, 40 seedlings, weekly": Design(paused_at=0, step=7.0),
    "one of 40 never goes on": Design(stunted=1),
    "three of 15 never go on": Design(stunted=3, seedlings=15),
}


def find(design: Design, studies: int, seed: int) -> tuple[Counter[str], Counter[str]]:
    """Return the verdicts with their leaf number, and how many sound and stunted seedlings are late, strictly late, or in all."""
    verdicts: Counter[str] = Counter()
    late: Counter[str] = Counter()
    for number in range(studies):
        rng = np.random.default_rng([seed, number])
        found = model.fit(draw(design, rng), settings=SETTINGS, rng=rng)
        group = found.drawing.groups[0]
        verdicts[f"{group.verdict} at {group.leaves}"] += 1
        any_strict = False
        for row in found.rows["seedlings"]:
            kind = "stunted" if int(row["seedling"][1:]) < design.stunted else "sound"
            late[f"{kind}, {row['later']}"] += 1
            any_strict |= kind == "sound" and row["later"] == "than chance explains"
        late["studies that call a sound one later than chance"] += any_strict
    return verdicts, late


def main() -> None:
    """Print what is found in each design."""
    studies = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    for name, design in FINDING.items():
        verdicts, late = find(design, studies, 1)
        print(f"{name}, {studies} studies: {dict(verdicts)}; seedlings: {dict(late)}")


if __name__ == "__main__":
    main()

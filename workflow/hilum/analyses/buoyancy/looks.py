"""From the table of weighings to each seed's looks: when it floated, when it sank for good, and its fate."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

import numpy as np

from hilum.analyses.estimate import Tables
from hilum.fates import DEAD, GERMINATED
from hilum.stats.arrays import Array

Fate = Literal["alive", "dead", ""]
# looks of one round: seeds are looked at one after the other, and hours may be counted by the clock
_APART = 0.1


@dataclass(frozen=True, kw_only=True)
class Trace:
    """The looks at one seed: hours ascending, whether it floated, and what became of it, "" where nobody knows.

    Looks from the first sight of the radicle on are left out: such a seed needs no test. `together` where several
    seeds were entered as one.
    """

    seed: str
    lot: str
    treatment: str
    dish: str
    hours: Array
    floats: np.ndarray
    fate: Fate
    together: bool

    @property
    def sample(self) -> tuple[str, str]:
        """Return lot and treatment."""
        return self.lot, self.treatment

    @property
    def usable(self) -> bool:
        """Return whether it is one seed and somebody looked."""
        return len(self.hours) > 0 and not self.together

    @property
    def last_float_h(self) -> float:
        """Return when it was last seen floating, −inf where it never was."""
        return float(self.hours[self.floats][-1]) if self.floats.any() else -np.inf

    @property
    def sunk_by_h(self) -> float:
        """Return the first look from which on it was never seen floating again, inf where there is none."""
        after = self.hours[self.hours > self.last_float_h]
        return float(after[0]) if len(after) else np.inf

    @property
    def came_up_again(self) -> bool:
        """Return whether it was seen to sink and to float again."""
        return bool((self.floats[1:] & ~self.floats[:-1]).any())


def traces(tables: Tables) -> list[Trace]:
    """Return the trace of each seed, in the order of the table; `tables` needs weighings, outcomes are used."""
    weighings = tables["weighings"]
    fates = _fates(tables.get("outcomes"))
    names = zip(*(weighings[c].tolist() for c in ("lot", "treatment", "seed")), strict=True)
    rows: dict[tuple[str, str, str], list[int]] = {}
    for row, name in enumerate(names):
        rows.setdefault(name, []).append(row)
    return [_trace(weighings, np.array(found), fates) for found in rows.values()]


def _trace(
    weighings: Mapping[str, np.ndarray], rows: np.ndarray, fates: Mapping[str, Fate]
) -> Trace:
    rows = rows[np.argsort(weighings["soaked_h"][rows], kind="stable")]
    hours, floats = weighings["soaked_h"][rows], weighings["floats"][rows]
    out = hours[weighings["radicle"][rows] == 1]
    germinated = float(out[0]) if len(out) else np.inf
    kept = np.isfinite(floats) & (hours < germinated)
    seed, first = str(weighings["seed"][rows[0]]), rows[0]
    # the dish it was sown in, else the batch it was treated in: such seeds share their accidents
    told = [str(w) for column in ("dish", "batch") for w in weighings[column][rows] if w]
    return Trace(
        seed=seed,
        lot=str(weighings["lot"][first]),
        treatment=str(weighings["treatment"][first]),
        dish=told[0] if told else "",
        hours=hours[kept],
        floats=floats[kept] == 1,
        fate="alive" if len(out) else fates.get(seed, ""),
        together=bool(weighings["seeds"][first] > 1),
    )


def _fates(outcomes: Mapping[str, np.ndarray] | None) -> dict[str, Fate]:
    """Return the fate of each seed that has an outcome of its own; shown alive once is alive."""
    found: dict[str, Fate] = {}
    if outcomes is None:
        return found
    names = ("seed", "outcome", "alive", "assessed_by")
    for seed, outcome, alive, how in zip(*(outcomes[n] for n in names), strict=True):
        fate = _fate(str(outcome), float(alive), str(how))
        if seed and fate and found.get(str(seed)) != "alive":
            found[str(seed)] = fate
    return found


def _fate(outcome: str, alive: float, how: str) -> Fate:
    if outcome in GERMINATED or (alive > 0 and how != "pressing"):
        return "alive"
    if outcome in DEAD:
        return "dead"
    # hard and fresh seeds tell nothing until somebody opens them, and pressing is no proof
    return "dead" if outcome in ("hard", "fresh") and alive == 0 and how != "pressing" else ""


def rounds(found: Sequence[Trace]) -> tuple[Array, np.ndarray]:
    """Return the hours of the rounds of looks, (k,), and each seed's look in them: 1 floats, 0 sank, nan none, (n, k).

    Looks whose hours differ by less than a tenth are one round, unless one seed was looked at twice.
    """
    looks = sorted((float(h), i) for i, t in enumerate(found) for h in t.hours)
    grouped: list[list[tuple[float, int]]] = []
    for hour, seeds in (
        (h, [i for _, i in g]) for h, g in groupby(looks, key=lambda look: look[0])
    ):
        current = grouped[-1] if grouped else []
        again = {i for _, i in current} & set(seeds)
        if not current or again or hour > current[0][0] * (1 + _APART):
            grouped.append([])
        grouped[-1] += [(hour, i) for i in seeds]
    # few digits, so that an hour is the same in every file that names it
    hours = np.array([float(f"{np.median([h for h, _ in group]):.5g}") for group in grouped])
    seen = np.full((len(found), len(grouped)), np.nan)
    for column, group in enumerate(grouped):
        for hour, i in group:
            seen[i, column] = found[i].floats[found[i].hours == hour][0]
    return hours, seen

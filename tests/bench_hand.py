"""A person at the bench: fills the empty cells of the tables that a plan wrote, from seeds drawn as the plan guesses them.

Tables are known by the names of their files, rows by what stands in them; no column is named here.
"""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from hilum.analyses.imbibition.truth import simulate as soak
from hilum.analyses.scarification.truth import shares
from hilum.analyses.storage.truth import alive_after
from hilum.analyses.temperature.truth import rate
from hilum.plan.asked.design import Plan
from hilum.plan.asked.experiments import Doses, Place, Soaking, Storage, Temperatures
from hilum.plan.expected import guessed
from hilum.plan.laid_out import layout, weighed
from hilum.plan.simulated import sown
from hilum.plan.simulated.sown import Kind

NEVER_H = 1e9
Cells = Iterator[object]


@dataclass
class Hand:
    """What was seen of each dish (fates and new germination at each inspection) and of each seed (masses)."""

    fates: dict[str, np.ndarray]
    newly: dict[str, np.ndarray]
    masses: dict[str, np.ndarray]


def drawn(plan: Plan, *, seed: int) -> Hand:
    """Return what a bench would see, were the guesses of the plan true."""
    rng = np.random.default_rng(seed)
    hand = Hand({}, {}, {})
    standing = layout.laid_out(plan)
    for place in plan.places():
        kind = _kind(plan, place)
        fates, newly = sown.draw(kind, plan.guesses.dish_correlation, 0.03, rng)
        like = (place.experiment, place.lot, place.treatment, place.temperature_c)
        own = [s.dish for s in standing if s.kind == (*like, place.stored_d or 0.0)]
        hand.fates |= dict(zip(own, fates, strict=True))
        hand.newly |= dict(zip(own, newly, strict=True))
    for one in (e for e in plan.experiments if isinstance(e, Soaking)):
        hand.masses |= _masses(plan, one, rng)
    return hand


def _kind(plan: Plan, place: Place) -> Kind:
    one = plan.counted[place.experiment]
    grown, hard, t50_h = plan.by_name[place.treatment].germinable, 0.0, 120.0
    if isinstance(one, Temperatures):
        speed = rate(guessed.warm(plan, one, place.treatment).truth.series[0], place.temperature_c)
        t50_h = 1 / speed if speed > 0 else NEVER_H
    elif isinstance(one, Storage):
        true = guessed.kept(plan, one, place.lot, place.treatment).truth.stores[0]
        grown = float(alive_after(true, np.array(place.stored_d)))
    elif isinstance(one, Doses) and plan.by_name[place.treatment].minutes:
        true = guessed.dosed(plan, one, place.lot).truth.lots[0]
        _, wet, normal = shares(true, np.array(plan.by_name[place.treatment].minutes))
        grown, hard = float(wet * normal), 1 - float(wet)
    else:
        hard = plan.by_name[place.treatment].hard or 0.0
    rest = 1 - grown - hard
    fates = (grown, hard, 0.0, 0.2 * rest, 0.0, 0.8 * rest)
    return Kind(
        place=place,
        seeds=one.seeds,
        hours=one.inspections.hours,
        shares=fates,
        t50_h=t50_h,
        sigma=guessed.sigma(plan),
        ends_with=one.ends_with,
    )


def _masses(plan: Plan, one: Soaking, rng: np.random.Generator) -> dict[str, np.ndarray]:
    """Return the masses of each seed, in the order of the weighings."""
    found = {}
    for lot in one.lots:
        truth = guessed.soaked(plan, one, lot).truth
        coats = [
            replace(c, seeds=one.dishes * one.seeds) for c in guessed.soaked(plan, one, lot).coats
        ]
        table = soak(replace(truth, coats=tuple(coats)), rng=rng)["weighings"]
        by_seed = table["mass_mg"].reshape(-1, len(one.hours))
        left = Counter(dict.fromkeys((c.treatment for c in coats), 0))
        first = {c.treatment: i * one.dishes * one.seeds for i, c in enumerate(coats)}
        for seed in (s for s in weighed.seeds(plan, one) if s.lot == lot):
            found[f"{one.experiment} {seed.seed}"] = by_seed[
                first[seed.treatment] + left[seed.treatment]
            ]
            left[seed.treatment] += 1
    return found


def fill(
    folder: Path, hand: Hand, wanted: Callable[[str, str, int], bool] = lambda *_: True
) -> None:
    """Fill the empty cells of every table below a study folder.

    `wanted` says of a table, a name (of a dish, seed, lot or sample) and the number of its row whether it was seen by now.
    """
    for path in sorted(folder.rglob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            head, *rows = csv.reader(file)
        seen: Counter[str] = Counter()
        for row in rows:
            name = row[0]
            if wanted(path.stem, name, seen[name]):
                _fill_row(row, list(_observed(path, row, seen[name], hand)))
            seen[name] += 1
        with path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file, lineterminator="\n").writerows([head, *rows])


def _fill_row(row: list[str], values: Sequence[object]) -> None:
    """Write values into the empty cells of a row, from the left; what was not seen stays empty."""
    blank = [i for i, cell in enumerate(row) if not cell]
    for i, value in zip(blank, values, strict=False):
        row[i] = str(value)


def _observed(path: Path, row: list[str], number: int, hand: Hand) -> Cells:
    """Yield what is written into the empty cells of a row."""
    name = row[0]
    if path.stem == "counts":
        yield int(hand.newly[name][number])
    elif path.stem == "outcomes":
        fates = dict(zip(sown.FATES, hand.fates[name].astype(int), strict=True))
        alive, dead = fates.get(f"{row[1]}_alive"), fates.get(f"{row[1]}_dead")
        if alive is None or dead is None:
            yield fates.get(row[1], 0)
        else:
            yield alive + dead
            if "cutting" in row:
                yield alive
    elif path.stem == "weighings":
        yield f"{hand.masses[f'{path.parent.name} {name}'][number]:g}"
    elif path.stem == "viability":
        seeds = next(int(cell) for cell in row if cell.isdecimal())
        yield from (seeds - 5, 5, 0)
    elif path.stem == "moisture":
        yield from ("15.2134", "20.2871", f"{19.8605 + number / 1000:.4f}")

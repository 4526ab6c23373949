"""Lots held against published ranges: how often a true taxon is excluded, and how often a look-alike.

`python -m tests.calibration.labelled` prints both, for ranges that cover just the share that is assumed of them.
"""

from __future__ import annotations

import argparse
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from hilum.analyses.trueness_to_name import model
from hilum.settings import Settings
from tests import named
from tests.calibration.design import Design, Key, Tables

SETTINGS = Settings(study=Path("calibration"))

CASES = {
    "one trait, 12 specimens": named.Design(traits=1, specimens=12),
    "three traits, 5 specimens": named.Design(specimens=5),
    "three traits, 30 specimens": named.Design(),
    "eight traits that go together, 25 specimens": named.Design(traits=8, alike=0.7, specimens=25),
    "three traits with heavy tails, 30 specimens": named.Design(tails=3),
    "two states and two numbers, 40 specimens": named.Design(traits=4, states=2, specimens=40),
    "two traits, 300 specimens": named.Design(traits=2, specimens=300),
    "ranges that cover 0.7 where 0.9 is assumed": named.Design(covers=0.7),
}
AWAY = (1.0, 1.5, 2.0, 3.0)  # sd between the look-alike's first trait and the lot's
STUDIES, SEED = 1000, 1


def draw(design: named.Design, rng: np.random.Generator) -> Tables:
    """Return one study as checked tables."""
    return named.tables(design, rng)


def truths(design: named.Design) -> dict[Key, float]:
    """Return the share of the lot outside the range of its label and of its look-alike."""
    shares = {named.LABEL: 1 - design.covers, named.LIKE: named.outside_the_look_alike(design)}
    return {
        Key("outside_range", "lot", "", versus=f"{taxon}: trait 0"): share
        for taxon, share in shares.items()
    }


def _labelled(name: str, about: str, **specimens: Any) -> Design:
    drawn = named.Design(**specimens)
    return Design(
        name=f"label, {name}",
        analysis="trueness_to_name",
        about=f"A lot of the taxon on its label, whose range covers 0.9 of it, and a look-alike; {about}.",
        draw=partial(draw, drawn),
        truths=partial(truths, drawn),
    )


LABELLED = (
    _labelled("8 specimens", "8 specimens, a sd apart", specimens=8, away=1.0),
    _labelled("40 specimens", "40 specimens, a sd apart", specimens=40, away=1.0),
    _labelled("40, heavy tails", "40 specimens, heavy tails", specimens=40, away=1.0, tails=3),
)


def excluded(design: named.Design, taxon: str, *, studies: int, seed: int) -> float:
    """Return the share of lots of which a taxon is called not compatible."""
    found = 0
    for number in range(studies):
        rng = np.random.default_rng([seed, number])
        fitted = model.fit(named.tables(design, rng), settings=SETTINGS, rng=rng)
        (lot,) = fitted.drawing.lots
        standings = {c.taxon: c.standing for c in lot.candidates}
        found += standings[taxon] == "excluded"
    return found / studies


def main() -> None:
    """Print how often a true taxon is excluded, then how often a look-alike at several distances."""
    parser = argparse.ArgumentParser(prog="python -m tests.calibration.labelled")
    parser.add_argument("--studies", type=int, default=STUDIES)
    parser.add_argument("--seed", type=int, default=SEED)
    chosen = vars(parser.parse_args())
    for case, design in CASES.items():
        print(
            f"{case}: true taxon excluded in {100 * excluded(design, named.LABEL, **chosen):.1f} %"
        )
    for n in (12, 30, 60):
        told = [
            f"{away:g} sd away {100 * excluded(named.Design(specimens=n, away=away), named.LIKE, **chosen):.0f} %"
            for away in AWAY
        ]
        print(f"three traits, {n} specimens: look-alike excluded {', '.join(told)}")


if __name__ == "__main__":
    main()

"""Studies of seedlings that open leaf after leaf, and what is true of each leaf number."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np

from tests import leaved
from tests.calibration.design import Design, Key, Tables


def draw(design: leaved.Design, rng: np.random.Generator) -> Tables:
    """Return one study as checked tables."""
    return leaved.draw(design, rng)


def truths(design: leaved.Design) -> dict[Key, float]:
    """Return the truths of each quantity and leaf number, of those that nearly all studies see."""
    return {
        Key(quantity, "lot", "chipped", at=leaves): value
        for (quantity, leaves), value in leaved.truths(design).items()
        if leaves <= 5
    }


_WORDS = "Seedlings that open a leaf in about 5 days and pause at 2 leaves for about 14"


def _design(name: str, about: str, *, within: bool = True, **seedlings: Any) -> Design:
    drawn = leaved.Design(**seedlings)
    return Design(
        name=f"seedlings, {name}",
        analysis="seedlings",
        about=f"{_WORDS}; {about}.",
        draw=partial(draw, drawn),
        truths=partial(truths, drawn),
        within=within,
    )


LEAVED = (
    _design("40 of them", "40 seedlings, looked at every 3 days for 63 days"),
    _design("15 of them", "15 seedlings, looked at every 3 days", seedlings=15),
    _design("40, weekly looks", "40 seedlings, but looked at every 7 days", step=7.0),
    _design(
        "40, some still in it",
        "40 seedlings, but looked at for 30 days alone, when a third is still in the pause",
        horizon=30.0,
    ),
    _design("40, a fifth dies", "40 seedlings, of which a fifth dies at any time", dying=0.2),
    _design(
        "five trays",
        "40 seedlings in five trays, which differ by 15 % in speed and are named",
        trays=5,
    ),
    _design(
        "five trays, not named",
        "40 seedlings, but in five trays that differ by 15 % in speed, and nobody named them",
        within=False,
        trays=5,
        named=False,
    ),
    _design(
        "two kinds",
        "40 seedlings, but a quarter of them pauses twice as long",
        within=False,
        lasting=0.25,
    ),
    _design(
        "the slowest die",
        "40 seedlings, but the fifth that would pause longest dies in the pause",
        within=False,
        dying=0.2,
        weak=True,
    ),
)

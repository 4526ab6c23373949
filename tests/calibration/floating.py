"""Studies of seeds that float or sink, and what is true of them at each hour."""

from __future__ import annotations

import numpy as np

from tests import floated
from tests.calibration.design import Key, Tables


def draw(design: floated.Design, rng: np.random.Generator) -> Tables:
    """Return one study as checked tables."""
    return floated.tables(design, floated.draw(design, rng), rng)


def truths(design: floated.Design) -> dict[Key, float]:
    """Return the truths of each quantity and hour."""
    return {
        Key(quantity, "lot", "chipped", at=hour): value
        for (quantity, hour), value in floated.truths(design).items()
    }

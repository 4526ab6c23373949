"""Measured specimens and published ranges, from sensible to absurd."""

from __future__ import annotations

from typing import Any

import numpy as np

from hilum.analyses.simulated import as_table

_NAMES = ("length", "width", "shape", "margin")
_STATES = ("round", "Round", "  oval", "flat ", "∅")
Rows = list[dict[str, Any]]


def traits(rng: np.random.Generator, sets: int) -> dict[str, dict[str, np.ndarray]]:
    """Return the specimens of so many lots, and ranges that fit them, or have no width, or lie elsewhere."""
    lots = [{"lot": f"L{i}", "taxon": f"T{rng.integers(0, 5)}"} for i in range(sets)]
    measured = [row for lot in lots for row in _lot(rng, lot["lot"])]
    told = _published(rng)
    tables = {"traits": as_table("traits", measured), "lots": as_table("lots", lots)}
    return tables | ({"reference_traits": as_table("reference_traits", told)} if told else {})


def _lot(rng: np.random.Generator, lot: str) -> Rows:
    rows: Rows = []
    for trait in rng.choice(_NAMES, rng.integers(1, 5), replace=False):
        scale = 10 ** rng.uniform(-6, 6)
        for number in range(int(rng.choice([1, 2, 5, 30, 400]))):
            about = {"specimen": f"{lot}-{number}", "lot": lot, "trait": str(trait)}
            if trait in ("shape", "margin"):
                rows.append(about | {"state": str(rng.choice(_STATES))})
            else:
                value = scale * rng.choice([0.0, 1.0, rng.normal(5, 1)])
                rows.append(about | {"value": float(value), "unit": "mm"})
    return rows


def _published(rng: np.random.Generator) -> Rows:
    rows: Rows = []
    for taxon in range(int(rng.integers(0, 6))):
        for trait in rng.choice(_NAMES, rng.integers(1, 5), replace=False):
            for source in range(int(rng.integers(1, 3))):
                about = {"taxon": f"T{taxon}", "trait": str(trait), "source": f"S{source}"}
                if trait in ("shape", "margin"):
                    states = "; ".join(rng.choice(_STATES, rng.integers(1, 5), replace=False))
                    rows.append(about | {"states": states})
                else:
                    low = 10 ** rng.uniform(-6, 6) * rng.choice([-1, 0, 1])
                    width = rng.choice([0.0, 1e-9, 1.0, abs(low)])
                    rows.append(about | {"low": low, "high": low + width, "unit": "mm"})
    return rows

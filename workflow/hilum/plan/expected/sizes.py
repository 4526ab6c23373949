"""The half-widths of a quantity with other numbers of dishes, and of seeds in each."""

from __future__ import annotations

from dataclasses import dataclass

from hilum.plan.expected.prospect import Prospect

DISHES = (2, 3, 4, 6, 8, 12)
SEEDS = (10, 25, 50, 100)


@dataclass(frozen=True, kw_only=True)
class Size:
    """The half-width of a quantity with other numbers of dishes and of seeds in each; infinite where it is not told."""

    quantity: str
    unit: str
    treatment: str
    experiment: str
    dishes: int
    seeds: int
    half_width: float


def size(of: Prospect, dishes: int, seeds: int) -> Size:
    """Return what is expected of so many dishes and seeds."""
    return Size(
        quantity=of.quantity,
        unit=of.unit,
        treatment=f"{of.treatment} against {of.versus}" if of.versus else of.treatment,
        experiment=of.experiment,
        dishes=dishes,
        seeds=seeds,
        half_width=of.half_width,
    )

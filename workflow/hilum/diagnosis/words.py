"""The causes and the places as every page and chart names them."""

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from hilum import fates
from hilum.analyses.condition import number

# fewer than five seeds in a hundred undecided are no reason to withhold a figure
SETTLED = 0.05
_NOT_NOTED = "no temperature noted"

# the fates as columns and pages of the diagnosis name them, each with its entry in fates.py
NAMES = {"dead_or_empty" if name == "dead" else name: name for name in fates.told()}
CAUSES = {
    "impermeable_coat": "closed coat",
    "nonviable": "dead seed",
    "harmed": "harmed by the treatment",
    "other_dormancy": "another dormancy",
    "conditions": "conditions",
    "other_dormancy_or_conditions": "another dormancy or conditions",
    "unresolved": "not told apart",
}


def settled(bounds: Mapping[str, float]) -> bool:
    """Return whether a share has a figure, and is no bracket."""
    return bounds["most"] - bounds["least"] <= SETTLED


def figure(bounds: Mapping[str, float]) -> float:
    """Return the figure of a share, midway between what it is at least and at most."""
    return (bounds["least"] + bounds["most"]) / 2


def place(group: Mapping[str, Any]) -> str:
    """Return temperature and condition of a group of the diagnosis; seeds that were only weighed have none."""
    degrees = group["temperature_c"]
    warm = f"{number(degrees)} °C" if degrees is not None else _NOT_NOTED if group["sown"] else ""
    return ", ".join(part for part in (warm, group["condition"]) if part)


def place_of(degrees: str, condition: str) -> str:
    """Return a place in words from °C and condition as text; `nan` is no temperature."""
    return ", ".join(part for part in (f"{degrees} °C" * (degrees != "nan"), condition) if part)


def usual_place(groups: Sequence[Mapping[str, Any]]) -> str:
    """Return the place of most groups, which is told once; empty where most have none, or where no place has most."""
    (usual, often), *others = Counter(place(group) for group in groups).most_common(2)
    tied = any(count == often for _, count in others)
    return "" if usual == _NOT_NOTED or tied else usual

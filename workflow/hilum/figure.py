"""One figure of a page: chart, caption, text alternative and the table behind it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, kw_only=True)
class Figure:
    """What a chart module returns for each figure.

    `spec` is a Vega-Lite specification (of `specification.of`), without configuration: the theme is
    added by the report. `caption` states the finding, `description` is read aloud instead of the
    picture, `rows` are the numbers drawn, and `units` names the unit of each of their columns. The page lists `table` where
    the numbers drawn are too many to read; `pick` is the column by which its lines and a selection `picked` of the chart
    follow each other.
    """

    name: str
    title: str
    caption: str
    description: str
    spec: Mapping[str, Any]
    rows: Sequence[Mapping[str, Any]] = field(default_factory=tuple)
    units: Mapping[str, str] = field(default_factory=dict)
    table: Sequence[Mapping[str, Any]] = field(default_factory=tuple)
    pick: str = ""


# Found by search for the largest least distance between two of them as three kinds of colour-blind readers see them, all
# at 3:1 and more on the light and on the dark ground; tests/test_palette.py holds both.
PALETTE = ("#3460C8", "#C12B06", "#0CA488", "#775F6F", "#A17EE7", "#DC760D")
# one fewer than the colours, so that the seventh of anything differs from the first in its shape
SHAPES = ("circle", "square", "triangle-up", "diamond", "cross")
DASHES = ([1, 0], [6, 3], [2, 2], [8, 3, 2, 3], [4, 1])
# between light and dark, and so 3:1 from both grounds
GREY = "#8c8c8c"


@dataclass(frozen=True)
class Look:
    """The colour of something that charts draw, and the dash where a line says it."""

    colour: str
    dash: Sequence[int]


# what became of a seed, or what is known of it, looks the same in every chart
LOOKS = {
    "germinated": Look(PALETTE[2], DASHES[0]),
    "no water got in": Look(PALETTE[5], DASHES[1]),
    "water got in": Look(PALETTE[0], DASHES[0]),
    "fresh": Look(PALETTE[4], DASHES[4]),
    "dead": Look(PALETTE[3], DASHES[3]),
    "harmed": Look(PALETTE[1], DASHES[3]),
    "not told": Look(GREY, DASHES[2]),
}


def luminance(colour: str) -> float:
    """Return the relative luminance of a colour #rrggbb, 0 to 1 (WCAG 2.2, definition of relative luminance)."""
    parts = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def ink_on(colour: str) -> str:
    """Return the ink that reads best on a filled colour #rrggbb, whatever the ground around it; any other is see-through."""
    if not colour.startswith("#"):
        return "currentColor"
    # where black and white contrast alike: (L + 0.05)² = 0.05 × 1.05
    return "#000000" if luminance(colour) > 0.179 else "#ffffff"

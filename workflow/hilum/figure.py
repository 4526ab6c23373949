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
    picture, `rows` are the numbers drawn, and `units` names the unit of each of their columns.
    """

    name: str
    title: str
    caption: str
    description: str
    spec: Mapping[str, Any]
    rows: Sequence[Mapping[str, Any]] = field(default_factory=tuple)
    units: Mapping[str, str] = field(default_factory=dict)


# Okabe and Ito (2008), the colours that stay apart for most colour-blind readers and on light and
# dark ground alike; black and yellow are left out since one of the two grounds swallows them.
PALETTE = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#56B4E9", "#E69F00")
# one fewer than the colours, so that the seventh of anything differs from the first in its shape
SHAPES = ("circle", "square", "triangle-up", "diamond", "cross")
DASHES = ([1, 0], [6, 3], [2, 2], [8, 3, 2, 3], [4, 1])

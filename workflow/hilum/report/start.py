"""The page that leads a new user from an empty folder to a report."""

from __future__ import annotations

from collections.abc import Iterator

from markupsafe import Markup

from hilum.markup import ours
from hilum.report import grid
from hilum.report.cautions import hazards_of
from hilum.report.pages import page
from hilum.tables import MODULES

# the study of the page's own plan; a test writes it, and holds the page to what it says
EXAMPLE = """\
dish,elapsed_d,germinated,removed,removed_as
beside-d8,2,0,,
beside-d6,2,4,,
…
beside-d8,4,,,"""
GAP = (
    "my-study/study/first-sowing/beside/counts.csv, line 2: germinated is empty, but every row needs it; where nobody looked, take "
    "the row out."
)


def start(*, dictionary: bool) -> str:
    """Return the page; `dictionary` where the site has a page of every column."""
    return page(
        "start",
        hazards=hazards_of([{"method": "chipping", "agent": ""}]),
        cells=_cells(),
        example=ours(EXAMPLE),
        gap=ours(GAP),
        dictionary=dictionary,
    )


def _cells() -> Markup:
    """Return the cells that a person fills in, table by table."""
    return grid.grid(["table", "cells to fill in", "one row is"], _lines(), "What to fill in")


def _lines() -> Iterator[list[str]]:
    for module in MODULES:
        table = module.TABLE
        if table.awaited is not None:
            titles = (table.column(name).title.lower() for name in table.awaited.measured)
            yield [table.file, ", ".join(titles), table.one_row_is]

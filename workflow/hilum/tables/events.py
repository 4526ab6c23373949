"""events.csv: what was done to a dish after it was sown."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from hilum.tables.column import Column, OneOf, Table
from hilum.tables.ledger import Finding, Ledger
from hilum.tables.references import DISH, ELAPSED_H

EVENTS = ("moved", "opened", "agent_added", "light_given", "discarded")
_EVENT = Column(
    name="event",
    title="Event",
    description="What was done. moved, opened, agent_added and light_given start the dish's clock anew; "
    "discarded ends it.",
    kind="choice",
    example="moved",
    required=True,
    choices=EVENTS,
)
_TO = Column(
    name="to",
    title="To",
    description="Where it was moved (a temperature in °C, or a chamber), or which agent or light it was given.",
    kind="text",
    example="25",
)
TABLE = Table(
    name="events",
    title="Events",
    one_row_is="something done to a dish",
    level="experiment",
    columns=(
        DISH,
        ELAPSED_H,
        Column(
            name="at",
            title="At",
            description="When it was done; stored as hours since sowing.",
            kind="moment",
            example="2024-05-11T09:00",
        ),
        _EVENT,
        _TO,
    ),
    key=("dish", "elapsed_h", "event"),
    stored=(DISH, ELAPSED_H, _EVENT, _TO),
    one_of=(OneOf(columns=("elapsed_h", "at")),),
)


def moved_nowhere(ledger: Ledger) -> Iterator[Finding]:
    """Yield each move that does not say where to."""
    rows = ledger["events"]
    moved = rows["event"] == ledger.names.code("moved")
    for row in np.flatnonzero(moved & (rows["to"] == 0) & ~rows.bad):
        yield Finding(
            rows, row, "event", ", but `to` does not say where: a temperature or a chamber"
        )


RULES = (moved_nowhere,)

"""How large a study may be: more is refused before any time is spent, with file, line and limit.

They follow what stages took where they were measured (DEVELOPERS.md); the report of 10,000 dishes is reckoned from that of 5,000, and
seeds weighed a hundred times each can still ask for more memory than there is. Real studies are ten times smaller and more. An
experiment without analyses is only checked, and as large as its tables may be.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from hilum.tables.ledger import Finding, Ledger, Rows

# all raw tables of a study together: about ten million rows, of which the check needs sixteen times their bytes
MOST_BYTES = 200_000_000
# a column for each inspection is the widest table there is
MOST_COLUMNS = 5_000
# of one experiment, or one plan
MOST_DISHES = 10_000
# of one experiment: each rate is a parameter, and all stretches between two are climbed
MOST_TEMPERATURES = 25


@dataclass(frozen=True, kw_only=True)
class Limit:
    """How many different values of some columns together, or rows where there are none, an analysed experiment may have."""

    table: str
    columns: tuple[str, ...]
    most: int
    what: str
    analysis: str = ""


LIMITS = (
    Limit(table="dishes", columns=(), most=MOST_DISHES, what="dishes"),
    Limit(table="counts", columns=(), most=300_000, what="inspections"),
    Limit(
        table="dishes",
        columns=("lot", "treatment", "temperature_c"),
        most=150,
        what="lots, treatments and temperatures",
        analysis="time_course",
    ),
    Limit(
        table="dishes",
        columns=("temperature_c",),
        most=MOST_TEMPERATURES,
        what="temperatures",
        analysis="temperature",
    ),
    Limit(table="weighings", columns=("seed",), most=20_000, what="seeds"),
    Limit(table="stages", columns=("seedling",), most=10_000, what="seedlings"),
)


def too_many(ledger: Ledger) -> Iterator[Finding]:
    """Yield the first row of each experiment that is one too many for what its analyses could do."""
    for limit in LIMITS:
        rows = ledger[limit.table]
        for experiment in _crowded(rows, limit.most):
            asked = ledger.experiments.get(ledger.names.texts[experiment])
            analyses = asked.analyses if asked else ()
            if analyses and (not limit.analysis or limit.analysis in analyses):
                first = _beyond(rows, experiment, limit)
                if first is not None:
                    yield Finding(rows, first, "", _says(limit), rule=f"too many {limit.what}")


def _crowded(rows: Rows, most: int) -> list[int]:
    """Return the experiments with more rows than that."""
    codes, counts = np.unique(rows.experiment, return_counts=True)
    return [int(code) for code in codes[counts > most]]


def _beyond(rows: Rows, experiment: int, limit: Limit) -> int | None:
    """Return the row at which an experiment has more than it may."""
    own = np.flatnonzero(rows.experiment == experiment)
    if limit.columns:
        values = np.stack([np.nan_to_num(rows[c][own].astype(float)) for c in limit.columns])
        own = own[np.sort(np.unique(values, axis=1, return_index=True)[1])]
    return int(own[limit.most]) if len(own) > limit.most else None


def _says(limit: Limit) -> str:
    of = f" of the analysis {limit.analysis}" if limit.analysis else ""
    return (
        f"an experiment may have {limit.most:,} {limit.what}{of}, and this row is one more; deal the rows out to several "
        "experiments"
    )


RULES = (too_many,)

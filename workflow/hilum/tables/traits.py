"""traits.csv: measured seeds and plant parts."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from hilum.tables import groups
from hilum.tables.column import Column, OneOf, Table
from hilum.tables.ledger import Finding, Ledger, Rows
from hilum.tables.references import LOT
from hilum.tables.sentences import Fault, meant, quoted

# how near to a power of ten (as its logarithm) a value must be to the middle one to look like a slip: 20 %
_SLIP = 0.08
TRAIT = Column(
    name="trait",
    title="Trait",
    description="What was measured or judged, called the same in traits.csv and reference_traits.csv.",
    kind="text",
    example="seed length",
    required=True,
)
UNIT = Column(
    name="unit",
    title="Unit",
    description="The unit of the numbers; one trait has one unit in the whole study. Empty for states.",
    kind="text",
    example="mm",
)
_COLUMNS = (
    Column(
        name="specimen",
        title="Specimen",
        description="A name for the seed or plant part.",
        kind="text",
        example="m14",
        required=True,
    ),
    LOT,
    TRAIT,
    Column(
        name="value",
        title="Value",
        description="The value measured; empty where a state was judged.",
        kind="number",
        example="7.4",
    ),
    Column(
        name="state",
        title="State",
        description="The state judged, of a trait that is no number: the shape of a seed, the margin of a leaf.",
        kind="text",
        example="kidney-shaped",
    ),
    UNIT,
)
TABLE = Table(
    name="traits",
    title="Measured traits",
    one_row_is="a measured seed or plant part",
    level="experiment",
    columns=_COLUMNS,
    key=("specimen", "trait"),
    stored=_COLUMNS,
    one_of=(OneOf(columns=("value", "state"), together=True),),
    needs=(("value", "unit"),),
)


def both_kinds(ledger: Ledger) -> Iterator[Finding]:
    """Yield each row that has a number and a state as well."""
    rows = ledger["traits"]
    for row in np.flatnonzero(rows.given("value") & rows.given("state") & ~rows.bad):
        says = f", but value is {rows['value'][row]:.10g}; a trait is a number or a state"
        yield Finding(rows, row, "state", says)


def remarks(ledger: Ledger) -> Iterator[Fault]:
    """Yield values that look like a slip, and traits and labels of which nothing is published.

    A value may well be ten times another, of a count, so that a slip is no fault here.
    """
    rows, lots, published = ledger["traits"], ledger["lots"], ledger["reference_traits"]
    yield from _slips(rows)
    if len(published):
        measured = np.isin(lots["lot"], rows["lot"])
        yield from _unpublished(rows, "trait", rows["trait"], published)
        yield from _unpublished(lots, "taxon", lots["taxon"][measured], published)


def _slips(rows: Rows) -> Iterator[Fault]:
    """Yield each number that is about ten, a hundred or a thousand times the middle one of its trait and lot."""
    known = np.flatnonzero((rows["value"] > 0) & (rows["lot"] > 0) & ~rows.bad)
    group = groups.together(rows.key("lot")[known], rows["trait"][known])
    usual = groups.medians(group, rows["value"][known])
    tens = np.log10(rows["value"][known] / usual)
    near = np.round(tens)
    for i in np.flatnonzero((near != 0) & (np.abs(tens - near) < _SLIP)):
        row, times = known[i], 10 ** abs(near[i])
        than = "times" if near[i] > 0 else "times smaller than"
        says = (
            f"{rows['value'][row]:.10g} is about {times:g} {than} the {usual[i]:.4g} of {rows.text('trait', row)} in the "
            f"middle of lot {rows.text('lot', row)}: another unit, or a point in the wrong place?"
        )
        sheet = rows.sheets[rows.sheet[row]]
        yield Fault(file=sheet.source.shown, line=int(rows.lines[row]), says=says)


def _unpublished(rows: Rows, column: str, codes: groups.Ints, published: Rows) -> Iterator[Fault]:
    """Yield each name of which nothing is published."""
    texts = rows.names.texts
    known = [texts[code] for code in np.unique(published[column]).tolist() if code]
    for code in np.setdiff1d(codes, published[column]).tolist():
        if code:
            guess = meant(texts[code], known)
            perhaps = f"; perhaps it is {quoted(guess)} there" if guess else ""
            says = f"{column} {quoted(texts[code])} is not in {published.table.file}{perhaps}"
            yield Fault(file=rows.sheets[0].source.shown, says=says)


RULES = (both_kinds,)

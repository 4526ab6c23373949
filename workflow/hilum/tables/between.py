"""Rules between rows and between tables: names that must exist, repeats, what contradicts another table.

Each rule is a function from the ledger to findings; `RULES` are run in their order, and rows in which an
earlier rule found a fault are marked, so that one mistake is told once.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import SupportsIndex

import numpy as np

from hilum.tables import groups
from hilum.tables.ledger import NO_ROW, Array, Finding, Ledger, Rows
from hilum.tables.sentences import looks

_REPAIR = "; keep one, or name the wrong one under known_faults in experiment.yaml"


class _Listed(dict[int, list[str]]):
    """The names that a table lists, by experiment, gathered where they are asked for."""

    def __init__(self, rows: Rows, column: str) -> None:
        super().__init__()
        self._rows, self._column = rows, column

    def __missing__(self, experiment: int) -> list[str]:
        rows = self._rows
        codes = np.unique(rows[self._column][rows.experiment == experiment])
        self[experiment] = [rows.names.texts[code] for code in codes.tolist() if code]
        return self[experiment]


def unknown_names(ledger: Ledger) -> Iterator[Finding]:
    """Yield each lot, treatment or dish that its own table does not list."""
    for rows in ledger.rows.values():
        for column in (c for c in rows.table.columns if c.refers):
            yield from _unknown(ledger, rows, column.name, ledger[column.refers])


def _unknown(ledger: Ledger, rows: Rows, column: str, listed: Rows) -> Iterator[Finding]:
    whole_study = listed.table.level == "study"
    names = rows[column] if whole_study else rows.key(column)
    found = groups.find(names, listed[column] if whole_study else listed.key(column))
    unknown = (found == NO_ROW) & (rows[column] > 0)
    unsure, known = _unsure(ledger, listed, column), _Listed(listed, column)
    for row in np.flatnonzero(unknown):
        home = ledger.names.code("") if whole_study else int(rows.experiment[row])
        if home not in unsure:
            says = f", which {listed.table.file} does not list"
            yield Finding(rows, row, column, says, known[home])


def _unsure(ledger: Ledger, listed: Rows, column: str) -> set[int]:
    """Return the experiments in which the listing table is missing or could not be read whole."""
    study = [ledger.names.code("")]
    every = study if listed.table.level == "study" else map(ledger.names.code, ledger.experiments)
    present = {ledger.names.code(s.source.experiment) for s in listed.sheets}
    nameless = set(listed.experiment[listed[column] == 0].tolist())
    return (set(every) - present) | listed.torn() | nameless


def repeats(ledger: Ledger) -> Iterator[Finding]:
    """Yield each row that has the same key as an earlier one."""
    for rows in ledger.rows.values():
        known = np.logical_and.reduce([rows.given(c) for c in _must(rows)])
        fine = np.flatnonzero(known & ~rows.bad)
        if len(fine):
            keys = [_comparable(rows[c][fine]) for c in rows.table.key]
            twin = groups.earlier_twin(groups.together(rows.experiment[fine], *keys))
            for i in np.flatnonzero(twin >= 0):
                yield _repeat(rows, fine[i], fine[twin[i]])


def _must(rows: Rows) -> list[str]:
    """Return the parts of the key that every row has; an outcome has a dish or a seed."""
    always = {c for g in rows.table.one_of if not g.together for c in g.columns}
    columns = [rows.table.column(c) for c in rows.table.key]
    return [c.name for c in columns if c.required or c.default is not None or c.name in always]


def _comparable(values: Array) -> Array:
    return np.nan_to_num(values, nan=-1.0) if values.dtype == float else values


def _repeat(rows: Rows, row: SupportsIndex, first: SupportsIndex) -> Finding:
    """Return the finding of a row that is there twice, told by the last given part of its key."""
    key = [c for c in rows.table.key if rows.given(c)[row]]
    other = [
        c.name
        for c in rows.table.stored
        if c.name not in key and _differs(rows, c.name, row, first)
    ]
    same = f" for the same {' and '.join(key[:-1])}" if len(key) > 1 else ""
    says = f", which line {rows.lines[first]} has already{same}"
    if other:
        pairs = " and ".join(
            f"{c} {_cell(rows, c, first)} there and {_cell(rows, c, row)} here" for c in other
        )
        says += f", but with {pairs}"
    return Finding(rows, row, key[-1], says + (_REPAIR if rows.table.level == "experiment" else ""))


def _differs(rows: Rows, column: str, row: SupportsIndex, first: SupportsIndex) -> bool:
    values = _comparable(rows[column])
    return bool(values[row] != values[first])


def _cell(rows: Rows, column: str, row: SupportsIndex) -> str:
    if not rows.given(column)[row]:
        return "empty"
    values = rows[column]
    return f"{values[row]:.10g}" if values.dtype == float else rows.text(column, row)


def half_given(ledger: Ledger) -> Iterator[Finding]:
    """Yield each cell that means nothing without another one that is empty."""
    for rows in ledger.rows.values():
        for column, needed in rows.table.needs:
            lonely = rows.given(column) & ~rows.given(needed) & ~rows.bad
            for row in np.flatnonzero(lonely):
                yield Finding(rows, row, column, f", but {needed} is empty; give both or neither")


def unknown_seed(ledger: Ledger) -> Iterator[Finding]:
    """Yield each outcome of a seed that was never weighed and has no dish either.

    With a dish it may be a seed that nobody weighed, unless a weighed one is called nearly the same.
    """
    rows, weighings = ledger["outcomes"], ledger["weighings"]
    found = groups.find(rows.key("seed"), weighings.key("seed"))
    nameless = weighings.experiment[weighings["seed"] == 0].tolist()
    unsure = weighings.torn() | set(nameless)
    known = _Listed(weighings, "seed")
    shapes: dict[int, set[str]] = {}
    for row in np.flatnonzero((rows["seed"] > 0) & (found == NO_ROW)):
        experiment = int(rows.experiment[row])
        names = known[experiment]
        if experiment not in shapes:
            shapes[experiment] = set(map(looks, names))
        dishless = "" if rows["dish"][row] else ", and the row names no dish"
        if experiment not in unsure and (
            dishless or looks(rows.text("seed", row)) in shapes[experiment]
        ):
            says = f", which weighings.csv does not list{dishless}"
            yield Finding(rows, row, "seed", says, names)


def seed_in_another_dish(ledger: Ledger) -> Iterator[Finding]:
    """Yield each outcome whose seed was sown in another dish than the row says."""
    rows, weighings = ledger["outcomes"], ledger["weighings"]
    at = groups.find(rows.key("seed"), weighings.key("seed"))
    sown = np.where(at != NO_ROW, np.append(weighings["dish"], 0)[at], 0)
    told = (rows["seed"] > 0) & (rows["dish"] > 0) & (sown > 0)
    for row in np.flatnonzero(told & (sown != rows["dish"])):
        other = ledger.names.texts[sown[row]]
        says = f", but weighings.csv says that seed {rows.text('seed', row)} was sown in {other}"
        yield Finding(rows, row, "dish", says)


def sown_unlike_weighed(ledger: Ledger) -> Iterator[Finding]:
    """Yield each weighed seed whose dish has another lot or treatment."""
    rows, dishes = ledger["weighings"], ledger["dishes"]
    dish = ledger.dish_rows(rows)
    for column in ("lot", "treatment"):
        there = np.where(dish != NO_ROW, np.append(dishes[column], 0)[dish], 0)
        both = (there > 0) & (rows[column] > 0)
        for row in np.flatnonzero(both & (there != rows[column])):
            name = ledger.names.texts[there[row]]
            says = f", but it was sown in dish {rows.text('dish', row)}, whose {column} is {name}"
            yield Finding(rows, row, column, says)


def after_the_end(ledger: Ledger) -> Iterator[Finding]:
    """Yield each inspection and event of a dish that was discarded before."""
    events = ledger["events"]
    end = events["event"] == ledger.names.code("discarded")
    last = np.flatnonzero(end & events.given("elapsed_h") & (events["dish"] > 0))
    for table in ("counts", "events"):
        rows = ledger[table]
        at = groups.find(rows.key("dish"), events.key("dish")[last])
        ended = np.append(events["elapsed_h"][last], np.nan)[at]
        late = (rows["dish"] > 0) & (at != NO_ROW) & (rows["elapsed_h"] > ended)
        for row in np.flatnonzero(late):
            says = f", but dish {rows.text('dish', row)} was discarded at {ended[row]:g} h"
            yield Finding(rows, row, "elapsed_h", says)


def traits_in_two_units(ledger: Ledger) -> Iterator[Finding]:
    """Yield each number of a trait in another unit than where the study first names the trait."""
    for rows, home, first in _first_named(ledger):
        here, there = rows["unit"], np.append(home["unit"], 0)[first]
        for row in np.flatnonzero((here > 0) & (there > 0) & (here != there)):
            place, trait = _place(home, first[row]), rows.text("trait", row)
            says = f", but {place} has {trait} in {home.text('unit', first[row])}"
            yield Finding(rows, row, "unit", says)


_NUMBER = {"traits": "value", "reference_traits": "low"}
_STATE = {"traits": "state", "reference_traits": "states"}


def traits_of_two_kinds(ledger: Ledger) -> Iterator[Finding]:
    """Yield each trait that is a number here and a state where the study first names it, or the other way round."""
    for rows, home, first in _first_named(ledger):
        here, there = rows.given(_NUMBER[rows.table.name]), home.given(_NUMBER[home.table.name])
        sure = (first != NO_ROW) & ~rows.bad & ~np.append(home.bad, True)[first]
        for row in np.flatnonzero(sure & (here != np.append(there, False)[first])):
            place, trait = _place(home, first[row]), rows.text("trait", row)
            kind = "a state" if here[row] else "a number"
            column = (_NUMBER if here[row] else _STATE)[rows.table.name]
            yield Finding(rows, row, column, f", but {place} has {trait} as {kind}")


def _first_named(ledger: Ledger) -> Iterator[tuple[Rows, Rows, groups.Ints]]:
    """Yield tables with the row in which each trait is first named: a published one before a measured one, else -1."""
    traits, published = ledger["traits"], ledger["reference_traits"]
    for rows in (published, traits):
        named = rows["trait"] > 0
        known = np.where(named, groups.find(rows["trait"], published["trait"]), NO_ROW)
        yield rows, published, known
        own = groups.find(rows["trait"], traits["trait"])
        yield rows, traits, np.where(named & (known == NO_ROW), own, NO_ROW)


def _place(rows: Rows, row: SupportsIndex) -> str:
    return f"line {rows.lines[row]} of {rows.table.file}"


RULES = (
    unknown_names,
    repeats,
    half_given,
    unknown_seed,
    seed_in_another_dish,
    sown_unlike_weighed,
    after_the_end,
    traits_in_two_units,
    traits_of_two_kinds,
)

"""Rows that nobody filled yet: a half-filled study is checked and reported as far as it goes.

A row whose measured cells are all empty is awaited where it comes last for its dish or seed: it has a planned time, and
stands below every filled row of the same and later than it. One in the middle stays where it is, and is then a fault, since a
missing count would bias the others. A dish of which nothing is filled at all is left out with its rows: nothing was seen in it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from hilum.tables import groups
from hilum.tables.column import Awaited
from hilum.tables.ledger import NO_ROW, Array, Names, Sheet
from hilum.tables.sentences import Fault, quoted, ranges

_NAMED = 12  # dishes that a remark names


@dataclass
class Waiting:
    """Sheets without what is awaited, remarks on it, and how many rows were left out of each table of each experiment."""

    sheets: list[Sheet]
    notes: list[Fault] = field(default_factory=list)
    tables: Counter[tuple[str, str]] = field(default_factory=Counter)


def set_aside(sheets: Sequence[Sheet], names: Names) -> Waiting:
    """Return the sheets without rows that are awaited, and without dishes in which nothing was seen yet."""
    found = Waiting([])
    by_experiment: dict[str, list[Sheet]] = {}
    for sheet in sheets:
        by_experiment.setdefault(sheet.source.experiment, []).append(sheet)
    for own in by_experiment.values():
        marks = [awaited(sheet) & _listed(sheet, own) for sheet in own]
        kept = [without(s, rows) for s, rows in zip(own, marks, strict=True)]
        for sheet, rows in zip(own, marks, strict=True):
            if rows.any():
                found.notes += _told(sheet, rows, _together(sheet, own), names)
                found.tables[sheet.source.table.name, sheet.source.experiment] += int(rows.sum())
        named = [s.columns["dish"][m] for s, m in zip(own, marks, strict=True) if _has(s, "dish")]
        found.sheets += _without_idle(kept, np.unique(np.concatenate([*named, []])), found, names)
    return found


def without(sheet: Sheet, rows: groups.Marks) -> Sheet:
    """Return a sheet without some of its rows."""
    return replace(
        sheet,
        lines=sheet.lines[~rows],
        columns={name: values[~rows] for name, values in sheet.columns.items()},
        bad=sheet.bad[~rows],
        series=None if sheet.series is None else sheet.series[~rows],
    )


def awaited(sheet: Sheet) -> groups.Marks:
    """Return which rows of a sheet are awaited."""
    about = sheet.source.table.awaited
    if about is None or not len(sheet.lines):
        return np.zeros(len(sheet.lines), dtype=bool)
    who = _who(sheet, about)
    # what cannot be read was something
    filled = _any_given(sheet, about.measured) | sheet.bad
    empty = ~filled & (who > 0)
    if not empty.any():
        return empty
    if about.planned:
        return empty & _later(sheet, about, who, filled)
    _, place, rows = np.unique(who, return_inverse=True, return_counts=True)
    return empty & ~np.isin(who, who[filled]) & (rows[place] >= about.fewest)


def _later(sheet: Sheet, about: Awaited, who: Array, filled: groups.Marks) -> groups.Marks:
    """Return which rows stand below every filled row of the same, and are planned for later."""
    times = [sheet.columns[c] for c in about.planned if c in sheet.columns]
    if not times:
        return np.zeros(len(who), dtype=bool)
    time = times[0]
    last_time, last_place = np.full(who.max() + 1, -np.inf), np.full(who.max() + 1, -1)
    seen = filled & ~np.isnan(time)
    np.maximum.at(last_time, who[seen], time[seen])
    np.maximum.at(last_place, who[filled], np.flatnonzero(filled))
    # a time that is missing is later than none
    return np.asarray((time > last_time[who]) & (np.arange(len(who)) > last_place[who]))


def _who(sheet: Sheet, about: Awaited) -> Array:
    if not about.of:
        return np.arange(1, len(sheet.lines) + 1)
    found = np.zeros(len(sheet.lines), dtype=np.int64)
    for column in (c for c in about.of if c in sheet.columns):
        found = np.where(found > 0, found, sheet.columns[column])
    return found


def _any_given(sheet: Sheet, columns: Sequence[str]) -> groups.Marks:
    found = np.zeros(len(sheet.lines), dtype=bool)
    for values in (sheet.columns[c] for c in columns if c in sheet.columns):
        found |= ~np.isnan(values) if values.dtype == float else values > 0
    return found


def _has(sheet: Sheet, column: str) -> bool:
    return column in sheet.columns


def _listed(sheet: Sheet, own: Sequence[Sheet]) -> groups.Marks:
    """Return which rows name a dish that dishes.csv lists, or none: a misspelt one is to be told at once."""
    if not _has(sheet, "dish"):
        return np.ones(len(sheet.lines), dtype=bool)
    listed = [s.columns["dish"] for s in own if s.source.table.name == "dishes" and _has(s, "dish")]
    dish = sheet.columns["dish"]
    return np.asarray((dish == 0) | np.isin(dish, np.concatenate([*listed, []])))


def _told(sheet: Sheet, rows: groups.Marks, together: Array, names: Names) -> Iterator[Fault]:
    """Yield what was left out of a sheet, and who was observed for less long than others."""
    about = sheet.source.table.awaited
    assert about is not None  # noqa: S101
    count = int(rows.sum())
    noun = f"1 {about.rows} is" if count == 1 else f"{count} {about.rows}s are"
    lines = ranges(sheet.lines[rows].tolist())
    says = f"{noun} not filled in yet, and left out: line{'s' if count > 1 else ''} {lines}"
    yield Fault(file=sheet.source.shown, says=says, rule="awaited")
    behind = _behind(sheet, about, rows, together)
    if len(behind):
        says = (
            f"{_named(behind, names)} has no {about.rows} for a time at which others of the same day have one, and counts "
            "as not looked at since; where it was, fill in what was seen"
        )
        yield Fault(file=sheet.source.shown, says=says, rule="behind")


def _together(sheet: Sheet, own: Sequence[Sheet]) -> Array:
    """Return for each row of a sheet which of its rows are of dishes that were sown at the same time, as far as is known."""
    homes = [s for s in own if s.source.table.name == "dishes" and _has(s, "dish")]
    if not homes or not _has(sheet, "dish"):
        return np.zeros(len(sheet.lines), dtype=np.int64)
    home = homes[0]
    unknown = np.full(len(home.lines), np.nan)
    when = [np.nan_to_num(home.columns.get(c, unknown), nan=-1.0) for c in ("sown_at", "stored_d")]
    at = groups.find(sheet.columns["dish"], home.columns["dish"])
    return np.asarray(np.append(groups.together(*when), NO_ROW)[at])


def _behind(sheet: Sheet, about: Awaited, rows: groups.Marks, together: Array) -> Array:
    """Return who awaits a row for a time at which, or before which, another one sown with it has a filled one."""
    column = next((c for c in about.planned if c in sheet.columns), None)
    if column is None:
        return np.zeros(0, dtype=np.int64)
    who, time = _who(sheet, about), np.nan_to_num(sheet.columns[column], nan=-np.inf)
    _, group = np.unique(together, return_inverse=True)
    reached = np.full(group.max(initial=0) + 1, -np.inf)
    np.maximum.at(reached, group[~rows], time[~rows])
    begun = np.isin(who, who[~rows])
    return np.unique(who[rows & begun & (time <= reached[group])])


def _named(codes: Array, names: Names) -> str:
    told = ", ".join(quoted(names.texts[int(code)]) for code in codes[:_NAMED])
    return f"{told} and {len(codes) - _NAMED} more" if len(codes) > _NAMED else told


def _without_idle(
    sheets: Sequence[Sheet], waiting: Array, found: Waiting, names: Names
) -> list[Sheet]:
    """Return the sheets without the dishes of which rows are awaited and none is filled."""
    others = [
        s.columns["dish"] for s in sheets if s.source.table.name != "dishes" and _has(s, "dish")
    ]
    used = np.concatenate([*others, []])
    made = []
    for sheet in sheets:
        if sheet.source.table.name == "dishes" and _has(sheet, "dish"):
            dish = sheet.columns["dish"]
            idle = (dish > 0) & np.isin(dish, waiting) & ~np.isin(dish, used) & ~sheet.bad
            sown = idle & _any_given(sheet, ("sown_at",))
            found.notes += _idle_told(sheet, sown, "sown, but nothing was seen in {it} yet", names)
            found.notes += _idle_told(sheet, idle & ~sown, "not sown yet", names)
            if idle.any():
                found.tables["dishes", sheet.source.experiment] += int(idle.sum())
            sheet = without(sheet, idle)
        made.append(sheet)
    return made


def _idle_told(sheet: Sheet, idle: groups.Marks, says: str, names: Names) -> list[Fault]:
    if not idle.any():
        return []
    codes = sheet.columns["dish"][idle]
    noun = "1 dish is" if len(codes) == 1 else f"{len(codes)} dishes are"
    it = "it" if len(codes) == 1 else "them"
    words = f"{noun} {says.format(it=it)}, and left out: {_named(codes, names)}"
    return [Fault(file=sheet.source.shown, says=words, rule=says)]

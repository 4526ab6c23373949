"""The first line of a raw file: which columns it names, and every fault in it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from hilum.tables import limits, sentences
from hilum.tables.column import Column, OneOf, Table, one_of
from hilum.tables.split import Reading


@dataclass(frozen=True)
class Header:
    """The first line: `columns` by their place in a row, `width` cells a row, `nameless` places."""

    columns: Mapping[int, Column]
    width: int
    nameless: tuple[int, ...]
    series: Mapping[str, tuple[float, bool]]


def _series_column(name: str, table: Table) -> Column:
    like = next(c for c in table.columns if c.name == "germinated")
    return Column(
        name=name,
        title=name,
        description=like.description,
        kind="count",
        example=like.example,
        unit=like.unit,
        low=like.low,
        high=like.high,
    )


def read_header(row: Sequence[str], reading: Reading) -> Header | None:
    """Return the header, with every fault in it told."""
    table = reading.source.table
    if len(row) > limits.MOST_COLUMNS:
        says = f"names {len(row):,} columns; a table may have {limits.MOST_COLUMNS:,}: are its rows columns?"
        reading.fault(says, 1)
        return None
    names = [cell.strip() for cell in row]
    if not any(names):
        reading.fault("the first line must hold the names of the columns, but is empty", 1)
        return None
    if len(names) == 1 and (";" in names[0] or "\t" in names[0]):
        mark = "semicolons" if ";" in names[0] else "tabs"
        says = (
            f"separates its columns with {mark}; save it as CSV with commas between columns and "
            "points in numbers"
        )
        reading.fault(says, 1)
        return None
    read = table.series or (lambda _: None)
    series = {name: found for name in names if (found := read(name))}
    known = {c.name: c for c in table.columns} | {n: _series_column(n, table) for n in series}
    _twice(names, reading)
    unknown = [n for n in names if n and n not in known]
    _unknown(unknown, known, reading)
    _missing(names, unknown, series, reading)
    first = {n: i for i, n in reversed(list(enumerate(names))) if n in known}
    places = {i: known[n] for n, i in sorted(first.items(), key=lambda item: item[1])}
    nameless = tuple(i for i, n in enumerate(names) if not n)
    return Header(places, len(names), nameless, series)


def _twice(names: Sequence[str], reading: Reading) -> None:
    for name in sorted(n for n, times in Counter(names).items() if n and times > 1):
        reading.fault(
            f"the column {sentences.quoted(name)} is there twice", 1, rule=f"twice {name}"
        )


def _unknown(unknown: Sequence[str], known: Mapping[str, Column], reading: Reading) -> None:
    for name in unknown[: sentences.TOLD_IN_FULL]:
        guess = sentences.meant(name, list(known))
        perhaps = f"; perhaps you meant {guess}" if guess else f"; known are {', '.join(known)}"
        says = f"the column {sentences.quoted(name)} is not one of {reading.source.table.file}{perhaps}"
        reading.fault(says, 1, rule=f"unknown {name}")
    rest = len(unknown) - sentences.TOLD_IN_FULL
    if rest > 0:
        says = f"and {rest} more of its columns are not those of {reading.source.table.file}"
        reading.fault(says, 1, rule="unknown, the rest")


def _missing(
    names: Sequence[str],
    unknown: Sequence[str],
    series: Mapping[str, tuple[float, bool]],
    reading: Reading,
) -> None:
    """Tell each column that is missing, but not one whose misspelling was just told."""
    table = reading.source.table
    columns = [c.name for c in table.columns]
    told = unknown[: sentences.TOLD_IN_FULL]
    guessed = {n for name in told for n in sentences.meant(name, columns).split(" or ")}
    for column in table.columns:
        if column.required and column.name not in names and column.name not in guessed:
            reading.fault(f"the column {column.name} is missing", 1, rule=f"missing {column.name}")
    # a whole series counts as one column
    given = [n for n in names if n not in series] + sorted(series)[:1]
    for group in table.one_of:
        _alternatives(group, given, guessed, reading)


def _alternatives(group: OneOf, names: Sequence[str], guessed: set[str], reading: Reading) -> None:
    """Tell columns that say the same thing, and that none of them is there; a series is both of its kind."""
    read_series = reading.source.table.series or (lambda _: None)
    given = [name for name in names if name in group.columns or read_series(name)]
    if len(given) > 1 and not group.together:
        says = f"the columns {' and '.join(given)} say the same thing; keep one of them"
        reading.fault(says, 1, rule=f"both {given[0]}")
    if not given and group.needed and not guessed & set(group.columns):
        reading.fault(
            f"the column {one_of(group.columns)} is missing", 1, rule=f"missing {group.columns[0]}"
        )

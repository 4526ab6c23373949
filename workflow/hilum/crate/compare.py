"""Two runs of the same tables, number by number: what moved, and by how much against its interval."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

Row = Mapping[str, str]
# another processor adds in another order: to six significant digits the numbers are the same
DIGITS = 6
_NAMED = (
    "lot",
    "treatment",
    "temperature_c",
    "condition",
    "at",
    "at_unit",
    "versus",
    "layer",
    "name",
    "quantity",
)
_VALUES = ("value", "fraction", "low", "high", "unit", "standard_error", "confidence")


@dataclass(frozen=True, kw_only=True)
class Moved:
    """One row that is not the same: its line in the crate, what it tells of, and each cell before and after.

    `share` is the farthest that value or limit moved, in widths of the interval that the crate has; None where
    there is no such width. `inside` says whether the new value lies within that interval.
    """

    line: int
    of: str
    cells: Mapping[str, tuple[str, str]]
    share: float | None = None
    inside: bool | None = None
    interval: str = ""


@dataclass(frozen=True, kw_only=True)
class Compared:
    """A table in both runs: how many rows it had, which moved, how many are only worded otherwise.

    `form` says in words where columns or the order of rows are not the same.
    """

    rows: int
    moved: Sequence[Moved] = ()
    worded: int = 0
    gone: Sequence[str] = ()
    new: Sequence[str] = ()
    form: str = ""

    @property
    def same(self) -> bool:
        """Return whether every number is the same."""
        return not (self.moved or self.gone or self.new)


def same(then: str, now: str) -> bool:
    """Return whether two cells are the same text, or the same finite number to six significant digits."""
    if then == now:
        return True
    try:
        return math.isclose(float(then), float(now), rel_tol=10.0**-DIGITS)
    except (ValueError, TypeError):
        # a row that is longer than the header has more than text in its last place
        return False


def tables(then: Sequence[Row], now: Sequence[Row]) -> Compared:
    """Compare a table of the crate with the same table now.

    Rows of estimates and of the diagnosis are found by what they tell of, those of other tables by their place.
    Columns that only one of the two has are told and not compared: an older crate has fewer.
    """
    columns = [c for c in (then[0] if then else {}) if not now or c in now[0]]
    by = _by_name if {"status", "low", "high"} <= set(columns) else _by_place
    return replace(by(then, now, columns), form=_form(then, now))


def _form(then: Sequence[Row], now: Sequence[Row]) -> str:
    before, after = (list(rows[0]) if rows else [] for rows in (then, now))
    if not (then and now):
        return ""
    only = (
        ("only the crate has", [c for c in before if c not in after]),
        ("only the rerun has", [c for c in after if c not in before]),
    )
    told = [f"{says} the column {', '.join(map(str, names))}" for says, names in only if names]
    if not told and before != after:
        told = ["its columns stand in another order"]
    if not told and len(then) == len(now) and _names(then) != _names(now):
        told = ["its rows stand in another order"]
    return "; ".join(told)


def _names(rows: Sequence[Row]) -> list[tuple[str, ...]]:
    return [tuple(row[c] for c in _NAMED if c in row) for row in rows]


def _by_name(then: Sequence[Row], now: Sequence[Row], columns: Sequence[str]) -> Compared:
    named = [c for c in _NAMED if c in columns]
    known = dict(zip(_keys(now, named), now, strict=True))
    moved, worded, gone = [], 0, []
    for line, (key, row) in enumerate(zip(_keys(then, named), then, strict=True), start=2):
        other = known.pop(key, None)
        if other is None:
            gone.append(f"line {line}: {_of(row)}")
            continue
        cells = _changed(row, other, [c for c in (*_VALUES, "status") if c in columns])
        if cells:
            moved.append(_moved(line, row, other, cells))
        elif _changed(row, other, columns):
            worded += 1
    new = [_of(row) for row in known.values()]
    return Compared(rows=len(then), moved=moved, worded=worded, gone=gone, new=new)


def _keys(rows: Sequence[Row], named: Sequence[str]) -> list[tuple[str, ...]]:
    """Return what tells rows apart: names, and a count where the same names come again."""
    seen: Counter[tuple[str, ...]] = Counter()
    keys = []
    for row in rows:
        key = tuple(row[c] for c in named)
        seen[key] += 1
        keys.append((*key, str(seen[key])))
    return keys


def _changed(then: Row, now: Row, columns: Sequence[str]) -> dict[str, tuple[str, str]]:
    return {c: (then[c], now[c]) for c in columns if not same(then[c], now[c])}


def _of(row: Row) -> str:
    """Return in words what a row tells of."""
    what = row.get("quantity") or " ".join(n for n in (row.get("layer"), row.get("name")) if n)
    degrees = f"{row['temperature_c']} °C" if row.get("temperature_c") else ""
    at = f"at {row['at']} {row.get('at_unit', '')}".rstrip() if row.get("at") else ""
    versus = f"against {row['versus']}" if row.get("versus") else ""
    seeds = (row.get("lot"), row.get("treatment"), degrees, row.get("condition"), at, versus)
    told = ", ".join(part for part in seeds if part)
    return f"{what} ({told})" if told else what


def _moved(line: int, then: Row, now: Row, cells: Mapping[str, tuple[str, str]]) -> Moved:
    low, high = _number(then["low"]), _number(then["high"])
    width = high - low
    steps = [
        abs(_number(after) - _number(before))
        for name, (before, after) in cells.items()
        if name in ("value", "fraction", "low", "high")
    ]
    share = max((step / width for step in steps), default=math.nan) if width > 0 else math.nan
    value = _number(now.get("value", now.get("fraction", "")))
    return Moved(
        line=line,
        of=_of(then),
        cells=dict(cells),
        share=None if math.isnan(share) else share,
        inside=None if math.isnan(value) or math.isnan(width) else low <= value <= high,
        interval=f"{then['low']} to {then['high']}" if not math.isnan(width) else "",
    )


def _number(cell: str) -> float:
    try:
        return float(cell)
    except ValueError:
        return math.nan


def _by_place(then: Sequence[Row], now: Sequence[Row], columns: Sequence[str]) -> Compared:
    moved = []
    for line, (row, other) in enumerate(zip(then, now, strict=False), start=2):
        cells = _changed(row, other, columns)
        if cells:
            moved.append(Moved(line=line, of="", cells=cells))
    gone = [f"line {line}" for line in range(len(now) + 2, len(then) + 2)]
    new = [f"line {line} of the rerun" for line in range(len(then) + 2, len(now) + 2)]
    return Compared(rows=len(then), moved=moved, gone=gone, new=new)


def lines(then: Sequence[Row], now: Sequence[Row]) -> list[tuple[int, str, str, str]]:
    """Return the cells of two checked tables that are not the same: `(raw line, column, before, after)`.

    A row that only one of them has is told once, under the column "".
    """
    before, after = (_by_line(rows) for rows in (then, now))
    found = []
    for key in sorted(before.keys() | after.keys()):
        old, new = before.get(key), after.get(key)
        if old is None or new is None:
            found.append((key[0], "", *(("the row", "") if new is None else ("", "the row"))))
            continue
        changed = ((c, old[c], new[c]) for c in old if c in new and old[c] != new[c])
        found.extend((key[0], c, a, b) for c, a, b in changed)
    return found


def _by_line(rows: Sequence[Row]) -> dict[tuple[int, int], Row]:
    """Return rows by the line of the raw file, numbered where a wide line makes several."""
    seen: Counter[int] = Counter()
    found = {}
    for row in rows:
        line = int(row["line"])
        seen[line] += 1
        found[line, seen[line]] = row
    return found

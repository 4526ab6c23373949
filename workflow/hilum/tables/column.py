"""How columns and tables are described: plain data, from which checks, sentences and dictionary come."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

Kind = Literal["text", "number", "count", "yes_no", "choice", "date", "moment"]
Level = Literal["study", "experiment"]
NAME_LENGTH = 100
NOTE_LENGTH = 2000


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column of a raw table.

    `number` may have decimals, `count` is a whole number from 0, `date` is ISO (2024-05-31), `moment` is
    ISO with a time of day. Bounds are allowed values, both ends included. `refers` is the table that lists
    the names allowed here, under the same column name. An empty cell is stored as `default`. `long` text may
    have line breaks.
    """

    name: str
    title: str
    description: str
    kind: Kind
    example: str
    unit: str = ""
    required: bool = False
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    refers: str = ""
    default: float | None = None
    long: bool = False

    @property
    def numeric(self) -> bool:
        """Return whether its cells are stored as numbers."""
        return self.kind in ("number", "count", "yes_no")


@dataclass(frozen=True, kw_only=True)
class OneOf:
    """Columns that say the same thing in different ways; a table has one of them, or none.

    `needed` where each row must have it; `together` where a row may have several.
    """

    columns: tuple[str, ...]
    needed: bool = True
    together: bool = False


@dataclass(frozen=True, kw_only=True)
class Awaited:
    """How a row of a table says that nothing was observed yet: all of `measured` is empty.

    `of` are the columns that name what is observed, the first that is given counts; without them each row is by itself.
    Where rows have times, a row is awaited when one of `planned` is given and no later row of the same is filled; else when
    at least `fewest` rows are there and none of the same is filled. `rows` calls one of them: `inspection`.
    """

    measured: tuple[str, ...]
    rows: str
    of: tuple[str, ...] = ()
    planned: tuple[str, ...] = ()
    fewest: int = 1


@dataclass(frozen=True, kw_only=True)
class Table:
    """One raw table: what a row is, its columns, and the columns that tell its rows apart.

    `stored` are the columns of the checked table, in order, after `line`. `needs` are pairs: where the first
    is given, the second must be. `series` reads the name of a column that stands for one of a series
    (`d_3`), and returns hours and whether it is a running total, or None. `awaited` tells rows that are still to be filled.
    """

    name: str
    title: str
    one_row_is: str
    level: Level
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    stored: tuple[Column, ...]
    one_of: tuple[OneOf, ...] = ()
    needs: tuple[tuple[str, str], ...] = ()
    series: Callable[[str], tuple[float, bool] | None] | None = None
    awaited: Awaited | None = None

    @property
    def file(self) -> str:
        """Return the name of its raw and of its checked file."""
        return f"{self.name}.csv"

    def column(self, name: str) -> Column:
        """Return a raw or stored column by its name."""
        return next(c for c in (*self.columns, *self.stored) if c.name == name)

    def has(self, name: str) -> bool:
        """Return whether a raw column has this name."""
        return any(c.name == name for c in self.columns)


def one_of(words: Sequence[str]) -> str:
    """Return `a, b or c`."""
    return " or ".join(part for part in (", ".join(words[:-1]), words[-1]) if part)


def _number_words(column: Column) -> str:
    noun = "a whole number" if column.kind == "count" else "a number"
    unit = f" {column.unit}" if column.unit else ""
    low = 0 if column.kind == "count" and column.low is None else column.low
    if low is None and column.high is None:
        return noun
    if column.high is None:
        return f"{noun} of {low:g}{unit} or more"
    if low is None:
        return f"{noun} of {column.high:g}{unit} or less"
    return f"{noun} from {low:g} to {column.high:.10g}{unit}"


def allowed(column: Column) -> str:
    """Return in words what a cell of the column may hold."""
    if column.kind in ("number", "count"):
        return _number_words(column)
    if column.kind == "choice":
        return one_of(column.choices)
    if column.kind == "yes_no":
        return "yes or no"
    if column.kind == "date":
        return f"a date such as {column.example}"
    if column.kind == "moment":
        return f"a date and time such as {column.example}"
    return f"text of at most {NOTE_LENGTH if column.long else NAME_LENGTH} characters"

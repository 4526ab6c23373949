"""How columns and tables are described: plain data, from which checks, sentences and dictionary come."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["text", "number", "count", "yes_no", "choice", "date", "moment"]
Level = Literal["study", "experiment"]


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column of a raw table.

    `number` may have decimals, `count` is a whole number from 0, `date` is ISO (2024-05-31), `moment` is
    ISO with a time of day. Bounds are allowed values, both ends included.
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


@dataclass(frozen=True, kw_only=True)
class Table:
    """One raw table: what a row is, its columns, and the columns that tell its rows apart.

    `one_of` names alternatives, exactly one of which must be given (`elapsed_h` or `elapsed_d`), and
    `stored` the columns of the checked table, in order, after `line`.
    """

    name: str
    title: str
    one_row_is: str
    level: Level
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    stored: tuple[Column, ...]
    one_of: tuple[tuple[str, ...], ...] = ()

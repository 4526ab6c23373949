"""What a damage is: the files of a study after it, and what the check may make of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from random import Random

from tests.faults.ground import Cell, Ground, written


@dataclass(frozen=True)
class Damaged:
    """A damaged study: every file, what happened in words, and what is done to its folder once it is written.

    `renamed` is a name that was given another spelling everywhere, as (column, new, old).
    """

    files: Mapping[str, bytes]
    told: str
    act: Callable[[Path], None] | None = None
    renamed: tuple[str, str, str] = ("", "", "")


@dataclass(frozen=True)
class Kind:
    """One kind of damage.

    `unseen` says why the check may accept another table in silence; where it is empty that is a defect.
    `refused` says that nothing but a refusal will do, `harmless` that nothing but the same tables will.
    `elsewhere` says that another file than the damaged one may be where it shows.
    """

    name: str
    strike: Callable[[Ground, Random], Damaged | None]
    unseen: str = ""
    refused: bool = False
    harmless: bool = False
    elsewhere: bool = False


KINDS: dict[str, Kind] = {}


Strike = Callable[[Ground, Random], Damaged | None]


def kind(
    name: str, *, unseen: str = "", must: str = "", elsewhere: bool = False
) -> Callable[[Strike], Strike]:
    """Return a decorator that registers a function as a kind of damage."""

    def register(strike: Strike) -> Strike:
        refused, harmless = must == "refused", must == "harmless"
        KINDS[name] = Kind(name, strike, unseen, refused, harmless, elsewhere)
        return strike

    return register


def with_cell(ground: Ground, cell: Cell, value: str) -> Damaged:
    """Return the study with another value in one cell."""
    rows = ground.copy(cell.file)
    before = rows[cell.row + 1][cell.place]
    rows[cell.row + 1][cell.place] = value
    told = f"{cell.file}, row {cell.row + 2}, {cell.column.name}: {before[:40]!r} → {value[:40]!r}"
    return with_rows(ground, cell.file, rows, told)


def with_rows(ground: Ground, file: str, rows: list[list[str]], told: str) -> Damaged:
    """Return the study with other rows in one table."""
    return with_file(ground, file, written(rows), told)


def with_file(ground: Ground, file: str, data: bytes, told: str = "") -> Damaged:
    """Return the study with other contents of one file."""
    return Damaged({**ground.files, file: data}, told or file)


def acted(ground: Ground, file: str, act: Callable[[Path], None], told: str) -> Damaged:
    """Return the study without one file, and with something else done to its folder."""
    files = {name: data for name, data in ground.files.items() if name != file}
    return Damaged(files, told, act)

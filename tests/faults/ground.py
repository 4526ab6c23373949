"""The undamaged studies: files by name, their tables as rows, and where a damage may strike."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from random import Random

from hilum.tables import TABLES
from hilum.tables.column import Column
from tests import raw

DEMO = Path(__file__).parents[2] / "data" / "strandline"
Want = Callable[[Column], bool]


@dataclass(frozen=True)
class Cell:
    """One filled cell: its file, row (0 is the first below the header), place in the row, and column."""

    file: str
    row: int
    place: int
    column: Column


@dataclass(frozen=True)
class Ground:
    """One study that has no fault."""

    name: str
    files: Mapping[str, bytes]

    @cached_property
    def tables(self) -> dict[str, list[list[str]]]:
        """Return every table as rows of cells, the header first."""
        return {n: read(data) for n, data in self.files.items() if n.endswith(".csv")}

    def yaml(self, rng: Random) -> str:
        """Return the name of one experiment.yaml."""
        return rng.choice(sorted(n for n in self.files if n.endswith(".yaml")))

    def table(self, rng: Random, *names: str) -> str:
        """Return the file of one table, of any or of those named."""
        return rng.choice(sorted(n for n in self.tables if not names or Path(n).stem in names))

    def cell(self, rng: Random, want: Want = lambda _: True) -> Cell:
        """Return one filled cell of a column that is wanted; each column of a study is as likely."""
        places = [
            (file, place, column)
            for file, rows in self.tables.items()
            for place, column in enumerate(columns(file, rows[0]))
            if want(column) and any(row[place] for row in rows[1:])
        ]
        file, place, column = rng.choice(places)
        filled = [i for i, row in enumerate(self.tables[file][1:]) if row[place]]
        return Cell(file, rng.choice(filled), place, column)

    def typed(self, cell: Cell) -> str:
        """Return what stands in a cell."""
        return self.tables[cell.file][cell.row + 1][cell.place]

    def copy(self, file: str) -> list[list[str]]:
        """Return the rows of a table, to be changed."""
        return [list(row) for row in self.tables[file]]


def columns(file: str, header: list[str]) -> list[Column]:
    """Return the columns that a header names."""
    table = TABLES[Path(file).stem]
    return [table.column(name) for name in header]


def read(data: bytes) -> list[list[str]]:
    """Return a CSV file as rows of cells."""
    return list(csv.reader(io.StringIO(data.decode("utf-8"), newline="")))


def written(rows: list[list[str]], **how: str) -> bytes:
    """Return rows of cells as a CSV file."""
    file = io.StringIO()
    csv.writer(file, **({"lineterminator": "\n"} | how)).writerows(rows)  # type: ignore[arg-type]
    return file.getvalue().encode()


def demo() -> Ground:
    """Return the demo."""
    paths = sorted([*DEMO.glob("*.csv"), *DEMO.glob("*/*.csv"), *DEMO.glob("*/*.yaml")])
    return Ground("demo", {p.relative_to(DEMO).as_posix(): p.read_bytes() for p in paths})


def small() -> Ground:
    """Return the small study of the tests, with one row or two of every table."""
    return Ground("small", {name: text.encode() for name, text in raw.FILES.items()})

"""Damage to rows, columns and headers: lost, doubled, sorted, renamed, moved."""

from __future__ import annotations

from pathlib import Path
from random import Random

from hilum.tables import TABLES
from tests.faults.damage import Damaged, acted, kind, with_file, with_rows
from tests.faults.ground import Ground

_FEWER = "a table with fewer observations is as plausible; nothing else lists what should be there"


@kind("A row lost", unseen=_FEWER, elsewhere=True)
def lost_row(ground: Ground, rng: Random) -> Damaged | None:
    file = ground.table(rng)
    rows = ground.copy(file)
    at = rng.randrange(1, len(rows))
    del rows[at]
    return with_rows(ground, file, rows, f"{file} without row {at + 1}")


@kind(
    "An inspection lost in which seeds of a finished dish germinated",
    must="refused",
    elsewhere=True,
)
def lost_germination(ground: Ground, rng: Random) -> Damaged | None:
    file = ground.table(rng, "counts")
    outcomes = ground.tables.get(file.replace("counts", "outcomes"), [])
    finished = {row[0] for row in outcomes[1:]}
    rows = ground.copy(file)
    place = rows[0].index("germinated")
    known = [
        i for i, r in enumerate(rows) if i and r[0] in finished and r[place] not in ("0", "72")
    ]
    at = rng.choice(known)
    del rows[at]
    return with_rows(ground, file, rows, f"{file} without row {at + 1}")


@kind("A row entered twice", must="refused")
def doubled_row(ground: Ground, rng: Random) -> Damaged:
    file = ground.table(rng)
    rows = ground.copy(file)
    at = rng.randrange(1, len(rows))
    rows.insert(rng.choice((at, len(rows))), list(rows[at]))
    return with_rows(ground, file, rows, f"{file}, row {at + 1} twice")


@kind("An inspection entered twice with different numbers", must="refused")
def doubled_differently(ground: Ground, rng: Random) -> Damaged:
    file = ground.table(rng, "counts")
    rows = ground.copy(file)
    at = rng.randrange(1, len(rows))
    again = list(rows[at])
    again[rows[0].index("germinated")] = str(rng.randrange(3))
    rows.insert(at + 1, again)
    return with_rows(ground, file, rows, f"{file}, row {at + 1} twice")


@kind("All rows pasted twice, with or without the header", must="refused")
def pasted_twice(ground: Ground, rng: Random) -> Damaged:
    file = ground.table(rng)
    rows = ground.copy(file)
    return with_rows(ground, file, rows + rows[rng.randrange(2) :], f"{file} twice")


@kind("The row of a lot, treatment or dish that is in use lost", must="refused", elsewhere=True)
def no_such_lot(ground: Ground, rng: Random) -> Damaged:
    used = [
        (name, row[place])
        for name, rows in ground.tables.items()
        for place, column in enumerate(rows[0])
        if column in ("lot", "treatment", "dish") and TABLES[Path(name).stem].column(column).refers
        for row in rows[1:]
        if row[place]
    ]
    file, gone = rng.choice(used)
    homes = [
        n for n, r in ground.tables.items() if Path(n).stem in ("lots", "treatments", "dishes")
    ]
    near = [n for n in homes if "/" not in n or Path(n).parent == Path(file).parent]
    home = next(n for n in near if any(row[0] == gone for row in ground.tables[n][1:]))
    rows = [row for i, row in enumerate(ground.copy(home)) if not i or row[0] != gone]
    return with_rows(ground, home, rows, f"{home} without {gone}")


@kind(
    "The names of two columns exchanged",
    unseen="two optional columns of one kind hold values that either of them may hold",
)
def swapped_columns(ground: Ground, rng: Random) -> Damaged:
    file = ground.table(rng)
    rows = ground.copy(file)
    a, b = rng.sample(range(len(rows[0])), 2)
    told = f"{file}, {rows[0][a]} and {rows[0][b]}"
    rows[0][a], rows[0][b] = rows[0][b], rows[0][a]
    return with_rows(ground, file, rows, told)


@kind("The columns in another order", must="harmless")
def moved_columns(ground: Ground, rng: Random) -> Damaged:
    file = ground.table(rng)
    order = list(range(len(ground.tables[file][0])))
    rng.shuffle(order)
    rows = [[row[i] for i in order] for row in ground.copy(file)]
    return with_rows(ground, file, rows, f"{file}, columns {order}")


@kind(
    "One column sorted without the others",
    unseen="values of a column that was sorted alone are those of other rows, each plausible there",
)
def sorted_alone(ground: Ground, rng: Random) -> Damaged:
    cell = ground.cell(rng)
    rows = ground.copy(cell.file)
    values = sorted(row[cell.place] for row in rows[1:])
    for row, value in zip(rows[1:], values, strict=True):
        row[cell.place] = value
    return with_rows(ground, cell.file, rows, f"{cell.file}, {cell.column.name} sorted")


@kind("All rows of a table in another order")
def shuffled(ground: Ground, rng: Random) -> Damaged:
    file = ground.table(rng)
    head, *rows = ground.copy(file)
    rng.shuffle(rows)
    return with_rows(ground, file, [head, *rows], f"{file} shuffled")


@kind("A column there twice", must="refused")
def header_twice(ground: Ground, rng: Random) -> Damaged:
    file = ground.table(rng)
    rows = ground.copy(file)
    place = rng.randrange(len(rows[0]))
    told = f"{file}, {rows[0][place]} twice"
    return with_rows(ground, file, [[*row, row[place]] for row in rows], told)


@kind("A column that nobody knows, or values below no name", must="refused")
def extra_column(ground: Ground, rng: Random) -> Damaged:
    file = ground.table(rng)
    head, *rows = ground.copy(file)
    name = rng.choice(("remarks", "", "counted by", "Germinated", "=A1", "x" * 5000, "‮d_1", "d_1x"))
    return with_rows(ground, file, [[*head, name], *([*r, "7"] for r in rows)], f"{file}, {name!r}")


@kind("A column under another name", must="refused")
def renamed_column(ground: Ground, rng: Random) -> Damaged:
    file = ground.table(rng)
    rows = ground.copy(file)
    place = rng.randrange(len(rows[0]))
    name = rows[0][place]
    rows[0][place] = rng.choice((name.upper(), f"{name}s", f"{name} (mg)", f"x{name}", f"{name}."))
    return with_rows(ground, file, rows, f"{file}, {name} as {rows[0][place]}")


@kind(
    "A column lost",
    unseen="the column is optional, and a table without it says that nothing was noted",
)
def lost_column(ground: Ground, rng: Random) -> Damaged:
    file = ground.table(rng)
    place = rng.randrange(len(ground.tables[file][0]))
    rows = [[c for i, c in enumerate(row) if i != place] for row in ground.copy(file)]
    return with_rows(ground, file, rows, f"{file} without {ground.tables[file][0][place]}")


@kind("A header lost, or pushed down by a title", must="refused")
def no_header(ground: Ground, rng: Random) -> Damaged:
    file = ground.table(rng)
    rows = ground.copy(file)
    title = [["Results of spring"] + [""] * (len(rows[0]) - 1)]
    return with_rows(ground, file, rng.choice((rows[1:], title + rows)), f"{file} without header")


@kind("Rows and columns exchanged", must="refused")
def transposed(ground: Ground, rng: Random) -> Damaged:
    file = ground.table(rng)
    rows = [list(row) for row in zip(*ground.copy(file), strict=True)]
    return with_rows(ground, file, rows, f"{file} transposed")


@kind("One table saved over another", must="refused")
def other_table(ground: Ground, rng: Random) -> Damaged:
    file = ground.table(rng)
    others = [n for n in ground.tables if Path(n).stem != Path(file).stem]
    other = rng.choice(others)
    return with_file(ground, file, ground.files[other], f"{other} saved as {file}")


@kind(
    "A table missing", unseen="the table is optional, and no analysis that was asked for needs it"
)
def lost_table(ground: Ground, rng: Random) -> Damaged:
    file = ground.table(rng)
    return acted(ground, file, lambda _: None, f"{file} missing")


@kind("A table missing that others refer to", must="refused")
def lost_needed_table(ground: Ground, rng: Random) -> Damaged:
    file = ground.table(rng, "lots", "treatments", "dishes")
    return acted(ground, file, lambda _: None, f"{file} missing")


@kind("A header without rows", unseen=_FEWER, elsewhere=True)
def without_rows(ground: Ground, rng: Random) -> Damaged:
    file = ground.table(rng)
    return with_rows(ground, file, ground.copy(file)[:1], f"{file} without rows")

"""Damage to one cell or a few: what fingers, spreadsheets and units do to numbers, names and dates."""

from __future__ import annotations

import re
from random import Random

from hilum.tables.column import Column
from tests.faults.damage import Damaged, kind, with_cell, with_rows
from tests.faults.ground import Ground

NUMBERS = ("number", "count")
_PLAIN_NUMBER = "the number is within the bounds of its column and contradicts no other table"


def _number(column: Column) -> bool:
    return column.kind in NUMBERS


def _name(column: Column) -> bool:
    return column.kind == "text" and not column.long


def _decimals(value: float) -> str:
    return f"{value:.10g}"


@kind("A letter typed in a number", must="refused")
def letters(ground: Ground, rng: Random) -> Damaged:
    cell = ground.cell(rng, _number)
    typed = ground.typed(cell)
    ways = (typed.replace("0", "O", 1), typed.replace("1", "l", 1), typed + "x", "o", "I" + typed)
    return with_cell(ground, cell, rng.choice([way for way in ways if way != typed]))


@kind("A word, a unit or a range in place of a number", must="refused")
def words(ground: Ground, rng: Random) -> Damaged:
    cell = ground.cell(rng, _number)
    typed = ground.typed(cell)
    ways = ("NA", "-", "n/a", "none", "?", f"{typed} mg", f"{typed}%", f"<{typed}", f"{typed}-9")
    ways += (f"ca. {typed}", f"{typed}±1", f"~{typed}", "#REF!", "#DIV/0!", "TRUE", f"{typed} 1")
    return with_cell(ground, cell, rng.choice(ways))


@kind("Infinity, nan, hexadecimal, foreign digits and underscores", must="refused")
def strange_numbers(ground: Ground, rng: Random) -> Damaged:
    cell = ground.cell(rng, _number)
    ways = ("inf", "-inf", "Infinity", "nan", "NaN", "1e999", "0x10", "１２", "٣", "1_000", "²")
    return with_cell(ground, cell, rng.choice((*ways, "1e", "--1", "1.2.3", "−1", "½", "1e5e5")))


@kind("A decimal comma, in a quoted cell", must="refused")
def comma(ground: Ground, rng: Random) -> Damaged:
    cell = ground.cell(rng, _number)
    typed = ground.typed(cell)
    return with_cell(ground, cell, typed.replace(".", ",") if "." in typed else f"{typed},5")


@kind("A decimal comma that is not quoted, so that the row is one cell longer", must="refused")
def bare_comma(ground: Ground, rng: Random) -> Damaged:
    cell = ground.cell(rng, _number)
    rows = ground.copy(cell.file)
    row = rows[cell.row + 1]
    row[cell.place : cell.place + 1] = [row[cell.place], "5"]
    return with_rows(ground, cell.file, rows, f"{cell.file}, row {cell.row + 2}")


@kind("Decimal commas down a whole column", must="refused")
def decimal_commas(ground: Ground, rng: Random) -> Damaged:
    cell = ground.cell(rng, lambda column: column.kind == "number")
    rows = ground.copy(cell.file)
    for row in rows[1:]:
        row[cell.place] = (
            f"{float(row[cell.place]):.1f}".replace(".", ",") if row[cell.place] else ""
        )
    return with_rows(ground, cell.file, rows, f"{cell.file}, {cell.column.name}")


@kind("A broken or a negative number of seeds", must="refused")
def broken_counts(ground: Ground, rng: Random) -> Damaged:
    cell = ground.cell(rng, lambda column: column.kind == "count")
    return with_cell(ground, cell, rng.choice(("1.5", "-1", "0.999", "1e-3", "-0.5", "1e9")))


@kind("A slip of ten or a thousand in any number", unseen=_PLAIN_NUMBER)
def slips(ground: Ground, rng: Random) -> Damaged | None:
    cell = ground.cell(rng, _number)
    value = float(ground.typed(cell)) * rng.choice((0.001, 0.1, 10, 1000))
    return with_cell(ground, cell, _decimals(value)) if value else None


@kind("A mass ten or a thousand times too small or too large", must="refused")
def shrinking_seeds(ground: Ground, rng: Random) -> Damaged | None:
    cell = ground.cell(rng, lambda column: column.name == "mass_mg")
    value = float(ground.typed(cell)) * rng.choice((0.001, 0.1, 10, 1000))
    return with_cell(ground, cell, _decimals(value))


@kind("The masses of one seed in grams, in a column of milligrams", must="refused")
def other_unit(ground: Ground, rng: Random) -> Damaged | None:
    cell = ground.cell(rng, lambda column: column.name == "mass_mg")
    rows = ground.copy(cell.file)
    seed = rows[cell.row + 1][0]
    for row in rows[1:]:
        if row[0] == seed and row[cell.place]:
            row[cell.place] = _decimals(float(row[cell.place]) / 1000)
    return with_rows(ground, cell.file, rows, f"{cell.file}, seed {seed} in grams")


@kind("A mass that falls by more than blotting explains", must="refused")
def falling_mass(ground: Ground, rng: Random) -> Damaged | None:
    cell = ground.cell(rng, lambda column: column.name == "mass_mg")
    rows = ground.tables[cell.file]
    if cell.row == 0 or rows[cell.row][0] != rows[cell.row + 1][0]:
        return None
    before = float(rows[cell.row][cell.place])
    return with_cell(ground, cell, _decimals(0.75 * before - 5))


@kind("More germinated than sown", must="refused")
def too_many(ground: Ground, rng: Random) -> Damaged:
    cell = ground.cell(rng, lambda column: column.name == "germinated")
    return with_cell(ground, cell, str(rng.choice((51, 99, 250, 1000))))


@kind("Two inspections of a dish whose times were exchanged", must="refused")
def out_of_order(ground: Ground, rng: Random) -> Damaged | None:
    file = ground.table(rng, "counts")
    rows = ground.copy(file)
    row = rng.randrange(1, len(rows) - 1)
    if rows[row][0] != rows[row + 1][0]:
        return None
    rows[row][1], rows[row + 1][1] = rows[row + 1][1], rows[row][1]
    return with_rows(ground, file, rows, f"{file}, rows {row + 1} and {row + 2}")


@kind("A lot, treatment or dish misspelt where it is used", must="refused")
def misspelt(ground: Ground, rng: Random) -> Damaged:
    cell = ground.cell(rng, lambda column: bool(column.refers))
    typed = ground.typed(cell)
    ways = [typed + "x", typed[:-1] + "?", "0" + typed, typed.swapcase(), typed.replace("-", "_")]
    ways.append(typed.replace("a", "а"))  # a Cyrillic letter that looks the same
    return with_cell(ground, cell, rng.choice([way for way in ways if way != typed]))


@kind("A word that is none of the words allowed", must="refused")
def no_choice(ground: Ground, rng: Random) -> Damaged:
    cell = ground.cell(rng, lambda column: column.kind in ("choice", "yes_no"))
    typed = ground.typed(cell)
    return with_cell(ground, cell, rng.choice([typed.upper(), typed[:-1], f"{typed}?", "1", "x"]))


@kind(
    "Another of the words allowed",
    unseen="another of the words allowed, and the seeds still add up",
)
def other_choice(ground: Ground, rng: Random) -> Damaged | None:
    cell = ground.cell(rng, lambda column: column.kind in ("choice", "yes_no"))
    words = cell.column.choices or ("yes", "no")
    others = [word for word in words if word != ground.typed(cell)]
    return with_cell(ground, cell, rng.choice(others)) if others else None


@kind("A date in one of three other styles", must="refused")
def date_styles(ground: Ground, rng: Random) -> Damaged:
    cell = ground.cell(rng, lambda column: column.kind in ("date", "moment"))
    year, month, day = re.split(r"[-T]", ground.typed(cell))[:3]
    clock = " 09:00" if cell.column.kind == "moment" else ""
    ways = (f"{day}.{month}.{year}", f"{int(month)}/{int(day)}/{year[2:]}", f"{day}/{month}/{year}")
    months = (f"{day} March {year}", f"{day}-Mar-{year}", "45292", f"{year}{month}{day}")
    return with_cell(ground, cell, rng.choice(ways + months) + clock)


@kind("A day or an hour that does not exist", must="refused")
def no_day(ground: Ground, rng: Random) -> Damaged:
    cell = ground.cell(rng, lambda column: column.kind in ("date", "moment"))
    clock = "T09:00:00Z" if cell.column.kind == "moment" else ""
    ways = ["2025-02-30", "2025-13-01", "0025-02-10", "2525-02-10", "2023-02-29", "2025-00-10"]
    hours = ["2025-02-10T25:00:00Z", "2025-02-10T09:61:00Z", "2025-02-10T09:00:00+99:00"]
    return with_cell(
        ground, cell, rng.choice([way + clock for way in ways] + (hours if clock else []))
    )


@kind(
    "A cell that was emptied",
    unseen="the column is optional, and an empty cell says that nothing was noted",
)
def emptied(ground: Ground, rng: Random) -> Damaged:
    return with_cell(ground, ground.cell(rng), rng.choice(("", "", "  ")))


@kind("A needed cell that was emptied", must="refused")
def emptied_needed(ground: Ground, rng: Random) -> Damaged:
    return with_cell(ground, ground.cell(rng, lambda column: column.required), "")


@kind("Merged cells: a name stands once, and the cells below it are empty", must="refused")
def merged(ground: Ground, rng: Random) -> Damaged | None:
    cell = ground.cell(rng, lambda column: column.required and _name(column))
    rows = ground.copy(cell.file)
    name, blanks = rows[cell.row + 1][cell.place], 0
    for row in rows[cell.row + 2 :]:
        if row[cell.place] != name:
            break
        row[cell.place], blanks = "", blanks + 1
    return with_rows(ground, cell.file, rows, f"{cell.file}, {name}") if blanks else None


@kind("Two neighbouring cells of a row exchanged", unseen=_PLAIN_NUMBER)
def exchanged(ground: Ground, rng: Random) -> Damaged | None:
    cell = ground.cell(rng)
    rows = ground.copy(cell.file)
    row = rows[cell.row + 1]
    other = (cell.place + 1) % len(row)
    row[cell.place], row[other] = row[other], row[cell.place]
    return with_rows(ground, cell.file, rows, f"{cell.file}, row {cell.row + 2}")


@kind("A cell deleted, so that the needed cells below it moved up", must="refused")
def moved_up(ground: Ground, rng: Random) -> Damaged | None:
    cell = ground.cell(rng, lambda column: column.required)
    rows = ground.copy(cell.file)
    below = [row[cell.place] for row in rows[cell.row + 2 :]] + [""]
    for row, value in zip(rows[cell.row + 1 :], below, strict=True):
        row[cell.place] = value
    return with_rows(ground, cell.file, rows, f"{cell.file}, {cell.column.name}")


@kind("A name that a spreadsheet counted on while it was dragged down: d1, d2, d3", must="refused")
def filled_down(ground: Ground, rng: Random) -> Damaged | None:
    cell = ground.cell(rng, lambda column: bool(column.refers))
    rows = ground.copy(cell.file)
    for i, row in enumerate(rows[cell.row + 2 : cell.row + 5]):
        row[cell.place] = f"{rows[cell.row + 1][cell.place]}{i + 90}"
    ended = cell.row + 2 >= len(rows)
    return None if ended else with_rows(ground, cell.file, rows, f"{cell.file}, {cell.column.name}")

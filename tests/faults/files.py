"""Damage to whole files: encodings, line ends, torn ends, links, folders, and other things in their place."""

from __future__ import annotations

import os
from pathlib import Path
from random import Random

from tests.faults.damage import Damaged, acted, kind, with_file, with_rows
from tests.faults.ground import Ground, read, written


def _any(ground: Ground, rng: Random) -> str:
    return rng.choice(sorted(ground.files))


def _text(ground: Ground, file: str) -> str:
    return ground.files[file].decode()


@kind("Line ends of other systems: CR LF, or CR alone", must="harmless")
def line_ends(ground: Ground, rng: Random) -> Damaged:
    file = ground.table(rng)
    end = rng.choice(("\r\n", "\r"))
    return with_file(
        ground, file, _text(ground, file).replace("\n", end).encode(), f"{file} {end!r}"
    )


@kind("A byte-order mark", must="harmless")
def mark(ground: Ground, rng: Random) -> Damaged:
    file = _any(ground, rng)
    return with_file(ground, file, b"\xef\xbb\xbf" + ground.files[file], file)


@kind(
    "Every cell quoted, spaces around cells, empty lines, empty columns, no last line break",
    must="harmless",
)
def other_writing(ground: Ground, rng: Random) -> Damaged:
    file = ground.table(rng)
    rows, way = ground.copy(file), rng.randrange(5)
    if way == 0:
        return with_file(ground, file, written(rows, quoting=1), f"{file} quoted")  # type: ignore[arg-type]
    if way == 1:
        spaced = [rows[0], *([f" {c}  " if c else c for c in row] for row in rows[1:])]
        return with_rows(ground, file, spaced, f"{file} spaced")
    if way == 2:
        rows.insert(rng.randrange(1, len(rows) + 1), [""] * len(rows[0]))
        return with_rows(ground, file, rows, f"{file} with an empty line")
    if way == 3:
        return with_rows(ground, file, [[*row, ""] for row in rows], f"{file}, empty column")
    return with_file(ground, file, written(rows)[:-1], f"{file} without a last line break")


@kind("Latin-1 with a letter beyond ASCII", must="refused")
def latin(ground: Ground, rng: Random) -> Damaged:
    file = _any(ground, rng)
    text = _text(ground, file)
    at = rng.randrange(len(text))
    return with_file(ground, file, (text[:at] + "é" + text[at:]).encode("latin-1", "replace"), file)


@kind("UTF-16 or UTF-32, with a mark or without", must="refused")
def utf16(ground: Ground, rng: Random) -> Damaged:
    file = _any(ground, rng)
    coding = rng.choice(("utf-16", "utf-16-le", "utf-16-be", "utf-32", "utf-32-le"))
    return with_file(ground, file, _text(ground, file).encode(coding), f"{file} in {coding}")


@kind("Semicolons, tabs or bars between columns, with points or commas in numbers", must="refused")
def other_separator(ground: Ground, rng: Random) -> Damaged:
    file = ground.table(rng)
    mark = rng.choice((";", "\t", "|"))
    rows = ground.copy(file)
    if rng.random() < 0.5:
        rows = [rows[0], *([c.replace(".", ",") for c in row] for row in rows[1:])]
    return with_file(ground, file, written(rows, delimiter=mark), f"{file} with {mark!r}")


@kind(
    "A file cut off",
    unseen="cut at the end of a row: a shorter table is as plausible, and no other table lists its rows",
)
def cut(ground: Ground, rng: Random) -> Damaged:
    file = _any(ground, rng)
    at = rng.randrange(len(ground.files[file]))
    return with_file(ground, file, ground.files[file][:at], f"{file} cut at byte {at}")


@kind("An empty file, or one of line breaks and spaces", must="refused")
def nothing(ground: Ground, rng: Random) -> Damaged:
    file = _any(ground, rng)
    return with_file(
        ground, file, rng.choice((b"", b"\n", b"\n\n\n", b"   ", b"\xef\xbb\xbf", b"\r"))
    )


@kind("A NUL byte", must="refused")
def nul(ground: Ground, rng: Random) -> Damaged:
    file = _any(ground, rng)
    data, at = ground.files[file], rng.randrange(len(ground.files[file]))
    return with_file(ground, file, data[:at] + b"\0" * rng.choice((1, 400)) + data[at:], file)


@kind(
    "A few bytes of noise, written over what was there",
    unseen="a letter within a note or a name, which may hold any letter",
)
def noise(ground: Ground, rng: Random) -> Damaged:
    file = _any(ground, rng)
    data, at = ground.files[file], rng.randrange(len(ground.files[file]))
    junk = bytes(rng.randrange(256) for _ in range(rng.randrange(1, 9)))
    return with_file(ground, file, data[:at] + junk + data[at + len(junk) :], f"{file}, byte {at}")


@kind(
    "One letter or digit mistyped anywhere in a file",
    unseen="one other digit or letter is another plausible value",
)
def flipped(ground: Ground, rng: Random) -> Damaged:
    file = _any(ground, rng)
    text = _text(ground, file)
    at = rng.randrange(len(text))
    letter = rng.choice("0123456789abcxyz.,;:-\"' \n#{}[]&*!|>%@`")
    return with_file(ground, file, (text[:at] + letter + text[at + 1 :]).encode(), f"{file}, {at}")


@kind("A spreadsheet, a page, a picture or a program in place of a file", must="refused")
def spreadsheet(ground: Ground, rng: Random) -> Damaged:
    file = _any(ground, rng)
    heads = (
        b"PK\x03\x04\x14\0",
        b"<!DOCTYPE html><html>",
        b"\x89PNG\r\n\x1a\n",
        b"\x7fELF\x02\x01",
    )
    others = (b"\x1f\x8b\x08", b"%PDF-1.7\n", b'{"a": 1}', b"\xd0\xcf\x11\xe0")
    return with_file(ground, file, rng.choice(heads + others) + b"<p>1,2</p>" * 9)


@kind("A quotation mark that is never closed, or stands inside a cell", must="refused")
def open_quote(ground: Ground, rng: Random) -> Damaged:
    cell = ground.cell(rng)
    lines = ground.files[cell.file].decode().split("\n")
    cells = lines[cell.row + 1].split(",")
    at = rng.randrange(len(cells))
    cells[at] = rng.choice((f'"{cells[at]}', f'"{cells[at]}"x', f'"{cells[at]}""'))
    lines[cell.row + 1] = ",".join(cells)
    return with_file(ground, cell.file, "\n".join(lines).encode(), f"{cell.file}, {cell.row + 2}")


@kind("A cell of a million letters or digits", must="refused")
def long_cell(ground: Ground, rng: Random) -> Damaged:
    cell = ground.cell(rng)
    rows = read(ground.files[cell.file])
    rows[cell.row + 1][cell.place] = rng.choice("x9 é=")[:1].join(["1"] * 500_000)
    return with_rows(ground, cell.file, rows, f"{cell.file}, {cell.column.name}")


@kind("A row of a hundred thousand cells, or a header of twenty thousand", must="refused")
def long_line(ground: Ground, rng: Random) -> Damaged:
    file = ground.table(rng)
    rows = ground.copy(file)
    if rng.random() < 0.5:
        rows[rng.randrange(1, len(rows))] += ["1"] * 100_000
    else:
        rows[0] += [f"c{i}" for i in range(20_000)]
    return with_rows(ground, file, rows, file)


@kind("A folder in place of a file", must="refused")
def folder_for_file(ground: Ground, rng: Random) -> Damaged:
    file = _any(ground, rng)
    return acted(ground, file, lambda raw: (raw / file).mkdir(), f"{file} is a folder")


@kind("A link out of the study, to a file, a folder, a device, or to nowhere", must="refused")
def link_out(ground: Ground, rng: Random) -> Damaged:
    file = _any(ground, rng)
    target = rng.choice(("/etc/passwd", "/dev/zero", "/proc/self/mem", "../../..", "nowhere", "/"))
    itself = Path(file).name
    where = rng.choice((target, itself))
    return acted(ground, file, lambda raw: (raw / file).symlink_to(where), f"{file} → {where}")


@kind("A pipe in place of a file, which would be read for ever", must="refused")
def pipe(ground: Ground, rng: Random) -> Damaged:
    file = _any(ground, rng)
    return acted(ground, file, lambda raw: os.mkfifo(raw / file), f"{file} is a pipe")


@kind("A table in the wrong folder, or under a name that is nearly right", must="refused")
def wrong_place(ground: Ground, rng: Random) -> Damaged:
    file = ground.table(rng, "counts", "dishes", "weighings", "lots", "treatments")
    name = Path(file).name
    inner = next(n for n in ground.files if "/" in n).split("/")[0]
    elsewhere = name if "/" in file else f"{inner}/{name}"
    near = (name.replace(".csv", ".CSV"), name.replace("s.csv", ".csv"), name.title())
    new = rng.choice((elsewhere, *(str(Path(file).with_name(n)) for n in near)))
    files = {(new if n == file else n): data for n, data in ground.files.items()}
    return Damaged(files, f"{file} as {new}")

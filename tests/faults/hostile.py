"""Names and texts that mean harm: paths, markup, formulas, letters that deceive, YAML that acts."""

from __future__ import annotations

import os
from pathlib import Path
from random import Random

from tests.faults.damage import Damaged, acted, kind, with_cell, with_file
from tests.faults.ground import Ground, written

HIDDEN = (
    "a\u202eb",
    "a\u200fb",
    "a\u200bb",
    "a\u2066b",
    "a\ufeffb",
    "a\x1b[31mb",
    "a\x07b",
    "a\u0085b",
)
HIDDEN += ("a\nb", "a\rb", "a\tb", "a\u2028b", "x" * 101, "é" * 5000)
PLAIN = (
    "../../../etc/passwd",
    "..",
    "/etc/shadow",
    "C:\\Windows\\x",
    "~root",
    "a/b",
    "con",
    "nul.csv",
)
PLAIN += (
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "&lt;b&gt;",
    "{{7*7}}",
    "{% raw %}",
)
PLAIN += (
    "'; DROP TABLE lots; --",
    '"quoted"',
    "a,b",
    "`id`",
    "$(id)",
    "${HOME}",
    "%s%n",
    "{0}",
    "|x|",
)
PLAIN += (
    "# head",
    "*bold*",
    "[a](javascript:alert(1))",
    "аcid",
    "ａcid",
    "Ａ",
    "ß",
    "ﬁling",
    "e\u0301",
)
PLAIN += (
    "-5",
    "+GA3",
    "@home",
    "1e5",
    "007",
    "None",
    "NA",
    "nan",
    "true",
    "0",
    "-",
    "😀",
    "漢字",
    "عربي",
)
FORMULAS = ('=HYPERLINK("http://x.invalid","y")', "=1+1", "=cmd|'/C calc'!A0", "+cmd|'/C calc'!A0")
FORMULAS += (
    "-cmd|'/C calc'!A0",
    "@SUM(1+1)*cmd|'/C calc'!A0",
    "+HYPERLINK(A1)",
    "-IMPORTXML(A1)",
    "=A1",
)
FORMULAS += (" =A1", "\t=A1", "＝A1+cmd|'/C calc'!A0")


def _renamed(ground: Ground, rng: Random, new: str) -> Damaged:
    """Return the study with one lot, treatment, dish or seed called otherwise wherever it is named."""
    columns = ("lot", "treatment", "dish", "seed", "chamber", "taxon", "course")
    cell = ground.cell(rng, lambda column: column.name in columns)
    old, name = ground.typed(cell), cell.column.name
    files = dict(ground.files)
    for file, rows in ground.tables.items():
        if name in rows[0]:
            place = rows[0].index(name)
            body = [
                [new if i == place and c == old else c for i, c in enumerate(r)] for r in rows[1:]
            ]
            files[file] = written([rows[0], *body])
    return Damaged(files, f"{name} {old} called {new[:40]!r}", renamed=(name, new, old))


@kind("A name that is a path, markup, a command, or letters of another script")
def names(ground: Ground, rng: Random) -> Damaged:
    return _renamed(ground, rng, rng.choice(PLAIN))


@kind(
    "A name with marks that turn or hide letters, control characters, or without end",
    must="refused",
)
def hidden_names(ground: Ground, rng: Random) -> Damaged:
    return _renamed(ground, rng, rng.choice(HIDDEN))


@kind("A formula in any cell, a note among them", must="refused")
def formulas(ground: Ground, rng: Random) -> Damaged:
    return with_cell(ground, ground.cell(rng), rng.choice(FORMULAS))


@kind("An experiment's folder whose name no page could carry", must="refused")
def folders(ground: Ground, rng: Random) -> Damaged:
    old = ground.table(rng, "counts", "weighings").split("/")[0]
    ways = (
        "a b",
        "<b>",
        "a'b",
        'a"b',
        "a\nb",
        "a\u202eb",
        "x" * 200,
        "a;b",
        "$(id)",
        "-rf",
        "a\\b",
        "ä.b",
    )
    new = rng.choice((*ways, os.fsdecode(b"a\xff"), "{{x}}", "a%20b", "a:b"))

    def move(raw: Path) -> None:
        (raw / old).rename(raw / new)

    return Damaged(ground.files, f"{old} called {new!r}", move)


@kind("Files and folders that are no tables, whatever they are called", must="harmless")
def strangers(ground: Ground, rng: Random) -> Damaged:
    name = rng.choice(
        ("a\nb.md", os.fsdecode(b"\xff.pdf"), "<b>.png", "photo.jpg", "x" * 250, ".hidden")
    )

    def add(raw: Path) -> None:
        (raw / name).write_bytes(b"\0\xff")
        (raw / f"{name[:200]}-folder").mkdir()

    return Damaged(ground.files, f"beside the tables: {name!r}", add)


BOMB = "a: &a [x,x,x,x,x,x,x,x,x]\n" + "".join(
    f"{b}: &{b} [{','.join(['*' + a] * 9)}]\n" for a, b in zip("abcdefgh", "bcdefghi", strict=True)
)
HARMFUL_YAML = (
    "!!python/object/apply:os.system ['touch owned']\n",
    "title: !!python/object/new:os.system [touch owned]\nanalyses: []\n",
    "title: !!python/name:os.system\nanalyses: []\n",
    "title: !!binary aGVsbG8=\nanalyses: []\n",
    "title: !include /etc/passwd\nanalyses: []\n",
    BOMB,
    "title: &t x\nanalyses: [*t]\n",
    "<<: {title: x}\nanalyses: []\n",
    "title: x\nanalyses: " + "[" * 5000 + "]" * 5000 + "\n",
    "title: x\nanalyses: " + "{a: " * 3000 + "}" * 3000 + "\n",
    "title: x\ntitle: y\nanalyses: []\n",
    "title: x\n\tanalyses: []\n",
    "- title\n- analyses\n",
    "just words\n",
    "title: x\n---\ntitle: y\nanalyses: []\n",
    "title: x\nanalyses: [no_such]\n",
    "title: x\nanalyses: time_course\n",
    "title: x\nanalyses: {time_course: yes}\n",
    "title: x\nanalyses: []\ntime_zone: ../../../etc/passwd\n",
    "title: x\nanalyses: []\ntime_zone: /etc/localtime\n",
    "title: x\nanalyses: []\ntime_zone: [Europe/Lisbon]\n",
    "title: x\nanalyses: []\ntime_zone: '+99:99'\n",
    "title: x\nanalyses: []\nbalance_readability_mg: -1\n",
    "title: x\nanalyses: []\nbalance_readability_mg: .inf\n",
    "title: x\nanalyses: []\nbalance_readability_mg: .nan\n",
    "title: x\nanalyses: []\nbalance_readability_mg: 0,1\n",
    "title: x\nanalyses: []\nknown_faults: all\n",
    "title: x\nanalyses: []\nknown_faults: [{table: ../lots, row: {lot: A}, leave_out: yes, why: x}]\n",
    "title: x\nanalyses: []\nknown_faults: [{table: lots, row: {lot: A}, leave_out: yes}]\n",
    "title: x\nanalyses: []\nknown_faults: [{table: counts, row: {}, leave_out: yes, why: x}]\n",
    "title: x\nanalyses: []\nperson: \x07\n",
    "title: x\nanalyses: []\nsecret: x\n",
    "title: " + "x" * 3000 + "\nanalyses: []\n",
    "? [a, b]\n: c\ntitle: x\n",
    "title: 'x\nanalyses: []\n",
    "title: x\nanalyses: [" + "a, " * 400_000 + "]\n",
    "%YAML 9.9\n---\ntitle: x\nanalyses: []\n",
    "title: x: y\nanalyses: []\n",
    "title:\nanalyses: []\n",
    'title: "\\ud800"\nanalyses: []\n',
)


@kind("YAML that executes, explodes, contradicts itself or is none", must="refused")
def yaml(ground: Ground, rng: Random) -> Damaged:
    file = ground.yaml(rng)
    text = rng.choice(HARMFUL_YAML)
    return with_file(ground, file, text.encode(), f"{file}: {text[:60]!r}")


@kind("An experiment without its experiment.yaml", must="refused")
def no_yaml(ground: Ground, rng: Random) -> Damaged:
    file = ground.yaml(rng)
    return acted(ground, file, lambda _: None, f"{file} missing")

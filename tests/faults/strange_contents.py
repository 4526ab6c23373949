"""Crates whose files are made to harm, and honest ones that were changed and sealed again."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from pathlib import Path
from random import Random

from hilum import manifest
from hilum.crate import layout
from tests import crated
from tests.faults.strange_yaml import YAML
from tests.faults.strangers import kind

_DEEP = "[" * 100_000
_CLEAR = "\x1b[2J\x1b[HIdentical: every estimate is the same, byte for byte."
_TABLES = ("estimates/germ/time_course.csv", "estimates/diagnosis.csv", "checked/germ/counts.csv")


def _sealed(crate: Path, name: str, data: bytes) -> Path:
    (crate / name).write_bytes(data)
    crated.seal(crate)
    return crate


def _run(change: Callable[[dict[str, object]], object]) -> Callable[[Path, Random], Path]:
    def make(crate: Path, _: Random) -> Path:
        path = crate / layout.RUN
        record = json.loads(path.read_text(encoding="utf-8"))
        text = change(record)
        return _sealed(crate, layout.RUN, (text or json.dumps(record)).encode())  # type: ignore[attr-defined]

    return make


def _set(**changes: object) -> Callable[[Path, Random], Path]:
    return _run(lambda record: record.update(changes))


def _typed(old: str, new: str) -> Callable[[Path, Random], Path]:
    return _run(lambda record: json.dumps(record).replace(old, new, 1))


kind("run.json without end", says="brackets without end")(_run(lambda _: _DEEP))
kind("run.json without end, by key", says="brackets without end")(_run(lambda _: '{"a":' * 100_000))
kind("run.json with a number that is none", says="NaN is no number")(
    _typed('"format": 1', '"format": NaN')
)
kind("run.json with an endless number", says="1e999999 is no number")(
    _typed('"format": 1', '"format": 1e999999')
)
kind("run.json with a number of 100,000 digits")(
    _typed('"format": 1', f'"format": {"9" * 100_000}')
)
kind("run.json with a key twice", says="the key format is there twice")(
    _typed('"format": 1', '"format": 1, "format": 1')
)
kind("run.json that is no mapping", says="does not say which format")(_run(lambda _: "[1, 2]"))
kind("run.json that is a word", says="does not say which format")(_run(lambda _: '"format"'))
kind("run.json that is no text")(
    lambda crate, rng: _sealed(crate, layout.RUN, b"\xff" + rng.randbytes(99))
)
kind("run.json of many megabytes")(_run(lambda _: f'{{"a": [{"1," * 3_000_000}1]}}'))
for number, name in enumerate(("..", ".", "", "strand\x1b[2J", "a\u202eb", "a\x00b", "x" * 5000)):
    kind(f"a study whose name leads out or steers, {number}", says="does not hold under study")(
        _set(study=name)
    )
for number, name in enumerate(("../strand", "/etc", "data/strand", "C:\\x", "a\\b")):
    kind(f"a study whose name is a path, {number}", says="has no raw tables in")(_set(study=name))
for key, value in {
    "packages": ["numpy"],
    "settings": "all",
    "changed": {"a": 1},
    "hilum": {"a": [1]},
    "commit": _CLEAR,
    "python": 3.11,
    "ends": None,
}.items():
    kind(f"run.json with another kind of value under {key}", says=f"not hold under {key}")(
        _set(**{key: value})
    )
kind("run.json with packages that steer a terminal", says="not hold under packages")(
    _set(packages={"numpy": _CLEAR, _CLEAR: "1"})
)
for number, text in enumerate(
    ("", "\n\n", "x" * 64 + "  run.json\n", "\x00" * 99, f"{_CLEAR}\n", "0" * 64 + "\n")
):
    kind(f"SHA256SUMS that hold no hash, {number}", says="holds no hash")(
        lambda crate, _, text=text: _only_sums(crate, text)  # type: ignore[misc]
    )


def _only_sums(crate: Path, text: str) -> Path:
    (crate / layout.SUMS).write_text(text, encoding="utf-8")
    return crate


@kind("SHA256SUMS with a file twice", says="again")
def twice(crate: Path, rng: Random) -> Path:
    lines = (crate / layout.SUMS).read_text(encoding="utf-8").splitlines(keepends=True)
    return _only_sums(crate, "".join([*lines, rng.choice(lines)]))


@kind("SHA256SUMS that name files outside, and steer a terminal", forged=True)
def outside(crate: Path, rng: Random) -> Path:
    names = ("../../etc/passwd", "/etc/passwd", _CLEAR.replace("\n", ""), "a\u202eb")
    text = (crate / layout.SUMS).read_text(encoding="utf-8")
    return _only_sums(crate, text + f"{'0' * 64}  {rng.choice(names)}\n")


# YAML in a crate


for name, (text, says) in YAML.items():
    kind(f"config.yaml of a crate: {name}", says=says)(
        lambda crate, _, text=text: _sealed(crate, layout.CONFIG, text)  # type: ignore[misc]
    )
    kind(f"experiment.yaml of a crate: {name}", says="experiment.yaml")(
        lambda crate, _, text=text: _sealed(crate, "data/strand/germ/experiment.yaml", text)  # type: ignore[misc]
    )


# tables and what charts draw


@kind("a table of a hundred thousand columns", forged=True)
def wide(crate: Path, rng: Random) -> Path:
    path = crate / rng.choice(_TABLES[:2])
    rows = path.read_text(encoding="utf-8").splitlines()
    more = [",".join(f"c{i}" if n == 0 else "1" for i in range(100_000)) for n in range(2)]
    rows[:2] = [f"{row},{extra}" for row, extra in zip(rows, more, strict=False)]
    return _sealed(crate, path.relative_to(crate).as_posix(), "\n".join(rows).encode())


@kind("a table that is none")
def no_table(crate: Path, rng: Random) -> Path:
    contents = (b"\xff\xfe\x00", b'a,b\n"', b"a,a\n1,2\n", b"a,b\n1\n", b"a\n" + b"x" * 200_000)
    return _sealed(crate, rng.choice(_TABLES), rng.choice(contents) + b"\n")


@kind("a checked table with a word for the number of a line")
def line_word(crate: Path, rng: Random) -> Path:
    path = crate / _TABLES[2]
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    rows[-1][rows[0].index("line")] = rng.choice(("x", "", "1e9", "9" * 5000))
    text = "\n".join(map(",".join, rows))
    return _sealed(crate, _TABLES[2], text.encode())


@kind("JSON of estimates or checked tables that is none")
def json_odd(crate: Path, rng: Random) -> Path:
    name = rng.choice(("estimates/germ/time_course.json", "checked/germ/experiment.json"))
    texts = (_DEEP, "{", '{"a": NaN}', '{"a": 1, "a": 2}', '{"a": 1e99999}', "", "9" * 5000)
    return _sealed(crate, name, rng.choice(texts).encode())


@kind("code of a crate that is no text, or endless", forged=True)
def code(crate: Path, rng: Random) -> Path:
    path = rng.choice(sorted((crate / layout.CODE / "workflow" / "hilum" / "stats").rglob("*.py")))
    texts = (b"\xff" * 99, b"\n" * 1_000_000, b"x\n" * 100_000, _CLEAR.encode())
    return _sealed(crate, path.relative_to(crate).as_posix(), rng.choice(texts))


@kind("a raw table that steers a terminal")
def raw_signals(crate: Path, _: Random) -> Path:
    path = crate / "data/strand/lots.csv"
    text = path.read_text(encoding="utf-8").replace("second bag", _CLEAR)
    return _sealed(crate, "data/strand/lots.csv", text.encode())


# forged: honest crates, changed and sealed


def _numbers(path: Path) -> list[tuple[int, str]]:
    """Return line and text of each number that an estimate has."""
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return [
        (line, row[name])
        for line, row in enumerate(rows, start=1)
        for name in ("value", "low", "high")
        if len(row.get(name) or "") > 3
    ]


@kind("an estimate changed, and sealed", forged=True, says="Moved")
def estimate(crate: Path, rng: Random) -> Path:
    path = crate / _TABLES[0]
    line, number = rng.choice(_numbers(path))
    rows = path.read_text(encoding="utf-8").split("\n")
    rows[line] = rows[line].replace(number, f"{float(number) * rng.uniform(1.01, 3):.6g}")
    return _sealed(crate, _TABLES[0], "\n".join(rows).encode())


@kind("a row of estimates taken out, and sealed", forged=True, says="Moved")
def row(crate: Path, rng: Random) -> Path:
    rows = (crate / _TABLES[0]).read_text(encoding="utf-8").splitlines(keepends=True)
    rows.pop(rng.randrange(1, len(rows)))
    return _sealed(crate, _TABLES[0], "".join(rows).encode())


@kind("a raw count changed, and sealed", forged=True)
def count(crate: Path, rng: Random) -> Path:
    path = crate / "data/strand/germ/counts.csv"
    old = rng.choice(("d2,24,10", "d2,48,5", "d1,48,3"))
    new = old[: old.rindex(",") + 1] + str(rng.randint(11, 19))
    crated.edit(path, old, new)
    return _sealed(crate, "data/strand/germ/counts.csv", path.read_bytes())


@kind("another confidence in config.yaml, and sealed", forged=True, says="Moved")
def confidence(crate: Path, rng: Random) -> Path:
    crated.edit(crate / layout.CONFIG, "confidence: 0.95", f"confidence: {rng.uniform(0.6, 0.9)}")
    crated.seal(crate)
    return crate


def _places(data: bytes) -> list[int]:
    """Return where letters and digits stand in a content."""
    return [i for i, byte in enumerate(data) if chr(byte).isascii() and chr(byte).isalnum()]


def _forged(folder: str) -> Callable[[Path, Random], Path]:
    def make(crate: Path, rng: Random) -> Path:
        """Change one letter or digit of a file for another; an empty list has none."""
        files = [p for p in sorted(manifest.files(crate / folder)) if p.name != layout.SUMS]
        path = rng.choice([p for p in files if _places(p.read_bytes())])
        data = bytearray(path.read_bytes())
        place = rng.choice(_places(data))
        digits = b"0123456789" if chr(data[place]).isdigit() else b"abcdefghijklmnop"
        data[place] = rng.choice([d for d in digits if d != data[place]])
        return _sealed(crate, path.relative_to(crate).as_posix(), bytes(data))

    return make


for folder in ("report", "data", "checked", "estimates", "code", ""):
    kind(f"one letter of a file in {folder or 'any place'} changed, and sealed", forged=True)(
        _forged(folder)
    )


@kind("a page changed, and sealed", forged=True)
def page(crate: Path, rng: Random) -> Path:
    name = rng.choice(("report/index.html", layout.README, layout.METHODS, layout.CITATION))
    return _sealed(crate, name, b"What the seeds never did.\n")

"""Mistakes that people make and the check accepts: each a function of a sound notebook, and what of them is remarked.

`python -m tests.faults --mistakes 200` makes each so often, and counts remarks on as many sound notebooks.
"""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import cache, partial
from pathlib import Path

import numpy as np

from hilum import progress
from tests.faults.notebooks import Notebook, Rng, Row, draw, remarks

HEADING = "## Mistakes that are remarked"
Slip = Callable[[Notebook, Rng], bool]
KINDS: dict[str, Slip] = {}


def mistake(name: str) -> Callable[[Slip], Slip]:
    """Return a decorator that registers a mistake: it changes a notebook, or returns False where there is no place for it."""

    def register(slip: Slip) -> Slip:
        KINDS[name] = slip
        return slip

    return register


def _pick(items: list[str], rng: Rng) -> str:
    return items[int(rng.integers(len(items)))]


def _rows(book: Notebook, table: str, rng: Rng) -> list[Row]:
    files = sorted(book.files(table))
    return book.tables[_pick(files, rng)] if files else []


# masses


def _scaled(rows: list[Row], factor: float) -> bool:
    for row in rows:
        for column in ("mass_mg", "mass_g"):
            if row.get(column):
                row[column] = f"{float(row[column]) * factor:.10g}"
    return bool(rows)


def _known(book: Notebook) -> bool:
    """Return whether a study says anywhere what its seeds weigh, or what the balance shows."""
    weighed = book.files("weighings")
    lots = {row["lot"] for file in weighed for row in book.tables[file]}
    given = {r["lot"] for r in book.tables["lots.csv"] if r.get("thousand_seed_mass_g")}
    shown = all("balance_readability_mg" in book.about[file.split("/")[0]] for file in weighed)
    return bool(lots & given) or len(weighed) > 1 or (shown and bool(weighed))


@mistake(
    "Masses of an experiment ten times too large, where the study knows the seeds or the balance"
)
def tenfold(book: Notebook, rng: Rng) -> bool:
    return _known(book) and _scaled(_rows(book, "weighings", rng), 10)


@mistake("The same, where nothing tells")
def tenfold_unknown(book: Notebook, rng: Rng) -> bool:
    return not _known(book) and _scaled(_rows(book, "weighings", rng), 10)


@mistake("Masses a thousand times too large, of seeds of 1 mg and more")
def thousandfold(book: Notebook, rng: Rng) -> bool:
    return book.seed_mg >= 1 and _scaled(_rows(book, "weighings", rng), 1000)


@mistake("Grams typed as milligrams, of seeds up to 5 g")
def grams(book: Notebook, rng: Rng) -> bool:
    rows = _rows(book, "weighings", rng)
    if not rows or book.seed_mg > 5000 or "mass_g" in rows[0]:
        return False
    return _scaled(rows, 1 / 1000)


@mistake("Groups weighed together, entered as single seeds, where lots.csv has their mass")
def groups_as_one(book: Notebook, rng: Rng) -> bool:
    rows = _rows(book, "weighings", rng)
    given = {r["lot"] for r in book.tables["lots.csv"] if r.get("thousand_seed_mass_g")}
    if not rows or rows[0]["seeds"] == 1 or not given & {r["lot"] for r in rows}:
        return False
    for row in rows:
        row["seeds"] = 1
    return True


# times


def _in_hours(book: Notebook, table: str, column: str, rng: Rng) -> list[Row]:
    files = [f for f in sorted(book.files(table)) if column in book.tables[f][0]]
    return book.tables[_pick(files, rng)] if files else []


def _sprouted(rows: list[Row]) -> bool:
    return sum(int(row["germinated"]) for row in rows) >= 5


@mistake("Days of inspections typed as hours")
def days_as_hours(book: Notebook, rng: Rng) -> bool:
    rows = _in_hours(book, "counts", "elapsed_h", rng)
    if not rows or not _sprouted(rows) or max(float(r["elapsed_h"]) for r in rows) < 120:
        return False
    for row in rows:
        row["elapsed_h"] = f"{round(float(row['elapsed_h']) / 24, 2):.10g}"
    return len({r["elapsed_h"] for r in rows}) >= 5


@mistake("Minutes of inspections typed as hours")
def minutes_as_hours(book: Notebook, rng: Rng) -> bool:
    rows = _in_hours(book, "counts", "elapsed_h", rng)
    last = max((float(r["elapsed_h"]) for r in rows), default=0)
    if not rows or not 90 < last <= 3000:
        return False
    for row in rows:
        row["elapsed_h"] = f"{float(row['elapsed_h']) * 60 + rng.integers(-15, 16):.0f}"
    return len({round(float(r["elapsed_h"]) / 60 / 24) for r in rows}) >= 3


@mistake("Hours of inspections typed as days, of dishes looked at once a day")
def hours_as_days(book: Notebook, rng: Rng) -> bool:
    return _as_days(_in_hours(book, "counts", "elapsed_d", rng), daily=True)


@mistake("The same, of dishes looked at several times a day")
def clock_as_days(book: Notebook, rng: Rng) -> bool:
    return _as_days(_in_hours(book, "counts", "elapsed_d", rng), daily=False)


def _as_days(rows: list[Row], *, daily: bool) -> bool:
    if not rows or max(float(r["elapsed_d"]) for r in rows) > 300:
        return False
    if daily != all(float(r["elapsed_d"]) % 1 == 0 for r in rows):
        return False
    for row in rows:
        row["elapsed_d"] = f"{round(float(row['elapsed_d']) * 24, 1):.10g}"
    return len({r["elapsed_d"] for r in rows}) >= 3


@mistake("Days of weighings typed as hours")
def soaked_days(book: Notebook, rng: Rng) -> bool:
    rows = _rows(book, "weighings", rng)
    for row in rows:
        row["soaked_h"] = f"{round(row['soaked_h'] / 24, 3):.10g}"
    return bool(rows)


@mistake("Minutes of weighings typed as hours")
def soaked_minutes(book: Notebook, rng: Rng) -> bool:
    rows = _rows(book, "weighings", rng)
    for row in rows:
        row["soaked_h"] = f"{row['soaked_h'] * 60}"
    return bool(rows)


@mistake("Hours or minutes in acid in another unit")
def acid_unit(book: Notebook, rng: Rng) -> bool:
    steps = [r for r in book.tables["treatments.csv"] if r["method"] == "acid"]
    if not steps:
        return False
    hours = steps[0]["duration_unit"] == "h"
    way = int(rng.integers(2))
    for row in steps:
        row["duration_unit"] = "min" if hours else ("s", "h")[way]
    return True


# temperatures and per cent


@mistake("Temperatures of dishes in °F")
def fahrenheit(book: Notebook, rng: Rng) -> bool:
    for row in _rows(book, "dishes", rng):
        row["temperature_c"] = f"{row['temperature_c'] * 1.8 + 32:.10g}"
    return True


@mistake("The logger of a chamber in °F")
def logged_fahrenheit(book: Notebook, rng: Rng) -> bool:
    warm = float(rng.choice([10, 15, 20, 25]))
    book.tables["chamber_log.csv"] = [
        {
            "chamber": "c1",
            "at": f"2023-05-{d:02d}T09:00Z",
            "temperature_c": f"{(warm + rng.normal()) * 1.8 + 32:.1f}",
        }
        for d in range(1, 29)
    ]
    return True


@mistake("A fraction in a column of per cent")
def fraction(book: Notebook, rng: Rng) -> bool:
    places = [
        (row, column)
        for file, rows in sorted(book.tables.items())
        for column in (
            "expected_germination_pct",
            "moisture_pct",
            "stored_moisture_pct",
            "concentration",
        )
        for row in rows[:1] + rows[-1:]
        if row.get(column) and float(row[column]) > 1 and file
    ]
    if not places:
        return False
    row, column = places[int(rng.integers(len(places)))]
    row[column] = f"{float(row[column]) / 100:.10g}"
    return True


# dates


def _sown(book: Notebook) -> list[str]:
    return [f for f in sorted(book.files("dishes")) if "sown_at" in book.tables[f][0]]


def _moved(row: Row, by: Callable[[datetime], datetime | None]) -> bool:
    then = by(datetime.fromisoformat(row["sown_at"]))
    if then is None:
        return False
    row["sown_at"] = f"{then:%Y-%m-%dT%H:%MZ}"
    return True


def _year(then: datetime) -> datetime:
    return (
        then.replace(year=then.year - 1)
        if (then.month, then.day) != (2, 29)
        else then - timedelta(days=366)
    )


def _month(then: datetime) -> datetime | None:
    return then.replace(month=then.month - 1) if then.month > 1 and then.day <= 28 else None


def _turned(then: datetime) -> datetime | None:
    if then.day > 12 or abs(then.day - then.month) < 2:
        return None
    return then.replace(month=then.day, day=then.month)


def _some(book: Notebook, rng: Rng, by: Callable[[datetime], datetime | None]) -> bool:
    """Move the sowing of a few dishes of an experiment whose counts stand in hours or days since then."""
    files = [
        f
        for f in _sown(book)
        if len(book.tables[f]) >= 6 and not _clocked(book, f) and "storage" not in f
    ]
    if not files:
        return False
    rows = book.tables[_pick(files, rng)]
    few = int(rng.integers(1, len(rows) // 4 + 1))
    first = int(rng.integers(len(rows) - few + 1))
    moved = [_moved(row, by) for row in rows[first : first + few]]
    return all(moved)


def _clocked(book: Notebook, file: str) -> bool:
    return "inspected_at" in book.tables[file.replace("dishes", "counts")][0]


@mistake("A few dishes sown a year too early")
def a_year(book: Notebook, rng: Rng) -> bool:
    return _some(book, rng, _year)


@mistake("A few dishes sown a month too early")
def a_month(book: Notebook, rng: Rng) -> bool:
    return _some(book, rng, _month)


@mistake("Day and month of a few sowings exchanged")
def exchanged(book: Notebook, rng: Rng) -> bool:
    return _some(book, rng, _turned)


@mistake("All dishes of an experiment sown a month too early, inspected by the clock")
def all_a_month(book: Notebook, rng: Rng) -> bool:
    files = [f for f in _sown(book) if _clocked(book, f)]
    if not files:
        return False
    file = _pick(files, rng)
    if max(Counter(r["dish"] for r in book.tables[file.replace("dishes", "counts")]).values()) < 4:
        return False
    moved = [_moved(row, _month) for row in book.tables[file]]
    return all(moved)


@mistake("A lot collected after it was sown")
def collected_late(book: Notebook, rng: Rng) -> bool:
    lots = [r for r in book.tables["lots.csv"] if r.get("collected_on")]
    files = _sown(book)
    if not lots or not files:
        return False
    lot = lots[int(rng.integers(len(lots)))]
    sown = [r["sown_at"] for f in files for r in book.tables[f] if r["lot"] == lot["lot"]]
    if not sown:
        return False
    lot["collected_on"] = (
        date.fromisoformat(min(sown)[:10]) + timedelta(days=int(rng.integers(20, 366)))
    ).isoformat()
    return True


# names and files


def _respelt(name: str, rng: Rng) -> str:
    ways = [
        name.swapcase(),
        f"{name} ".replace(" ", "  ", 1).strip(),
        *(name.replace(a, b) for a, b in zip("- _", "–_ ", strict=True)),
    ]
    ways += [name.replace("-", "‑"), name.replace(" ", ""), name.replace(" ", ".")]
    ways = [w for w in ways if w != name]
    return ways[int(rng.integers(len(ways)))]


@mistake("One lot or treatment under two spellings")
def two_spellings(book: Notebook, rng: Rng) -> bool:
    table, column = (("lots.csv", "lot"), ("treatments.csv", "treatment"))[int(rng.integers(2))]
    rows = book.tables[table]
    name = rows[int(rng.integers(len(rows)))][column]
    new = _respelt(name, rng)
    if "  " in new or any(r[column] == new for r in rows):
        return False
    used = [
        r
        for f, own in sorted(book.tables.items())
        if f != table
        for r in own
        if r.get(column) == name
    ]
    rows += [{**row, column: new} for row in [r for r in rows if r[column] == name]]
    for row in used[len(used) // 2 :]:
        row[column] = new
    # a seed has one lot and one treatment
    return not any("weighings" in f for f in book.tables) and bool(used)


@mistake("A folder passed over, or copied")
def folder_aside(book: Notebook, rng: Rng) -> bool:
    name = _pick(sorted(book.about), rng)
    files = {f: rows for f, rows in book.tables.items() if f.startswith(f"{name}/")}
    way = int(rng.integers(3))
    new = (f"_{name}", f".{name}", f"{name}-copy")[way]
    if way == 2 and not any(
        float(r.get("germinated") or r.get("mass_mg") or r.get("mass_g") or 0)
        for rows in files.values()
        for r in rows
    ):
        return False
    if way == 2:
        book.about[new] = dict(book.about[name])
    elif len(book.about) > 1:
        book.about[new] = book.about.pop(name)
        book.tables = {f: rows for f, rows in book.tables.items() if f not in files}
    else:
        return False
    book.tables |= {f"{new}/{f.split('/')[1]}": rows for f, rows in files.items()}
    return True


@mistake("A spreadsheet beside the tables")
def spreadsheet(book: Notebook, rng: Rng) -> bool:
    home = _pick(["", *(f"{name}/" for name in sorted(book.about))], rng)
    name = _pick(["counts.xlsx", "book.ods", "newest.numbers", "Raw data 2024.xls"], rng)
    book.extra[home + name] = b"PK"
    return home != "" or name != "counts.xlsx"


# dishes


def _courses(book: Notebook, file: str) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = {}
    for row in book.tables[file]:
        found.setdefault(row["dish"], []).append(row)
    return found


def _when(rows: list[Row]) -> list[str]:
    return [
        str(row.get("elapsed_h") or row.get("elapsed_d") or row["inspected_at"]) for row in rows
    ]


def _long(rows: list[Row]) -> bool:
    return (
        sum(int(r["germinated"]) > 0 for r in rows) >= 5
        and sum(int(r["germinated"]) for r in rows) >= 10
    )


@mistake("One dish copied from another, with ten seeds and more at five looks and more")
def copied(book: Notebook, rng: Rng) -> bool:
    file = _pick(sorted(book.files("counts")), rng)
    seeds = {r["dish"]: r["seeds"] for r in book.tables[file.replace("counts", "dishes")]}
    own = _courses(book, file)
    long = [d for d, rows in own.items() if _long(rows)]
    for dish in rng.permutation(long):
        same = [
            d
            for d in own
            if d != dish and seeds[d] == seeds[dish] and _when(own[d]) == _when(own[dish])
        ]
        if same:
            for row, other in zip(own[same[0]], own[dish], strict=True):
                row["germinated"] = other["germinated"]
            return True
    return False


@mistake(
    "An inspection of one dish lost at which nothing germinated, among dishes looked at together"
)
def lost_look(book: Notebook, rng: Rng) -> bool:
    file = _pick(sorted(book.files("counts")), rng)
    own = _courses(book, file)
    clock = next(c for c in ("elapsed_h", "elapsed_d", "inspected_at") if c in book.tables[file][0])
    every = Counter(r[clock] for r in book.tables[file])
    together = [
        r for rows in own.values() for r in rows[:-1] if every[r[clock]] >= max(5, 0.8 * len(own))
    ]
    rows = [r for r in together if int(r["germinated"]) == 0 and len(own[r["dish"]]) >= 5]
    if not rows:
        return False
    book.tables[file].remove(rows[int(rng.integers(len(rows)))])
    return True


@mistake("Labels of two dishes exchanged between temperatures that differ clearly")
def labels(book: Notebook, rng: Rng) -> bool:
    file = "temperatures/dishes.csv"
    dishes = book.tables.get(file, [])
    warm = sorted({r["temperature_c"] for r in dishes})
    if (
        len(warm) < 2
        or dishes[0]["seeds"] < 25
        or sum(r["temperature_c"] == warm[0] for r in dishes) < 3
    ):
        return False
    own = _courses(book, "temperatures/counts.csv")
    first, last = ([r for r in dishes if r["temperature_c"] == t] for t in (warm[0], warm[-1]))
    a, b = first[int(rng.integers(len(first)))], last[int(rng.integers(len(last)))]
    if not _clearly(own, [r["dish"] for r in first], [r["dish"] for r in last]):
        return False
    a["temperature_c"], b["temperature_c"] = b["temperature_c"], a["temperature_c"]
    return True


def _clearly(own: dict[str, list[Row]], cool: list[str], warm: list[str]) -> bool:
    """Return whether each dish of one temperature stands at another place of its course than each of the other."""
    whole = [
        [sum(int(r["germinated"]) * (i + 1) for i, r in enumerate(own[d])) for d in side]
        for side in (cool, warm)
    ]
    up = [[sum(int(r["germinated"]) for r in own[d]) for d in side] for side in (cool, warm)]
    middle = [
        [w / max(u, 1) for w, u in zip(*side, strict=True)] for side in zip(whole, up, strict=True)
    ]
    return min(map(min, up)) >= 8 and min(middle[0]) > 1.5 * max(middle[1])


# counted


@dataclass
class Remarked:
    """How many of each mistake were remarked, and on how many sound notebooks how many remarks were made."""

    made: Counter[str] = field(default_factory=Counter)
    seen: Counter[str] = field(default_factory=Counter)
    refused: Counter[str] = field(default_factory=Counter)
    sound: Counter[int] = field(default_factory=Counter)
    missed: list[str] = field(default_factory=list)
    false: list[str] = field(default_factory=list)


def struck(name: str, seeds: Iterator[int]) -> Iterator[tuple[int, Notebook]]:
    """Yield the notebooks of those seeds that have a place for a mistake, with it."""
    for seed in seeds:
        damaged = draw(seed)
        if KINDS[name](damaged, np.random.default_rng([815, seed])):
            yield seed, damaged


def judged(book: Notebook) -> tuple[list[str], list[str]]:
    """Return the remarks and the faults of a notebook."""
    with tempfile.TemporaryDirectory() as folder:
        return remarks(book, Path(folder))


@cache
def _of_sound(seed: int) -> tuple[str, ...]:
    """Return the remarks on the sound notebook of a seed."""
    return tuple(judged(draw(seed))[0])


def counted(number: int, *, seed: int, kinds: list[str] | None = None) -> Remarked:
    """Return what is remarked of so many of each mistake, and of so many sound notebooks."""
    found = Remarked()
    names = kinds or ["", *KINDS]
    with ProcessPoolExecutor() as pool:
        parts = pool.map(partial(_of_kind, number=number, seed=seed), names)
        for part in progress.through(parts, len(names)):
            found.made += part.made
            found.seen += part.seen
            found.refused += part.refused
            found.sound += part.sound
            found.missed += part.missed
            found.false += part.false
    return found


def _of_kind(name: str, *, number: int, seed: int) -> Remarked:
    """Return the same of one mistake, or of sound notebooks where it has no name."""
    found, first = Remarked(), seed * 100_000
    for at in range(first, first + number) if not name else ():
        notes, faults = judged(draw(at))
        found.sound[min(len(notes), 2)] += 1
        found.false += [f"sound: {at}: {says}" for says in notes + faults]
    tries = range(first, first + 20 * number) if name else range(0)
    for at, damaged in struck(name, iter(tries)):
        notes, faults = judged(damaged)
        found.made[name] += 1
        found.refused[name] += bool(faults)
        seen = bool(set(notes) - set(_of_sound(at))) or bool(faults)
        found.seen[name] += seen
        found.missed += [] if seen else [f"{name}: {at}"]
        if found.made[name] == number:
            break
    return found


def section(found: Remarked) -> str:
    """Return the section of the counts on mistakes that are remarked."""
    lines = [
        f"| {name} | {found.made[name]} | {found.seen[name]} | {found.refused[name] or ''} |"
        for name in KINDS
    ]
    sound = sum(found.sound.values())
    return (
        f"{HEADING}\n\n"
        "Sound notebooks of many kinds of seeds, tests and habits (`notebooks.py`), and the same with one mistake (`mistakes.py`) that leaves allowed\n"
        f"numbers. Of {sound} sound ones {found.sound[0]} had no remark, {found.sound[1]} had one and {found.sound[2]} more.\n\n"
        "| mistake | made | remarked | of these refused |\n| --- | ---: | ---: | ---: |\n"
        + "\n".join(lines)
        + "\n"
    )

"""The numbers of the demo that a release stands by: `python -m tests.golden --why "…" [experiment…]`.

Writes `golden.csv` anew from the demo as `make site` left it, for the experiments named (else for those in the
file, all with `--all`), and what moved under "Numbers that changed" of the newest part of CHANGELOG.md. A test
holds the demo to the file, and the changes to the file's hash.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
from collections.abc import Iterable, Sequence
from itertools import groupby
from pathlib import Path

from hilum.crate import compare
from hilum.crate.compare import Compared, Moved

REPOSITORY = Path(__file__).parent.parent
GOLDEN = REPOSITORY / "tests/golden.csv"
CHANGES = REPOSITORY / "CHANGELOG.md"
HEADING = "### Numbers that changed"
NAMES = ("lot", "treatment", "temperature_c", "condition", "versus", "quantity")
COLUMNS = ("experiment", "analysis", *NAMES, "status", "value", "low", "high", "unit")
# of a course over time or dose one figure says as much as all; these have their own
_NAMED_IN_CHANGES = 12
Row = dict[str, str]


def of_demo(results: Path, experiments: Iterable[str]) -> list[Row]:
    """Return the estimates of some experiments of a built demo, less those along a course of time or dose."""
    found = []
    for experiment in sorted(experiments):
        for path in sorted((results / "estimates" / experiment).glob("*.csv")):
            rows = read(path)
            if rows and "quantity" in rows[0]:
                named = {"experiment": experiment, "analysis": path.stem}
                found += [named | row for row in rows if not row["at"]]
    return [{column: row[column] for column in COLUMNS} for row in found]


def read(path: Path) -> list[Row]:
    """Return the rows of a table, none where there is no file."""
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def compared(then: Sequence[Row], now: Sequence[Row]) -> dict[str, Compared]:
    """Return how each analysis of each experiment in `then` compares, by `experiment/analysis`."""
    grouped = [_grouped(rows) for rows in (then, now)]
    return {
        name: compare.tables(rows, grouped[1].get(name, [])) for name, rows in grouped[0].items()
    }


def _grouped(rows: Sequence[Row]) -> dict[str, list[Row]]:
    named = groupby(rows, key=lambda row: f"{row['experiment']}/{row['analysis']}")
    return {name: list(own) for name, own in named}


def digest() -> str:
    """Return what CHANGELOG.md must have under the heading: the beginning of the file's hash."""
    return hashlib.sha256(GOLDEN.read_bytes()).hexdigest()[:12]


def newest(changes: str) -> str:
    """Return the part of CHANGELOG.md on the newest version."""
    return changes.split("\n## ")[1]


def write(rows: Sequence[Row]) -> None:
    """Write the file."""
    with GOLDEN.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def lines(then: Sequence[Row], now: Sequence[Row], why: str) -> list[str]:
    """Return what CHANGELOG.md says of a change."""
    told = [
        _moved(name, moved) for name, one in compared(then, now).items() for moved in one.moved
    ] + [f"{name}: {row} is gone" for name, one in compared(then, now).items() for row in one.gone]
    rest = len(told) - _NAMED_IN_CHANGES
    more = [f"and {rest} more"] if rest > 0 else []
    moved = "; ".join([*told[:_NAMED_IN_CHANGES], *more])
    return [
        f"- {why.rstrip('.')} (`tests/golden.csv` {digest()})" + (f": {moved}." if moved else ".")
    ]


def _moved(name: str, moved: Moved) -> str:
    cells = ", ".join(f"{c} {a or 'none'} → {b or 'none'}" for c, (a, b) in moved.cells.items())
    return f"{name}, {moved.of}: {cells}"


def note(changes: str, told: Sequence[str]) -> str:
    """Return CHANGELOG.md with lines added under the heading of its newest part."""
    part = newest(changes)
    kept = part if HEADING in part else f"{part.rstrip()}\n\n{HEADING}\n\n"
    head, rest = kept.split(f"{HEADING}\n", 1)
    made = f"{head}{HEADING}\n\n" + "\n".join([*told, rest.lstrip("\n")])
    return changes.replace(part, made, 1)


def main() -> None:
    """Write the file and the changes."""
    parser = argparse.ArgumentParser(prog="python -m tests.golden", description=__doc__)
    parser.add_argument(
        "--why", required=True, help="what moved the numbers, as a reader would say it"
    )
    parser.add_argument("--all", action="store_true", help="every experiment of the demo")
    parser.add_argument("--results", type=Path, default=REPOSITORY / "results/strandline")
    parser.add_argument("experiments", nargs="*")
    chosen = parser.parse_args()
    then = read(GOLDEN)
    known = {row["experiment"] for row in then} | set(chosen.experiments)
    if chosen.all:
        known = {p.parent.name for p in (chosen.results / "estimates").glob("*/*.csv")}
    if not (chosen.results / "estimates").is_dir():
        parser.error(f"{chosen.results} has no estimates; run `make site` first")
    now = of_demo(chosen.results, known)
    write(now)
    CHANGES.write_text(
        note(CHANGES.read_text(encoding="utf-8"), lines(then, now, chosen.why)), encoding="utf-8"
    )


if __name__ == "__main__":
    main()

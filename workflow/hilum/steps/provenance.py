"""What a run was made from, gathered for its report and its crate: no clock and no host is asked."""

from __future__ import annotations

import csv
import platform
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

from hilum import commit, freshness, lock, manifest
from hilum.report.provenance import Made
from hilum.study import LOCK, Study
from hilum.tables import TABLES

Row = dict[str, str]


def of_run(study: Study) -> Made:
    """Return what the results of a study were made from."""
    installed = lock.here(lock.asked())
    return Made(
        version=lock.own(),
        commit=commit.of_code(),
        changed=commit.changed(),
        python=".".join(platform.python_version_tuple()[:2]),
        lock=manifest.sha256(LOCK),
        packages=installed,
        differing=lock.differing(lock.asked(), installed),
        raw=freshness.raw(study),
        estimates=_estimates(study),
        ends=ends(study.checked),
    )


def _estimates(study: Study) -> dict[str, str]:
    tables = (p for p in manifest.files(study.estimates) if p.suffix == ".csv")
    return {p.relative_to(study.results).as_posix(): manifest.sha256(p) for p in tables}


def ends(checked: Path) -> str:
    """Return the last day that the tables of the experiments tell of (2024-05-31, in UTC), empty where they tell none."""
    last = ""
    for folder in sorted(p for p in checked.iterdir() if p.is_dir()):
        tables = {p.stem: _rows(p) for p in sorted(folder.glob("*.csv"))}
        sown = {row["dish"]: row["sown_at"] for row in tables.get("dishes", ()) if row["sown_at"]}
        for name, rows in tables.items():
            last = max(last, *_days(name, rows), *_since(sown, rows), "")
    return last


def _rows(path: Path) -> list[Row]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _days(table: str, rows: list[Row]) -> Iterator[str]:
    """Yield the day of each date and moment of a table."""
    dated = [c.name for c in TABLES[table].stored if c.kind in ("date", "moment")]
    return (row[name][:10] for row in rows for name in dated)


def _since(sown: Row, rows: list[Row]) -> Iterator[str]:
    """Yield the day of each row whose hours count from the sowing of its dish."""
    for row in rows:
        start = sown.get(row.get("dish", ""))
        if start and row.get("elapsed_h"):
            day = datetime.fromisoformat(start) + timedelta(hours=float(row["elapsed_h"]))
            yield day.date().isoformat()

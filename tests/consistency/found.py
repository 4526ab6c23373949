"""All that is wrong in the report of one study, and the same in a smaller one."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from tests.consistency import advice, agree, said
from tests.consistency.bench import Row
from tests.consistency.built import build
from tests.consistency.figures import Reader
from tests.consistency.studies import Raw
from tests.consistency.violation import Violation

Tables = Mapping[str, Mapping[str, list[Row]]]


@dataclass(frozen=True)
class Found:
    """Something wrong in the report of a study."""

    raw: Raw
    violation: Violation


def violations(raw: Raw, folder: Path) -> list[Violation]:
    """Return what is wrong in the report of a study, which is built below the folder."""
    reader = Reader(build(raw, folder))
    return [*agree.violations(reader), *said.violations(reader), *advice.violations(reader)]


def found(raw: Raw, folder: Path) -> list[Found]:
    """Return the same with the study."""
    return [Found(raw, violation) for violation in violations(raw, folder)]


def smaller(one: Found) -> Found:
    """Return the same kind of wrong in a study from which experiments, treatments and dishes were taken away."""
    again = True
    while again:
        again = False
        for tables in _fewer(one.raw):
            names = {name: wanted for name, wanted in one.raw.analyses.items() if name in tables}
            less = _still(replace(one.raw, tables=tables, analyses=names), one.violation.kind)
            if less is not None:
                one, again = less, True
                break
    return one


def _still(raw: Raw, kind: str) -> Found | None:
    with tempfile.TemporaryDirectory() as folder:
        try:
            return next((f for f in found(raw, Path(folder)) if f.violation.kind == kind), None)
        except Exception:
            return None


def _fewer(raw: Raw) -> Iterator[Tables]:
    """Yield the tables without one experiment, one table of an experiment, one treatment of a lot, one dish."""
    for name in raw.experiments:
        if len(raw.experiments) > 1:
            yield {e: t for e, t in raw.tables.items() if e != name}
        for table in ("outcomes", "viability", "events"):
            if table in raw.tables[name]:
                yield raw.tables | {
                    name: {t: rows for t, rows in raw.tables[name].items() if t != table}
                }  # type: ignore[operator]
        dishes = raw.tables[name].get("dishes", [])
        for pair in dict.fromkeys((d["lot"], d["treatment"], d["temperature_c"]) for d in dishes):
            gone = {
                d["dish"] for d in dishes if (d["lot"], d["treatment"], d["temperature_c"]) == pair
            }
            yield _without(raw, name, gone)
        for dish in dishes:
            yield _without(raw, name, {dish["dish"]})


def _without(raw: Raw, name: str, gone: set[str]) -> Tables:
    own = {
        table: [r for r in rows if r.get("dish", "") not in gone]
        for table, rows in raw.tables[name].items()
    }
    return raw.tables | {name: {table: rows for table, rows in own.items() if rows}}  # type: ignore[operator]

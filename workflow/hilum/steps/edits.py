"""Where raw tables do not say what a crate was made from: file, line, and what stood there."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from hilum import strict_json
from hilum.crate import compare, layout
from hilum.settings import shown
from hilum.steps.opened import Unreadable
from hilum.study import Study
from hilum.tables import experiment

# what the check adds to experiment.yaml, or calls otherwise than it
_ADDED = ("tables", "waiting", "unfilled")
_TYPED_AS = {"accepted": "known_faults"}


def raw(crate: Path, study: Study) -> list[str]:
    """Return where the raw tables do not say what the crate read from them, in words."""
    told = []
    then = crate / layout.CHECKED
    names = {p.relative_to(f) for f in (then, study.checked) for p in f.rglob("*.csv")}
    for name in sorted(names):
        place = f"{layout.DATA}/{study.name}/{name.as_posix()}"
        if not ((then / name).exists() and (study.checked / name).exists()):
            told.append(f"{place}: only one of the two runs read this table")
            continue
        told += [
            f"{place}, line {line}: {_cell(column, before, after)}"
            for line, column, before, after in compare.lines(
                rows(then / name), rows(study.checked / name)
            )
        ]
    return told + _experiments(crate, study)


def _cell(column: str, before: str, after: str) -> str:
    if not column:
        return "was taken out" if before else "was added"
    return _edited(column, before, after, "an empty cell")


def _edited(name: str, before: str, after: str, empty: str) -> str:
    return f"{name} is {after or 'empty'}, but the crate was made from {before or empty}"


def _experiments(crate: Path, study: Study) -> list[str]:
    told = []
    for path in sorted(study.checked.glob("*/experiment.json")):
        name = path.parent.name
        place = crate / layout.CHECKED / name / path.name
        if not place.exists():
            continue
        now, then = (strict_json.read(p.read_text(encoding="utf-8")) for p in (path, place))
        told += [
            f"{layout.DATA}/{study.name}/{name}/{says}"
            for says in _keys(then, now, lines(study.raw / name / experiment.FILE))
        ]
    return told


def _keys(then: Mapping[str, Any], now: Mapping[str, Any], at: Mapping[str, int]) -> list[str]:
    """Return what experiment.yaml says otherwise, key by key; a key that is not there any more has no line."""
    told = []
    for key in then:
        if key in _ADDED or key not in now or then[key] == now[key]:
            continue
        typed = _TYPED_AS.get(key, key)
        place = f", line {at[typed]}" if typed in at else ""
        says = f"{typed} is not as it was"
        if typed == key:
            says = _edited(key, _typed(then[key]), _typed(now[key]), "nothing")
        told.append((at.get(typed, 0), f"{experiment.FILE}{place}: {says}"))
    return [says for _, says in sorted(told)]


def _typed(value: Any) -> str:
    if value is None:
        return ""
    return (
        shown(tuple(value))
        if isinstance(value, Sequence) and not isinstance(value, str)
        else shown(value)
    )


def lines(path: Path) -> dict[str, int]:
    """Return the line of each key of a YAML file, none where it cannot be read."""
    try:
        return experiment.lines(path.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError):
        return {}


def rows(path: Path) -> list[dict[str, str]]:
    """Return the rows of a CSV file as text. Raises Unreadable where a row has not the cells of the header."""
    return rows_of(path.read_bytes(), f"{path.parent.name}/{path.name}")


def rows_of(content: bytes, place: str) -> list[dict[str, str]]:
    """Return the rows of the content of a CSV file as text. Raises Unreadable where a row has not the cells of the header."""
    try:
        names, *found = list(csv.reader(io.StringIO(content.decode("utf-8"), newline=""))) or [[]]
    except (UnicodeDecodeError, csv.Error) as error:
        raise Unreadable(f"{place}: is not a CSV file in UTF-8 ({error}).") from error
    if len(set(names)) < len(names):
        raise Unreadable(f"{place}: has two columns of the same name.")
    for line, row in enumerate(found, start=2):
        if len(row) != len(names):
            says = f"has {len(row)} cells, where the header has {len(names)}"
            raise Unreadable(f"{place}, line {line}: {says}.")
    return [dict(zip(names, row, strict=True)) for row in found]

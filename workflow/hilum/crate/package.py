"""The data package of a crate: raw, checked and estimate tables, described by the same plain data as the checks."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import date
from typing import Any

from hilum import analyses
from hilum.analyses import estimate as contract
from hilum.analyses.estimate import Estimate
from hilum.analyses.further import Further
from hilum.diagnosis import model as diagnosis
from hilum.diagnosis.model import Row
from hilum.markup import slug
from hilum.tables import TABLES, dictionary
from hilum.tables.column import Column

Schema = dict[str, Any]
# as the csv module of the check counts them, a number has a point and no space
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_LICENCE = re.compile(r"[-A-Za-z0-9.]+")


@dataclass(frozen=True, kw_only=True)
class Resource:
    """One CSV file of a crate; `table` is its name without an end, `experiment` is empty for tables of the study."""

    path: str
    table: str
    experiment: str
    sha256: str
    size: int
    schema: Schema
    byte_order_mark: bool = False
    empty_lines: bool = False

    @property
    def stage(self) -> str:
        """Return raw, checked or estimates."""
        first = self.path.split("/", 1)[0]
        return "raw" if first == "data" else first

    @property
    def name(self) -> str:
        """Return a name of small letters, digits and hyphens."""
        return slug(self.stage, self.experiment, self.table)


def descriptor(
    title: str, description: str, licences: Iterable[str], resources: Sequence[Resource]
) -> dict[str, Any]:
    """Return the data package of these tables (Data Package 1, with tabular resources)."""
    named = _names(resources)
    return {
        "profile": "tabular-data-package",
        "name": slug(title) or "study",
        "title": title,
        "description": description,
        "keywords": ["seed dormancy", "germination"],
        **_licences(licences),
        "resources": [_resource(one, named) for one in resources],
    }


def _licences(licences: Iterable[str]) -> dict[str, Any]:
    """Return the licences that have a name of their own; sentences stand in the crate's metadata."""
    named = [{"name": one} for one in sorted(set(licences)) if _LICENCE.fullmatch(one)]
    return {"licenses": named} if named else {}


def _names(resources: Sequence[Resource]) -> dict[str, str]:
    """Return a name for each path; names that only differ in letters left out get a number."""
    taken: set[str] = set()
    found = {}
    for one in resources:
        name, number = one.name, 2
        while name in taken:
            name, number = f"{one.name}-{number}", number + 1
        taken.add(name)
        found[one.path] = name
    return found


def _resource(one: Resource, named: Mapping[str, str]) -> dict[str, Any]:
    made: dict[str, Any] = {
        "profile": "tabular-data-resource",
        "name": named[one.path],
        "path": one.path,
        "title": f"{one.experiment}: {one.table}" if one.experiment else one.table,
        "mediatype": "text/csv",
        "format": "csv",
        "encoding": "utf-8-sig" if one.byte_order_mark else "utf-8",
        "bytes": one.size,
        "hash": f"sha256:{one.sha256}",
        "schema": _linked(one, named),
    }
    if one.empty_lines:
        made["dialect"] = {"skipBlankRows": True}
    return made


def _linked(one: Resource, named: Mapping[str, str]) -> Schema:
    """Return the schema, its foreign keys naming the tables of the same experiment that are there."""
    folder = one.path.rsplit("/", 1)[0]
    kept = []
    for key in one.schema.get("foreignKeys", ()):
        table = key["reference"]["resource"]
        places = (f"{folder}/{table}.csv", f"checked/{table}.csv")
        found = next((named[place] for place in places if place in named), None)
        if found:
            kept.append({**key, "reference": {**key["reference"], "resource": found}})
    rest = {name: value for name, value in one.schema.items() if name != "foreignKeys"}
    return rest | ({"foreignKeys": kept} if kept else {})


# schemas


def raw(table: str, names: Sequence[str], columns: Sequence[Sequence[str]]) -> Schema:
    """Return the schema of a raw table as its person wrote it.

    A column has its type only where every cell keeps to it: an accepted fault stays as typed.
    """
    made = TABLES.get(table)
    known = {c.name: c for c in made.columns} if made else {}
    made_fields = [
        _raw_field(name, known.get(name.strip()), cells)
        for name, cells in zip(names, columns, strict=True)
    ]
    title = {"title": made.title, "description": f"One row is {made.one_row_is}."} if made else {}
    return {**title, "fields": made_fields, "missingValues": [""]}


def _raw_field(name: str, column: Column | None, cells: Sequence[str]) -> dict[str, str]:
    if column is None:
        return {"name": name, "type": "number" if _all(cells, _is_number) else "string"}
    made = {"name": name, "title": column.title, "description": column.description}
    made["type"] = "string"
    if column.numeric and _all(cells, _is_number):
        made["type"] = "number"
    if column.kind == "date" and _all(cells, _is_date):
        made["type"] = "date"
    return made | ({"unit": column.unit} if column.unit else {})


def _all(cells: Sequence[str], holds: Any) -> bool:
    return all(holds(cell) for cell in set(cells) if cell)


def _is_number(cell: str) -> bool:
    return bool(_NUMBER.fullmatch(cell))


def _is_date(cell: str) -> bool:
    try:
        return date.fromisoformat(cell).isoformat() == cell
    except ValueError:
        return False


def checked(table: str) -> Schema:
    """Return the schema of a checked table."""
    return dictionary.table_schema(table)


def estimates(table: str, names: Sequence[str], columns: Sequence[Sequence[str]]) -> Schema:
    """Return the schema of a table that step fit wrote, known by its columns; `table` is its file without an end."""
    if tuple(names) == tuple(contract.MEANINGS):
        return _typed(Estimate, contract.MEANINGS, "one figure")
    if tuple(names) == tuple(diagnosis.MEANINGS):
        return _typed(
            Row, diagnosis.MEANINGS, "one fate or cause of the seeds of a lot under a treatment"
        )
    about = _further().get(table)
    if about is None:
        # nobody described it: its cells tell what they are
        return raw(table, names, columns)
    made = [
        {
            "name": column,
            "description": meaning.says,
            **({"type": "number", "unit": meaning.unit} if meaning.unit else {"type": "string"}),
        }
        for column, meaning in about.columns.items()
    ]
    description = f"One row is {about.one_row_is}."
    return {
        "title": about.title,
        "description": description,
        "fields": made,
        "missingValues": [""],
    }


def _further() -> dict[str, Further]:
    """Return what analyses say of the tables that they write beside their estimates, by file."""
    return {
        f"{name}_{table}": about
        for name in analyses.names()
        for table, about in analyses.describe(name).tables.items()
    }


def _typed(record: type, meanings: Mapping[str, str], one_row_is: str) -> Schema:
    numbers = {f.name for f in fields(record) if "float" in str(f.type)}
    made = [
        {"name": name, "description": says, "type": "number" if name in numbers else "string"}
        for name, says in meanings.items()
    ]
    return {"description": f"One row is {one_row_is}.", "fields": made, "missingValues": [""]}

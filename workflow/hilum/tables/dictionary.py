"""The data dictionary: what every column means, for a page and as Frictionless Table Schema."""

from __future__ import annotations

from typing import Any

from hilum.tables import TABLES
from hilum.tables.column import Column, Table, allowed
from hilum.tables.experiment import Experiment, KnownFault

_TYPES = {
    "text": "string",
    "number": "number",
    "count": "integer",
    "yes_no": "boolean",
    "choice": "string",
    "date": "date",
    "moment": "datetime",
}


def rows(table: Table) -> list[dict[str, str]]:
    """Return one row for each raw column: what a page of the dictionary shows."""
    return [
        {
            "column": column.name,
            "title": column.title,
            "description": column.description,
            "unit": column.unit,
            "allowed": allowed(column),
            "needed": _needed(table, column),
            "example": column.example,
        }
        for column in table.columns
    ]


def _needed(table: Table, column: Column) -> str:
    if column.required:
        return "yes"
    for group in (g for g in table.one_of if column.name in g.columns):
        others = " or ".join(c for c in group.columns if c != column.name)
        return f"or {others}" if group.needed else f"no, or {others}"
    return "no" if column.default is None else f"no, {column.default:g} where empty"


def pages() -> dict[str, list[dict[str, str]]]:
    """Return the dictionary of all tables, `{table: rows}`."""
    return {name: rows(table) for name, table in TABLES.items()}


def experiment_rows() -> list[dict[str, str]]:
    """Return one row for each key of experiment.yaml, and of a fault listed under known_faults."""
    models = (("", Experiment), ("known_faults: ", KnownFault))
    return [
        {
            "key": f"{within}{name}",
            "description": field.description or "",
            "needed": "yes" if field.is_required() else "no",
        }
        for within, model in models
        for name, field in model.model_fields.items()
    ]


def _constraints(column: Column) -> dict[str, Any]:
    found: dict[str, Any] = {"required": True} if column.required else {}
    if column.numeric:
        bounds = {"minimum": column.low, "maximum": column.high}
        found |= {k: int(v) if v == int(v) else v for k, v in bounds.items() if v is not None}
    if column.choices:
        found["enum"] = list(column.choices)
    return found


def _field(column: Column) -> dict[str, Any]:
    made: dict[str, Any] = {
        "name": column.name,
        "title": column.title,
        "description": column.description,
        "type": _TYPES[column.kind],
        "example": column.example,
    }
    if column.kind == "yes_no":
        made |= {"trueValues": ["1"], "falseValues": ["0"], "example": "0"}
    if column.kind == "moment":
        made["example"] = "2024-05-01T09:00:00Z"
    if column.unit:
        made["unit"] = column.unit
    constraints = _constraints(column)
    return made | ({"constraints": constraints} if constraints else {})


LINE = {
    "name": "line",
    "title": "Line",
    "description": "The line of the raw file, as a spreadsheet numbers its rows: the heading is 1.",
    "type": "integer",
    "example": "2",
    "constraints": {"required": True, "minimum": 2},
}


def table_schema(name: str) -> dict[str, Any]:
    """Return the Frictionless Table Schema of a checked table."""
    table = TABLES[name]
    made: dict[str, Any] = {
        "title": table.title,
        "description": f"One row is {table.one_row_is}.",
        "fields": [LINE, *map(_field, table.stored)],
        "missingValues": [""],
    }
    keys = [c for c in table.key if c in {s.name for s in table.stored}]
    # a primary key has no empty cells, and an outcome belongs to a dish or to a seed
    if not any(group.together and set(group.columns) & set(keys) for group in table.one_of):
        made["primaryKey"] = keys
    return made | _foreign_keys(table)


def _foreign_keys(table: Table) -> dict[str, Any]:
    keys = [
        {"fields": [c.name], "reference": {"resource": c.refers, "fields": [c.name]}}
        for c in table.stored
        if c.refers and c.required
    ]
    return {"foreignKeys": keys} if keys else {}

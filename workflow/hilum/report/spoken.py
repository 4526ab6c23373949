"""What of a chart is read aloud: of each mark what its tooltip tells, and nothing of where a bar begins."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

# one mark for many rows, of which a reader would hear the first
_OF_MANY_ROWS = ("line", "area", "trail")


def spoken(node: Any) -> Any:
    """Return a specification whose marks are read aloud as their tooltips tell them.

    A mark without a tooltip repeats what another says, and is silent; a text says itself. A line says which one it is.
    """
    if isinstance(node, list):
        return [spoken(value) for value in node]
    if not isinstance(node, Mapping):
        return node
    inner = {k: v if k in ("data", "datasets") else spoken(v) for k, v in node.items()}
    if "mark" in inner and "encoding" in inner:
        inner["mark"] = _mark(inner["mark"], inner["encoding"])
    return inner


def _mark(mark: Any, encoding: Mapping[str, Any]) -> dict[str, Any]:
    whole = dict(mark) if isinstance(mark, Mapping) else {"type": mark}
    found = encoding.get("tooltip", [])
    parts = [p for p in ([found] if isinstance(found, Mapping) else found) if "field" in p]
    if whole["type"] in _OF_MANY_ROWS:
        parts = [p for p in parts if p["type"] != "quantitative"]
    if whole.get("aria") is False or (whole["type"] == "text" and not parts):
        return whole
    if not parts:
        return {**whole, "aria": False}
    # each part begins with what parts it from the one before
    return {**whole, "description": {"expr": f"slice({' + '.join(map(_part, parts))}, 2)"}}


def _part(told: Mapping[str, Any]) -> str:
    """Return the expression of one line of a tooltip: its title and the value of a row, empty where there is none."""
    value = f"datum[{json.dumps(told['field'])}]"
    title = json.dumps(f"; {told.get('title') or told['field']}: ", ensure_ascii=False)
    shown = f"format({value}, '{told['format']}')" if "format" in told else f"toString({value})"
    return f"(isValid({value}) ? {title} + {shown} : '')"

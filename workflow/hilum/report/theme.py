"""How every chart looks: one theme, one width, and names that do not depend on what was drawn before."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from hilum.analyses.rounding import GAP, MINUS
from hilum.figure import PALETTE, SHAPES
from hilum.report.spoken import spoken

FONT = "Hilum Sans"
STILL_WIDTH = 680
AXIS_WIDTH = 60
# labels and lines take the page's text colour, so that light and dark need no code
INK = "currentColor"

# a number is written as in sentences: a space that does not break before the sign of per cent, a minus that is one
_NUMBERS = {
    "decimal": ".",
    "thousands": ",",
    "grouping": [3],
    "currency": ["", ""],
    "percent": f"{GAP}%",
    "minus": MINUS,
}
_GUIDE = {
    "labelColor": INK,
    "titleColor": INK,
    "labelFontSize": 12,
    "titleFontSize": 13,
    "titleFontWeight": "normal",
}
CONFIG: Mapping[str, Any] = {
    "background": "transparent",
    "font": f"{FONT}, sans-serif",
    "padding": 4,
    "locale": {"number": _NUMBERS},
    "view": {"stroke": None},
    "title": {"color": INK, "subtitleColor": INK, "fontSize": 13, "fontWeight": "normal"},
    "axis": {
        **_GUIDE,
        "domainColor": INK,
        "domainOpacity": 0.55,
        "gridColor": INK,
        "gridOpacity": 0.11,
        "tickColor": INK,
        "tickOpacity": 0.55,
        "titlePadding": 8,
        # labels that touch are read as one
        "labelSeparation": 4,
    },
    "axisX": {"grid": False},
    "axisY": {"domain": False, "ticks": False, "labelPadding": 6},
    "legend": {
        **_GUIDE,
        "orient": "top",
        "columns": 3,
        "labelLimit": 260,
        "symbolStrokeWidth": 2,
        "symbolOpacity": 1,
    },
    "header": {**_GUIDE, "labelFontSize": 13},
    "range": {"category": list(PALETTE), "symbol": list(SHAPES)},
    "mark": {"color": PALETTE[0]},
    # a band says nothing that its line does not, and would be read aloud without a name
    "area": {"aria": False},
    "text": {"color": INK, "fontSize": 12},
    "rule": {"color": INK},
    "tick": {"color": INK},
    "line": {"strokeWidth": 2},
    "point": {"size": 45, "filled": True},
}

_NUMBERED = re.compile(r"(param|view|concat|layer)_\d+")
_DATA = ("data", "datasets")


def _words(node: Any) -> Iterator[str]:
    """Yield every text of a specification but those of its data, in order."""
    if isinstance(node, Mapping):
        for key, value in node.items():
            if key not in _DATA:
                yield from _words(value)
    elif isinstance(node, list):
        for value in node:
            yield from _words(value)
    elif isinstance(node, str):
        yield node


def _renamed(node: Any, names: Mapping[str, str]) -> Any:
    if isinstance(node, Mapping):
        return {k: v if k in _DATA else _renamed(v, names) for k, v in node.items()}
    if isinstance(node, list):
        return [_renamed(value, names) for value in node]
    if isinstance(node, str):
        return _NUMBERED.sub(lambda m: names[m.group()], node)
    return node


def steady(spec: Mapping[str, Any]) -> dict[str, Any]:
    """Return the specification with its numbered names counted from 1.

    altair numbers them over a whole process, so the bytes would depend on which charts came before.
    """
    found = dict.fromkeys(m.group() for text in _words(spec) for m in _NUMBERED.finditer(text))
    names = {old: f"{old.rsplit('_', 1)[0]}_{i}" for i, old in enumerate(found, start=1)}
    renamed: dict[str, Any] = _renamed(spec, names)
    return renamed


def _clipped(node: Any) -> Any:
    """Return a specification whose lines end at the axes.

    What reaches beyond them would take its room from the plot, down to nothing.
    """
    if isinstance(node, list):
        return [_clipped(value) for value in node]
    if not isinstance(node, Mapping):
        return node
    inner = {k: v if k in _DATA else _clipped(v) for k, v in node.items()}
    mark = inner.get("mark")
    kind = mark.get("type") if isinstance(mark, Mapping) else mark
    if kind in ("line", "area", "rule"):
        inner["mark"] = {"clip": True, **(mark if isinstance(mark, Mapping) else {"type": mark})}
    return inner


def themed(spec: Mapping[str, Any]) -> dict[str, Any]:
    """Return the specification with this theme in place of any configuration of its own."""
    return {**spoken(_clipped(steady(spec))), "config": dict(CONFIG)}


def _columns(spec: Mapping[str, Any]) -> int:
    facet = spec.get("encoding", {}).get("facet", {})
    return int(spec.get("columns") or facet.get("columns") or 1)


def _panel(spec: Mapping[str, Any], share: int) -> dict[str, Any]:
    return {**spec, "width": share - AXIS_WIDTH}


def fitted(spec: Mapping[str, Any], width: int = STILL_WIDTH) -> dict[str, Any]:
    """Return the specification sized to the width of a picture; panels beside each other share it."""
    if "hconcat" in spec:
        share = width // len(spec["hconcat"])
        return {**spec, "hconcat": [_part(panel, share) for panel in spec["hconcat"]]}
    if "vconcat" in spec:
        return {**spec, "vconcat": [_part(panel, width) for panel in spec["vconcat"]]}
    if "spec" in spec:
        return {**spec, "spec": _panel(spec["spec"], width // _columns(spec))}
    if {"facet", "row", "column"} & set(spec.get("encoding", {})):
        return _panel(spec, width // _columns(spec))
    return {**spec, "width": width, "autosize": {"type": "fit-x", "contains": "padding"}}


def _part(spec: Mapping[str, Any], share: int) -> dict[str, Any]:
    return fitted(spec, share) if {"hconcat", "vconcat"} & set(spec) else _panel(spec, share)

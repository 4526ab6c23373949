"""Tables of a page: inside a region that scrolls and takes the focus, so that the page never does."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from markupsafe import Markup

from hilum.analyses import rounding
from hilum.analyses.estimate import Estimate
from hilum.analyses.quantities import QUANTITIES
from hilum.markup import escape, ours, slug
from hilum.report.numbers import interval, number

# a page stays readable; the download holds every row
ROWS_SHOWN = 60
# text that would stand as a thin column of single words on a narrow screen
LONG = 40
# a name or a figure is not parted at its hyphens and blanks
SHORT = 22
_DIGITS = 4
# a number out of a file, with more digits than anyone types, and so no name
_COMPUTED = re.compile(r"-?\d*\.\d{5,}(e[-+]?\d+)?|-?\d+(\.\d+)?e-\d+")
# how the name of a column ends that has the unit
_ENDS = {"°C": "_c", "h": "_h", "d": "_d", "%": "_pct", "°C h": "_c_h"}
_TAG = re.compile("<[^>]*>")
# the limits of an interval: they may stand below their estimate, but in one line
_LIMITS = re.compile(r" (\([^()<>]{3,28}\))(?=<|$)")
# a table of so many columns, and of so few rows, is turned on a narrow screen: each cell below its head
MANY_COLUMNS, FEW_ROWS = 4, 16


def _cell(value: object, head: object = "") -> str:
    shown = escape(value)
    parts = _TAG.split(shown)
    apart = _LIMITS.sub(r' <span class="figure">\1</span>', str(shown))
    some = sum(map(len, parts)) > SHORT or apart != shown
    kind = "long" if max(map(len, parts)) > LONG else "some" if some else ""
    of_kind = f' class="{kind}"' if kind else ""
    named = f' data-head="{escape(_plain(head))}"' if head else ""
    return f"<td{of_kind}{named}>{apart}</td>"


def _plain(head: object) -> str:
    return head.striptags() if isinstance(head, Markup) else str(head)


def _line(cells: Iterable[str]) -> Markup:
    # the spaces keep the words of neighbouring cells apart in the search index
    return ours(f"<tr>{' '.join(cells)}</tr>")


def grid(
    heads: Sequence[object],
    lines: Iterable[Sequence[object]],
    label: str,
    note: str = "",
    *,
    stacked: bool = False,
) -> Markup:
    """Return an HTML table under a label for screen readers; what is not markup yet is text.

    On a narrow screen the cells of a `stacked` one stand below each other, each with its head, so that the last are not out
    of sight: so do those of any table with many columns and few rows.
    """
    rows = list(lines)
    turned = stacked or (len(heads) >= MANY_COLUMNS and len(rows) <= FEW_ROWS)
    named = ["", *heads[1:]] if turned else [""] * len(heads)
    head = _line(f'<th scope="col">{escape(h)}</th>' if h else "<td></td>" for h in heads)
    body = "".join(_line(map(_cell, row, named)) for row in rows)
    more = f'<div class="more">{escape(note)}</div>' if note else ""
    return ours(
        f'<div class="scroll" tabindex="0" role="region" aria-label="{escape(label)}">{more}'
        f'<table class="sheet{" stacked" * turned}"><thead>{head}</thead> <tbody>{body}</tbody></table></div>'
    )


def columns_of(rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """Return the names of all columns, in the order in which they first appear."""
    return list(dict.fromkeys(name for row in rows for name in row))


def cell(value: object, unit: str = "") -> Markup:
    """Return a value as a table shows it, in whole percent where that is its unit; a missing one is an empty cell."""
    if value is None or value == "":
        return Markup("")
    if isinstance(value, bool):
        return escape("yes" if value else "no")
    if isinstance(value, float):
        return escape(rounding.shown(value) if unit == "%" else rounding.short(value, _DIGITS))
    text = str(value)
    return escape(rounding.short(float(text), _DIGITS) if _COMPUTED.fullmatch(text) else text)


def heading(name: str, unit: str = "") -> Markup:
    """Return the heading of a column, its unit in brackets and not in its name as well."""
    words = escape(name.removesuffix(_ENDS.get(unit, "")).replace("_", " "))
    return words + Markup(' <span class="unit">({})</span>').format(escape(unit)) if unit else words


def of_rows(
    rows: Sequence[Mapping[str, Any]], units: Mapping[str, str], label: str, file: str = ""
) -> Markup:
    """Return the first rows of a table, and above them how many its CSV file has, with a link where `file` is its address."""
    columns = columns_of(rows)
    whole = Markup('<a href="{}" download>CSV file</a>').format(ours(file)) if file else "CSV file"
    note = Markup("The first {} of {} rows: all are in the {}.").format(
        ROWS_SHOWN, len(rows), whole
    )
    return grid(
        [heading(c, units.get(c, "")) for c in columns],
        ([cell(row.get(c), units.get(c, "")) for c in columns] for row in rows[:ROWS_SHOWN]),
        label,
        note if len(rows) > ROWS_SHOWN else "",
    )


def quantity_link(name: str, glossary: str, *, meaning: bool = True) -> Markup:
    """Return the name of a quantity in words, linked to its meaning in the glossary; `meaning` is for the pointer."""
    known = QUANTITIES[name]
    title = Markup(' title="{}"').format(escape(known.meaning)) if meaning else Markup("")
    place = Markup("{}#{}").format(ours(glossary), slug(known.title))
    return Markup('<a href="{}"{}>{}</a>').format(place, title, escape(known.title))


def _figure(estimate: Estimate, confidence: float) -> Markup:
    shown = interval(estimate)
    other = estimate.confidence != confidence and estimate.status != "not_identified"
    at = Markup("At {} confidence.").format(number(estimate.confidence, "fraction"))
    note = Markup(" ").join(escape(part) for part in (at if other else "", estimate.needs) if part)
    return shown + (Markup('<span class="note">{}</span>').format(note) if note else Markup(""))


def _rows_link(anchor: str) -> Markup:
    return Markup('<a href="#{}">rows</a>').format(anchor) if anchor else Markup("")


def _number(value: float | None, unit: str) -> Markup:
    return Markup("") if value is None else number(value, unit)


def of_estimates(
    estimates: Sequence[Estimate],
    glossary: str,
    label: str,
    *,
    confidence: float,
    rows: Mapping[tuple[str, str], str],
) -> Markup:
    """Return every estimate with its interval and method; columns that say nothing are left out.

    A confidence other than that of the run stands beside its interval. `rows` are the anchors of the raw lines of each
    lot and treatment.
    """
    columns: dict[str, list[object]] = {
        "lot": [e.lot for e in estimates],
        "treatment": [e.treatment for e in estimates],
        "temperature": [_number(e.temperature_c, "°C") for e in estimates],
        "condition": [e.condition for e in estimates],
        "quantity": [quantity_link(e.quantity, glossary) for e in estimates],
        "at": [_number(e.at, e.at_unit) for e in estimates],
        "compared with": [e.versus for e in estimates],
        "estimate": [_figure(e, confidence) for e in estimates],
        "raw": [_rows_link(rows.get((e.lot, e.treatment), "")) for e in estimates],
        "method": [e.method for e in estimates],
    }
    told = {name: cells for name, cells in columns.items() if any(cells)}
    return grid(list(told), zip(*told.values(), strict=True), label)

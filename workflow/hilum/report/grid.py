"""Tables of a page: inside a region that scrolls and takes the focus, so that the page never does."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from markupsafe import Markup

from hilum.analyses.estimate import Estimate
from hilum.analyses.quantities import QUANTITIES
from hilum.report.markup import escape, ours, slug
from hilum.report.numbers import interval, number

# a page stays readable; the download holds every row
ROWS_SHOWN = 60


def _line(tag: str, cells: Iterable[Markup]) -> Markup:
    joined = Markup("").join(ours(f"<{tag}>{c}</{tag}>") for c in cells)
    return Markup("<tr>{}</tr>").format(joined)


def grid(heads: Sequence[Markup], lines: Iterable[Sequence[Markup]], label: str) -> Markup:
    """Return an HTML table of cells that are markup already, under a label for screen readers."""
    head = _line("th", heads).replace("<th>", Markup('<th scope="col">'))
    body = Markup("").join(_line("td", line) for line in lines)
    return Markup(
        '<div class="scroll" tabindex="0" role="region" aria-label="{}">'
        '<table class="grid"><thead>{}</thead><tbody>{}</tbody></table></div>'
    ).format(escape(label), head, body)


def columns_of(rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """Return the names of all columns, in the order in which they first appear."""
    return list(dict.fromkeys(name for row in rows for name in row))


def cell(value: object) -> Markup:
    """Return a value as a table shows it; a missing one is an empty cell."""
    if value is None or value == "":
        return Markup("")
    if isinstance(value, bool):
        return escape("yes" if value else "no")
    return escape(f"{value:.4g}" if isinstance(value, float) else value)


def heading(name: str, unit: str = "") -> Markup:
    """Return the heading of a column, its unit in brackets."""
    words = escape(name.replace("_", " "))
    return words + Markup(' <span class="unit">({})</span>').format(escape(unit)) if unit else words


def of_rows(rows: Sequence[Mapping[str, Any]], units: Mapping[str, str], label: str) -> Markup:
    """Return the first rows of a table, and how many more its CSV file has."""
    columns = columns_of(rows)
    heads = [heading(c, units.get(c, "")) for c in columns]
    shown = grid(heads, ([cell(row.get(c)) for c in columns] for row in rows[:ROWS_SHOWN]), label)
    left = len(rows) - ROWS_SHOWN
    return shown + (
        Markup("<p>{} more rows are in the CSV file.</p>").format(left) if left > 0 else ""
    )


def quantity_link(name: str, glossary: str) -> Markup:
    """Return the name of a quantity in words, linked to its meaning in the glossary."""
    known = QUANTITIES[name]
    return Markup('<a href="{}#{}" title="{}">{}</a>').format(
        ours(glossary),
        slug(known.title),
        escape(known.meaning),
        escape(known.title),
    )


def _figure(estimate: Estimate) -> Markup:
    shown = Markup('<span class="figure">{}</span>').format(interval(estimate))
    note = escape(estimate.needs)
    return shown + (Markup('<span class="note">{}</span>').format(note) if note else Markup(""))


def _at(estimate: Estimate) -> Markup:
    return Markup("") if estimate.at is None else number(estimate.at, estimate.at_unit)


def _warmth(estimate: Estimate) -> Markup:
    return Markup("") if estimate.temperature_c is None else number(estimate.temperature_c, "°C")


def of_estimates(estimates: Sequence[Estimate], glossary: str, label: str) -> Markup:
    """Return every estimate with its interval and method; columns that say nothing are left out."""
    columns: dict[str, list[Markup]] = {
        "lot": [escape(e.lot) for e in estimates],
        "treatment": [escape(e.treatment) for e in estimates],
        "temperature": [_warmth(e) for e in estimates],
        "condition": [escape(e.condition) for e in estimates],
        "quantity": [quantity_link(e.quantity, glossary) for e in estimates],
        "at": [_at(e) for e in estimates],
        "compared with": [escape(e.versus) for e in estimates],
        "estimate": [_figure(e) for e in estimates],
        "method": [escape(e.method) for e in estimates],
    }
    told = {name: cells for name, cells in columns.items() if any(cells)}
    return grid([heading(n) for n in told], zip(*told.values(), strict=True), label)

"""Generated pages read back as a reader sees them: sections, table rows and plain text."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from dataclasses import dataclass

_TAG = re.compile(r"<[^>]*>")
_CELL = re.compile(r"<(?:td|th)\b[^>]*>(.*?)</(?:td|th)>|<td></td>", re.DOTALL)
_TABLE = re.compile(r'aria-label="([^"]*)">.*?</table>', re.DOTALL)
_HEADING = re.compile(r"^(#{1,4}) (.*?)(?: \{ #([^ ]+) \})?\s*$", re.MULTILINE)


def text(markup: str) -> str:
    """Return markup as one line of plain text: no tags, no emphasis, plain blanks."""
    plain = html.unescape(_TAG.sub("", markup)).replace("**", "").replace("\N{NO-BREAK SPACE}", " ")
    return re.sub(r"\s+", " ", plain).replace("\N{MINUS SIGN}", "-").strip()


@dataclass(frozen=True)
class Section:
    """A part of a page under a heading: its title, its anchor, and its own text up to the next heading."""

    title: str
    anchor: str
    body: str


def sections(page: str) -> list[Section]:
    """Return the parts of a page by their headings, in order."""
    found = list(_HEADING.finditer(page))
    ends = [m.start() for m in found[1:]] + [len(page)]
    return [
        Section(text(m[2]), m[3] or "", page[m.end() : end])
        for m, end in zip(found, ends, strict=True)
    ]


@dataclass(frozen=True)
class Sheet:
    """A table of a page: its label, its heads, and its rows as plain text beside their markup."""

    label: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    raw: tuple[tuple[str, ...], ...]


def sheets(markup: str) -> Iterator[Sheet]:
    """Yield every table of a piece of markup."""
    for found in _TABLE.finditer(markup):
        head, _, body = found[0].partition("<tbody>")
        rows = [tuple(_CELL.findall(row)) for row in re.findall(r"<tr>(.*?)</tr>", body, re.DOTALL)]
        heads = tuple(text(cell) for cell in _CELL.findall(head))
        plain = tuple(tuple(text(cell) for cell in row) for row in rows)
        yield Sheet(html.unescape(found[1]), heads, plain, tuple(rows))


def sentences(markup: str) -> list[str]:
    """Return the sentences of a piece of markup, table cells and list items each by themselves."""
    apart = re.sub(
        r"</(?:td|th|p|figcaption|summary|li|span class=\"finding\")>|<br>|\n\s*\n|\n- ",
        "\n",
        markup,
    )
    apart = re.sub(r'<span class="(?:finding|note)">', "\n", apart)
    lines = (text(line) for line in apart.split("\n"))
    return [s for line in lines if line for s in re.split(r"(?<=[.;?!]) (?=[A-Z0-9])", line) if s]

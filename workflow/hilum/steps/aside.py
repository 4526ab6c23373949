"""Tables of pages, set aside while the site is built.

They are markup already, yet three parsers would read every cell: that is three quarters of the time of a large site, and a
search index that a browser takes long to read. Home and the pages to read keep theirs, so that search finds their words.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

ROOMS = ("experiments", "lots")
_TABLE = re.compile(r'<table class="sheet.*?</table>', re.DOTALL)
# text of raw tables is escaped where a page is written, so that no cell can hold such a mark
_MARK = re.compile(r"<!--table (\d+)-->")


def take(sources: Path) -> list[str]:
    """Leave a mark in place of each table of the pages of experiments and lots, and return the tables."""
    tables: list[str] = []

    def mark(found: re.Match[str]) -> str:
        tables.append(found.group())
        return f"<!--table {len(tables) - 1}-->"

    for page in _pages(sources, "md"):
        text = page.read_text(encoding="utf-8")
        page.write_text(_TABLE.sub(mark, text), encoding="utf-8", newline="\n")
    return tables


def put_back(site: Path, tables: Sequence[str]) -> None:
    """Put each table where its mark stands in the pages of the site."""
    for page in _pages(site, "html"):
        text = page.read_text(encoding="utf-8")
        whole = _MARK.sub(lambda found: tables[int(found.group(1))], text)
        page.write_text(whole, encoding="utf-8", newline="\n")


def _pages(folder: Path, kind: str) -> list[Path]:
    return [page for room in ROOMS for page in sorted(folder.glob(f"{room}/*.{kind}"))]

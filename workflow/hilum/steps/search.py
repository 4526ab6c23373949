"""The search index of a large site: an entry for each page, since a browser reads all of it before the first hit."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

Entry = Mapping[str, str]
# so much of the answer stands in the index, which is its first sentences
_CHARACTERS = 500
_TAG = re.compile("<[^>]*>")


def shorten(site: Path, rooms: Sequence[str]) -> None:
    """Leave in the index one entry for each page of these rooms: its words, the titles of its sections, and its answer."""
    for path in sorted((site / "search").glob("search_index.js*")):
        # the one that is read from a disk is a script, which begins with the name of a variable
        name, brace, rest = path.read_text(encoding="utf-8").partition("{")
        index = json.loads(brace + rest)
        index["docs"] = list(_entries(index["docs"], tuple(f"{room}/" for room in rooms)))
        text = json.dumps(index, sort_keys=True, separators=(",", ":"))
        path.write_text(name + text, encoding="utf-8", newline="\n")


def _entries(entries: Sequence[Entry], rooms: tuple[str, ...]) -> Iterator[Entry]:
    sections: dict[str, list[Entry]] = {}
    for entry in entries:
        sections.setdefault(entry["location"].partition("#")[0], []).append(entry)
    for place, (page, *rest) in sections.items():
        if place.startswith(rooms):
            yield dict(page) | {"text": _words(page, rest)}
        else:
            yield page
            yield from rest


def _words(page: Entry, rest: Sequence[Entry]) -> str:
    titles = ", ".join(entry["title"] for entry in rest)
    answer = rest[0]["text"] if rest else ""
    return f"<p>{_first(page['text'])}</p> <p>{_first(answer)}</p> <p>{titles}</p>"


def _first(text: str) -> str:
    """Return the first words of a text that holds markup, without it, and with no character reference cut in two."""
    plain = " ".join(_TAG.sub(" ", text).split())
    return plain if len(plain) <= _CHARACTERS else plain[:_CHARACTERS].rpartition(" ")[0]

"""The words of the pages: each said once, shown on the glossary page, and linked where a page first uses it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from hilum.analyses.quantities import QUANTITIES
from hilum.report.markup import escape, slug
from hilum.report.words import CAUSES, FATES, WORDS

# of a page, what holds no running words: links, headings, whatever is drawn or listed, code, and tags themselves
_APART = re.compile(
    r"<(a|figure|table|pre|svg|math|summary|code)\b.*?</\1>|<[^>]*>|\[[^\]]*\]\([^)]*\)|^#[^\n]*$|`[^`]*`|&#?\w+;",
    re.DOTALL | re.MULTILINE,
)
# known to everyone who sows seeds, or used in another sense as often
_PLAIN = frozenset(
    {"germinated", "hard", "dead, empty", "lost, sampled", "conditions", "slope", "dish"}
)


@dataclass(frozen=True)
class Term:
    """A word to link: how pages spell it, where the glossary tells of it, and what that says."""

    spelled: re.Pattern[str]
    anchor: str
    says: str


def anchor(word: str) -> str:
    """Return where the glossary tells of a word; quantities have their own places."""
    return f"word-{slug(word)}"


def _spelled(words: Iterable[str]) -> re.Pattern[str]:
    # words may stand at the end of a line, and an apostrophe is typed in two ways
    ways = (re.escape(w).replace(r"\ ", r"\s+").replace("'", "['’]") for w in words)
    return re.compile(rf"(?<![\w-])(?:{'|'.join(ways)})(?![\w-])", re.IGNORECASE)


@cache
def terms() -> tuple[Term, ...]:
    """Return every word to link, the longest first: "base temperature" is not "temperature"."""
    told = {**FATES, **CAUSES, **WORDS}
    found = [
        (max(map(len, ways)), Term(_spelled(ways), anchor(word), told[word].says))
        for word in told
        if word not in _PLAIN
        for ways in [(told[word].ways or (word,))]
    ]
    found += [
        (len(q.title), Term(_spelled([q.title]), slug(q.title), q.meaning))
        for q in QUANTITIES.values()
        if q.title not in told and q.title not in _PLAIN and q.title not in _linked()
    ]
    return tuple(term for _, term in sorted(found, key=lambda pair: -pair[0]))


def _linked() -> frozenset[str]:
    return frozenset(way for word in WORDS.values() for way in word.ways)


def linked(markdown: str, page: str) -> str:
    """Return a page with each word of the glossary linked where it is first used; `page` is the glossary's address."""
    # markup that is put together with text would escape it
    made = str(markdown)
    # what is blanked out keeps its place
    left = _APART.sub(_blank, made)
    links: list[tuple[int, int, Term]] = []
    for term in terms():
        first = term.spelled.search(left)
        if first:
            links.append((*first.span(), term))
            left = left[: first.start()] + _blank(first) + left[first.end() :]
    for start, end, term in sorted(links, key=lambda link: -link[0]):
        made = made[:start] + _tag(made[start:end], page, term) + made[end:]
    return made


def _blank(found: re.Match[str]) -> str:
    return "\0" * len(found.group())


def _tag(word: str, page: str, term: Term) -> str:
    return f'<a class="word" href="{page}#{term.anchor}" title="{escape(term.says)}">{word}</a>'

"""The words of the pages: linked to the glossary where a page first uses them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from hilum.analyses.quantities import QUANTITIES
from hilum.markup import escape, slug
from hilum.report.words import CAUSES, FATES, WORDS

# of a page, what holds no running words: links, headings, whatever is drawn or listed, code, and tags themselves; the
# head of a table is read like a sentence
_APART = (
    r"<(?P<tag>a|figure|td|pre|svg|math|summary|code)\b.*?</(?P=tag)>|<[^>]*>"
    r"|\[[^\]]*\]\([^)]*\)|^#[^\n]*$|`[^`]*`|&#?\w+;"
)
# known to everyone who sows seeds, or used in another sense as often
_PLAIN = frozenset(
    {"germinated", "hard", "dead, empty", "lost, sampled", "conditions", "slope", "dish"}
)


@dataclass(frozen=True)
class Term:
    """A word to link: where the glossary tells of it, and what that says."""

    anchor: str
    says: str


def anchor(word: str) -> str:
    """Return where the glossary tells of a word; quantities have their own places."""
    return f"word-{slug(word)}"


@cache
def terms() -> dict[str, Term]:
    """Return every spelling to link, in small letters; the words of the glossary go before its quantities."""
    found = {q.title.lower(): Term(slug(q.title), q.meaning) for q in QUANTITIES.values()}
    for word, about in {**FATES, **CAUSES, **WORDS}.items():
        ways = about.ways or (word,)
        found |= {way.lower(): Term(anchor(word), about.says) for way in ways}
    return {way: term for way, term in found.items() if way not in _PLAIN}


@cache
def _pattern() -> re.Pattern[str]:
    # the longest first; words may stand at the end of a line, and an apostrophe is typed in two ways
    ways = sorted(terms(), key=lambda way: (-len(way), way))
    spelled = (re.escape(w).replace(r"\ ", r"\s+").replace("'", "['’]") for w in ways)
    words = rf"(?<![\w-])(?P<word>{'|'.join(spelled)})(?![\w-])"
    return re.compile(f"{_APART}|{words}", re.DOTALL | re.MULTILINE | re.IGNORECASE)


def linked(markdown: str, page: str) -> str:
    """Return a page with each word of the glossary linked where it is first used; `page` is the glossary's address."""
    # markup that is put together with text would escape it
    text = str(markdown)
    return "".join(_pieces(text, page))


def _pieces(text: str, page: str) -> Iterator[str]:
    done, seen = 0, set()
    for found in _pattern().finditer(text):
        word = found["word"]
        if word is None:
            continue
        term = terms()[re.sub(r"\s+", " ", word).replace("’", "'").lower()]
        if term not in seen:
            seen.add(term)
            yield text[done : found.start()]
            yield _tag(word, page, term)
            done = found.end()
    yield text[done:]


def _tag(word: str, page: str, term: Term) -> str:
    return f'<a class="word" href="{page}#{term.anchor}" title="{escape(term.says)}">{word}</a>'

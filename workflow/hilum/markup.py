"""Text that is safe on a page: what tables and people wrote never becomes markup."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from urllib.parse import quote

from markupsafe import Markup

# every mark that Markdown or HTML could read as more than itself, and lists at the start of a line
_MARKS = re.compile(r"""[!"#$&'*+<=>\[\\\]^_`{|}~]|(?<!\S)[-:]|(?<=\d)\.(?=\s|$)""")
# a text may not turn the reading direction of what follows it, nor hide signals in itself
_TURNING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u2028\u2029\ufeff")


def _visible(character: str) -> str:
    hidden = unicodedata.category(character) in ("Cc", "Cs") or character in _TURNING
    return "\N{REPLACEMENT CHARACTER}" if hidden else character


def ours(text: str) -> Markup:
    """Return text as markup: only for text that our own code wrote, never for what a table holds."""
    return Markup(text)  # noqa: S704


def escape(value: object) -> Markup:
    """Return any value as text that Markdown and HTML both show as it is, on one line.

    Markup that our own code made is passed through. Raises ValueError for None: a missing number is an
    error of the page.
    """
    if isinstance(value, Markup):
        return value
    if value is None:
        raise ValueError("a missing value cannot be printed; say in words that it is missing")
    return _as_it_is(str(value))


# the same numbers and names stand on many pages
@lru_cache(maxsize=100_000)
def _as_it_is(text: str) -> Markup:
    line = re.sub(r"\s+", " ", text)
    shown = "".join(_visible(c) for c in line)
    return ours(_MARKS.sub(lambda m: f"&#{ord(m.group())};", shown))


def address(*parts: str) -> Markup:
    """Return the address of a file from the parts of its path, safe in an attribute."""
    return ours("/".join(quote(part) for part in parts))


def slug(*words: str) -> str:
    """Return words as an anchor: small letters, digits and hyphens."""
    plain = unicodedata.normalize("NFKD", " ".join(words)).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")

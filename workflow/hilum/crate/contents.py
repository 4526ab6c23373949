"""Two contents of one file: whether they are the same but for the last digits of numbers, and where they are not.

Another family of processors adds in another order, so that numbers differ in a last digit, and with them the hashes of files that
hold them. So a hash counts by the file whose hash it is, and a number by its first digits; all else is letter by letter.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

# of a line that is not the same so much is shown, and so much before the first letter that differs
_SHOWN, _BEFORE = 60, 20
_SHA256 = re.compile("[0-9a-f]{64}")
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")
# numbers are written with six digits and more, of which another processor may round the last otherwise
_RELATIVE, _ABSOLUTE = 1e-5, 1e-7


def same(then: bytes, now: bytes, hashes: Mapping[str, str], hashes_now: Mapping[str, str]) -> bool:
    """Return whether two contents are the same text but for last digits; `hashes` name the file of each SHA-256 of either run."""
    try:
        before, after = (
            _named(then.decode("utf-8"), hashes),
            _named(now.decode("utf-8"), hashes_now),
        )
    except UnicodeDecodeError:
        return then == now
    if _NUMBER.split(before) != _NUMBER.split(after):
        return False
    return all(map(_close, _NUMBER.findall(before), _NUMBER.findall(after)))


def _named(text: str, hashes: Mapping[str, str]) -> str:
    """Return a text with each hash of a file as its name."""
    return _SHA256.sub(lambda found: hashes.get(found[0], found[0]), text)


def _close(then: str, now: str) -> bool:
    if then == now:
        return True
    if then.lstrip("-").isdigit() and now.lstrip("-").isdigit():
        return False
    # no number of a page is beyond numbers, but letters of a hash may look like one
    return math.isfinite(float(then)) and math.isclose(
        float(then), float(now), rel_tol=_RELATIVE, abs_tol=_ABSOLUTE
    )


def difference(then: bytes, now: bytes) -> str:
    """Return in words where two contents of a file are not the same: the first line, or that they are no text."""
    try:
        before, after = then.decode("utf-8").splitlines(), now.decode("utf-8").splitlines()
    except UnicodeDecodeError:
        return "not the bytes that a rerun gives"
    for line, (a, b) in enumerate(zip(before, after, strict=False), start=1):
        if a != b:
            return f"line {line}: {_around(a, b)}, where a rerun gives {_around(b, a)}"
    if len(before) != len(after):
        more = "goes on after" if len(before) > len(after) else "ends before"
        return f"it {more} line {min(len(before), len(after)) + 1}"
    return "only the ends of its lines are not those of a rerun"


def _around(text: str, other: str) -> str:
    """Return the part of a line that is not that of another, with a little before it."""
    same_until = next((i for i, (a, b) in enumerate(zip(text, other, strict=False)) if a != b), 0)
    same_until = same_until or min(len(text), len(other))
    begin = max(same_until - _BEFORE, 0)
    part = text[begin : begin + _SHOWN]
    return f"{'…' if begin else ''}{part}{'…' if begin + _SHOWN < len(text) else ''}" or "nothing"

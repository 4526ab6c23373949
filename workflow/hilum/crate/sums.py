"""SHA256SUMS, as `sha256sum --check` reads it."""

from __future__ import annotations

import re
from collections.abc import Mapping

_LINE = re.compile(r"(\\?)([0-9a-f]{64})[ ][ *](.+)")
# a name with one of these would end its line, or be read as another
_ESCAPES = {"\\": "\\\\", "\n": "\\n", "\r": "\\r"}


def text(hashes: Mapping[str, str]) -> str:
    """Return the file that holds the hash of each path."""
    return "".join(_line(path, hashes[path]) for path in sorted(hashes))


def _line(path: str, sha: str) -> str:
    spelled = "".join(_ESCAPES.get(character, character) for character in path)
    return f"{'' if spelled == path else chr(92)}{sha}  {spelled}\n"


def read(said: str) -> dict[str, str]:
    """Return the hash of each path.

    Raises ValueError with a sentence for a line that is none.
    """
    found = {}
    # only a line feed ends a line: a name may hold other marks that Python would take for an end
    for number, line in enumerate(said.removesuffix("\n").split("\n"), start=1):
        match = _LINE.fullmatch(line)
        if not match:
            raise ValueError(f"SHA256SUMS, line {number}: holds no hash and name of a file")
        escaped, sha, spelled = match.groups()
        path = _plain(spelled) if escaped else spelled
        if path in found:
            raise ValueError(f"SHA256SUMS, line {number}: names {path} again")
        found[path] = sha
    return found


def _plain(spelled: str) -> str:
    plain = {"\\\\": "\\", "\\n": "\n", "\\r": "\r"}
    return re.sub(r"\\[\\nr]", lambda match: plain[match.group()], spelled)


def differing(said: Mapping[str, str], found: Mapping[str, str]) -> dict[str, str]:
    """Return what is wrong with each file that is not as the sums have it: `{path: changed, missing or added}`."""
    wrong = {}
    for path in sorted(said.keys() | found.keys()):
        if path not in found:
            wrong[path] = "missing"
        elif path not in said:
            wrong[path] = "added"
        elif said[path] != found[path]:
            wrong[path] = "changed"
    return wrong

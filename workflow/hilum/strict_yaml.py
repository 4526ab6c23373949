"""Every YAML file that is read here, strictly: plain values, each key once, within limits; all else is told with its line.

A file may come from a stranger. So it is composed node by node, and what could run code, fill a memory, never end, or look
otherwise than it reads is refused before a value is made of it.
"""

from __future__ import annotations

import stat
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from hilum.visible import hidden, visible

# an experiment.yaml with a thousand known faults has 200 kB and 12,000 values; 50,000 are read in two seconds
MAX_BYTES = 1_000_000
MOST_VALUES = 50_000
DEEPEST = 30
# a longer one would be computed for hours
_LONGEST_NUMBER = 100
_TAG = "tag:yaml.org,2002:"
_PLAIN_TAGS = {f"{_TAG}{kind}" for kind in ("str", "seq", "map")}
# `<<` and `=`, which YAML gives a meaning, are text here
_TEXT = {f"{_TAG}{kind}" for kind in ("str", "merge", "value")}
_DEEP = "has brackets without end, or is nested too deeply"
_HINTS = {
    "but found another document": "; it may hold one document, without a line of ---",
    "mapping values": "; a text that holds a colon stands in quotes",
}


class Refused(Exception):
    """Say why a file is not read, and in which line, 0 for the whole file."""

    def __init__(self, says: str, line: int = 0) -> None:
        super().__init__(says)
        self.says, self.line = says, line


class Forbidden(Refused):
    """Say what YAML allows, and this reader does not."""


@dataclass(frozen=True)
class Tree:
    """The values of a file as dicts, lists and scalars, and the line of each key by the keys that lead to it."""

    value: Any = None
    lines: Mapping[tuple[str, ...], int] = field(default_factory=dict)


def contents(path: Path) -> bytes:
    """Return what is in an ordinary file of bounded size. Raises Refused."""
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise Refused("is a folder, a pipe or a device, where a file is needed")
        with path.open("rb") as file:
            return file.read(MAX_BYTES + 1)
    except OSError as error:
        raise Refused(f"cannot be read ({error.strerror})") from error
    except ValueError as error:
        raise Refused("cannot be read (no file can have this name)") from error


def read(data: bytes, *, typed: bool) -> Tree:
    """Return the values of a file; `typed` makes numbers, days and truths of scalars, else each stays the text that it is.

    Raises Refused.
    """
    text = _text(data)
    try:
        node = _Composer(text).get_single_node()
        values = _Values(typed=typed)
        return Tree(values.of(node, ()), values.lines) if node else Tree()
    except yaml.YAMLError as error:
        raise _broken(error) from error
    except RecursionError as error:
        raise Refused(_DEEP) from error


def load(path: Path) -> Any:
    """Return the typed values of the file at `path`. Raises Refused."""
    return read(contents(path), typed=True).value


def _text(data: bytes) -> str:
    if len(data) > MAX_BYTES:
        raise Refused(f"is larger than {MAX_BYTES} bytes")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        # a first byte that is none is that of another encoding throughout
        line = data[: error.start].count(b"\n") + 1 if error.start else 0
        raise Refused("is not text in UTF-8; save it as UTF-8", line) from error
    found = hidden(text, but="\t\n\r")
    if found:
        line = text.count("\n", 0, found.start()) + 1
        raise Refused(f"is not valid YAML: {_unseen(found.group())}", line)
    return text


def _unseen(character: str) -> str:
    return f"it holds {visible(character)}, a character that cannot be seen; type that place anew"


def _broken(error: yaml.YAMLError) -> Refused:
    mark = getattr(error, "problem_mark", None)
    problem = getattr(error, "problem", None) or "a character that YAML does not allow"
    hint = next((hint for words, hint in _HINTS.items() if words in problem), "")
    return Refused(f"is not valid YAML: {visible(problem)}{hint}", mark.line + 1 if mark else 0)


class _Composer(yaml.SafeLoader):
    """A loader that composes nodes alone, and stops at the first that may not stand here."""

    depth = 0
    values = 0

    def compose_node(self, parent: yaml.Node | None, index: int) -> yaml.Node | None:
        """Return the next node of the tree."""
        event = self.peek_event()  # type: ignore[no-untyped-call]
        line = event.start_mark.line + 1
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
            # few of them can fill a memory
            raise Forbidden("YAML anchors and aliases (& and *) are not allowed here", line)
        tag = getattr(event, "tag", None)
        if tag is not None and tag not in _PLAIN_TAGS:
            raise Forbidden(f"the tag {tag!r} is not allowed here; write plain values", line)
        self.values += 1
        self.depth += 1
        if self.values > MOST_VALUES:
            raise Refused(f"holds more than {MOST_VALUES} values", line)
        if self.depth > DEEPEST:
            raise Refused(_DEEP, line)
        node: yaml.Node | None = super().compose_node(parent, index)
        self.depth -= 1
        return node


class _Values:
    """Values of nodes, and the line of each key on the way."""

    def __init__(self, *, typed: bool) -> None:
        self.typed = typed
        self.lines: dict[tuple[str, ...], int] = {}
        self._constructor = yaml.constructor.SafeConstructor()

    def of(self, node: yaml.Node, place: tuple[str, ...]) -> Any:
        self.lines.setdefault(place, node.start_mark.line + 1)
        if isinstance(node, yaml.MappingNode):
            return self._mapping(node, place)
        if isinstance(node, yaml.SequenceNode):
            return [self.of(item, (*place, str(i))) for i, item in enumerate(node.value)]
        return self._scalar(node)

    def _mapping(self, node: yaml.MappingNode, place: tuple[str, ...]) -> dict[str, Any]:
        made: dict[str, Any] = {}
        for key, value in node.value:
            line = key.start_mark.line + 1
            if not isinstance(key, yaml.ScalarNode) or not key.value:
                raise Forbidden("a key must be a plain word", line)
            name = _seen(key)
            if name in made:
                raise Forbidden(f"the key {visible(name)} is there twice", line)
            made[name] = self.of(value, (*place, name))
            self.lines[(*place, name)] = line
        return made

    def _scalar(self, node: yaml.Node) -> Any:
        """Return a scalar: a dish called 007 or No must not become a number or a falsehood, unless that is asked for."""
        if not self.typed or node.tag in _TEXT:
            return _seen(node)
        try:
            if len(node.value) > _LONGEST_NUMBER:
                raise ValueError
            return self._constructor.construct_object(node)
        except (ValueError, OverflowError) as error:
            line = node.start_mark.line + 1
            raise Forbidden("a day or a number that there is not", line) from error


def _seen(node: yaml.Node) -> str:
    """Return the text of a scalar, in which an escape may have hidden what the file itself may not hold."""
    text = str(node.value)
    found = hidden(text, but="\t\n")
    if found:
        raise Forbidden(_unseen(found.group()), node.start_mark.line + 1)
    return text

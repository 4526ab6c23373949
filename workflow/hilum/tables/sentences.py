"""Faults as sentences for the person who can repair them: where, what was found, what is allowed."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from pathlib import Path

from hilum.tables.column import NAME_LENGTH
from hilum.visible import told, visible

# of one kind of fault in one column so many are told in full, the rest by their lines
TOLD_IN_FULL = 20
SHOWN_AT_THE_DOOR = 20
VALUE_LENGTH = 60
# comparing a name with more than this takes longer than reading the list
MEANT_AMONG = 2000
_LOOKALIKES = str.maketrans("10", "lo")
# spaces, points, underscores and every kind of hyphen; before a number at the start of a word it is a minus
_MARKS = r"[\s._\u00b7\u2010-\u2015\u2212-]"
_MINUS = re.compile(r"(?:^|(?<=\s))[\u2010-\u2015\u2212-](?=\d)")
_BETWEEN_DIGITS = re.compile(rf"(?<=\d){_MARKS}+(?=\d)")
_ELSEWHERE = re.compile(rf"(?<!\d){_MARKS}+|{_MARKS}+(?!\d)")
_PLAIN_VALUE = re.compile(r"[\w.:+/-]{1,40}")


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One fault, or one remark, as it was found.

    `line` counts rows as a spreadsheet does, 0 for the whole file; with a `column`, `says` goes on after
    "column is value"; `among` are the names that may have been meant; `rule` names the kind of fault.
    """

    file: str
    says: str
    line: int = 0
    column: str = ""
    value: str = ""
    among: Sequence[str] = ()
    rule: str = ""


class Faults(Exception):
    """Carry every fault of a study as sentences; `log` is the file that lists them all."""

    def __init__(self, sentences: Sequence[str], log: Path) -> None:
        super().__init__(len(sentences))
        self.sentences = tuple(sentences)
        self.log = log

    def __str__(self) -> str:
        """Return the first sentences, how many there are, and where the rest stands."""
        count = len(self.sentences)
        shown = self.sentences[:SHOWN_AT_THE_DOOR]
        noun = "1 fault" if count == 1 else f"{count} faults"
        rest = "" if count == len(shown) else f", the first {len(shown)} of them above"
        last = f"{noun} in the raw tables{rest}; all are listed in {self.log}."
        return told("\n".join([*shown, last]))


def quoted(value: str) -> str:
    """Return a typed value for a sentence: shortened, invisible characters spelled out, quoted if need be."""
    short = value if len(value) <= VALUE_LENGTH else f"{value[:VALUE_LENGTH]}…"
    return short if _PLAIN_VALUE.fullmatch(short) else f'"{visible(short)}"'


def looks(name: str) -> str:
    """Return a name as it looks to a tired eye: without case, spaces, points and hyphens, and with l for 1 and o for 0.

    Between two digits a mark stays, whichever it is: 1.5 is not 15, and 1-11 is not 11-1. So does a minus: -20 is not 20.
    """
    text = name.casefold() if name.isascii() else unicodedata.normalize("NFKC", name).casefold()
    if not text.isalnum():
        text = _MINUS.sub("minus", text)
        text = _ELSEWHERE.sub("", _BETWEEN_DIGITS.sub("-", text))
    return text.translate(_LOOKALIKES)


def meant(value: str, among: Sequence[str]) -> str:
    """Return the name that was probably meant, two where they are as likely, or ""."""
    same = {looks(name): name for name in among}.get(looks(value))
    if same or not among or len(among) > MEANT_AMONG:
        return same or ""
    # a unit at the end of a name is a guess too far: mass is mass_mg or mass_g
    units = [n for n in among if n.rpartition("_")[0].casefold() == value.casefold()]
    if units:
        return " or ".join(units)
    close = difflib.get_close_matches(
        value[:NAME_LENGTH].casefold(), [n.casefold() for n in among], 1
    )
    return next((n for n in among if close and n.casefold() == close[0]), "")


def sentence(fault: Fault) -> str:
    """Return the fault as one sentence on one line."""
    place = f"{fault.file}, line {fault.line}" if fault.line else fault.file
    found = ""
    if fault.column:
        found = f"{fault.column} is {quoted(fault.value) if fault.value else 'empty'}"
    guess = meant(fault.value, fault.among)
    perhaps = f"; perhaps you meant {quoted(guess)}" if guess else ""
    line = visible(f"{place}: {found}{fault.says}{perhaps}")
    return line if line.endswith(("?", ".")) else f"{line}."


def once_each(faults: Iterable[Fault]) -> list[Fault]:
    """Return the faults by file and line, only the first that was found of each cell."""
    seen: dict[tuple[str, int, str], Fault] = {}
    for fault in faults:
        place = fault.column or f"\0{fault.rule or fault.says}"
        seen.setdefault((fault.file, fault.line, place), fault)
    return sorted(seen.values(), key=lambda f: (f.file, f.line))


def _kind(fault: Fault) -> tuple[str, str, str]:
    return fault.file, fault.column, fault.rule


def shorten(faults: Sequence[Fault]) -> list[Fault]:
    """Return the faults with long runs of one kind told by their lines.

    A column typed with decimal commas is one mistake, not ten thousand sentences.
    """
    kept: list[Fault] = []
    for _, same in groupby(sorted(faults, key=_kind), key=_kind):
        group = list(same)
        rest = group[TOLD_IN_FULL:] if group[0].line else []
        kept += group if len(rest) < 2 else [*group[:TOLD_IN_FULL], _many(rest)]
    return sorted(kept, key=lambda f: (f.file, f.line))


def _many(rest: Sequence[Fault]) -> Fault:
    column = f" in {rest[0].column}" if rest[0].column else ""
    says = (
        f"and {len(rest)} more lines have the same fault{column}: {ranges([f.line for f in rest])}"
    )
    return replace(rest[0], column="", value="", among=(), says=says)


def ranges(lines: Sequence[int], most: int = 12) -> str:
    """Return line numbers in words: `3 to 7, 9`."""
    runs: list[list[int]] = []
    for line in sorted(set(lines)):
        if runs and line == runs[-1][1] + 1:
            runs[-1][1] = line
        else:
            runs.append([line, line])
    words = [f"{a} to {b}" if a != b else f"{a}" for a, b in runs[:most]]
    last = f" and others up to {runs[-1][1]}" if len(runs) > most else ""
    return ", ".join(words) + last


def with_values(
    faults: Sequence[Fault], typed: Mapping[str, Mapping[int, Mapping[str, str]]]
) -> list[Fault]:
    """Return the faults with the cells as typed, from `{file: {line: {column: cell}}}`."""
    return [
        replace(f, value=typed.get(f.file, {}).get(f.line, {}).get(f.column, "")) if f.column else f
        for f in faults
    ]

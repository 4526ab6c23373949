"""What verify says: sentences for a reader who asks whether a published number still stands, and why not."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import SequenceMatcher

from hilum.crate.compare import Compared, Moved
from hilum.crate.layout import CONFIG, Run
from hilum.settings import shown

_NAMED = 20
_LINES = 1000


@dataclass(frozen=True, kw_only=True)
class Found:
    """What was found in a crate and in its rerun.

    `wrong` are files that are not as its sums have them, `cells` sentences on raw cells that were changed;
    `compared` is each table of estimates (None where one run lacks it), `drawn` what charts draw and is not the
    same; `identical` says whether every byte of the estimates is; `differs` are sentences on what this run has
    otherwise. Where `refused` says why, nothing was rerun.
    """

    run: Run
    files: int
    wrong: Mapping[str, str] = field(default_factory=dict)
    cells: Sequence[str] = ()
    compared: Mapping[str, Compared | None] = field(default_factory=dict)
    drawn: Sequence[str] = ()
    identical: bool = False
    differs: Sequence[str] = ()
    refused: str = ""

    @property
    def moved(self) -> bool:
        """Return whether any number is not the same."""
        # a curve where the data do not tell which is no estimate: what charts draw is told, and weighs nothing
        return any(one is None or not one.same for one in self.compared.values())

    @property
    def status(self) -> int:
        """Return 0 where crate and rerun agree, 1 where a file or a number does not, 2 where nothing was rerun."""
        if self.refused:
            return 2
        return 1 if self.wrong or self.moved else 0


def text(found: Found) -> str:
    """Return the whole answer, the verdict first."""
    return "\n".join(
        [_verdict(found), *_origin(found), *_files(found), *_estimates(found), *_why(found)]
    )


def _verdict(found: Found) -> str:
    if found.refused:
        return f"Refused: {found.refused}"
    if found.moved:
        count = sum(_count(one) for one in found.compared.values())
        return (
            f"Moved: {_noun(count, 'row')} of the estimates {_are(count)} not what the crate says."
        )
    if found.wrong:
        return "The estimates stand, but the crate is not as it was written."
    if found.identical:
        return "Identical: every estimate is the same, byte for byte."
    return "The same: every estimate agrees to six significant digits."


def _count(one: Compared | None) -> int:
    return 1 if one is None else len(one.moved) + len(one.gone) + len(one.new)


def _noun(count: int, noun: str) -> str:
    return f"{count:,} {noun}{'' if count == 1 else 's'}"


def _are(count: int) -> str:
    return "is" if count == 1 else "are"


def _origin(found: Found) -> Iterator[str]:
    run = found.run
    ends = f", its raw tables end on {run.ends}" if run.ends else ""
    state = f", commit {run.commit}" if run.commit else ""
    yield f"The crate: study {run.study}{ends}; made by Hilum {run.hilum or 'of an unknown version'}{state}."


def _files(found: Found) -> Iterator[str]:
    if not found.wrong:
        yield f"Files: all {found.files:,} are as they were written (SHA256SUMS)."
    else:
        count = len(found.wrong)
        yield f"Files: {_noun(count, 'file')} {_are(count)} not as SHA256SUMS has them:"
        yield from _some([f"  {path}: {says}" for path, says in found.wrong.items()])
    if found.cells:
        yield "Raw cells that were changed since:"
        yield from _some([f"  {cell}" for cell in found.cells])


def _some(told: Sequence[str]) -> Iterator[str]:
    yield from told[:_NAMED]
    if len(told) > _NAMED:
        yield f"  and {len(told) - _NAMED:,} more"


# estimates


def _estimates(found: Found) -> Iterator[str]:
    if found.refused:
        return
    rows = sum(one.rows for one in found.compared.values() if one)
    yield f"Estimates: {_noun(rows, 'row')} in {_noun(len(found.compared), 'table')} compared with a rerun of the raw tables."
    told = [
        (_rank(moved), f"  {path}, line {moved.line}: {_sentence(moved)}")
        for path, one in found.compared.items()
        if one
        for moved in one.moved
    ]
    yield from _some([said for _, said in sorted(told, key=lambda pair: pair[0])])
    for path, one in found.compared.items():
        if one is None:
            yield f"  {path}: only one of the two runs has this table"
            continue
        for noun, rest in (("is not in the rerun", one.gone), ("is only in the rerun", one.new)):
            yield from _some([f"  {path}: {row} {noun}" for row in rest])
        if one.worded:
            yield f"  {path}: {_noun(one.worded, 'row')} worded otherwise, with the same numbers"
    yield from _some([f"  {path}: what its charts draw is not the same" for path in found.drawn])


def _rank(moved: Moved) -> float:
    """Return the order of telling: another status first, then what moved farthest."""
    if "status" in moved.cells:
        return -math.inf
    return 0.0 if moved.share is None else -moved.share


def _sentence(moved: Moved) -> str:
    cells = ", ".join(
        f"{name} {before or 'empty'} → {after or 'empty'}"
        for name, (before, after) in moved.cells.items()
    )
    told = f"{moved.of}: {cells}" if moved.of else cells
    if moved.share is None:
        return told
    place = {True: "; the new value lies inside it", False: "; the new value lies outside it"}
    by = f"moved by {moved.share:.2g} of the width of its interval, {moved.interval}"
    return f"{told}: {by}{place[moved.inside] if moved.inside is not None else ''}"


# what differs


def _why(found: Found) -> Iterator[str]:
    if found.differs:
        yield "What this run has otherwise than the run of the crate:"
        yield from _some([f"  {one}" for one in found.differs])
    elif found.moved:
        yield (
            "Code, packages, settings and raw tables are those of the crate's run: the crate's estimates were "
            "changed, or this processor computes otherwise."
        )


def settings(
    then: Mapping[str, object], now: Mapping[str, object], lines: Mapping[str, int]
) -> list[str]:
    """Return each setting that is not the same, in words, with the line that gives it now.

    Those that an older version did not have are passed over.
    """
    pairs = {name: (_shown(then[name]), _shown(now[name])) for name in then if name in now}
    return [
        f"{CONFIG}{f', line {lines[n]}' if n in lines else ''}: {n} is {b}, but the run had {a}"
        for n, (a, b) in pairs.items()
        if a != b
    ]


def _shown(value: object) -> str:
    return shown(tuple(value)) if isinstance(value, list) else shown(value)


def packages(differing: Mapping[str, tuple[str, str]]) -> list[str]:
    """Return each package that is not the same, in words."""
    return [
        f"package {name}: {then or 'not there'} in the run, {now or 'not there'} here"
        for name, (then, now) in differing.items()
    ]


def code(path: str, then: str | None, now: str | None) -> str:
    """Return in words where a file of the code is not the same; None where it is not there."""
    if then is None:
        return f"code {path}: only here"
    if now is None:
        return f"code {path}: only in the crate"
    before, after = then.splitlines(), now.splitlines()
    if len(before) > 2 * len(after) + _LINES:
        # to find the place would take longer than the refit
        return f"code {path}: is another file"
    blocks = SequenceMatcher(None, before, after, autojunk=False).get_opcodes()
    changed = [block for block in blocks if block[0] != "equal"]
    line = changed[0][3] + 1 if changed else 1
    more = f" and {_noun(len(changed) - 1, 'more place')}" if len(changed) > 1 else ""
    return f"code {path}, line {line} here{more}"

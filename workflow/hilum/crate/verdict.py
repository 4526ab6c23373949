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

    `wrong` are files that are not as its sums have them, `cells` sentences on checked cells that the raw tables do not say;
    `compared` is each table of estimates (None where one run lacks it); `altered` are other files that a rerun makes otherwise,
    though the crate names the same code, and `unverified` those that other code may have made so, with what differs.
    `alike` says whether the crate names the code and packages that stand here, `identical` whether every byte of the
    estimates is the same; `differs` are sentences on what this run has otherwise. Where `refused` says why, nothing was rerun.
    """

    run: Run
    files: int
    wrong: Mapping[str, str] = field(default_factory=dict)
    cells: Sequence[str] = ()
    compared: Mapping[str, Compared | None] = field(default_factory=dict)
    altered: Mapping[str, str] = field(default_factory=dict)
    unverified: Mapping[str, str] = field(default_factory=dict)
    alike: bool = False
    identical: bool = False
    differs: Sequence[str] = ()
    refused: str = ""

    @property
    def moved(self) -> bool:
        """Return whether any number is not the same, or the crate's own code would tell it otherwise."""
        return any(
            self.alike if one is None else not one.same or (self.alike and _told_otherwise(one))
            for one in self.compared.values()
        )

    @property
    def status(self) -> int:
        """Return 0 where all agrees, 1 where something moved or was altered, 2 where nothing was rerun, 3 where it was verified in part."""
        if self.refused:
            return 2
        if self.wrong or self.cells or self.moved or self.altered:
            return 1
        return 3 if self.unverified or not self.alike else 0


def _told_otherwise(one: Compared) -> bool:
    return bool(one.worded or one.form)


def text(found: Found) -> str:
    """Return the whole answer, the verdict first."""
    parts = (_origin, _files, _estimates, _others, _why)
    return "\n".join([_verdict(found), *(line for part in parts for line in part(found))])


def _verdict(found: Found) -> str:
    if found.refused:
        return f"Refused: {found.refused}"
    if found.moved:
        count = sum(_count(one, found.alike) for one in found.compared.values())
        return (
            f"Moved: {_noun(count, 'row')} of the estimates {_are(count)} not what the crate says."
        )
    if found.wrong:
        return "The estimates stand, but the crate is not as it was written."
    if found.cells or found.altered:
        count = len(found.altered) or len(found.cells)
        noun = "other file" if found.altered else "cell of its checked tables"
        return f"Altered: the estimates stand, but {_noun(count, noun)} {_are(count)} not what its raw tables give."
    if found.status == 3:
        return f"Verified in part: the estimates stand; {_not_verified(found)}."
    if found.identical:
        return "Identical: every table, estimate, chart and page is the same, byte for byte."
    return (
        "The same: every estimate agrees to six significant digits, and all else letter by letter."
    )


def _not_verified(found: Found) -> str:
    """Return in words why not everything could be verified."""
    count = len(found.unverified)
    told = f"{_noun(count, 'other file')} that a rerun makes otherwise {_are(count)} not verified"
    if found.alike:
        return f"{told}, since the last digits of estimates are not those of this processor"
    maker = f"Hilum {found.run.hilum}" if found.run.hilum else "a version that is not named"
    return f"{told}, since the crate says that other code or packages made it ({maker})"


def _count(one: Compared | None, strictly: bool) -> int:
    if one is None:
        return 1
    numbers = len(one.moved) + len(one.gone) + len(one.new)
    return numbers or (strictly and (one.rows if one.form else one.worded))


def _noun(count: int, noun: str) -> str:
    first, *rest = noun.split(" of ")
    return " of ".join([f"{count:,} {first}{'' if count == 1 else 's'}", *rest])


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
        yield "Cells where the raw tables do not say what the crate read from them:"
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
        if one.form:
            yield f"  {path}: {one.form}"
        for noun, rest in (("is not in the rerun", one.gone), ("is only in the rerun", one.new)):
            yield from _some([f"  {path}: {row} {noun}" for row in rest])
        if one.worded:
            yield f"  {path}: {_noun(one.worded, 'row')} worded otherwise, with the same numbers"


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


def _others(found: Found) -> Iterator[str]:
    """Yield the files beside the estimates that a rerun makes otherwise."""
    if found.refused:
        return
    for head, files in (
        ("Files that are not what its raw tables give:", found.altered),
        ("Files that are not verified:", found.unverified),
    ):
        if files:
            yield head
            yield from _some([f"  {path}: {says}" for path, says in files.items()])
    if not (found.altered or found.unverified):
        yield "Checked tables, charts, pages, methods and metadata: the same."


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

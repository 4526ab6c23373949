"""Crates and config files of strangers: kinds of them, what becomes of each, and the counts for `make faults`."""

from __future__ import annotations

import contextlib
import io
import shutil
import subprocess
import sys
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import cycle
from pathlib import Path
from random import Random

from hilum import progress, settings
from hilum.steps import confined, due, plan, sheets, verify
from tests import crated
from tests.conftest import REPOSITORY
from tests.faults.judge import Late, limited

HEADING = "## Crates and config files of strangers"
SECONDS = 60
# from a folder with a crate in it, to be damaged, the path that a person would give to the program
Make = Callable[[Path, Random], Path]
# each program, and the status that it refuses with
PROGRAMS: dict[str, tuple[Callable[[list[str]], int], int]] = {
    "verify": (verify.main, 2),
    "settings": (settings.main, 1),
    "plan": (plan.main, 1),
    "sheets": (sheets.main, 1),
    "due": (due.main, 1),
}


@dataclass(frozen=True)
class Kind:
    """One kind of what a stranger may hand over.

    `says` is in the answer, where there is only one answer. `forged` is a crate whose sums were made anew.
    """

    name: str
    make: Make
    program: str = "verify"
    says: str = ""
    forged: bool = False


@dataclass(frozen=True)
class Answer:
    """What a program answered: its status, its words and how long it took; `broke` holds a traceback."""

    status: int
    told: str
    seconds: float
    broke: str = ""


KINDS: dict[str, Kind] = {}


def kind(
    name: str, *, program: str = "verify", says: str = "", forged: bool = False
) -> Callable[[Make], Make]:
    """Return a decorator that adds a kind to those that are counted."""

    def add(make: Make) -> Make:
        KINDS[name] = Kind(name, make, program, says, forged)
        return make

    return add


def answer(one: Kind, path: Path) -> Answer:
    """Return what the program of a kind answers in this process."""
    said, begun = io.StringIO(), time.perf_counter()
    status, broke = -1, ""
    try:
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said), limited(SECONDS):
            program = PROGRAMS[one.program][0]
            inside = one.program == "verify"
            status = confined.guarded(program, str(path)) if inside else program([str(path)])
    except Late:
        broke = f"took longer than {SECONDS} s"
    except Exception:
        broke = traceback.format_exc(limit=-4)
    return Answer(status, said.getvalue(), time.perf_counter() - begun, broke)


def by_command(one: Kind, path: Path) -> Answer:
    """Return what it answers as a command, in a process of its own."""
    module = "hilum.settings" if one.program == "settings" else f"hilum.steps.{one.program}"
    begun = time.perf_counter()
    words = [sys.executable, "-m", module, str(path)]
    done = subprocess.run(words, capture_output=True, text=True, timeout=600, cwd=path.parent)
    told = done.stdout + done.stderr
    took = time.perf_counter() - begun
    return Answer(done.returncode, told, took, told if "Traceback" in told else "")


def defect(one: Kind, found: Answer) -> str:
    """Return what is wrong with an answer, empty where nothing is."""
    refused = PROGRAMS[one.program][1]
    if found.broke:
        return found.broke
    if found.seconds > SECONDS:
        return f"took {found.seconds:.0f} s"
    if not all(line.isprintable() for line in found.told.split("\n")):
        return f"steers a terminal: {found.told!r:.300}"
    if found.status != refused and not (one.forged and found.status in (1, 3)):
        return f"status {found.status}: {found.told:.300}"
    if one.says not in found.told:
        return f"does not say {one.says!r}: {found.told:.300}"
    return "" if found.told.strip() else "says nothing"


@dataclass
class Met:
    """What became of all of them: for each kind how many got which status, and what was wrong."""

    counts: dict[str, Counter[int]] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)
    slowest: float = 0.0
    commanded: int = 0

    def total(self, which: Callable[[Kind], bool]) -> Counter[int]:
        """Return the statuses of some kinds together."""
        found = (made for name, made in self.counts.items() if which(KINDS[name]))
        return sum(found, Counter[int]())


def honest(folder: Path) -> Path:
    """Return a crate as it was made."""
    return crated.packed(crated.study(folder, whole=True))


def meet(folder: Path, *, number: int, seed: int, every: int = 10) -> Met:
    """Return what becomes of so many, each kind in turn; a third are forged, and every so many go through the real command."""
    crate, made = honest(folder / "honest"), Met()
    once = crated.rebuilds_once({}, folder)
    for count, one in enumerate(progress.through(_in_turn(number, seed), number)):
        home = folder / f"{count}"
        path = strike(one, crate, home, f"{seed} {one.name} {count}")
        found = (by_command if count % every == 0 else answer)(one, path)
        made.commanded += count % every == 0
        made.counts.setdefault(one.name, Counter())[found.status] += 1
        made.slowest = max(made.slowest, found.seconds)
        says = defect(one, found)
        if says:
            made.wrong.append(f"{one.name} ({count}): {says}")
        shutil.rmtree(home)
    once.undo()
    return made


def _in_turn(number: int, seed: int) -> Iterator[Kind]:
    kinds = list(KINDS.values())
    Random(seed).shuffle(kinds)  # noqa: S311 (no secret)
    forged, hostile = (
        cycle([k for k in kinds if k.forged]),
        cycle([k for k in kinds if not k.forged]),
    )
    for count in range(number):
        yield next(hostile if count % 3 else forged)


def strike(one: Kind, crate: Path, home: Path, seed: str) -> Path:
    """Return the path of one specimen in a folder of its own."""
    copy = shutil.copytree(crate, home / "crate")
    if one.program != "verify":
        shutil.copyfile(REPOSITORY / "config/plan.yaml", home / "plan.yaml")
    return one.make(copy, Random(seed))  # noqa: S311 (no secret)


def section(met: Met) -> str:
    """Return the counts as a section of `counts.md`."""
    hostile, forged = (
        met.total(lambda one, what=what: one.forged is what)  # type: ignore[misc]
        for what in (False, True)
    )
    return f"""{HEADING}

Crates and files of settings, plans and experiments that were made to harm, and honest crates whose contents were changed and whose sums were made
anew, {met.commanded} of them through the real command. A defect is a status 0, a traceback, a character
that would steer a terminal, or more than {SECONDS} s. {len(met.wrong)} defects.

| kind | all | refused | told | status 0 |
| --- | ---: | ---: | ---: | ---: |
{_row("hostile crates and files", hostile)}
{_row("forged files, sums made anew", forged)}
"""


def _row(name: str, found: Counter[int]) -> str:
    refused = found.total() - found[0]
    told = found[1] + found[3] if name.startswith("forged") else 0
    return f"| {name} | {found.total()} | {refused - told} | {told} | {found[0]} |"


def replaced(page: str, met: Met) -> str:
    """Return the page of counts with this section in the place of its former one, or at its end."""
    before, _, own = page.partition(f"\n{HEADING}\n")
    _, head, after = own.partition("\n## ")
    return f"{before.rstrip()}\n\n{section(met)}{head}{after}"


def load() -> Sequence[Kind]:
    """Return every kind, from the files that hold them."""
    from tests.faults import strange_configs, strange_contents, strange_packings

    assert all((strange_configs, strange_contents, strange_packings))
    return list(KINDS.values())

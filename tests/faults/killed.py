"""Steps killed with kill -9 between any two changes that they make on the disk."""

from __future__ import annotations

import os
import shutil
import signal
import sys
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

from hilum.settings import Settings
from hilum.steps import check, fit, publish, report
from hilum.study import Study
from tests import raw

STEPS: dict[str, Callable[[Study, Settings], None]] = {
    "check": check.run,
    "fit": fit.run,
    "report": report.run,
    "publish": publish.run,
}
_CHANGES = ("os.mkdir", "os.rename", "os.remove", "os.rmdir")
_WRITES = os.O_WRONLY | os.O_RDWR
YAML = raw.FILES["germ/experiment.yaml"].replace("analyses: []", "analyses: [time_course]")


def _apart(work: Callable[[], Any], said: Path) -> int:
    """Return how a process of its own ended that did the work; drawing leaves threads that no fork survives.

    What it had to say is in the file `said`.
    """
    child = os.fork()
    if not child:
        status = 1
        try:
            with said.open("w", encoding="utf-8") as file:
                os.dup2(file.fileno(), 1)
                os.dup2(file.fileno(), 2)
            work()
            status = 0
        except BaseException:
            traceback.print_exc()
        finally:
            sys.stderr.flush()
            os._exit(status)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def _is_change(event: str, words: tuple[Any, ...], folder: str) -> bool:
    if event == "open":
        path, flags = words[0], words[2]
        named = isinstance(path, (str, os.PathLike)) and os.fspath(path)
        return isinstance(flags, int) and bool(flags & _WRITES) and str(named).startswith(folder)
    return event in _CHANGES


def _die_at(number: int, folder: str, log: Path | None = None, only: str = "") -> None:
    """Kill this process before its change of that number; write what each change was to `log` instead.

    Changes of one kind alone are counted where `only` names it.
    """
    seen: list[str] = []

    def heard(event: str, words: tuple[Any, ...]) -> None:
        if not _is_change(event, words, folder) or only not in ("", event):
            return
        seen.append(f"{event} {words[0]}")
        if log is not None:
            os.write(descriptor, f"{seen[-1]}\n".encode())
        elif len(seen) == number:
            os.kill(os.getpid(), signal.SIGKILL)

    descriptor = os.open(log, os.O_CREAT | os.O_WRONLY) if log else -1
    sys.addaudithook(heard)


@dataclass
class Kill:
    """A study that was built once, and then runs anew while its steps are killed."""

    folder: Path

    def __post_init__(self) -> None:
        """Build the study whole, twice: before and after an edit of its data."""
        self.study = raw.write(self.folder, {"germ/experiment.yaml": YAML})
        self.settings = Settings(study=self.study.raw)
        self.before = self._built("before")
        counts = self.study.raw / "germ/counts.csv"
        counts.write_bytes(counts.read_bytes().replace(b"d3,24,2", b"d3,24,3"))
        self.after = self._built("after")
        self.sound = hashes(self.study.raw)

    def _built(self, name: str) -> Path:
        """Build it and return a copy of its results."""
        for step in STEPS:
            assert self.run(step) == 0, step
        kept = self.folder / name
        shutil.copytree(self.study.results, kept)
        return kept

    def run(self, step: str, before: Callable[[], None] = lambda: None) -> int:
        """Run one step in a process of its own."""

        def work() -> None:
            with raw.standing_in(self.folder):
                before()
                STEPS[step](self.study, self.settings)

        return _apart(work, self.folder / "said")

    def _ready(self, step: str) -> None:
        """Put things as they are when the edited study has been run up to a step."""
        shutil.rmtree(self.study.results)
        shutil.copytree(self.before, self.study.results)
        for name in STEPS:
            if name == step:
                return
            assert self.run(name) == 0, (self.folder / "said").read_text(encoding="utf-8")

    def changes(self, step: str) -> list[str]:
        """Return what a step changes on the disk, in order."""
        self._ready(step)
        log = self.folder / "changes"
        log.unlink(missing_ok=True)
        assert self.run(step, lambda: _die_at(0, str(self.study.results), log)) == 0
        return log.read_text(encoding="utf-8").splitlines()

    def kill(self, step: str, number: int, only: str = "") -> list[str]:
        """Kill a step before its change of that number, run on, and return what is not as it should be."""
        self._ready(step)
        ended = self.run(step, lambda: _die_at(number, str(self.study.results), only=only))
        # a helper process of the step may be the one that dies, and then the step fails
        wrong = ["nothing was killed"] if ended == 0 else []
        wrong += self._site()
        rest = list(STEPS)[list(STEPS).index(step) :]
        wrong += [f"{name} did not run on" for name in rest if self.run(name) != 0]
        if hashes(self.study.results) != hashes(self.after):
            wrong.append("the results of the next run are not those of an undisturbed one")
        if hashes(self.study.raw) != self.sound:
            wrong.append("the raw tables were touched")
        return [f"{step}, change {number}: {says}" for says in wrong]

    def _site(self) -> list[str]:
        """Say what is wrong with the site that a kill left: the old one or the new, whole."""
        site = self.study.site
        # between two renames it stands under its other name, and the next run brings it back
        here = site if site.exists() else site.with_name(".site.old")
        whole = (hashes(self.before / "site"), hashes(self.after / "site"))
        return [] if hashes(here) in whole else ["the site is neither the old one nor the new"]


def hashes(folder: Path) -> dict[str, str]:
    """Return the hash of each file below a folder."""
    files = sorted(p for p in folder.rglob("*") if p.is_file())
    return {p.relative_to(folder).as_posix(): sha256(p.read_bytes()).hexdigest() for p in files}


def every(folder: Path, *, step_by: int) -> tuple[int, list[str]]:
    """Kill each step before every so many of its changes, and before each swap; return how often, and what is wrong."""
    kill, kills = Kill(folder), 0
    wrong: list[str] = []
    for step in STEPS:
        changes = kill.changes(step)
        swaps = {i for i, told in enumerate(changes, start=1) if told.startswith("os.rename")}
        for number in sorted(swaps | set(range(1, len(changes) + 1, step_by))):
            # those that helper processes make are not reached in the step's own
            if step == "report" and number > 5:
                break
            kills += 1
            wrong += kill.kill(step, number)
    return kills, wrong

"""What became of a damaged study: refused in a sentence, harmless, unseen with its reason, or a defect."""

from __future__ import annotations

import csv
import json
import os
import re
import shutil
import signal
import sys
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Any
from unicodedata import normalize

from hilum.settings import Settings
from hilum.steps import check
from hilum.study import Study
from hilum.tables.sentences import Faults
from tests import raw
from tests.faults.damage import Damaged, Kind
from tests.faults.ground import Ground

SECONDS = 20
OUTCOMES = ("refused", "harmless", "remarked", "unseen", "defect")
Told = Callable[[Study], list[str]]


@dataclass(frozen=True)
class Verdict:
    """One of OUTCOMES, what was done, and what the check said or did wrong."""

    outcome: str
    done: str
    says: str = ""


class Late(BaseException):
    """Say that the check took too long; no handler of ordinary exceptions may swallow it."""


class Watch:
    """Watch what this process writes: `strays` are the paths outside of the folder that it may write to."""

    def __init__(self) -> None:
        self.strays: list[str] = []
        self.inside: Path | None = None
        sys.addaudithook(self._heard)

    def _heard(self, event: str, words: tuple[Any, ...]) -> None:
        if self.inside is None:
            return
        if event == "open" and isinstance(words[2], int):
            flags = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC
            self._note(words[0] if words[2] & flags else None)
        elif event in ("os.mkdir", "os.remove", "os.rmdir", "os.truncate", "os.chmod"):
            self._note(words[0])
        elif event in ("os.rename", "os.link", "os.symlink"):
            self._note(words[0])
            self._note(words[1])
        elif event in ("os.system", "subprocess.Popen", "os.exec", "socket.connect"):
            self.strays.append(event)

    def _note(self, path: Any) -> None:
        if isinstance(path, (str, bytes)) and self.inside is not None:
            place = Path(os.path.normpath(Path(os.fsdecode(path)).absolute()))
            if not place.is_relative_to(self.inside) and place.parts[:2] != ("/", "dev"):
                self.strays.append(str(place))

    @contextmanager
    def only(self, folder: Path, watched: bool) -> Iterator[None]:
        """Watch while a block runs, if it runs in this process."""
        self.strays, self.inside = [], folder if watched else None
        try:
            yield
        finally:
            self.inside = None


WATCH = Watch()


def _late(*_: object) -> None:
    raise Late


@contextmanager
def limited(seconds: float) -> Iterator[None]:
    """Raise Late in a block that takes too long."""
    before = signal.signal(signal.SIGALRM, _late)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


class Bench:
    """A folder to break studies in, with what the check makes of the undamaged one."""

    def __init__(self, folder: Path, ground: Ground, *, seconds: float = SECONDS) -> None:
        self.folder, self.ground, self.seconds = folder, ground, seconds
        self.study = Study(
            raw=folder / "data" / "strand",
            results=folder / "results" / "strand",
        )
        self._write(Damaged(ground.files, "nothing"))
        assert in_process(self.study) == [], "the undamaged study has a fault"
        self.tables = _tables(self.study)
        self.notes = self._notes()

    def _write(self, damaged: Damaged) -> None:
        shutil.rmtree(self.folder, ignore_errors=True)
        for name, data in damaged.files.items():
            path = self.study.raw / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
        self.study.results.mkdir(parents=True)
        if damaged.act:
            damaged.act(self.study.raw)

    def _notes(self) -> set[str]:
        return set(self.study.check_notes.read_text(encoding="utf-8").splitlines())

    def judge(self, kind: Kind, seed: str, run: Told | None = None) -> Verdict | None:
        """Return what becomes of one damage, or None where this study has no place for it."""
        damaged = kind.strike(self.ground, Random(seed))  # noqa: S311 - not a secret
        if damaged is None:
            return None
        self._write(damaged)
        before = _stamps(self.study.raw)
        verdict = self._verdict(kind, damaged, run or in_process)
        if _stamps(self.study.raw) != before:
            return Verdict("defect", damaged.told, "the raw files were changed")
        return verdict

    def _verdict(self, kind: Kind, damaged: Damaged, run: Told) -> Verdict:
        try:
            with limited(self.seconds), WATCH.only(self.study.results, run is in_process):
                told = run(self.study)
        except Late:
            return Verdict("defect", damaged.told, f"took longer than {self.seconds:g} s")
        except Exception:
            return Verdict("defect", damaged.told, traceback.format_exc(limit=-3))
        if WATCH.strays:
            return Verdict("defect", damaged.told, f"wrote to {WATCH.strays[:3]}")
        return self._refused(kind, damaged, told) if told else self._accepted(kind, damaged)

    def _refused(self, kind: Kind, damaged: Damaged, told: list[str]) -> Verdict:
        poor = [line for line in told if not _is_sentence(line)]
        if poor:
            return Verdict("defect", damaged.told, f"not a sentence: {poor[0][:200]!r}")
        if kind.harmless:
            return Verdict("defect", damaged.told, f"refused for no reason: {told[0]}")
        if not (kind.elsewhere or damaged.act or self._blames(damaged, told)):
            return Verdict("defect", damaged.told, f"told of another file: {told[0]}")
        return Verdict("refused", damaged.told, told[0])

    def _blames(self, damaged: Damaged, told: list[str]) -> bool:
        """Return whether a sentence is about a file that was damaged, or names it."""
        sound = self.ground.files
        changed = [name for name, data in damaged.files.items() if sound.get(name) != data]
        paths = [(Path(name).parent.name, Path(name).name) for name in changed]
        return any(room in line and file in line for room, file in paths for line in told)

    def _accepted(self, kind: Kind, damaged: Damaged) -> Verdict:
        column, new, old = damaged.renamed
        new = normalize("NFC", new).strip()
        if _tables(self.study, (column, new, old)) == self.tables:
            return Verdict("defect" if kind.refused else "harmless", damaged.told, "same tables")
        if kind.refused or kind.harmless:
            return Verdict("defect", damaged.told, "accepted with other tables")
        remarks = sorted(self._notes() - self.notes)
        if remarks:
            return Verdict("remarked", damaged.told, remarks[0])
        silent = "unseen" if kind.unseen else "defect"
        return Verdict(silent, damaged.told, kind.unseen or "a silent change")


def in_process(study: Study) -> list[str]:
    """Return the faults that the check finds in this process."""
    with raw.standing_in(study.raw.parent.parent):
        try:
            check.run(study, Settings(study=study.raw))
        except Faults as faults:
            assert not study.checked.exists()
            return list(faults.sentences)
    return []


def _is_sentence(line: str) -> bool:
    """Return whether a sentence stands on one line, ends, is not endless, and begins with a file of the study."""
    place = re.match(r"data/strand(/.*)?: ", line)
    return bool(place) and line.isprintable() and line.endswith((".", "?")) and len(line) < 2500


def _stamps(folder: Path) -> dict[str, tuple[int, int, int]]:
    found = {}
    for path in sorted(folder.rglob("*")):
        seen = path.lstat()
        found[str(path)] = (seen.st_size, seen.st_mtime_ns, seen.st_mode)
    return found


def _tables(study: Study, renamed: tuple[str, str, str] = ("", "", "")) -> dict[str, Any]:
    """Return the checked tables as rows without the line they came from, in any order."""
    made: dict[str, Any] = {}
    for path in sorted(study.checked.rglob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            head, *rows = (tuple(row[1:]) for row in csv.reader(file))
        rows = [tuple(map(_old_name(renamed), head, row)) for row in rows]
        made[path.relative_to(study.checked).as_posix()] = [head, *sorted(rows)]
    for path in sorted(study.checked.rglob("experiment.json")):
        about = json.loads(path.read_text(encoding="utf-8"))
        for fault in about["accepted"]:
            fault.pop("line"), fault.pop("sentence")
        made[path.relative_to(study.checked).as_posix()] = about
    return made


def _old_name(renamed: tuple[str, str, str]) -> Callable[[str, str], str]:
    column, new, old = renamed
    return lambda name, cell: old if name == column and cell == new else cell

"""Raw tables edited with any date, also while a run reads them: each run must go by what is in them, and say so in sentences."""

from __future__ import annotations

import json
import os
import shutil
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from hilum import manifest, progress
from hilum.settings import Settings
from hilum.steps import check, fit
from hilum.study import Study
from hilum.tables.sentences import Faults
from tests import raw
from tests.conftest import REPOSITORY, copy_workflow, snakemake

HEADING = "## Edits, whatever their dates"
_FILES = raw.FILES | {
    "germ/experiment.yaml": raw.FILES["germ/experiment.yaml"].replace("[]", "[time_course]")
}
_JARGON = ("Traceback", "WorkflowError", "Exception", "rror in rule", "modification time")
_DAY = 86_400
# the date of the edited file, in seconds from now; none keeps the date that the file had
_DATES: dict[str, float | None] = {
    "a year old": -365 * _DAY,
    "of 1970": -time.time(),
    "as before": None,
    "now": 0,
    "of tomorrow": _DAY,
    "in ten years": 3650 * _DAY,
}
_MOST_OPENED = 2 * len(_FILES)


def _count(rng: Random) -> tuple[str, str]:
    old, new = "d3,24,2,", f"d3,24,{rng.randrange(10)},"
    return "germ/counts.csv", _FILES["germ/counts.csv"].replace(old, new)


def _fault(rng: Random) -> tuple[str, str]:
    word = rng.choice(("many", "2x", "-1", "99"))
    return "germ/counts.csv", _FILES["germ/counts.csv"].replace("d3,24,2,", f"d3,24,{word},")


def _title(rng: Random) -> tuple[str, str]:
    text = _FILES["germ/experiment.yaml"]
    return "germ/experiment.yaml", text.replace("Germination", f"Trial {rng.randrange(10)}")


def _lot(rng: Random) -> tuple[str, str]:
    return "lots.csv", _FILES["lots.csv"].replace("second bag", f"bag {rng.randrange(10)}")


def _backup(rng: Random) -> tuple[str, str]:
    name = rng.choice(sorted(_FILES))
    return name, _FILES[name]


def _restored(_: Random) -> tuple[str, str]:
    return "germ/counts.csv", _FILES["germ/counts.csv"]


def _further(rng: Random) -> tuple[str, str]:
    row = f"d1,48,moved,{rng.randrange(10, 20)}\n"
    return "germ/events.csv", _FILES["germ/events.csv"] + row


_EDITS = (_count, _count, _fault, _title, _lot, _backup, _restored, _further)


@dataclass
class Desk:
    """A study that was run once, and is edited and run again and again."""

    folder: Path
    done: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Set the study up."""
        copy_workflow(self.folder)
        self.study = raw.write(self.folder, _FILES)
        (self.folder / "own.yaml").write_text("study: data/strand\n", encoding="utf-8")
        assert not self.run()

    def run(self, **environment: str) -> bool:
        """Run the study up to its estimates, keep what was said that should not have been, and return whether it failed."""
        target = str(self.study.manifest("fit").relative_to(self.folder))
        done = snakemake(self.folder, "--configfile", "own.yaml", "--", target, **environment)
        self.said = done.stdout + done.stderr
        self.wrong += [f"said {word}: {self.said}" for word in _JARGON if word in self.said]
        return done.returncode != 0

    def edit(self, rng: Random) -> None:
        """Edit the study in some way, date and moment, run it, and keep what was ignored."""
        name, text = rng.choice(_EDITS)(rng)
        date = rng.choice(list(_DATES))
        number = rng.choice((0, 0, rng.randint(1, _MOST_OPENED)))
        place, coming = self.study.raw / name, self.folder / "coming"
        coming.write_text(text, encoding="utf-8")
        os.utime(coming, times=(self._seconds(place, date),) * 2)
        told = (
            f"{name} {date}, {f'before file {number} was opened' if number else 'before the run'}"
        )
        if number:
            self._save_meanwhile(coming, place, number)
        else:
            coming.replace(place)
        self.run()
        self.done[f"{date}{', while the check read' if number else ''}"] += 1
        if self._found() != self._expected():
            self.wrong.append(f"{told}: was ignored")

    def _seconds(self, place: Path, date: str) -> float:
        ahead = _DATES[date]
        return place.stat().st_mtime if ahead is None else max(time.time() + ahead, 0)

    def _save_meanwhile(self, coming: Path, place: Path, number: int) -> None:
        # something has to be read, else nothing is opened
        self.study.manifest("check").unlink(missing_ok=True)
        paths = [str(REPOSITORY / "tests/meanwhile"), os.environ.get("PYTHONPATH", "")]
        words = json.dumps([*map(str, (coming, place, self.study.raw.resolve())), number])
        self.run(MEANWHILE=words, PYTHONPATH=os.pathsep.join(paths))
        if coming.exists():
            self.wrong.append(f"nothing was saved before file {number} was opened")

    def _found(self) -> tuple[list[str], dict[str, str]]:
        """Return the faults, and where there are none the estimates, that the runs left."""
        told = self.study.check_log.read_text(encoding="utf-8").splitlines()
        return told, {} if told else _estimates(self.study)

    def _expected(self) -> tuple[list[str], dict[str, str]]:
        """Return the same of a study that nobody ever ran before."""
        home = self.folder / "fresh"
        shutil.rmtree(home, ignore_errors=True)
        shutil.copytree(self.study.raw, home / "data/strand")
        fresh = Study(raw=home / "data/strand", results=home / "results/strand")
        settings = Settings(study=fresh.raw)
        with raw.standing_in(home):
            try:
                check.run(fresh, settings)
            except Faults as faults:
                return list(faults.sentences), {}
            fit.run(fresh, settings)
        return [], _estimates(fresh)


def _estimates(study: Study) -> dict[str, str]:
    folders = (study.checked, study.estimates)
    files = [p for f in folders for p in manifest.files(f) if p.name != "key"]
    return manifest.hashes(study.results, files)


def edited(folder: Path, *, number: int, seed: int) -> Desk:
    """Return the desk of a study after so many edits."""
    desk, rng = Desk(folder), Random(seed)  # noqa: S311 (no secret)
    for _ in progress.through(range(number), number):
        desk.edit(rng)
    return desk


def section(desk: Desk) -> str:
    """Return what became of the edits, as a section of `counts.md`."""
    rows = [f"| {name} | {count} |" for name, count in sorted(desk.done.items())]
    table = "\n".join(["| date of the edited file | edits |", "| --- | ---: |", *rows])
    return f"""{HEADING}

A raw file of a small study is saved anew, with a fault or without, before a run or while its check reads, and the study is run: faults or estimates
are those of a study that was never run before. {desk.done.total()} edits; {len(desk.wrong)} times one was ignored, or the run spoke of anything but tables.

{table}
"""

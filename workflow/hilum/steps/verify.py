"""Verify a crate: whether its files are as they were written, and whether its raw tables still give its numbers.

    python -m hilum.steps.verify CRATE        (what `make verify CRATE=…` runs; a folder or a zip)

The exit status is 0 where all agrees, 1 where a file or a number does not, 2 where nothing could be rerun.
"""

from __future__ import annotations

import argparse
import os
import platform
import shutil
import sys
from collections.abc import Mapping
from pathlib import Path, PurePosixPath
from tempfile import TemporaryDirectory
from typing import Any

# as in the door: the numbers must not depend on how many threads add them
os.environ["OMP_NUM_THREADS"] = "1"
os.environ["OPENBLAS_NUM_THREADS"] = "1"

from hilum import commit, lock, manifest, strict_json, visible
from hilum import settings as settings_
from hilum.crate import compare, layout, sums, verdict
from hilum.crate.compare import Compared
from hilum.crate.verdict import Found
from hilum.settings import Settings
from hilum.steps import check, confined, edits, fit
from hilum.steps.opened import Unreadable, opened
from hilum.study import SITE, Study

# code that decides no number
_TOLD_ONLY = ("report/", "crate/", "seeds/", "plan/", "figure.py", "specification.py")


def verify(crate: Path) -> Found:
    """Return what became of a crate in a rerun of its raw tables, in a fresh folder, by this code.

    Raises Unreadable where the folder is no crate that this version can read.
    """
    run = _run(crate)
    hashes = {p.relative_to(crate).as_posix(): manifest.sha256(p) for p in manifest.files(crate)}
    hashes.pop(layout.SUMS, None)
    try:
        wrong = sums.differing(sums.read(_text(crate / layout.SUMS)), hashes)
    except ValueError as error:
        raise Unreadable(f"{crate}: {error}.") from error
    with TemporaryDirectory(prefix="hilum-verify-") as fresh:
        return _rerun(crate, Path(fresh), Found(run=run, files=len(hashes), wrong=wrong))


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except OSError as error:
        raise Unreadable(
            f"{path}: cannot be read ({error.strerror}); a crate has this file."
        ) from error
    except UnicodeDecodeError as error:
        raise Unreadable(f"{path}: is not text in UTF-8.") from error


def _run(crate: Path) -> layout.Run:
    try:
        record: Any = strict_json.read(_text(crate / layout.RUN))
        return layout.run_of(record if isinstance(record, dict) else {})
    except ValueError as error:
        raise Unreadable(f"{crate}: {error}.") from error


def _rerun(crate: Path, fresh: Path, found: Found) -> Found:
    raw = crate / layout.DATA / found.run.study
    if PurePosixPath(found.run.study).name != found.run.study or not raw.is_dir():
        raise Unreadable(f"{crate}: has no raw tables in {layout.DATA}/{found.run.study}.")
    shutil.copytree(raw, fresh / layout.DATA / raw.name, copy_function=shutil.copyfile)
    study = Study(raw=fresh / layout.DATA / raw.name, results=fresh / "results")
    try:
        settings = settings_.load(crate / layout.CONFIG)
    except settings_.SettingsFault as fault:
        raise Unreadable(str(fault)) from fault
    read = check.examined(study)
    with manifest.replaced(study.checked) as folder:
        check.write_tables(folder, read)
    cells = [*edits.raw(crate, study), *read.faults]
    known = vars(found) | {"cells": cells, "differs": _differs(crate, found, settings)}
    changed = any(path.startswith(f"{layout.DATA}/") for path in found.wrong)
    if changed or read.faults:
        why = "raw tables were changed since this crate was made; nothing was rerun."
        if not changed:
            why = "this version finds faults in the raw tables; nothing was rerun."
        return Found(**(known | {"refused": why}))
    fit.run(study, settings)
    return Found(**(known | _compared(crate / layout.ESTIMATES, study.estimates)))


# estimates


def _compared(then: Path, now: Path) -> dict[str, Any]:
    made = [
        {p.relative_to(folder): p for p in manifest.files(folder) if p.suffix in (".csv", ".json")}
        for folder in (then, now)
    ]
    compared: dict[str, Compared | None] = {}
    drawn = []
    identical = made[0].keys() == made[1].keys()
    for name in sorted(made[0].keys() | made[1].keys()):
        pair = [paths.get(name) for paths in made]
        before, after = pair
        bytes_same = bool(before and after and before.read_bytes() == after.read_bytes())
        identical &= bytes_same
        place = f"{layout.ESTIMATES}/{name.as_posix()}"
        if name.suffix == ".csv":
            both = (
                compare.tables(edits.rows(before), edits.rows(after)) if before and after else None
            )
            compared[place] = both
        elif before and after and not bytes_same and not _drawn_alike(before, after):
            drawn.append(place)
    return {"compared": compared, "drawn": drawn, "identical": identical}


def _drawn_alike(then: Path, now: Path) -> bool:
    """Return whether what charts draw has the same numbers, in whatever an older version already drew."""
    return _alike(*(strict_json.read(p.read_text(encoding="utf-8")) for p in (then, now)))


def _alike(then: Any, now: Any) -> bool:
    if isinstance(then, Mapping) and isinstance(now, Mapping):
        return all(key in now and _alike(value, now[key]) for key, value in then.items())
    if isinstance(then, list) and isinstance(now, list):
        return len(then) == len(now) and all(map(_alike, then, now))
    if isinstance(then, float) or isinstance(now, float):
        # they were written with six digits, of which another processor may round the last otherwise
        return isinstance(now, (int, float)) and abs(then - now) <= 1e-5 * max(abs(then), abs(now))
    return bool(then == now)


# what differs


def _differs(crate: Path, found: Found, settings: Settings) -> list[str]:
    run = found.run
    now = settings.model_dump(mode="json", exclude={"study"})
    told = verdict.settings(run.settings, now, edits.lines(crate / layout.CONFIG))
    python = ".".join(platform.python_version_tuple()[:2])
    if run.python not in ("", python):
        told.append(f"Python: {run.python} in the run, {python} here")
    told += verdict.packages(lock.differing(run.packages, lock.here(run.packages)))
    return told + _code(crate, run)


def _code(crate: Path, run: layout.Run) -> list[str]:
    """Return where the code that decides numbers is not that of the crate, in words."""
    told = []
    here = commit.of_code()
    if run.commit not in ("", here):
        told.append(f"code: commit {run.commit} in the run, {here} here")
    folders = [base / "workflow" / "hilum" for base in (crate / layout.CODE, SITE.parent)]
    if not folders[0].is_dir():
        return told
    files = [{p.relative_to(f).as_posix(): p for p in f.rglob("*.py")} for f in folders]
    for name in sorted(filter(_decides, files[0].keys() | files[1].keys())):
        texts = [f[name].read_text(encoding="utf-8") if name in f else None for f in files]
        if texts[0] != texts[1]:
            told.append(verdict.code(f"workflow/hilum/{name}", *texts))
    return told


def _decides(name: str) -> bool:
    return not (name.startswith(_TOLD_ONLY) or name.endswith("chart.py"))


def _named(words: list[str]) -> str:
    parser = argparse.ArgumentParser(prog="python -m hilum.steps.verify", description=__doc__)
    parser.add_argument("crate", help="the folder or the zip of a crate")
    named: str = parser.parse_args(words).crate
    if not named:
        parser.error("which crate? make verify CRATE=path/to/crate.zip")
    return named


def main(words: list[str]) -> int:
    """Verify a crate, say what was found, and return the exit status."""
    named = _named(words)
    try:
        with opened(Path(named)) as crate:
            found = verify(crate)
    except Unreadable as why:
        print(why, file=sys.stderr)
        return confined.REFUSED
    print(visible.told(verdict.text(found)))
    return found.status


if __name__ == "__main__":
    sys.exit(confined.run("hilum.steps.verify", _named(sys.argv[1:])))

"""Verify a crate: whether its files are as they were written, and whether its raw tables still give its numbers.

    python -m hilum.steps.verify CRATE        (what `make verify CRATE=…` runs; a folder or a zip)

All that the crate holds is made again and compared: checked tables, estimates, charts, pages, methods, metadata. The exit
status is 0 where all agrees, 1 where something moved or was altered, 2 where nothing could be rerun, and 3 where it was verified
in part: the numbers stand, but other code or packages made the rest.
"""

from __future__ import annotations

import argparse
import csv
import os
import platform
import sys
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path, PurePosixPath
from tempfile import TemporaryDirectory
from typing import Any

# as in the door: the numbers must not depend on how many threads add them
os.environ["OMP_NUM_THREADS"] = "1"
os.environ["OPENBLAS_NUM_THREADS"] = "1"

from hilum import commit, lock, manifest, strict_json, visible
from hilum import settings as settings_
from hilum.crate import compare, contents, layout, sums, verdict
from hilum.crate.compare import Compared
from hilum.crate.verdict import Found
from hilum.settings import Settings
from hilum.steps import check, confined, crate, edits, rebuilt
from hilum.steps.opened import Unreadable, opened
from hilum.study import SITE

# code that decides no number
_TOLD_ONLY = ("report/", "crate/", "seeds/", "plan/", "figure.py", "specification.py")


def verify(crate: Path, told: Callable[[str], None] = lambda says: None) -> Found:  # noqa: ARG005
    """Return what became of a crate in a rerun of its raw tables, in a fresh folder, by this code; `told` hears what is done.

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
        return _rerun(crate, Path(fresh), Found(run=run, files=len(hashes), wrong=wrong), told)


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


def _rerun(crate: Path, fresh: Path, found: Found, told: Callable[[str], None]) -> Found:
    raw = crate / layout.DATA / found.run.study
    if PurePosixPath(found.run.study).name != found.run.study or not raw.is_dir():
        raise Unreadable(f"{crate}: has no raw tables in {layout.DATA}/{found.run.study}.")
    made = rebuilt.study(crate, raw.name, fresh)
    try:
        settings = settings_.load(crate / layout.CONFIG)
    except settings_.SettingsFault as fault:
        raise Unreadable(str(fault)) from fault
    read = check.examined(made)
    with manifest.replaced(made.checked) as folder:
        check.write_tables(folder, read)
    cells = edits.raw(crate, made)
    differs = _differs(crate, found, settings)
    changed = any(path.startswith(f"{layout.DATA}/") for path in found.wrong)
    if changed or read.faults:
        why = "raw tables were changed since this crate was made; nothing was rerun."
        if not changed:
            why = "this version finds faults in the raw tables; nothing was rerun."
        return replace(found, cells=[*cells, *read.faults], differs=differs, refused=why)
    again = rebuilt.rebuild(made, settings, told)
    told("comparing")
    return replace(compared(crate, again, found), cells=cells, differs=differs)


# what is compared


def compared(then: Path, now: Path, found: Found) -> Found:
    """Compare every file of a crate with the crate that its raw tables give now."""
    alike = _made_alike(then, now, found.run)
    names = {p.relative_to(f).as_posix() for f in (then, now) for p in manifest.files(f)}
    tables: dict[str, Compared | None] = {}
    others: dict[str, tuple[bytes | None, bytes | None]] = {}
    identical = True
    for name in sorted(names - {layout.SUMS}):
        before, after = (p.read_bytes() if (p := f / name).is_file() else None for f in (then, now))
        if name.startswith(f"{layout.ESTIMATES}/") and name.endswith(".csv"):
            tables[name] = _table(name, before, after)
            identical &= before == after
        elif before != after:
            others[name] = before, after
    certain = alike and identical
    if alike and not identical and layout.PACKAGE in others:
        # it has the size of each table, which a last digit may change: so the crate's own tables are described
        others[layout.PACKAGE] = others[layout.PACKAGE][0], _package(then, found.run)
    told = {name: _difference(*pair) for name, pair in others.items()}
    if not certain:
        # where another processor gave numbers another last digit, that alone is no difference
        named = [_by_hash(f) for f in (then, now)]
        told = {n: says for n, says in told.items() if not _same(*others[n], *named)}
    return replace(
        found,
        compared=tables,
        altered=told if certain else {},
        unverified={} if certain else told,
        alike=alike,
        identical=identical,
    )


def _made_alike(then: Path, now: Path, run: layout.Run) -> bool:
    """Return whether the crate names the code that stands here; of uncommitted changes only the code itself tells."""
    if not run.made_alike(_run(now)):
        return False
    packed = [(f / layout.CODE / commit.PACKED) for f in (then, now)]
    return not run.changed or (
        all(p.is_file() for p in packed) and _text(packed[0]) == _text(packed[1])
    )


def _table(name: str, before: bytes | None, after: bytes | None) -> Compared | None:
    if before is None or after is None:
        return None
    found = compare.tables(edits.rows_of(before, name), edits.rows_of(after, name))
    heads = [content.partition(b"\n")[0] for content in (before, after)]
    if heads[0] != heads[1] and not found.form:
        return replace(found, form="its first line is not the same")
    return found


def _package(crate_: Path, run: layout.Run) -> bytes | None:
    """Return the data package of the tables that a crate holds, None where they cannot be read as such."""
    try:
        return crate.described(run, crate_, "")[layout.PACKAGE].encode()
    except (ValueError, KeyError, csv.Error):
        return None


def _by_hash(folder: Path) -> dict[str, str]:
    return {manifest.sha256(p): p.relative_to(folder).as_posix() for p in manifest.files(folder)}


def _same(
    before: bytes | None, after: bytes | None, then: Mapping[str, str], now: Mapping[str, str]
) -> bool:
    """Return whether two contents differ by the last digits of numbers alone."""
    if before is None or after is None:
        return False
    return before == after or contents.same(before, after, then, now)


def _difference(before: bytes | None, after: bytes | None) -> str:
    """Return in words how a file differs from what a rerun makes."""
    if before is None:
        return "is not there"
    return "is none that a run makes" if after is None else contents.difference(before, after)


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


def _say(what: str) -> None:
    """Tell what is done at this moment, beside the answer."""
    print(f"         {what}", file=sys.stderr, flush=True)


def main(words: list[str]) -> int:
    """Verify a crate, say what was found, and return the exit status."""
    named = _named(words)
    try:
        with opened(Path(named)) as crate:
            found = verify(crate, _say)
    except Unreadable as why:
        print(why, file=sys.stderr)
        return confined.REFUSED
    print(visible.told(verdict.text(found)))
    return found.status


if __name__ == "__main__":
    sys.exit(confined.run("hilum.steps.verify", _named(sys.argv[1:])))

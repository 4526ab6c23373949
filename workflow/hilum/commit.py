"""Which code made a report: its commit, and whether it was changed since.

A crate carries its code without its history; `COMMIT.json` beside it says what the history said, and a hash of the
code, so that a rerun of the crate tells the same as the run.
"""

from __future__ import annotations

import hashlib
import json
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from hilum import lock
from hilum.study import SITE

# what decides a report beside the study; tests and the pages for developers do not
_CODE = (
    "workflow",
    "site",
    "Snakefile",
    "profiles",
    "requirements.lock",
    "pyproject.toml",
    "CITATION.cff",
)
PACKED = "COMMIT.json"
_MADE_BY_RUNS = (".pyc", ".egg-info")
_CHANGED = ", with changes not committed"


def _here() -> Path:
    return SITE.parent


def _git(*words: str) -> str:
    command = ["git", "-C", str(_here()), *words]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout  # noqa: S603


def _has_history() -> bool:
    """Return whether this folder is a checkout itself, and does not only lie within one."""
    try:
        return Path(_git("rev-parse", "--show-toplevel").strip()).samefile(_here())
    except (OSError, subprocess.CalledProcessError):
        return False


def of_code() -> str:
    """Return the commit of this code, and whether it was changed since."""
    if not _has_history():
        return str(_unpacked().get("commit", "not under version control"))
    try:
        return _git("rev-parse", "HEAD").strip() + (_CHANGED if changed() else "")
    except (OSError, subprocess.CalledProcessError):
        return "not under version control"


def changed() -> tuple[str, ...]:
    """Return the files of this code that are not as the commit has them; none where there is no commit."""
    if not _has_history():
        return tuple(_unpacked().get("changed", ()))
    words = ("status", "--porcelain", "-z", "--no-renames", "--untracked-files=all", "--", *_CODE)
    try:
        told = _git(*words).split("\0")
    except (OSError, subprocess.CalledProcessError):
        return ()
    # two letters for what happened, and a space
    return tuple(sorted(line[3:] for line in told if line))


def is_release() -> bool:
    """Return whether this code is the commit tagged with its version, and nothing was changed since."""
    if not _has_history():
        return bool(_unpacked().get("released", False))
    named = lock.own()
    try:
        tags = _git("tag", "--points-at", "HEAD").split()
    except (OSError, subprocess.CalledProcessError):
        return False
    return not {named, f"v{named}"}.isdisjoint(tags) and "," not in of_code()


# code without its history


def packed(folder: Path) -> str:
    """Return what a copy of this code at `folder` is to carry."""
    said = {
        "commit": of_code(),
        "changed": changed(),
        "released": is_release(),
        "code": _hash(folder),
    }
    return json.dumps(said, indent=1, sort_keys=True) + "\n"


def _unpacked() -> dict[str, Any]:
    """Return what this code carries, none where it carries nothing; a changed copy is told from its commit."""
    path = _here() / PACKED
    if not path.is_file():
        return {}
    said: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    if said["code"] == _hash(_here()):
        return said
    commit = str(said["commit"]).removesuffix(_CHANGED)
    return {"commit": f"{commit}{_CHANGED}", "changed": [*said["changed"], "this copy of the code"]}


def _hash(folder: Path) -> str:
    whole = hashlib.sha256()
    for path in sorted(_files(folder)):
        sha = hashlib.sha256(path.read_bytes()).hexdigest()
        whole.update(f"{path.relative_to(folder).as_posix()}\0{sha}\0".encode())
    return whole.hexdigest()


def _files(folder: Path) -> Iterator[Path]:
    for name in _CODE:
        place = folder / name
        for path in [place] if place.is_file() else place.rglob("*"):
            if path.is_file() and not any(part.endswith(_MADE_BY_RUNS) for part in path.parts):
                yield path

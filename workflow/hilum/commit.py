"""Which code made a report: its commit, and whether it was changed since."""

from __future__ import annotations

import subprocess
from importlib.metadata import version

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


def _git(*words: str) -> str:
    command = ["git", "-C", str(SITE.parent), *words]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout  # noqa: S603


def of_code() -> str:
    """Return the commit of this code, and whether it was changed since."""
    try:
        return _git("rev-parse", "HEAD").strip() + (
            ", with changes not committed" if changed() else ""
        )
    except (OSError, subprocess.CalledProcessError):
        return "not under version control"


def changed() -> tuple[str, ...]:
    """Return the files of this code that are not as the commit has them; none where there is no commit."""
    words = ("status", "--porcelain", "-z", "--no-renames", "--untracked-files=all", "--", *_CODE)
    try:
        told = _git(*words).split("\0")
    except (OSError, subprocess.CalledProcessError):
        return ()
    # two letters for what happened, and a space
    return tuple(sorted(line[3:] for line in told if line))


def is_release() -> bool:
    """Return whether this code is the commit tagged with its version, and nothing was changed since."""
    named = version("hilum")
    try:
        tags = _git("tag", "--points-at", "HEAD").split()
    except (OSError, subprocess.CalledProcessError):
        return False
    return not {named, f"v{named}"}.isdisjoint(tags) and "," not in of_code()

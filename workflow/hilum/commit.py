"""Which code made a report: its commit, and whether it was changed since."""

from __future__ import annotations

import subprocess
from importlib.metadata import version

from hilum.study import SITE


def _git(*words: str) -> str:
    command = ["git", "-C", str(SITE.parent), *words]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout.strip()  # noqa: S603


def of_code() -> str:
    """Return the commit of this code, and whether it was changed since."""
    try:
        changed = _git("status", "--porcelain", "--", "workflow", "site")
        return _git("rev-parse", "HEAD") + (", with changes not committed" if changed else "")
    except (OSError, subprocess.CalledProcessError):
        return "not under version control"


def is_release() -> bool:
    """Return whether this code is the commit tagged with its version, and nothing was changed since."""
    named = version("hilum")
    try:
        tags = _git("tag", "--points-at", "HEAD").split()
    except (OSError, subprocess.CalledProcessError):
        return False
    return not {named, f"v{named}"}.isdisjoint(tags) and "," not in of_code()

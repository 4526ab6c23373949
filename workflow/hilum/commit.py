"""Which code made a report: its commit, and whether it was changed since."""

from __future__ import annotations

import subprocess

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

"""Damaged studies through the command that a run uses, in a process of its own."""

from __future__ import annotations

import subprocess
import sys

from hilum.study import Study


def through_the_door(study: Study) -> list[str]:
    """Return what `python -m hilum check` says of a study, a fault a line; it may neither hang nor trace."""
    home = study.raw.parent.parent
    config = home / "config.yaml"
    config.write_text(f"study: {study.raw.relative_to(home)}\n", encoding="utf-8")
    words = [sys.executable, "-m", "hilum", "check", "--config", "config.yaml"]
    results = str(study.results.relative_to(home))
    done = subprocess.run(
        [*words, "--results", results], cwd=home, capture_output=True, text=True, timeout=60
    )
    config.unlink()
    assert "Traceback" not in done.stderr, done.stderr
    told = study.check_log.read_text(encoding="utf-8").splitlines()
    assert bool(told) == bool(done.returncode), done
    assert set(told[:20]) <= set(done.stderr.splitlines()), done
    assert {p.name for p in home.iterdir()} == {"data", "results"}
    return told

"""A crate made again from the raw tables of another: in a fresh folder, by the steps of a run, with the code that stands here."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

from hilum.crate import layout
from hilum.settings import Settings
from hilum.steps import check, crate, fit, publish, report
from hilum.study import Study


def study(packed: Path, name: str, fresh: Path) -> Study:
    """Return the study of a crate, its raw tables copied into a fresh folder."""
    raw = packed / layout.DATA / name
    shutil.copytree(raw, fresh / layout.DATA / name, copy_function=shutil.copyfile)
    return Study(raw=fresh / layout.DATA / name, results=fresh / "results" / name)


def rebuild(made: Study, settings: Settings, told: Callable[[str], None]) -> Path:
    """Take a study without faults from its raw tables to a crate, and return the crate's folder; `told` hears of each step."""
    for says, step in (
        ("reading the raw tables", check),
        ("fitting", fit),
        ("drawing charts and writing pages", report),
        ("building the site", publish),
        ("packing", crate),
    ):
        told(says)
        step.run(made, settings)
    return made.crate

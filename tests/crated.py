"""A small crate that tests damage, seal again and verify; `python -m tests.crated FOLDER` makes one."""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

from hilum import manifest
from hilum.crate import layout, sums
from hilum.settings import Settings
from hilum.steps import check, crate, fit, publish, rebuilt, report
from hilum.study import Study
from tests import raw

ABOUT = raw.FILES["germ/experiment.yaml"].replace("[]", "[time_course]")
LICENSED = ABOUT + "person: <b>B. Invented</b>\nlicence: CC0-1.0\n"


def study(folder: Path, name: str = "strand", *, whole: bool = False, **changes: str) -> Study:
    """Return a study of one experiment, checked and fitted; its site is one line unless `whole`, since no crate reads it."""
    made = raw.write(folder, {"germ/experiment.yaml": LICENSED} | changes)
    place = made.raw.rename(made.raw.with_name(name))
    made = Study(raw=place, results=folder / "results" / name)
    settings = Settings(study=made.raw)
    check.run(made, settings)
    fit.run(made, settings)
    if whole:
        report.run(made, settings)
        publish.run(made, settings)
        return made
    for path in (made.site / "index.html", made.pages / "methods.md", made.pages / "sources.bib"):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("made up\n", encoding="utf-8")
    return made


def packed(made: Study) -> Path:
    """Return the folder of the study's crate."""
    crate.run(made, Settings(study=made.raw))
    return made.crate


def rebuilds_once(kept: dict[str, Path], folder: Path) -> pytest.MonkeyPatch:
    """Let verify make the same raw tables with the same settings again once: a report costs seconds, and the same bytes come.

    Undo the patch that comes back.
    """
    real, patch = rebuilt.rebuild, pytest.MonkeyPatch()

    def rebuild(made: Study, settings: Settings, told: Callable[[str], None]) -> Path:
        key = manifest.digest(manifest.files(made.raw), settings.model_dump_json(exclude={"study"}))
        if key not in kept:
            place = folder / f"rebuilt-{len(kept)}"
            kept[key] = Path(shutil.copytree(real(made, settings, told), place))
        return kept[key]

    patch.setattr(rebuilt, "rebuild", rebuild)
    return patch


def edit(path: Path, old: str, new: str) -> None:
    """Replace one text of a file."""
    text = path.read_text(encoding="utf-8")
    assert old in text, f"{old!r} is not in {path}"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def edit_run(folder: Path, changes: Mapping[str, Any]) -> None:
    """Change what a crate says of its run; None takes a key out."""
    path = folder / layout.RUN
    record = json.loads(path.read_text(encoding="utf-8")) | changes
    kept = {key: value for key, value in record.items() if value is not None}
    path.write_text(json.dumps(kept), encoding="utf-8")


def seal(folder: Path) -> None:
    """Write the sums anew, as if the crate had been made like this."""
    files = [p for p in manifest.files(folder) if p.name != layout.SUMS]
    hashes = {p.relative_to(folder).as_posix(): manifest.sha256(p) for p in files}
    (folder / layout.SUMS).write_text(sums.text(hashes), encoding="utf-8")


if __name__ == "__main__":
    packed(study(Path(sys.argv[1]), whole=True))

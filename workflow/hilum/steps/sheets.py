"""`make sheets`: a plan's YAML file → a whole study folder, ready to be filled, and the sheets for the bench.

`python -m hilum.steps.sheets config/plan.yaml [folder]`; without a folder it is `results/plans/<name>/study`. A folder that holds
anything that a person may have filled in is never written over.
"""

from __future__ import annotations

import json
import shlex
import shutil
import sys
from collections.abc import Mapping
from pathlib import Path, PurePosixPath

from hilum import machine, manifest
from hilum.plan.asked import design
from hilum.plan.asked.design import Plan
from hilum.plan.laid_out import layout, sheets
from hilum.report import bench_sheets
from hilum.settings import SettingsFault
from hilum.steps import check
from hilum.steps.plan import RESULTS, STUDY
from hilum.study import Study
from hilum.visible import visible

# the hashes of all files as they were written: what still has them was not filled in
_BLANK = ".blank.json"


def run(path: Path, into: Path | None = None, results: Path = RESULTS) -> Path:
    """Write the study of the plan at `path` below `into`, and return its config file. Raises SettingsFault."""
    plan = design.load(path)
    standing = layout.laid_out(plan)
    place = results / plan.name / STUDY if into is None else into
    why = filled(place)
    if why:
        raise SettingsFault(
            f"{place}: {why}. Nothing was written; name another folder with INTO=…, or move this one away."
        )
    place.parent.mkdir(parents=True, exist_ok=True)
    with manifest.replaced(place.resolve()) as fresh:
        _write(plan, sheets.files(plan, standing), fresh)
        shutil.copyfile(path, fresh / "plan.yaml")
        paper = bench_sheets.html(plan, standing)
        (fresh / "sheets.html").write_text(paper, encoding="utf-8", newline="\n")
        _checked(fresh / plan.name, path)
        made = {p.relative_to(fresh).as_posix(): manifest.sha256(p) for p in manifest.files(fresh)}
        manifest.put(fresh / _BLANK, json.dumps(made, indent=1, sort_keys=True) + "\n")
    return place / "config.yaml"


def filled(folder: Path) -> str:
    """Return why a folder may hold what a person filled in, empty where it surely does not."""
    if not folder.exists():
        return ""
    if not folder.is_dir():
        return "is not a folder"
    found = {p.relative_to(folder).as_posix(): p for p in manifest.files(folder)}
    record = found.pop(_BLANK, None)
    if record is None:
        return "holds files that `make sheets` did not write" if any(folder.iterdir()) else ""
    try:
        blank: dict[str, str] = dict(json.loads(record.read_text(encoding="utf-8")))
    except ValueError:
        return f"its record of what `make sheets` wrote, {_BLANK}, cannot be read"
    return _foreign(folder, blank) or _changed(found, blank)


def _foreign(folder: Path, blank: Mapping[str, str]) -> str:
    """Return what is neither a blank file nor on the way to one: a link or an empty folder is somebody's as well."""
    made = {str(parent) for name in blank for parent in PurePosixPath(name).parents}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        known = made if path.is_dir() else {*blank, _BLANK}
        if path.is_symlink() or name not in known:
            return f"holds {name}, which `make sheets` did not write"
    return ""


def _changed(found: Mapping[str, Path], blank: Mapping[str, str]) -> str:
    for name, file in found.items():
        if manifest.sha256(file) != blank[name]:
            return f"{name} was changed since `make sheets` wrote it"
    return ""


def _write(plan: Plan, files: dict[str, str], folder: Path) -> None:
    texts = {f"{plan.name}/{name}": text for name, text in files.items()}
    for name, text in (texts | {"config.yaml": sheets.config(plan)}).items():
        place = folder / name
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(text, encoding="utf-8", newline="\n")


def _checked(raw: Path, path: Path) -> None:
    """Refuse a study that the check would refuse: names of a plan may be none that tables or folders can have."""
    found = check.examined(Study(raw=raw, results=raw.parent / "results"))
    if found.faults:
        told = "\n".join(found.faults)
        raise SettingsFault(f"{path}: the tables of this plan would have faults:\n{told}")


def main(words: list[str]) -> int:
    """Return 0 where the study could be written; else say why not."""
    into = Path(words[1]) if len(words) > 1 and words[1] else None
    try:
        with machine.lent(into or RESULTS):
            made = run(Path(words[0]), into)
    except (SettingsFault, machine.Lack) as fault:
        print(fault, file=sys.stderr)
        return 1
    print(visible(f"         {made.parent / 'sheets.html'}: sheets and labels to print"))
    command = ["make", "check", f"CONFIG={made}"]
    print(visible(f"         {made.parent}: tables to fill in; then {shlex.join(command)}"))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

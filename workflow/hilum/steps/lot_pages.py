"""The part of step report that writes a page and a figure for each lot."""

from __future__ import annotations

import importlib
import json
from collections.abc import Sequence
from functools import cache
from pathlib import Path

from markupsafe import Markup

import hilum
from hilum import manifest
from hilum.report import diagnosed, render, study_pages
from hilum.report.lot_sheet import Sheets
from hilum.steps import parallel
from hilum.study import Study


def read(study: Study, treatments: Sequence[str]) -> diagnosed.Diagnosed:
    """Read the diagnosis back, its groups in the order of the study's treatments."""
    drawing = json.loads(study.diagnosis.with_suffix(".json").read_text(encoding="utf-8"))
    pages = diagnosed.pages_of([lot["lot"] for lot in drawing["lots"]])
    groups = diagnosed.in_order(drawing["groups"], treatments)
    return diagnosed.Diagnosed(groups, drawing["lots"], pages)


def jobs(study: Study, whole: study_pages.Whole) -> list[parallel.Job]:
    """Return the jobs of drawing the figures of those lots of which something changed."""
    found, charts = whole.diagnosis, study.lot_charts
    charts.mkdir(parents=True, exist_ok=True)
    made = []
    for lot, name in found.pages.items():
        groups = found.of_lot(lot)
        key, kept = _key(groups), charts / name / "key"
        if not (kept.exists() and kept.read_text(encoding="utf-8") == key):
            made.append(parallel.job(_draw, charts / name, groups, key))
    return made


def write(study: Study, whole: study_pages.Whole, sheets: Sheets) -> None:
    """Write the page of each lot with its sheet, once its figure is drawn."""
    found = whole.diagnosis
    pages, charts = study.pages / "lots", study.lot_charts
    pages.mkdir(parents=True, exist_ok=True)
    for gone in [*pages.glob("*.md"), *charts.glob("*/")]:
        if gone.stem not in found.pages.values():
            manifest.remove(gone)
    for row in whole.lots:
        name = found.pages[row["lot"]]
        markup = (charts / name / "figure.key").read_text(encoding="utf-8")
        figure = Markup(markup)  # noqa: S704 (our own markup, written by the job that drew it)
        text = study_pages.lot(
            whole, row, figure, sheets.of_lot(row["lot"], found.of_lot(row["lot"]))
        )
        (pages / f"{name}.md").write_text(text, encoding="utf-8", newline="\n")


@cache
def _code() -> str:
    package = Path(hilum.__file__).parent
    rooms = ("diagnosis/*.py", "report/*.py", "figure.py")
    code = [p for room in rooms for p in sorted(package.glob(room))]
    return manifest.digest(code, render.library_key())


def _key(groups: Sequence[diagnosed.Group]) -> str:
    return manifest.digest([], _code(), render.as_json(groups))


def _draw(folder: Path, groups: Sequence[diagnosed.Group], key: str) -> None:
    # altair is slow to import, and most runs change no lot
    chart = importlib.import_module("hilum.diagnosis.chart")
    with manifest.replaced(folder) as fresh:
        seen = ["..", "charts", folder.parent.name, folder.name]
        drawn = [render.files(fresh, seen, f, "lot") for f in chart.figures(groups)]
        (fresh / "figure.key").write_text("\n".join(drawn), encoding="utf-8", newline="\n")
        (fresh / "key").write_text(key, encoding="utf-8", newline="\n")

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

_CHARTS = ("chart", "agreement_chart")


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
        figures = {path.stem: _drawn(path) for path in (charts / name).glob("*.key")}
        sheet = sheets.of_lot(row["lot"], found.of_lot(row["lot"]))
        text = study_pages.lot(whole, row, figures, sheet)
        (pages / f"{name}.md").write_text(text, encoding="utf-8", newline="\n")


def _drawn(path: Path) -> Markup:
    # our own markup, written by the job that drew it
    return Markup(path.read_text(encoding="utf-8"))  # noqa: S704


@cache
def _code() -> str:
    package = Path(hilum.__file__).parent
    rooms = (
        "diagnosis/*.py",
        "report/*.py",
        "analyses/rounding.py",
        "figure.py",
        "fates.py",
        "specification.py",
    )
    code = [p for room in rooms for p in sorted(package.glob(room))]
    return manifest.digest(code, render.library_key())


def _key(groups: Sequence[diagnosed.Group]) -> str:
    return manifest.digest([], _code(), render.as_json(groups))


def _draw(folder: Path, groups: Sequence[diagnosed.Group], key: str) -> None:
    # altair is slow to import, and most runs change no lot
    charts = (importlib.import_module(f"hilum.diagnosis.{name}") for name in _CHARTS)
    with manifest.replaced(folder) as fresh:
        seen = ["..", "charts", folder.parent.name, folder.name]
        for figure in (made for chart in charts for made in chart.figures(groups)):
            markup = render.files(fresh, seen, figure, "lot")
            (fresh / f"{figure.name}.key").write_text(markup, encoding="utf-8", newline="\n")
        (fresh / "key").write_text(key, encoding="utf-8", newline="\n")

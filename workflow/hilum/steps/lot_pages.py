"""The part of step report that writes a page and a figure for each lot."""

from __future__ import annotations

import importlib
import json
from collections.abc import Sequence
from pathlib import Path

from markupsafe import Markup

import hilum
from hilum import manifest
from hilum.report import diagnosed, render, study_pages
from hilum.study import Study


def read(study: Study) -> diagnosed.Diagnosed:
    """Read the diagnosis back."""
    drawing = json.loads(study.diagnosis.with_suffix(".json").read_text(encoding="utf-8"))
    pages = diagnosed.pages_of([lot["lot"] for lot in drawing["lots"]])
    return diagnosed.Diagnosed(drawing["groups"], drawing["lots"], pages)


def write(study: Study, whole: study_pages.Whole) -> None:
    """Write the page of each lot; the figure of a lot of which nothing changed is kept."""
    found = whole.diagnosis
    pages, charts = study.pages / "lots", study.lot_charts
    pages.mkdir(parents=True, exist_ok=True)
    charts.mkdir(parents=True, exist_ok=True)
    for gone in [*pages.glob("*.md"), *charts.glob("*/")]:
        if gone.stem not in found.pages.values():
            manifest.remove(gone)
    for row in whole.lots:
        name = found.pages[row["lot"]]
        figure = _figure(charts / name, found.of_lot(row["lot"]))
        text = study_pages.lot(whole, row, figure)
        (pages / f"{name}.md").write_text(text, encoding="utf-8", newline="\n")


def _figure(folder: Path, groups: Sequence[diagnosed.Group]) -> Markup:
    package = Path(hilum.__file__).parent
    code = [*sorted(package.glob("diagnosis/*.py")), *sorted(package.glob("report/*.py"))]
    key = manifest.digest(code, render.as_json(groups), render.library_key())
    kept, markup = folder / "key", folder / "figure.key"
    if not (kept.exists() and kept.read_text(encoding="utf-8") == key):
        # altair is slow to import, and most runs change no lot
        chart = importlib.import_module("hilum.diagnosis.chart")
        with manifest.replaced(folder) as fresh:
            seen = ["..", "charts", folder.parent.name, folder.name]
            drawn = [render.files(fresh, seen, f, "lot") for f in chart.figures(groups)]
            (fresh / "figure.key").write_text("\n".join(drawn), encoding="utf-8", newline="\n")
            (fresh / "key").write_text(key, encoding="utf-8")
    return Markup(markup.read_text(encoding="utf-8"))  # noqa: S704 (our own markup, kept from the run that drew it)

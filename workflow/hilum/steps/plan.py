"""`make plan`: a plan's YAML file → `results/plans/<name>/index.html`, which opens from a disk.

`python -m hilum.steps.plan config/plan.yaml`; a plan has no raw tables, so no rule of the workflow makes it.
"""

from __future__ import annotations

import csv
import math
import shutil
import sys
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from markupsafe import Markup

from hilum import machine, manifest
from hilum.plan import model
from hilum.plan.asked import design, finished
from hilum.plan.asked.design import Plan
from hilum.plan.laid_out import layout
from hilum.plan.model import Worked
from hilum.plan.shown import chart
from hilum.report import bench_sheets, planned, render, start, study_pages
from hilum.report.cautions import hazards_of
from hilum.settings import SettingsFault
from hilum.steps import earlier, parallel, publish
from hilum.visible import visible

RESULTS = Path("results") / "plans"
# where `make sheets` puts tables to fill in, if it is not told otherwise
STUDY = "study"
_NAVIGATION = {
    "nav": [{"Plan": "index.md"}, {"Reading": ["start.md", "glossary.md", "cautions.md"]}]
}


def run(path: Path, results: Path = RESULTS) -> Path:
    """Work out the plan at `path`, write its site, and return its first page. Raises SettingsFault."""
    plan = design.load(path)
    study = plan.guesses.study
    before = {} if study is None else earlier.tables(study)
    if study is not None:
        plan = finished.filled(plan, earlier.estimates(study), before)
    worked = model.work_out(plan, before, starmap=parallel.starmap)
    place = results / plan.name
    place.parent.mkdir(parents=True, exist_ok=True)
    with manifest.replaced(place, keeping=(STUDY,)) as fresh, TemporaryDirectory() as folder:
        sources, charts = Path(folder), fresh / "charts"
        pages = _pages(worked, _drawn(worked, sources / "charts"))
        for name, text in pages.items():
            (sources / f"{name}.md").write_text(text, encoding="utf-8", newline="\n")
        drawn = Path(shutil.move(sources / "charts", sources.parent / f"{sources.name}-charts"))
        publish.assets(sources)
        publish.built(sources, fresh, name=plan.name, navigation=_NAVIGATION)
        shutil.move(drawn, charts)
        (charts / "vega.js").write_text(render.library(), encoding="utf-8", newline="\n")
        _data(path, worked, fresh / "data")
        paper = bench_sheets.html(plan, layout.laid_out(plan))
        (fresh / "sheets.html").write_text(paper, encoding="utf-8", newline="\n")
    return place / "index.html"


def _drawn(worked: Worked, folder: Path) -> dict[str, Markup]:
    folder.mkdir()
    return {
        figure.name: render.files(folder, ["charts"], figure, "plan")
        for figure in chart.figures(worked)
    }


def _pages(worked: Worked, figures: Mapping[str, Markup]) -> dict[str, str]:
    plan = worked.plan
    return {
        "index": planned.plan_page(worked, figures),
        "glossary": study_pages.glossary_of(plan.confidence, calibrated=False),
        "start": start.start(dictionary=False),
        "cautions": study_pages.cautions_of(hazards_of(_methods(plan))),
    }


def _methods(plan: Plan) -> list[dict[str, str]]:
    return [{"method": t.method, "agent": t.agent} for t in plan.by_name.values()]


def _data(path: Path, worked: Worked, folder: Path) -> None:
    folder.mkdir()
    shutil.copyfile(path, folder / "plan.yaml")
    expected = [
        {name: value for name, value in asdict(p).items() if name != "simulated"}
        | {"half_width": p.half_width, "simulated": p.in_simulations}
        for p in worked.prospects
    ]
    _csv(folder / "expected.csv", expected)
    _csv(folder / "sizes.csv", [asdict(size) for size in worked.sizes])


def _csv(path: Path, rows: Sequence[Mapping[str, Any]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(list(rows[0]) if rows else [])
        writer.writerows([_cell(value) for value in row.values()] for row in rows)


def _cell(value: object) -> object:
    """Return a value as it stands in a table: what is not known, or endless, is empty."""
    if isinstance(value, float):
        return f"{value:.6g}" if math.isfinite(value) else ""
    return "" if value is None else value


def main(words: list[str]) -> int:
    """Return 0 where the plan could be worked out; else say what to change in it."""
    try:
        with machine.lent(RESULTS):
            print(visible(f"         {run(Path(words[0]))}"))
    except (SettingsFault, machine.Lack) as fault:
        print(fault, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

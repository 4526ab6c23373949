"""The part of step report that writes the page of single seeds."""

from __future__ import annotations

import csv
import importlib
from pathlib import Path

from markupsafe import Markup

import hilum
from hilum import manifest
from hilum.diagnosis.references import Step, Treatments
from hilum.report import render, seed_table, study_pages
from hilum.report.results import Row
from hilum.seeds import rows
from hilum.steps import parallel
from hilum.study import Study

# a page that holds more rows than these is slow; the table to take along has all
MOST = 20_000


def of_study(study: Study, whole: study_pages.Whole) -> list[rows.Seed]:
    """Return the seeds of all experiments."""
    return [seed for e in whole.experiments for seed in _of(study, e.name, whole)]


def jobs(study: Study, seeds: list[rows.Seed]) -> list[parallel.Job]:
    """Return the job of writing what the page draws and filters, none where no seed and no code changed."""
    folder, key = study.seed_charts, _key(seeds)
    kept = folder / "key"
    if not seeds or (kept.exists() and kept.read_text(encoding="utf-8") == key):
        return []
    return [parallel.job(_draw, folder, seeds, key)]


def write(study: Study, whole: study_pages.Whole, seeds: list[rows.Seed]) -> None:
    """Write the page once its figure is drawn, or take it away where no seed was followed by itself."""
    page = study.pages / "seeds.md"
    if not seeds:
        page.unlink(missing_ok=True)
        manifest.remove(study.seed_charts)
        return
    markup = (study.seed_charts / "figure.key").read_text(encoding="utf-8")
    figure = Markup(markup)  # noqa: S704 (our own markup, written by the job that drew it)
    told, table = seed_table.answer(seeds), seed_table.table(seeds)
    text = study_pages.seeds(whole, told, table, figure, seed_table.highest(seeds))
    page.write_text(text, encoding="utf-8", newline="\n")


def _csv(path: Path) -> list[Row]:
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _of(study: Study, name: str, whole: study_pages.Whole) -> list[rows.Seed]:
    checked = study.checked / name
    steps: dict[str, list[Step]] = {}
    for row in whole.treatments:
        step = Step(row["method"], row.get("agent", "").lower())
        steps.setdefault(row["treatment"], []).append(step)
    return rows.of_experiment(
        name,
        _csv(checked / "weighings.csv"),
        _csv(checked / "outcomes.csv"),
        _csv(study.estimates / name / "imbibition_seeds.csv"),
        Treatments(steps).may_harm,
    )


def _key(seeds: list[rows.Seed]) -> str:
    package = Path(hilum.__file__).parent
    rooms = ("seeds/*.py", "report/*.py", "analyses/rounding.py", "figure.py", "specification.py")
    code = [p for room in rooms for p in sorted(package.glob(room))]
    return manifest.digest(code, repr(seeds), render.library_key())


def _draw(folder: Path, seeds: list[rows.Seed], key: str) -> None:
    # altair is slow to import, and most runs change no seed
    figure = importlib.import_module("hilum.seeds.chart").figure(seeds)
    with manifest.replaced(folder) as fresh:
        seen = ["charts", folder.name]
        drawn = Markup("") if figure is None else render.files(fresh, seen, figure, "seeds")
        (fresh / "figure.key").write_text(drawn, encoding="utf-8", newline="\n")
        script = seed_table.script(seeds, MOST)
        (fresh / "seeds.js").write_text(script, encoding="utf-8", newline="\n")
        render.write_csv(fresh / "seeds.csv", seed_table.as_rows(seeds))
        (fresh / "key").write_text(key, encoding="utf-8", newline="\n")

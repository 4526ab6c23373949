"""Step report: estimates and checked tables → charts and pages.

An experiment whose results, words and code have not changed keeps its pictures and its page, which are
what costs; the pages of the whole study are written anew each time.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Mapping, Sequence
from dataclasses import fields
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

from markupsafe import Markup

import hilum
from hilum import analyses, commit, manifest, specification, strict_yaml
from hilum.analyses import view
from hilum.analyses.estimate import Estimate
from hilum.report import calibration, citing, origin, pages, render, study_pages
from hilum.report.lot_sheet import Sheets
from hilum.report.provenance import Made, hashes
from hilum.report.results import Experiment, Result, Row
from hilum.settings import Settings
from hilum.steps import fit, lot_pages, parallel, provenance, seed_page
from hilum.study import CALIBRATION, CITATION, REMARKS, SITE, Study

Lots = Mapping[str, Mapping[str, Any]]
_NUMBERS = {f.name for f in fields(Estimate) if "float" in str(f.type)}


def run(study: Study, settings: Settings) -> None:
    """Write charts and pages of the study, and the manifest."""
    lots = _lots(study)
    experiments = [_experiment(study, name, lots) for name in _names(study)]
    _forget(study, experiments)
    (study.pages / "experiments").mkdir(parents=True, exist_ok=True)
    study.charts.mkdir(parents=True, exist_ok=True)
    whole = _whole(study, settings, experiments)
    seeds = seed_page.of_study(study, whole)
    jobs = _stale(study, settings, [e.name for e in experiments], lots)
    jobs += [*lot_pages.jobs(study, whole), *seed_page.jobs(study, seeds), *_bundle(study)]
    _do(jobs)
    lot_pages.write(study, whole, _sheets(study))
    seed_page.write(study, whole, seeds)
    for name, writer in study_pages.PAGES.items():
        _write(study.pages / f"{name}.md", writer(whole))
    _write(study.pages / "sources.bib", study_pages.bibliography(whole))
    render.write_csv(study.pages / "hashes.csv", hashes(whole.made))
    manifest.write(study.manifest("report"), [study.charts, study.pages])


def part(study: Study, settings: Settings, number: int) -> None:
    """Draw the experiments of one part of the study, which `run` then finds done, and write the part's manifest."""
    names = parallel.dealt(_names(study), number, settings.parts)
    (study.pages / "experiments").mkdir(parents=True, exist_ok=True)
    study.charts.mkdir(parents=True, exist_ok=True)
    _do(_stale(study, settings, names, _lots(study)))
    manifest.write(study.manifest(f"report-{number}"), [study.charts / name for name in names])


def _stale(
    study: Study, settings: Settings, names: Sequence[str], lots: Lots
) -> list[parallel.Job]:
    stale = [name for name in names if not _is_kept(study, settings, name, lots)]
    return [parallel.job(_draw_experiment, study, settings, name, lots) for name in stale]


def _lots(study: Study) -> Lots:
    """Return what the diagnosis says of each lot's coats, and which work on it the study holds."""
    found = _drawing(study.diagnosis.with_suffix(".json"))["lots"]
    return {lot["lot"]: {"coat": lot["physical_dormancy"], **lot["done"]} for lot in found}


def _do(jobs: Sequence[parallel.Job]) -> None:
    quick = [parallel.job(_unchecked, job) for job in jobs]
    # a process in which the engine that draws pictures runs must not be forked: its copies hang
    if render.engine_runs():
        parallel.in_turn(quick)
    else:
        parallel.each(quick, apart=True)


def _unchecked(job: parallel.Job) -> None:
    with specification.unchecked():
        job()


def _names(study: Study) -> list[str]:
    return sorted(p.name for p in study.checked.iterdir() if p.is_dir())


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")


# reading results back


def rows_of(path: Path) -> list[dict[str, str]]:
    """Return the rows of a CSV file as text, none where it is not there."""
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def estimate(row: Row) -> Estimate:
    """Return an estimate from its row."""
    known: dict[str, Any] = {}
    for name, text in row.items():
        known[name] = (float(text) if text else None) if name in _NUMBERS else text
    return Estimate(**known)


def _drawing(path: Path) -> dict[str, Any]:
    drawing: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return drawing


def _result(folder: Path, name: str) -> Result:
    tables = sorted(folder.glob(f"{name}_*.csv"))
    return Result(
        name=name,
        about=analyses.describe(name),
        estimates=tuple(estimate(row) for row in rows_of(folder / f"{name}.csv")),
        read_drawing=lambda: view.read(name, _drawing(folder / f"{name}.json")),
        rows={p.stem.removeprefix(f"{name}_"): rows_of(p) for p in tables},
    )


def _sheets(study: Study) -> Sheets:
    estimates = rows_of(study.lot_sheet.with_suffix(".csv"))
    facts = _drawing(study.lot_sheet.with_suffix(".json"))["lots"]
    return Sheets(tuple(map(estimate, estimates)), facts)


def _files(folder: Path, *patterns: str) -> tuple[str, ...]:
    return tuple(sorted(p.name for pattern in patterns for p in folder.glob(pattern)))


def _treatments(study: Study, name: str) -> list[Row]:
    """Return the steps of those treatments that the experiment's own tables name."""
    tables = (rows_of(p) for p in sorted((study.checked / name).glob("*.csv")))
    used = {row["treatment"] for table in tables for row in table if "treatment" in row}
    return [row for row in rows_of(study.checked / "treatments.csv") if row["treatment"] in used]


def _experiment(study: Study, name: str, lots: Lots) -> Experiment:
    checked, estimates = study.checked / name, study.estimates / name
    about = json.loads((checked / "experiment.json").read_text(encoding="utf-8"))
    return Experiment(
        name=name,
        about=about,
        results=tuple(_result(estimates, analysis) for analysis in about["analyses"]),
        treatments=_treatments(study, name),
        raw_files=_files(study.raw / name, "*.csv", "*.yaml"),
        checked_files=_files(checked, "*.csv"),
        estimate_files=_files(estimates, "*.csv"),
        study_files=_files(study.raw, "*.csv"),
        lots=lots,
        remarks=_remarks(study).get(name, ()),
    )


def _remarks(study: Study) -> Mapping[str, Sequence[str]]:
    """Return the sentences of the check's remarks by experiment, "" for those on tables of the whole study."""
    path, found = study.checked / REMARKS, dict[str, list[str]]()
    # an older crate has none
    for remark in json.loads(path.read_text(encoding="utf-8")) if path.exists() else ():
        found.setdefault(remark["experiment"], []).append(remark["says"])
    return found


# one experiment


def _key(study: Study, settings: Settings, name: str, lots: Lots) -> str:
    """Return the hash of everything that the charts and the page of an experiment depend on."""
    shared = [p for t in ("lots", "treatments") if (p := study.checked / f"{t}.csv").exists()]
    estimates = [p for p in manifest.files(study.estimates / name) if p.name != "key"]
    inputs = [*manifest.files(study.checked / name), *estimates, *shared]
    said = [render.as_json(lots), render.as_json(_remarks(study).get(name, ()))]
    tables = _files(study.raw, "*.csv")
    return manifest.digest(inputs, settings.chosen(), _written_by(), *said, *tables)


@cache
def _written_by() -> str:
    """Return the hash of code, words and versions of packages: the same for a thousand experiments of a run."""
    package = Path(hilum.__file__).parent
    # parts of a view stand beside what makes them
    rooms = ("report/*.py", "analyses/*.py", "analyses/*/*.py")
    code = [p for room in rooms for p in sorted(package.glob(room))]
    own = [
        *(package / f"{name}.py" for name in ("figure", "fates", "specification")),
        Path(__file__),
    ]
    words = [*sorted(package.glob("analyses/*/page.md.jinja")), *manifest.files(SITE)]
    versions = [f"{p} {version(p)}" for p in ("altair", "vl-convert-python", "latex2mathml")]
    return manifest.digest([*code, *own, *words], *versions)


def _page(study: Study, name: str) -> Path:
    return study.pages / "experiments" / f"{name}.md"


def _is_kept(study: Study, settings: Settings, name: str, lots: Lots) -> bool:
    """Return whether nothing changed that the charts and the page of an experiment depend on."""
    kept = study.charts / name / "key"
    if not (_page(study, name).exists() and kept.exists()):
        return False
    return kept.read_text(encoding="utf-8") == _key(study, settings, name, lots)


def _draw_experiment(study: Study, settings: Settings, name: str, lots: Lots) -> None:
    experiment, page = _experiment(study, name, lots), _page(study, name)
    with manifest.replaced(study.charts / experiment.name) as folder:
        figures = {r.name: _draw(folder, experiment, r) for r in experiment.results}
        _write(
            page, pages.experiment_page(experiment, figures, settings, _behind(study, experiment))
        )
        _write(folder / "key", _key(study, settings, name, lots))


def _behind(study: Study, experiment: Experiment) -> list[origin.Behind]:
    folder = study.checked / experiment.name
    return origin.behind({p.stem: rows_of(p) for p in sorted(folder.glob("*.csv"))})


def _draw(folder: Path, experiment: Experiment, result: Result) -> dict[str, Markup]:
    """Write the files of every figure of an analysis, and return the figures as page markup."""
    made, seen = {}, ["..", "charts", experiment.name]
    for figure in analyses.chart(result.name).figures(result.drawing, result.estimates):
        made[figure.name] = render.files(folder, seen, figure, result.name)
    return made


def _bundle(study: Study) -> list[parallel.Job]:
    """Return the job of writing the library that draws live charts, none where it is there."""
    library, key = study.charts / "vega.js", study.charts / "vega.key"
    known = key.read_text(encoding="utf-8") if library.exists() and key.exists() else ""
    return [] if known == render.library_key() else [parallel.job(_write_library, library, key)]


def _write_library(library: Path, key: Path) -> None:
    _write(library, render.library())
    _write(key, render.library_key())


def _forget(study: Study, experiments: Sequence[Experiment]) -> None:
    """Remove charts and pages of experiments that are no longer in the study."""
    names = {study.lot_charts.name, study.seed_charts.name, *(e.name for e in experiments)}
    for gone in (p for p in study.charts.glob("*/") if p.name not in names):
        manifest.remove(gone)
    for page in (study.pages / "experiments").glob("*.md"):
        if page.stem not in names:
            page.unlink()


# the study


def _citation(made: Made) -> citing.Citation:
    cff = strict_yaml.load(CITATION)
    return citing.citation(cff, commit=made.commit, released=commit.is_release())


def _calibration() -> calibration.Calibration:
    about = json.loads((CALIBRATION / "run.json").read_text(encoding="utf-8"))
    return calibration.Calibration(
        rows=tuple(map(calibration.row, rows_of(CALIBRATION / "coverage.csv"))),
        run=about,
        same_code=about["code"] == manifest.digest(fit.code()),
        diagnosis=rows_of(CALIBRATION / "diagnosis.csv"),
    )


def _whole(
    study: Study, settings: Settings, experiments: Sequence[Experiment]
) -> study_pages.Whole:
    made = provenance.of_run(study)
    treatments = rows_of(study.checked / "treatments.csv")
    return study_pages.Whole(
        name=study.name,
        lots=rows_of(study.checked / "lots.csv"),
        experiments=experiments,
        remarks=_remarks(study).get("", ()),
        settings=settings,
        treatments=treatments,
        made=made,
        citation=_citation(made),
        diagnosis=lot_pages.read(study, [row["treatment"] for row in treatments]),
        calibration=_calibration(),
    )

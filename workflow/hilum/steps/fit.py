"""Step fit: checked tables → estimates and drawings, one folder per experiment.

An experiment whose tables, settings, code and numeric packages have not changed keeps its folder. What
changed is fitted in parallel processes; every random generator is seeded by name, so the numbers do
not depend on how many processes there are.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np

import hilum
from hilum import analyses, manifest
from hilum.analyses import estimate as contract
from hilum.settings import Settings
from hilum.steps import diagnose, parallel, written
from hilum.study import Study
from hilum.tables import checked, of

STUDY_TABLES = tuple(table.name for table in of("study"))


def run(study: Study, settings: Settings) -> None:
    """Fit every experiment of the study whose inputs changed, diagnose all together, and write the manifest."""
    experiments = _names(study)
    _forget(study.estimates, experiments)
    _fit(study, settings, experiments)
    diagnose.run(study, settings)
    manifest.write(study.manifest("fit"), [study.estimates])


def part(study: Study, settings: Settings, number: int) -> None:
    """Fit the experiments of one part of the study, which `run` then finds done, and write the part's manifest."""
    experiments = parallel.dealt(_names(study), number, settings.parts)
    study.estimates.mkdir(parents=True, exist_ok=True)
    _fit(study, settings, experiments)
    made = [study.estimates / e for e in experiments]
    manifest.write(study.manifest(f"fit-{number}"), made)


def _names(study: Study) -> list[str]:
    return sorted(p.name for p in study.checked.iterdir() if p.is_dir())


def _fit(study: Study, settings: Settings, experiments: Sequence[str]) -> None:
    """Fit those experiments whose inputs changed."""
    stale = [e for e in experiments if _kept_key(study, e) != _key(study, settings, e)]
    parallel.each([parallel.job(_fit_experiment, study, settings, e) for e in stale])


def _forget(folder: Path, experiments: Sequence[str]) -> None:
    """Remove the estimates of experiments that are no longer in the study."""
    folder.mkdir(parents=True, exist_ok=True)
    for gone in (p for p in folder.iterdir() if p.is_dir() and p.name not in experiments):
        manifest.remove(gone)


def _fit_experiment(study: Study, settings: Settings, experiment: str) -> None:
    about = _about(study, experiment)
    tables = _tables(study, experiment) | {"experiment": _as_table(about)}
    with manifest.replaced(study.estimates / experiment) as folder:
        for name in about["analyses"]:
            rng = _generator(settings.seed, experiment, name)
            fitted = analyses.model(name).fit(tables, settings=settings, rng=rng)
            _write(folder, name, fitted)
        (folder / "key").write_text(
            _key(study, settings, experiment), encoding="utf-8", newline="\n"
        )


def _about(study: Study, experiment: str) -> dict[str, Any]:
    path = study.checked / experiment / "experiment.json"
    about: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return about


def _as_table(about: Mapping[str, Any]) -> dict[str, np.ndarray]:
    """Return what a model may use of experiment.yaml, as a table of one row."""
    readability = about.get("balance_readability_mg")
    return {
        "balance_readability_mg": np.array([np.nan if readability is None else float(readability)]),
        "germination_criterion": np.array([about.get("germination_criterion") or "radicle"]),
    }


def _files(study: Study, experiment: str) -> list[Path]:
    own = sorted((study.checked / experiment).iterdir())
    return [p for p in (study.checked / f"{t}.csv" for t in STUDY_TABLES) if p.exists()] + own


def _tables(study: Study, experiment: str) -> dict[str, Mapping[str, np.ndarray]]:
    files = (p for p in _files(study, experiment) if p.suffix == ".csv")
    return {p.stem: checked.read_checked(p, p.stem) for p in files}


def _key(study: Study, settings: Settings, experiment: str) -> str:
    """Return the hash of everything that the estimates of an experiment depend on."""
    return manifest.digest(_files(study, experiment), settings.computed(), _computed_by())


@cache
def _computed_by() -> str:
    """Return the hash of the code and the versions of packages: the same for a thousand experiments of a run."""
    versions = [f"{name} {version(name)}" for name in ("numpy", "scipy")]
    return manifest.digest([*code(), Path(__file__), Path(written.__file__)], *versions)


def code() -> list[Path]:
    """Return the files of code that estimates are computed by."""
    package = Path(hilum.__file__).parent
    rooms = ("fates.py", "stats/**/*.py", "analyses/*.py", "analyses/*/*.py")
    return [
        p for room in rooms for p in sorted(package.glob(room)) if not p.name.endswith("chart.py")
    ]


def _kept_key(study: Study, experiment: str) -> str:
    path = study.estimates / experiment / "key"
    return path.read_text(encoding="utf-8") if path.exists() else ""


def _generator(seed: int, *names: str) -> np.random.Generator:
    words = hashlib.sha256("\0".join(names).encode()).digest()[:8]
    return np.random.default_rng([seed, int.from_bytes(words, "big")])


def _write(folder: Path, name: str, fitted: contract.Fit) -> None:
    rows = ([written.cell(getattr(e, c)) for c in contract.COLUMNS] for e in fitted.estimates)
    written.table(folder / f"{name}.csv", contract.COLUMNS, rows)
    for table, records in fitted.rows.items():
        columns = tuple(analyses.describe(name).tables[table].columns)
        written.table(folder / f"{name}_{table}.csv", columns, _cells(records, columns))
    written.drawing(folder / f"{name}.json", fitted.drawing)


def _cells(records: Sequence[Mapping[str, Any]], columns: Sequence[str]) -> Iterator[list[str]]:
    """Yield the cells of rows; a column that nobody described ends the run, since readers would have to guess."""
    for record in records:
        if tuple(record) != tuple(columns):
            raise ValueError(f"the analysis describes {columns}, but wrote {tuple(record)}")
        yield [written.cell(value) for value in record.values()]

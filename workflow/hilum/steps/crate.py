"""Step crate: a study, its results and the code → a folder that can be cited, repeated and verified, and the same as a zip.

It is asked for by itself (`make crate`): a run that is not published yet should not pay for a second copy of everything.
"""

from __future__ import annotations

import codecs
import csv
import json
import shutil
import zipfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import yaml

from hilum import commit, freshness, manifest, strict_yaml
from hilum.crate import layout, metadata, package, readme, sums
from hilum.crate.layout import Run
from hilum.report import citing
from hilum.report.provenance import Made
from hilum.settings import Settings
from hilum.steps import provenance
from hilum.study import CITATION, SITE, Study

# the code as it is run, and nothing that runs leave behind
_NOT_CODE = shutil.ignore_patterns("__pycache__", "*.pyc", "*.egg-info")
_ALWAYS = (1980, 1, 1, 0, 0, 0)


def run(study: Study, settings: Settings) -> None:
    """Write the crate of the study as it stands, its zip, and the manifest."""
    made = provenance.of_run(study)
    with manifest.replaced(study.crate) as crate:
        _copy(study, crate)
        _write(study, settings, made, crate)
        hashes = {
            p.relative_to(crate).as_posix(): manifest.sha256(p) for p in manifest.files(crate)
        }
        _put(crate / layout.SUMS, sums.text(hashes))
    _zip(study.crate, study.crate_zip)
    manifest.write(study.manifest("crate"), [study.crate, study.crate_zip])


def _put(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")


def _json(content: object) -> str:
    text = json.dumps(content, indent=1, sort_keys=True, ensure_ascii=False, allow_nan=False)
    return f"{text}\n"


def _copy(study: Study, crate: Path) -> None:
    data = crate / layout.DATA / study.name
    freshness.copied(study, {name: data / name for name in freshness.raw(study)})
    keys = shutil.ignore_patterns("key")
    for source, name in (
        (study.checked, layout.CHECKED),
        (study.estimates, layout.ESTIMATES),
        (study.site, layout.REPORT),
    ):
        shutil.copytree(source, crate / name, ignore=keys, copy_function=shutil.copyfile)
    _copy_code(crate / layout.CODE)
    shutil.copyfile(study.pages / "methods.md", crate / layout.METHODS)
    shutil.copyfile(study.pages / "sources.bib", crate / layout.SOURCES)


def _copy_code(folder: Path) -> None:
    folder.mkdir()
    here = SITE.parent
    for name in layout.CODE_FOLDERS:
        shutil.copytree(here / name, folder / name, ignore=_NOT_CODE, copy_function=shutil.copyfile)
    for name in layout.CODE_FILES:
        (folder / name).parent.mkdir(exist_ok=True)
        shutil.copyfile(here / name, folder / name)
    _put(folder / commit.PACKED, commit.packed(folder))


def _write(study: Study, settings: Settings, made: Made, crate: Path) -> None:
    """Write what describes the crate."""
    chosen: dict[str, Any] = settings.model_dump(mode="json", exclude={"study"})
    run_ = Run(
        study=study.name,
        hilum=made.version,
        commit=made.commit,
        changed=tuple(made.changed),
        python=made.python,
        packages=made.packages,
        settings=chosen,
        ends=made.ends,
    )
    cff = strict_yaml.load(CITATION)
    cite = citing.citation(cff, commit=made.commit, released=commit.is_release()).text
    config = {"study": f"{layout.DATA}/{study.name}", **chosen}
    _put(crate / layout.CONFIG, yaml.safe_dump(config, sort_keys=False, allow_unicode=True))
    _put(crate / layout.CITATION, cite + "\n")
    _put(crate / layout.README, readme.text(run_, cite))
    _put(crate / layout.RUN, _json(run_.record()))
    for name, text in described(run_, crate, str(cff["date-released"])).items():
        _put(crate / name, text)


def described(run_: Run, crate: Path, released: str) -> dict[str, str]:
    """Return the text of each file that describes the tables of a crate and the whole of it, by its name."""
    about = [
        json.loads(p.read_text(encoding="utf-8"))
        for p in sorted(crate.glob(f"{layout.CHECKED}/*/experiment.json"))
    ]
    licences = sorted({e["licence"] for e in about if e["licence"]})
    title = f"{run_.study}: tables, estimates and report"
    resources = _resources(run_, crate)
    whole = metadata.graph(
        run_,
        title=title,
        # a crate must have a date: the last day of its data, or that of the version which made it
        published=run_.ends or released,
        licence="; ".join(licences) or "Not stated in the tables: ask the authors.",
        people=sorted({e["person"] for e in about if e["person"]}),
        raw=_below(crate, f"{layout.DATA}/{run_.study}"),
        checked=_below(crate, layout.CHECKED),
        estimates=_below(crate, layout.ESTIMATES),
    )
    package_ = package.descriptor(title, "A study of seed dormancy.", licences, resources)
    return {layout.PACKAGE: _json(package_), layout.METADATA: _json(whole)}


def _below(crate: Path, folder: str) -> list[str]:
    return [p.relative_to(crate).as_posix() for p in manifest.files(crate / folder)]


# the tables


def _resources(run_: Run, crate: Path) -> list[package.Resource]:
    folders = (f"{layout.DATA}/{run_.study}", layout.CHECKED, layout.ESTIMATES)
    return [
        _resource(crate, crate / folder, path)
        for folder in folders
        for path in manifest.files(crate / folder)
        if path.suffix == ".csv"
    ]


def _resource(crate: Path, stage: Path, path: Path) -> package.Resource:
    names, rows = _rows(path)
    body = [row for row in rows if row]
    columns = list(zip(*body, strict=True)) or [()] * len(names)
    schema = _schema(stage, path.stem, names, columns)
    return package.Resource(
        path=path.relative_to(crate).as_posix(),
        table=path.stem,
        experiment="" if path.parent == stage else path.parent.name,
        sha256=manifest.sha256(path),
        size=path.stat().st_size,
        schema=schema,
        byte_order_mark=path.read_bytes().startswith(codecs.BOM_UTF8),
        empty_lines=len(body) < len(rows),
    )


def _rows(path: Path) -> tuple[list[str], list[list[str]]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        names, *rows = csv.reader(file)
    return names, rows


def _schema(
    stage: Path, table: str, names: Sequence[str], columns: Sequence[Sequence[str]]
) -> package.Schema:
    if stage.name == layout.CHECKED:
        return package.checked(table)
    describe = package.estimates if stage.name == layout.ESTIMATES else package.raw
    return describe(table, names, columns)


# the zip


def _zip(folder: Path, path: Path) -> None:
    """Write a folder as a zip whose bytes depend on nothing but what is in it."""
    fresh = path.with_name(f".{path.name}.new")
    with zipfile.ZipFile(fresh, "w") as archive:
        files = {p.relative_to(folder).as_posix(): p for p in manifest.files(folder)}
        for name in sorted(files):
            entry = zipfile.ZipInfo(name, date_time=_ALWAYS)
            entry.create_system, entry.external_attr = 3, 0o644 << 16
            # stored as it is: what deflate makes depends on the zlib of a machine, which no lock holds
            entry.compress_type = zipfile.ZIP_STORED
            archive.writestr(entry, files[name].read_bytes())
    fresh.replace(path)

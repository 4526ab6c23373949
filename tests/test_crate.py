"""A crate holds everything of a run, describes it by open standards, and is the same bytes for the same run."""

import hashlib
import json
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path
from urllib.parse import unquote

import numpy
import pytest
import yaml

from hilum import commit
from hilum.crate import layout, package, sums
from hilum.settings import Settings, load
from hilum.steps import crate
from hilum.study import Study
from tests import crated, raw
from tests.conftest import REPOSITORY

STANDARDS = Path(sys.prefix) / "standards/bin/python"
# what a page, a shell, a URL and JSON would each read as more than a name
HOSTILE = "<b>\"a\" & 'b'<br> [x](javascript:y) `z` 100 % $HOME ñ\u202e#1"


@pytest.fixture(scope="module")
def ours(demo, tmp_path_factory):
    """Return the crate of the demo; do not write there."""
    results = tmp_path_factory.mktemp("ours") / "strandline"
    shutil.copytree(demo / "results/strandline", results)
    study = Study(raw=demo / "data/strandline", results=results)
    crate.run(study, Settings(study=study.raw))
    return study.crate


@pytest.fixture(scope="module")
def hostile(tmp_path_factory):
    """Return the crate of a small study of every table whose folder has a name out of hell."""
    # as a spreadsheet saves it: a mark before the first column, an empty line
    lots = "\ufeff" + raw.FILES["lots.csv"].replace("\nlot", "\n\nlot")
    folder = tmp_path_factory.mktemp("hostile")
    made = crated.packed(crated.study(folder, HOSTILE, **{"lots.csv": lots}))
    # validators take the place of a crate for a URL
    return shutil.copytree(made, folder / "crate")


def _judged(script: str, *places: Path) -> list:
    """Return what a validator says of each place, in its own environment."""
    assert STANDARDS.exists(), "the validators are not set up: `make test` does that"
    command = [str(STANDARDS), str(REPOSITORY / f"tests/standards/{script}.py"), *map(str, places)]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return list(json.loads(done.stdout).values())


def test_a_crate_holds_everything_of_its_run(ours):
    assert sorted(p.name for p in ours.iterdir()) == [
        "README.md",
        "SHA256SUMS",
        "checked",
        "citation.txt",
        "code",
        "config.yaml",
        "data",
        "datapackage.json",
        "estimates",
        "methods.md",
        "report",
        "ro-crate-metadata.json",
        "run.json",
        "sources.bib",
    ]
    carried = json.loads((ours / "code/COMMIT.json").read_text(encoding="utf-8"))
    assert carried["commit"] == commit.of_code()
    for place in (layout.LOCK, layout.WORKFLOW, "code/workflow/hilum/__main__.py", "code/LICENSE"):
        assert (ours / place).read_bytes() == (REPOSITORY / place[5:]).read_bytes()
    assert (ours / "report/index.html").exists()
    assert not list(ours.rglob("__pycache__")) + list(ours.rglob("*.egg-info"))
    assert "make site CONFIG=../config.yaml" in (ours / "README.md").read_text(encoding="utf-8")
    settings = yaml.safe_load((ours / "config.yaml").read_text(encoding="utf-8"))
    assert settings.pop("study") == "data/strandline"
    assert settings.keys() == Settings.model_fields.keys() - {"study"}
    # what is kept by content would else be made anew, and pages would spell 12 months as 12.0
    loaded, usual = load(ours / "config.yaml"), Settings(study=".")
    assert loaded.model_dump_json(exclude={"study"}) == usual.model_dump_json(exclude={"study"})


def test_its_sums_name_every_other_file(ours):
    said = sums.read((ours / layout.SUMS).read_text(encoding="utf-8"))
    found = {
        p.relative_to(ours).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in ours.rglob("*")
        if p.is_file() and p.name != layout.SUMS
    }
    assert said == found


def test_the_zip_holds_the_same_and_tells_no_time(ours):
    with zipfile.ZipFile(ours.with_name("crate.zip")) as archive:
        entries = archive.infolist()
        assert [e.filename for e in entries] == sorted(e.filename for e in entries)
        assert {e.date_time for e in entries} == {(1980, 1, 1, 0, 0, 0)}
        assert {e.filename: archive.read(e) for e in entries} == {
            p.relative_to(ours).as_posix(): p.read_bytes() for p in ours.rglob("*") if p.is_file()
        }


def test_the_same_run_makes_the_same_bytes_elsewhere(tmp_path):
    zips = []
    for folder in (tmp_path / "here", tmp_path / "far away/there"):
        made = crated.packed(crated.study(folder))
        # files that were touched later are listed, and dated, otherwise by a disk
        shutil.move(made / "README.md", made / "kept")
        shutil.move(made / "kept", made / "README.md")
        zips.append(made.with_name("crate.zip").read_bytes())
    assert zips[0] == zips[1]


def test_the_validator_of_run_crates_finds_nothing_that_is_required(ours, hostile, tmp_path):
    """And finds what was taken out, so that it can find something."""
    damaged = shutil.copytree(hostile, tmp_path / "damaged")
    path = damaged / layout.METADATA
    made = json.loads(path.read_text(encoding="utf-8"))
    for entity in made["@graph"]:
        if entity["@id"] == "#run":
            del entity["instrument"]
        if entity["@id"] == "./":
            del entity["license"]
    path.write_text(json.dumps(made), encoding="utf-8")
    first, second, third = _judged("crate", ours, hostile, damaged)
    assert (first, second) == ([], [])
    assert any("MUST have an instrument property" in one for one in third)
    assert any("must specify a license" in one for one in third)


def test_frictionless_finds_every_table_as_the_data_package_says(ours, hostile, tmp_path):
    """And finds a cell that is not, so that it can find something."""
    damaged = shutil.copytree(hostile, tmp_path / "damaged")
    counts = damaged / "checked/germ/counts.csv"
    crated.edit(counts, ",d1,24,", ",nobody,day,")
    first, second, third = _judged(
        "tables", *(f / layout.PACKAGE for f in (ours, hostile, damaged))
    )
    tables = [len(list(f.rglob("*.csv"))) for f in (ours / "data", ours / "checked")]
    assert first["faults"] == second["faults"] == []
    assert first["tables"] > sum(tables)
    told = "\n".join(third["faults"])
    assert 'type is "number/default"' in told
    assert "nobody" in told
    assert "hash" in told


def test_every_table_of_the_demo_is_described_column_by_column(ours):
    resources = json.loads((ours / layout.PACKAGE).read_text(encoding="utf-8"))["resources"]
    assert {r["path"] for r in resources} == {
        p.relative_to(ours).as_posix()
        for stage in ("data", "checked", "estimates")
        for p in (ours / stage).rglob("*.csv")
    }
    for one in resources:
        for field in one["schema"]["fields"]:
            assert field.get("description"), (one["path"], field["name"])
        assert (
            one["hash"] == f"sha256:{hashlib.sha256((ours / one['path']).read_bytes()).hexdigest()}"
        )


def test_every_part_of_the_description_is_there(ours, hostile):
    for folder in (ours, hostile):
        graph = json.loads((folder / layout.METADATA).read_text(encoding="utf-8"))["@graph"]
        entities = {entity["@id"]: entity for entity in graph}
        assert len(entities) == len(graph)
        for part in entities["./"]["hasPart"]:
            assert part["@id"] in entities
            assert (folder / unquote(part["@id"])).exists()


def test_a_hostile_name_stays_a_name(hostile):
    readme = (hostile / "README.md").read_text(encoding="utf-8")
    assert "<b>" not in readme
    assert "](javascript" not in readme
    assert "\u202e" not in readme
    assert "100 % &#36;HOME" in readme
    metadata = (hostile / layout.METADATA).read_text(encoding="utf-8")
    ids = [entity["@id"] for entity in json.loads(metadata)["@graph"]]
    assert not [one for one in ids if set(one) & set(' <>"`\u202e[]%') - {"%"}]
    settings = yaml.safe_load((hostile / "config.yaml").read_text(encoding="utf-8"))
    assert settings["study"] == f"data/{HOSTILE}"
    people = [e for e in json.loads(metadata)["@graph"] if e["@type"] == "Person"]
    assert [p["name"] for p in people] == ["<b>B. Invented</b>"]


def test_a_crate_without_dates_and_licence_says_so(tmp_path):
    """The profile wants a date and a licence: that of the version stands in, and that nothing was stated."""
    undated = {
        name: raw.FILES[name].replace(",2024-05-01T09:00", ",") for name in ("germ/dishes.csv",)
    }
    about = crated.ABOUT.replace("chamber_log", "")
    made = crated.packed(crated.study(tmp_path, **undated, **{"germ/experiment.yaml": about}))
    graph = json.loads((made / layout.METADATA).read_text(encoding="utf-8"))["@graph"]
    root = next(entity for entity in graph if entity["@id"] == "./")
    cff = yaml.safe_load((REPOSITORY / "CITATION.cff").read_text(encoding="utf-8"))
    assert root["datePublished"] == str(cff["date-released"])
    assert root["license"].startswith("Not stated")
    assert "author" not in root
    assert "licenses" not in json.loads((made / layout.PACKAGE).read_text(encoding="utf-8"))


def test_a_raw_column_has_its_type_only_where_every_cell_keeps_to_it():
    """An accepted fault stays in the raw table as it was typed."""
    names = ["dish", "elapsed_d", "germinated", "odd"]
    schema = package.raw("counts", names, [["a"], ["1.5"], ["many"], ["2e3"]])
    assert [f["type"] for f in schema["fields"]] == ["string", "number", "string", "number"]
    assert schema["fields"][1]["unit"] == "d"
    (field,) = package.raw("lots", ["collected_on"], [["2024-05-31", ""]])["fields"]
    assert field["type"] == "date"
    (field,) = package.raw("lots", ["collected_on"], [["31.5.2024"]])["fields"]
    assert field["type"] == "string"


def test_names_that_only_differ_in_letters_left_out_stay_two():
    resources = [
        package.Resource(
            path=f"checked/{name}/counts.csv",
            table="counts",
            experiment=name,
            sha256="0",
            size=1,
            schema={"fields": []},
        )
        for name in ("a_b", "a-b", "A b")
    ]
    made = package.descriptor("t", "d", ["CC0-1.0", "ask <me>"], resources)
    assert [r["name"] for r in made["resources"]] == [
        "checked-a-b-counts",
        "checked-a-b-counts-2",
        "checked-a-b-counts-3",
    ]
    assert made["licenses"] == [{"name": "CC0-1.0"}]


def test_another_family_of_processors_gives_each_estimate_to_six_digits(ours):
    """As far as one machine can be another: without the instructions that newer processors have."""
    core = numpy._core._multiarray_umath
    newer = [name for name in core.__cpu_dispatch__ if core.__cpu_features__[name]]
    older = {"NPY_DISABLE_CPU_FEATURES": " ".join(newer), "OPENBLAS_CORETYPE": "Nehalem"}
    command = [sys.executable, "-m", "hilum.steps.verify", str(ours)]
    done = subprocess.run(command, capture_output=True, text=True, env=os.environ | older)
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.startswith(("The same: every estimate agrees to six", "Identical"))

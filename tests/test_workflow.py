"""The workflow as a user meets it: one command, edits, faults, reruns, and the same bytes twice."""

import itertools
import json
import os
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from hilum.alone import held
from hilum.settings import Settings
from hilum.steps import crate
from hilum.study import Study
from tests.conftest import REPOSITORY, copy_workflow, snakemake

RESULTS = Path("results/strandline")
COUNTS = Path("data/strandline/germination/counts.csv")


@pytest.fixture
def copy(demo, tmp_path):
    """Return a private copy of the built demo, times of files kept."""
    folder = tmp_path / "copy"
    shutil.copytree(demo, folder, copy_function=shutil.copy2)
    return folder


def _manifests(folder: Path) -> dict[str, dict[str, str]]:
    paths = sorted((folder / RESULTS / "manifests").glob("*.json"))
    return {p.stem: json.loads(p.read_text(encoding="utf-8")) for p in paths}


def _edit(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def _first_count(folder: Path) -> tuple[str, list[str]]:
    line = (folder / COUNTS).read_text(encoding="utf-8").splitlines()[1]
    return line, line.split(",")


def test_one_command_builds_the_site_and_every_manifest(demo):
    assert (demo / RESULTS / "site/index.html").exists()
    assert set(_manifests(demo)) == {"raw", "check", "fit", "report", "publish"}
    assert (demo / RESULTS / "check.txt").read_text(encoding="utf-8") == ""


def test_a_second_run_has_nothing_to_do(copy):
    done = snakemake(copy)
    assert done.returncode == 0
    told = "Nothing to be done: tables, settings and code are those of the last run."
    assert told in done.stdout + done.stderr


def test_a_bad_cell_stops_the_run_with_a_sentence_and_the_last_site_stays(copy):
    before = (copy / RESULTS / "site/index.html").read_bytes()
    line, cells = _first_count(copy)
    _edit(copy / COUNTS, line, ",".join([cells[0], cells[1], "many", *cells[3:]]))
    done = snakemake(copy)
    assert done.returncode != 0
    sentences = (copy / RESULTS / "check.txt").read_text(encoding="utf-8").splitlines()
    assert len(sentences) == 1
    assert "germination/counts.csv, line 2" in sentences[0]
    assert "many" in sentences[0]
    # the profile's line, the stage, the sentence, the count, and what stays
    assert len((done.stdout + done.stderr).splitlines()) <= 5
    assert sentences[0] in done.stdout + done.stderr
    assert (copy / RESULTS / "site/index.html").read_bytes() == before


def test_a_reverted_fault_leaves_no_stale_report(copy):
    line, cells = _first_count(copy)
    broken = ",".join([cells[0], cells[1], "many", *cells[3:]])
    before = _manifests(copy)
    _edit(copy / COUNTS, line, broken)
    assert snakemake(copy).returncode != 0
    _edit(copy / COUNTS, broken, line)
    assert snakemake(copy).returncode == 0
    assert _manifests(copy) == before


def test_an_edit_refits_only_its_own_experiment(copy):
    keys = sorted((copy / RESULTS / "estimates").glob("*/key"))
    before = {p.parent.name: p.stat().st_ino for p in keys}
    text = (copy / COUNTS).read_text(encoding="utf-8").splitlines()
    (copy / COUNTS).write_text("\n".join([text[0], *_moved(text)]) + "\n", encoding="utf-8")
    assert snakemake(copy).returncode == 0
    after = {p.parent.name: p.stat().st_ino for p in keys}
    assert {name for name in before if before[name] != after[name]} == {"germination"}


def _moved(lines: list[str]) -> list[str]:
    """Return the rows with one germinated seed moved to the next inspection of its dish."""
    rows = [line.split(",") for line in lines[1:]]
    for here, after in itertools.pairwise(rows):
        if here[0] == after[0] and int(here[2]) > 0:
            here[2], after[2] = str(int(here[2]) - 1), str(int(after[2]) + 1)
            break
    return [",".join(row) for row in rows]


def _elsewhere(home: Path) -> dict[str, str]:
    """Return another machine as far as an environment can tell of one: its clock, its language, its user's fonts."""
    # whoever asks the system for our font by name, or for a Latin letter, would get this one
    (home / ".fonts").mkdir(parents=True)
    for given, named in (("Bold", "Regular"), ("Regular", "Bold")):
        font = REPOSITORY / f"site/assets/fonts/HilumSans-{given}.ttf"
        shutil.copy(font, home / f".fonts/HilumSans-{named}.ttf")
    return {
        "HOME": str(home),
        "XDG_DATA_HOME": str(home),
        "TZ": "Pacific/Kiritimati",
        "LC_ALL": "C",
        "LANG": "C",
        "PYTHONHASHSEED": "7",
    }


def _before_all_else(*folders: Path) -> str:
    known = os.environ.get("PYTHONPATH", "").split(os.pathsep)
    return os.pathsep.join([*map(str, folders), *known])


@contextmanager
def _on_one_core() -> Iterator[None]:
    """Stay on one core, where the system lets a program choose."""
    if not hasattr(os, "sched_setaffinity"):
        yield
        return
    cores = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {min(cores)})
    try:
        yield
    finally:
        os.sched_setaffinity(0, cores)


def _crate(demo: Path, folder: Path) -> Study:
    """Return the demo with its crate, packed here from what the demo's run left."""
    shutil.copytree(demo / RESULTS, folder / RESULTS)
    study = Study(raw=demo / "data/strandline", results=folder / RESULTS)
    crate.run(study, Settings(study=study.raw))
    return study


def test_the_same_bytes_in_another_folder_time_zone_locale_and_number_of_cores(demo, tmp_path):
    """And on another day, for a user who has fonts of their own, from what a crate holds, by its own commands."""
    ours = _crate(demo, tmp_path / "here")
    place = tmp_path / "another place"
    with zipfile.ZipFile(ours.crate_zip) as archive:
        archive.extractall(place)
    other = _elsewhere(tmp_path / "home")
    other["PYTHONPATH"] = _before_all_else(REPOSITORY / "tests/elsewhere", place / "code/workflow")
    words = ("--cores", "1", "--configfile", "../config.yaml", "--", "all", "crate")
    with _on_one_core():
        done = snakemake(place / "code", *words, **other)
    assert done.returncode == 0, done.stdout + done.stderr
    assert _manifests(place / "code") == _manifests(tmp_path / "here")
    # what the check says names files as they are typed
    notes = [(f / RESULTS / "check-notes.txt").read_text() for f in (place / "code", demo)]
    assert notes[0].replace("strandline/", "data/strandline/") == notes[1]


def test_the_other_day_of_that_run_is_another_day():
    """A clock that is never asked proves nothing of one that is."""
    code = "import time, datetime as d; print(time.time(), d.datetime.now().timestamp(), d.date.today())"
    tell = [sys.executable, "-c", code]
    elsewhere = os.environ | {"PYTHONPATH": _before_all_else(REPOSITORY / "tests/elsewhere")}
    here, there = (
        subprocess.run(tell, capture_output=True, text=True, check=True, env=env).stdout.split()
        for env in (os.environ, elsewhere)
    )
    for now, later in zip(here[:2], there[:2], strict=True):
        assert float(later) - float(now) > 400 * 86_400
    assert there[2] != here[2]


def test_a_misspelt_setting_is_one_sentence(tmp_path):
    folder = copy_workflow(tmp_path / "w")
    (folder / "own.yaml").write_text("study: data/strandline\nsed: 3\n", encoding="utf-8")
    done = snakemake(folder, "--configfile", "own.yaml")
    assert done.returncode != 0
    assert "sed is not a setting; known are study" in done.stdout + done.stderr
    assert not (folder / "results").exists()


@pytest.mark.parametrize("content", [b"", b"[a, b]\n", b"study: [a\n", b"\xff\xfea"])
def test_a_config_file_that_is_none_is_one_sentence(tmp_path, content):
    """Snakemake reads it before we can, and told it in its own words, once with a traceback."""
    folder = copy_workflow(tmp_path / "w")
    (folder / "own.yaml").write_bytes(content)
    done = snakemake(folder, "--configfile", "own.yaml")
    assert done.returncode != 0
    # after the profile's line
    (sentence,) = (done.stdout + done.stderr).splitlines()[1:]
    assert sentence.startswith("the config file cannot be read as settings")
    assert not (folder / "results").exists()


def test_a_missing_study_folder_is_one_sentence(tmp_path):
    folder = copy_workflow(tmp_path / "w")
    (folder / "own.yaml").write_text("study: data/nowhere\n", encoding="utf-8")
    done = snakemake(folder, "--configfile", "own.yaml")
    assert done.returncode != 0
    assert "nowhere" in (folder / "results/nowhere/check.txt").read_text(encoding="utf-8")
    assert "Traceback" not in done.stdout + done.stderr


def test_two_runs_at_once_do_not_mix(copy):
    (copy / RESULTS / "manifests/check.json").unlink()
    with held(copy / RESULTS / ".lock"):
        done = snakemake(copy)
    assert done.returncode != 0
    assert "another run is at work here" in done.stdout + done.stderr


def test_another_study_of_the_same_name_does_not_take_the_place_of_the_first(copy):
    before = (copy / RESULTS / "site/index.html").read_bytes()
    shutil.copytree(copy / "data/strandline", copy / "other/strandline")
    (copy / "own.yaml").write_text("study: other/strandline\n", encoding="utf-8")
    done = snakemake(copy, "--configfile", "own.yaml")
    assert done.returncode != 0
    assert "holds the results of data/strandline, another study" in done.stdout + done.stderr
    assert (copy / RESULTS / "site/index.html").read_bytes() == before

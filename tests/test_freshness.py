"""What a run redoes: it goes by the contents of tables and code, whatever their dates, and by what was really read."""

import os
import shutil
import subprocess
import sys
import time
import zipfile

import pytest

from tests.conftest import REPOSITORY, snakemake
from tests.faults import edits

NOTHING = "Nothing to be done"
COUNTS = "germ/counts.csv"


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    """Return a study; tests leave its tables and its code as they were."""
    return edits.Desk(tmp_path_factory.mktemp("freshness") / "desk")


def _run(desk, *words, **environment):
    return snakemake(desk.folder, "--configfile", "own.yaml", *words, **environment)


def _said(done):
    return done.stdout + done.stderr


def test_no_edit_is_ignored_and_none_stops_a_run_in_jargon(tmp_path):
    """Twelve of them; `make faults` makes two hundred. A date of yesterday was "Nothing to be done", one of tomorrow a WorkflowError."""
    desk = edits.edited(tmp_path / "desk", number=12, seed=4)
    assert desk.wrong == []
    assert len(desk.done) >= 6
    assert sum(n for name, n in desk.done.items() if "while" in name) >= 2


def test_the_counts_are_of_two_hundred_edits_and_none_was_ignored():
    text = (REPOSITORY / "tests/faults/counts.md").read_text(encoding="utf-8")
    assert f"{edits.HEADING}\n" in text, "python -m tests.faults --edits 200 writes it anew"
    assert "200 edits; 0 times one was ignored" in text


def test_dates_alone_redo_nothing(desk):
    assert _run(desk).returncode == 0
    ages = [time.time() + days * 86_400 for days in (-900, 900, -1, 2, 0)]
    places = [desk.study.raw, desk.folder / "workflow", desk.folder / "site", desk.study.results]
    files = [p for place in places for p in place.rglob("*") if p.is_file()]
    for number, path in enumerate(sorted(files)):
        os.utime(path, (ages[number % 5],) * 2)
    assert NOTHING in _said(_run(desk))
    # and a copy of tables and results, all of today and in any order, is as fresh
    shutil.copytree(desk.folder, desk.folder.parent / "copy", copy_function=shutil.copyfile)
    assert NOTHING in _said(snakemake(desk.folder.parent / "copy", "--configfile", "own.yaml"))


def test_an_edit_of_the_code_counts_whatever_its_date(desk):
    fit = str(desk.study.manifest("fit").relative_to(desk.folder))
    assert _run(desk, "--", fit).returncode == 0
    path = desk.folder / "workflow/hilum/stats/indices.py"
    before = path.read_bytes()
    path.write_bytes(before + b"# a remark\n")
    os.utime(path, (0, 0))
    # nor does a manifest that a clock gone wrong dated stop it
    os.utime(desk.study.manifest("check"), (time.time() + 86_400,) * 2)
    done = _run(desk, "--", fit)
    path.write_bytes(before)
    assert done.returncode == 0, _said(done)
    assert "fit      checked tables" in _said(done)
    assert "check    raw tables" not in _said(done)


def test_a_key_that_a_killed_run_left_is_not_believed(desk):
    """Code was edited and taken back, and the run of the edited code had been killed."""
    fit = str(desk.study.manifest("fit").relative_to(desk.folder))
    assert _run(desk, "--", fit).returncode == 0
    desk.study.key("fit").unlink()
    assert "fit      checked tables" in _said(_run(desk, "--dry-run", "--", fit))


def test_a_crate_holds_the_tables_that_its_estimates_are_of(desk):
    """An edited table with an old date lay in a crate beside estimates of the table before."""
    place = desk.study.raw / COUNTS
    before = place.read_bytes()
    edited = before.replace(b"d3,24,2,", b"d3,24,7,")
    place.write_bytes(edited)
    os.utime(place, (0, 0))
    assert _run(desk, "--", "crate").returncode == 0
    with zipfile.ZipFile(desk.study.crate_zip) as archive:
        assert archive.read(f"data/strand/{COUNTS}") == edited
        assert "d3,24,7," in archive.read(f"checked/{COUNTS}").decode()
    place.write_bytes(before)


def test_a_table_saved_after_the_check_is_not_put_beside_what_was_made_of_it_before(desk):
    assert _run(desk).returncode == 0
    place = desk.study.raw / COUNTS
    before = place.read_bytes()
    _saved_late(desk, "publish", place, lambda: place.write_bytes(before + b"\n"))
    place.write_bytes(before)
    _saved_late(desk, "crate", place, place.unlink)
    place.write_bytes(before)


def _saved_late(desk, step, place, edit):
    command = [sys.executable, "-m", "hilum", step, "--config", "own.yaml"]
    command += ["--results", "results/strand"]
    edit()
    done = subprocess.run(command, cwd=desk.folder, capture_output=True, text=True)
    assert done.returncode == 1
    assert (
        done.stderr
        == f"{place}: was saved while this run worked; run again, and it is read anew.\n"
    )
    assert not desk.study.key(step).exists()

"""Runs that are killed, find no room, or may not write: nothing is lost, and the next run needs no help."""

import os
import resource
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests import raw
from tests.conftest import copy_workflow, snakemake
from tests.faults.killed import YAML, Kill, hashes


@pytest.fixture(scope="module")
def kill(tmp_path_factory):
    return Kill(tmp_path_factory.mktemp("killed"))


@pytest.mark.parametrize(
    ("step", "number", "only"),
    [
        # while .study was written: the study was then another one of the same name for ever
        ("check", 1, "os.rename"),
        # between the two renames of a swap
        ("check", 5, "os.rename"),
        ("fit", 2, "os.rename"),
        ("report", 2, ""),
        # in the build: each kill left a folder of pages behind
        ("publish", 100, ""),
        ("publish", 2, "os.rename"),
    ],
)
def test_a_step_killed_between_two_changes_loses_nothing(kill, step, number, only):
    """Kill -9 at the places that matter; `make faults` kills at many more."""
    assert kill.kill(step, number, only) == []


# Python runs it first: the step waits once it is ready to be interrupted
WAITING = """
import signal, time
plain = signal.signal

def told(number, handler):
    plain(number, handler)
    if number == signal.SIGINT:
        print("ready", flush=True)
        time.sleep(60)

signal.signal = told
"""


def test_a_step_that_is_interrupted_says_so_in_one_line(tmp_path):
    (tmp_path / "sitecustomize.py").write_text(WAITING, encoding="utf-8")
    (tmp_path / "own.yaml").write_text("study: strand\n", encoding="utf-8")
    places = ["--config", str(tmp_path / "own.yaml"), "--results", str(tmp_path / "results")]
    command = [sys.executable, "-m", "hilum", "check", *places]
    first = os.environ | {"PYTHONPATH": str(tmp_path)}
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=first
    )
    assert process.stdout.readline() == "ready\n"
    process.send_signal(signal.SIGINT)
    said = process.communicate(timeout=60)[1]
    assert said == "Interrupted; the next run goes on from what is done.\n"
    assert process.returncode == 130


def _small(folder):
    copy_workflow(folder)
    study = raw.write(folder, {"germ/experiment.yaml": YAML})
    (folder / "own.yaml").write_text("study: data/strand\n", encoding="utf-8")
    return study


def test_a_run_killed_with_all_its_processes_goes_on_without_unlocking(tmp_path):
    study = _small(tmp_path / "w")
    before = hashes(study.raw)
    command = [str(Path(sys.executable).with_name("snakemake")), "--cores", "2"]
    run = subprocess.Popen(
        [*command, "--configfile", "own.yaml"], cwd=tmp_path / "w", start_new_session=True,
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    while not study.manifest("check").exists():
        assert run.poll() is None
        time.sleep(0.02)
    os.killpg(run.pid, signal.SIGKILL)
    run.wait()
    assert not study.site.exists()
    done = snakemake(tmp_path / "w", "--configfile", "own.yaml")
    assert done.returncode == 0, done.stdout + done.stderr
    assert (study.site / "index.html").exists()
    assert hashes(study.raw) == before


def _door(study, rule, **how):
    folder = study.raw.parent.parent
    words = ["--config", "own.yaml", "--results", str(study.results.relative_to(folder))]
    command = [sys.executable, "-m", "hilum", rule, *words]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, **how)


@pytest.fixture
def small(tmp_path):
    """Return a checked study, with the config file beside it."""
    study = raw.write(tmp_path, {})
    (tmp_path / "own.yaml").write_text("study: data/strand\n", encoding="utf-8")
    assert _door(study, "check").returncode == 0
    return study


def test_a_full_disk_is_a_sentence_and_leaves_what_was_there(small):
    """It was a traceback, and the half-written tables kept the room that was wanted."""
    before = hashes(small.checked)

    def no_room():
        # no file may grow beyond this, as on a disk with so much room left
        resource.setrlimit(resource.RLIMIT_FSIZE, (150, 150))

    done = _door(small, "check", preexec_fn=no_room)
    assert done.returncode == 1
    (sentence,) = done.stderr.splitlines()
    assert sentence.startswith("results/strand: the disk has no room for what this step makes (")
    assert hashes(small.checked) == before
    assert not list(small.results.glob(".checked*"))
    assert _door(small, "check").returncode == 0


def test_a_results_folder_that_cannot_be_made_is_a_sentence(small):
    place = small.results.parent / "taken"
    place.write_text("a file", encoding="utf-8")
    words = ["--config", "own.yaml", "--results", "results/taken/strand"]
    command = [sys.executable, "-m", "hilum", "check", *words]
    done = subprocess.run(
        command, cwd=small.raw.parent.parent, capture_output=True, text=True
    )  # fmt: skip
    assert done.returncode == 1
    (sentence,) = done.stderr.splitlines()
    assert "may not be written" in sentence


def test_a_study_that_may_only_be_read_is_enough(tmp_path):
    study = raw.write(tmp_path, {})
    before = hashes(study.raw)
    places = [study.raw, *study.raw.rglob("*")]
    for path in places:
        path.chmod(0o555 if path.is_dir() else 0o444)
    assert raw.run(study) == []
    for path in places:
        path.chmod(0o755)
    assert hashes(study.raw) == before

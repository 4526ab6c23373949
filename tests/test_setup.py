"""From a bare folder to a run: the set-up of make, the container, conda and other people's machines, as far as they can be tried here."""

import os
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
import yaml
from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet

from hilum.crate import layout
from tests.conftest import REPOSITORY, copy_workflow

PROJECT = tomllib.loads((REPOSITORY / "pyproject.toml").read_text(encoding="utf-8"))["project"]
CONTAINER = (REPOSITORY / "Containerfile").read_text(encoding="utf-8").splitlines()


def _text(name: str) -> str:
    return (REPOSITORY / name).read_text(encoding="utf-8")


def _said(word: str) -> list[str]:
    """Return what the lines of the Containerfile that begin with a word say."""
    return [line.removeprefix(f"{word} ") for line in CONTAINER if line.startswith(f"{word} ")]


# from nothing


@pytest.fixture
def machine(tmp_path):
    """Return a folder with what an image gets, set up by the RUN lines of the Containerfile, each of them twice at once.

    With it what these lines asked of the system, and what the last one and its twin said.
    """
    folder = copy_workflow(tmp_path / "hilum")
    for name in ("Makefile", "pyproject.toml", "requirements.lock", "README.md", "LICENSE"):
        shutil.copy(REPOSITORY / name, folder)
    # as if an earlier set-up had been killed before pip was there; such a folder was lost for ever
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", folder / ".venv"], check=True)
    stub = folder.parent / "bin"
    stub.mkdir()
    (stub / "apt-get").write_text(f'#!/bin/sh\necho "$@" >>"{stub}/asked"\n', encoding="utf-8")
    (stub / "apt-get").chmod(0o755)
    # the user's own packages and the environment of the tests are not there
    known = ("PYTHONPATH", "PYTHONHOME", "VIRTUAL_ENV", "MAKEFLAGS", "MAKELEVEL")
    there = {k: v for k, v in os.environ.items() if k not in known}
    there["PATH"] = os.pathsep.join([str(stub), there["PATH"]])
    for line in _said("RUN"):
        command = ["sh", "-ec", line]
        twins = [
            subprocess.Popen(command, cwd=folder, env=there, stdout=subprocess.PIPE, text=True)
            for _ in range(2)
        ]
        said = [twin.communicate()[0] for twin in twins]
        assert [twin.returncode for twin in twins] == [0, 0]
    return folder, (stub / "asked").read_text(encoding="utf-8").split(), said


@pytest.mark.slow
def test_the_lines_of_the_containerfile_make_a_folder_that_runs(machine):
    folder, asked, said = machine
    assert {"git", "make"} <= set(asked)
    (command,) = map(yaml.safe_load, _said("ENTRYPOINT"))
    assert [*command, *yaml.safe_load(_said("CMD")[0])] == ["make", "site"]
    done = subprocess.run([*command, "check"], cwd=folder, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    assert (folder / "results/strandline/check.txt").read_text(encoding="utf-8") == ""
    # of two set-ups at once the second waited, and found it done
    second, first = sorted(said)
    assert second == "Another set-up is at work in this folder; this one waits for its end.\n"
    assert first.startswith("Putting the packages of requirements.lock into .venv")


def test_the_image_begins_from_a_python_that_will_do_and_without_what_runs_leave():
    (base,) = _said("FROM")
    name, version = re.fullmatch(r"(\w+):([\d.]+)-slim", base).groups()
    assert name == "python"
    assert version in SpecifierSet(PROJECT["requires-python"])
    ignored = set(_text(".dockerignore").splitlines())
    assert {".venv", ".snakemake", "results"} <= ignored
    assert "Containerfile" in layout.CODE_FILES


# with conda


def test_the_environment_of_conda_takes_every_package_from_the_lock(tmp_path):
    """Conda itself gives Python and pip; what it hands to pip is given to pip here."""
    wanted = yaml.safe_load(_text("environment.yml"))
    assert set(wanted) == {"name", "channels", "dependencies"}
    *own, last = wanted["dependencies"]
    assert own == [f"python={_said('FROM')[0].split(':')[1].removesuffix('-slim')}", "pip"]
    # conda writes these lines into a file beside environment.yml
    lines = tmp_path / "requirements.txt"
    lines.write_text("\n".join(last["pip"]) + "\n", encoding="utf-8")
    shutil.copy(REPOSITORY / "requirements.lock", tmp_path)
    command = [sys.executable, "-m", "pip", "install", "--dry-run", "--no-index", "-r", lines.name]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert "Would install" not in done.stdout
    assert "--require-hashes" in last["pip"]


def test_every_package_of_the_lock_has_its_hash():
    """So that --require-hashes can hold."""
    lock = re.split(r"\n(?=\S)", _text("requirements.lock").strip())
    for one in lock:
        name, *rest = one.split("\\\n")
        assert Requirement(name.strip()).specifier
        assert rest
        assert all(line.strip().startswith("--hash=sha256:") for line in rest), name


# on other people's machines


def _targets() -> set[str]:
    return set(re.findall(r"^([\w./-]+):(?!=)", _text("Makefile"), re.MULTILINE))


def _scripts() -> list[str]:
    jobs = yaml.safe_load(_text(".github/workflows/tests.yml"))["jobs"].values()
    own = [step["run"] for job in jobs for step in job["steps"] if "run" in step]
    return [*own, _text(".ci/run")]


def test_lint_and_tests_run_on_every_system_that_the_readme_names():
    jobs = yaml.safe_load(_text(".github/workflows/tests.yml"))["jobs"]
    systems = {job["runs-on"].removesuffix("-latest"): job for job in jobs.values()}
    assert set(systems) == {"ubuntu", "macos", "windows"}
    for system, job in systems.items():
        run = "\n".join(step.get("run", "") for step in job["steps"])
        run = run.replace(".ci/run", _text(".ci/run"))
        asked = {word for line in _made(run) for word in line}
        assert {"lint", "test"} <= asked, system
    # the one that has a browser may not leave its tests out
    assert "env" not in systems["ubuntu"]


def _made(script: str) -> list[list[str]]:
    """Return the words of each call of make in a script."""
    return [
        words.split() for words in re.findall(r"(?:^|&& )make ([\w /.-]+)", script, re.MULTILINE)
    ]


@pytest.mark.parametrize("script", _scripts())
def test_scripts_for_other_machines_parse_and_ask_for_targets_that_there_are(script):
    subprocess.run(["bash", "-n"], input=script, text=True, check=True)
    assert {word for line in _made(script) for word in line} <= _targets()


def test_the_script_of_ci_can_be_run():
    assert os.access(REPOSITORY / ".ci/run", os.X_OK)


def test_the_readme_names_every_system():
    text = _text("README.md")
    assert all(name in text for name in ("macOS", "Windows", "WSL"))
    assert Path(REPOSITORY / "Containerfile").name in text

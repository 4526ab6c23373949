"""Names that people give to make are arguments: none is ever executed, and odd but honest ones work."""

import itertools
import os
import shutil
import subprocess

import pytest
import yaml

from tests import raw
from tests.conftest import REPOSITORY, copy_workflow

# what would run `touch X` in the shell of a recipe, or in make itself
PAYLOADS = (
    "`touch X`",
    "$(touch X)",
    "$(shell touch X)",
    "${shell touch X}",
    "$$(touch X)",
    "$$(shell touch X)",
    "$(eval $(shell touch X))",
    "$(file >X)",
    ";touch X;",
    "&touch X&",
    "|touch X|",
    "||touch X||",
    "&&touch X&&",
    "\ntouch X\n",
    "<(touch X)",
    ">X",
    "' ; touch X; '",
)
AROUND = (("", ""), ("a", ".yaml"), ('x"', '".zip'), ("it's '", "'"), ("\\", "\\"), ('-"$', '$"'))
HOSTILE = [
    f"{before}{name}{after}" for name, (before, after) in itertools.product(PAYLOADS, AROUND)
]
ODD = ("-größe#1", 'it\'s "$HOME" 100 %')
NAMES = ("CONFIG", "PLAN", "CORES", "CRATE", "INTO", "TODAY", "DAYS")
WORDS = {"PYTEST": "test", "BENCH": "bench", "CALIBRATE": "calibrate", "FAULTS": "faults"}
# a program that writes down how many words it was called with, and which
STUB = '#!/bin/sh\nprintf "%s\\0" "$#" "$@" >>"$CALLED"\n'


def _make(folder, *targets, names, typed=True, **environment):
    """Run make with names given as people type them, or from the environment, where everything is set up already."""
    ready = [f"-o.venv/{stamp}.stamp" for stamp in ("run", "tests")]
    given = [f"{name}={value}" for name, value in names.items()] if typed else []
    own = {k: v for k, v in os.environ.items() if k not in (*NAMES, *WORDS, "MAKEFLAGS")}
    own |= environment | ({} if typed else names)
    command = ["make", "--no-print-directory", "-k", *ready, *targets, *given]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, env=own)


@pytest.fixture(scope="module")
def stubs(tmp_path_factory):
    """Return a folder, itself of a hostile name, with our Makefile and programs that only write down their words."""
    folder = tmp_path_factory.mktemp("stubs") / 'it\'s "$HOME" `touch X` $(touch X)'
    programs = folder / ".venv/bin"
    programs.mkdir(parents=True)
    shutil.copy(REPOSITORY / "Makefile", folder)
    for name in ("python", "snakemake"):
        (programs / name).write_text(STUB, encoding="utf-8")
        (programs / name).chmod(0o755)
    return folder


def _called(folder, *targets, names, typed=True):
    """Return the words of each call of a program."""
    log = folder.parent / "called"
    log.unlink(missing_ok=True)
    _make(folder, *targets, names=names, typed=typed, CALLED=str(log))
    words = iter(log.read_text(encoding="utf-8").split("\0")[:-1] if log.exists() else [])
    return [list(itertools.islice(words, int(number))) for number in words]


def test_a_hundred_hostile_names_are_handed_on_as_they_are(stubs):
    assert len(set(HOSTILE)) >= 100
    targets = ("site", "check", "crate", "verify", "plan", "sheets", "due")
    there = set(stubs.iterdir())
    for number, name in enumerate(HOSTILE):
        called = _called(stubs, *targets, names=dict.fromkeys(NAMES, name), typed=number % 2 > 0)
        assert set(stubs.iterdir()) == there, name
        snakemake = ["--cores", name, f"--configfile={name}"]
        settings = ["-m", "hilum.settings", name]
        assert called == [
            settings, snakemake,
            settings, [*snakemake, "--until", "check"],
            settings, [*snakemake, "--", "crate"],
            ["-m", "hilum.steps.verify", "--", name],
            ["-m", "hilum.steps.plan", name],
            ["-m", "hilum.steps.sheets", name, name],
            ["-m", "hilum.steps.due", name, name, name],
        ], name  # fmt: skip


def test_hostile_words_for_the_programs_of_the_tests_are_words(stubs):
    there = set(stubs.iterdir())
    for number, words in enumerate(HOSTILE[::2]):
        names = dict.fromkeys(WORDS, words)
        called = _called(stubs, *WORDS.values(), names=names, typed=number % 2 > 0)
        assert set(stubs.iterdir()) == there, words
        assert all(call[0] == "-m" for call in called)


def test_words_for_the_programs_of_the_tests_may_stand_in_quotation_marks(stubs):
    names = dict.fromkeys(WORDS, """tests/test_a.py -k "not slow" 'a $5'""")
    called = _called(stubs, *WORDS.values(), names=names)
    given = ["tests/test_a.py", "-k", "not slow", "a $5"]
    programs = (
        ["pytest", "-n", "2"],
        *([f"tests.{name}"] for name in ("bench", "calibration", "faults")),
    )
    assert called == [["-m", *program, *given] for program in programs]
    assert _called(stubs, "bench", names={}) == [["-m", "tests.bench"]]


# honest names, and the real programs


@pytest.fixture(scope="module")
def workshop(tmp_path_factory):
    """Return a folder that runs, with a study and config files of odd names."""
    folder = copy_workflow(tmp_path_factory.mktemp("names") / "work $5 shop")
    shutil.copy(REPOSITORY / "Makefile", folder)
    (folder / ".venv").symlink_to(REPOSITORY / ".venv")
    study = raw.write(folder)
    for name in ODD:
        shutil.copytree(study.raw, study.raw.with_name(name))
        text = yaml.safe_dump({"study": f"data/{name}"})
        (folder / f"{name}{{rule}}.yaml").write_text(text, encoding="utf-8")
    return folder


@pytest.mark.parametrize("name", ODD)
def test_config_files_and_studies_of_odd_names_are_checked(workshop, name):
    done = _make(workshop, "check", names={"CONFIG": f"{name}{{rule}}.yaml"})
    assert done.returncode == 0, done.stdout + done.stderr
    assert (workshop / "results" / name / "checked/germ/counts.csv").exists()


def test_a_study_whose_name_has_braces_is_refused_in_a_sentence(workshop):
    (workshop / "own.yaml").write_text("study: 'data/{rule}'\n", encoding="utf-8")
    done = _make(workshop, "check", names={"CONFIG": "own.yaml"})
    told = "own.yaml: study is data/{rule}; rename the folder to a name without braces."
    assert done.stderr.splitlines()[0] == told


def test_odd_names_are_told_as_they_are(workshop):
    name = '-it\'s $5 {a} "b" #1 ñ'
    done = _make(workshop, "verify", "plan", "due", names=dict.fromkeys(NAMES, name))
    assert f"{name}: is neither the folder nor the zip of a crate." in done.stderr
    assert f"{name}: cannot be read (No such file or directory)." in done.stderr


def test_tables_are_written_into_a_folder_of_an_odd_name(workshop):
    name = "new 'bank' $5"
    done = _make(workshop, "sheets", names={"PLAN": "config/plan.yaml", "INTO": name})
    assert done.returncode == 0, done.stdout + done.stderr
    assert (workshop / name / "config.yaml").exists()
    # and the next command can be copied as it is said
    command = done.stdout.rpartition("then ")[2]
    said = subprocess.run(["sh", "-c", f"printf '%s\\n' {command}"], capture_output=True, text=True)
    assert said.stdout.splitlines() == ["make", "check", f"CONFIG={name}/config.yaml"]

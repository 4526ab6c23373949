"""Experiments dealt into parts: the same results as in one, each part once, and nothing left out."""

import subprocess
import sys
from dataclasses import replace

import pytest

from hilum import manifest
from hilum.alone import held
from hilum.settings import Settings
from hilum.steps import check, fit, parallel, report
from hilum.study import Study
from tests.bench import many


@pytest.fixture(scope="module")
def raw(tmp_path_factory):
    folder = tmp_path_factory.mktemp("parts") / "bank"
    many.study(folder, 4, seed=3)
    return folder


@pytest.fixture(scope="module")
def checked(raw, tmp_path_factory):
    results = tmp_path_factory.mktemp("checked")
    assert _door(raw, results, "check").returncode == 0
    return raw, results


def _made(study, *rooms):
    files = [f for room in rooms for f in manifest.files(room)]
    return {f.relative_to(study.results): manifest.sha256(f) for f in files}


def test_parts_give_the_bytes_of_the_whole(raw, tmp_path):
    whole = Study(raw=raw, results=tmp_path / "whole" / "bank")
    parts = replace(whole, results=tmp_path / "parts" / "bank")
    in_one, in_three = Settings(study=raw), Settings(study=raw, parts=3)
    for study, settings in ((whole, in_one), (parts, in_three)):
        check.run(study, settings)
        for step in (fit, report):
            for number in range(1, settings.parts + 1 if settings.parts > 1 else 1):
                step.part(study, settings, number)
                assert study.manifest(f"{step.__name__.split('.')[-1]}-{number}").exists()
            step.run(study, settings)
    assert _made(whole, whole.estimates, whole.charts) == _made(
        parts, parts.estimates, parts.charts
    )
    assert _made(whole, whole.pages / "experiments") == _made(parts, parts.pages / "experiments")


@pytest.mark.parametrize("parts", [1, 2, 3, 7])
def test_each_name_is_dealt_once(parts):
    names = [f"e{i}" for i in range(6)]
    dealt = [n for part in range(1, parts + 1) for n in parallel.dealt(names, part, parts)]
    assert sorted(dealt) == names


def _door(raw, results, *words):
    config = raw.parent / "config.yaml"
    config.write_text("study: bank\nparts: 2\n", encoding="utf-8")
    command = [sys.executable, "-m", "hilum", *words, "--config", str(config)]
    return subprocess.run([*command, "--results", str(results)], capture_output=True, text=True)


def test_a_part_that_there_is_not_is_a_sentence(raw, tmp_path):
    done = _door(raw, tmp_path, "fit", "--part", "3")
    assert (done.returncode, done.stderr) == (1, "--part 3: the setting `parts` is 2.\n")
    assert "check is not done in parts" in _door(raw, tmp_path, "check", "--part", "1").stderr


@pytest.mark.parametrize(
    ("name", "shared", "words", "refused"),
    [
        (".lock", False, ("fit", "--part", "1"), True),  # a whole step is at work
        (".lock", True, ("fit", "--part", "1"), False),  # another part is
        (".lock", True, ("fit",), True),
        (".lock-1", False, ("fit", "--part", "1"), True),  # the same part is
        (".lock-2", False, ("fit", "--part", "1"), False),
    ],
)
def test_parts_work_beside_each_other_and_never_beside_a_whole_step(
    checked, name, shared, words, refused
):
    raw, results = checked
    with held(results / name, shared=shared):
        done = _door(raw, results, *words)
    assert ("another run is at work here" in done.stderr) == refused

"""Hilum as users of Snakemake meet it: keys on the command line, modules, logs, benchmarks, reports and environments."""

import json
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
import yaml
from snakemake.utils import validate

from hilum import lock, settings
from tests import raw
from tests.conftest import REPOSITORY, copy_workflow, snakemake

START = ("--snakefile", str(REPOSITORY / "Snakefile"))
WITHIN = ("--snakefile", str(REPOSITORY / "workflow/Snakefile"))
SCHEMA = REPOSITORY / "workflow/schemas/config.schema.yaml"
# a stand-in for conda, whose channels cannot be reached: its environments hold what pip was asked for, and not Hilum
CONDA = """#!/bin/sh
case "$*" in
    --version) echo "conda 25.1.0" ;;
    "info --json") echo '{"conda_prefix": "'$CONDA_HOME'", "platform": "linux-64"}' ;;
    config*) echo '{"get": {"channel_priority": "strict"}}' ;;
    *create*) "$PYTHON_HERE" "$CONDA_HOME/create.py" "$@" ;;
esac
"""
CREATE = """
import subprocess, sys, venv
from pathlib import Path

import yaml

words = dict(zip(sys.argv, sys.argv[1:]))
place, wanted = Path(words["--prefix"]), yaml.safe_load(Path(words["--file"]).read_text())
lines = place.parent / "requirements.txt"
lines.write_text("\\n".join(wanted["dependencies"][-1]["pip"]))
dry = [sys.executable, "-m", "pip", "install", "--dry-run", "--no-index", "-r", lines]
said = subprocess.run(dry, capture_output=True, text=True, check=True).stdout
assert "Would install" not in said, said
venv.create(place)
(there,) = place.glob("lib/python3*/site-packages")
for path in Path(yaml.__file__).parents[1].iterdir():
    if "hilum" not in path.name and not (there / path.name).exists():
        (there / path.name).symlink_to(path)
"""


def _study(folder: Path, name: str) -> Path:
    """Return a small study that fits in a moment."""
    place = raw.write(folder / "there").raw
    about = place / "germ/experiment.yaml"
    about.write_text(about.read_text(encoding="utf-8").replace("[]", "[time_course]"), "utf-8")
    place.rename(folder / name)
    shutil.rmtree(folder / "there")
    return folder / name


@pytest.fixture
def desk(tmp_path):
    """Return an empty folder of a user with two studies."""
    for name in ("wild seed", "own"):
        _study(tmp_path, name)
    return tmp_path


def _ran(folder, *words, **environment):
    done = snakemake(folder, *words, **environment)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout + done.stderr


# keys on the command line


def test_keys_on_the_command_line_name_the_study_and_its_settings(desk):
    """It built the demo."""
    _ran(desk, *START, "--config", "study=wild seed", "confidence=0.6", "--until", "fit")
    assert [p.name for p in (desk / "results").iterdir()] == ["wild seed"]
    estimates = desk / "results/wild seed/estimates/germ/time_course.csv"
    narrow = estimates.read_bytes()
    # from the other Snakefile, a word before the file's: the same settings, so that nothing is new but the word left out
    (desk / "own.yaml").write_text("study: wild seed\n", encoding="utf-8")
    words = (*WITHIN, "--logger", "hilum", "--configfile", "own.yaml", "--until", "fit")
    assert "fit  " not in _ran(desk, *words, "--config", "confidence=0.6")
    assert "fit  " in _ran(desk, *words)
    assert estimates.read_bytes() != narrow


def test_a_key_that_will_not_do_is_one_sentence(desk):
    done = snakemake(desk, *START, "--config", "study=own", "confidenc=0.9")
    assert done.returncode != 0
    (_, sentence) = (done.stdout + done.stderr).splitlines()
    assert sentence.startswith("--config: confidenc is not a setting; known are study")
    assert not (desk / "results").exists()
    for key, value in (("study", ""), ("study", None), ("confidence", 2)):
        with pytest.raises(settings.SettingsFault, match=f"^--config: (the key )?{key} is "):
            settings.merged([], {"study": "a"} | {key: value})


def test_of_several_files_the_last_decides_and_each_is_where_its_study_is_found_from(tmp_path):
    one, two = tmp_path / "a/one.yaml", tmp_path / "two.yaml"
    one.parent.mkdir()
    one.write_text("study: ../seeds\nconfidence: 0.8\nseed: 2\n", encoding="utf-8")
    two.write_text("confidence: 0.9\n", encoding="utf-8")
    found = settings.merged([one, two], {"seed": 3})
    assert found.study == tmp_path / "seeds"
    assert (found.confidence, found.seed) == (0.9, 3)
    with pytest.raises(settings.SettingsFault) as fault:
        settings.merged([one, two], {"seed": -1, "sed": 1})
    assert [s.split(":")[0] for s in str(fault.value).splitlines()] == ["--config"] * 2
    two.write_text("sed: 1\n", encoding="utf-8")
    with pytest.raises(settings.SettingsFault, match=r"two\.yaml: sed is not a setting"):
        settings.merged([one, two])
    # what a rule tells its step comes out as it went in
    assert settings.told(found.model_dump_json()) == found


def test_another_folder_takes_results_and_finds_a_study_that_was_typed(desk):
    place = desk / "else where"
    words = (*START, "--directory", str(place), "--until", "check")
    _ran(desk, *words, "--config", "study=../wild seed")
    assert (place / "results/wild seed/checked/germ/counts.csv").exists()
    assert not (desk / "results").exists()


# modules


MODULES = """\
configfile: "config.yaml"


module wild:
    snakefile: "{snakefile}"
    config: config["wild"]


use rule * from wild as wild_*


module own:
    snakefile: "{snakefile}"
    config: config["own"]
    prefix: "seeds"


use rule * from own as own_*


rule mine:
    input: rules.wild_fit.output, rules.own_fit.output
    output: "mine.txt"
    default_target: True
    shell: "head -1 'results/wild seed/estimates/diagnosis.csv' > {{output}}"
"""


def test_a_workflow_takes_hilum_as_a_module_twice(desk):
    """It built the demo."""
    text = MODULES.format(snakefile=REPOSITORY / "workflow/Snakefile")
    (desk / "Snakefile").write_text(text, encoding="utf-8")
    config = {"wild": {"study": "wild seed", "confidence": 0.9}, "own": {"study": "own"}}
    (desk / "config.yaml").write_text(yaml.safe_dump(config), encoding="utf-8")
    said = _ran(desk, "--logger", "hilum")
    assert "fit      checked tables → estimates, own" in said
    assert (desk / "mine.txt").read_text(encoding="utf-8").startswith("lot,")
    assert [p.name for p in (desk / "results").iterdir()] == ["wild seed"]
    assert [p.name for p in (desk / "seeds/results").iterdir()] == ["own"]
    assert (desk / "seeds/results/own/logs/check.txt").exists()
    assert "Nothing to be done" in _ran(desk, "--logger", "hilum")
    # an edit redoes its own study, and what the user makes of it
    counts = desk / "own/germ/counts.csv"
    counts.write_text(counts.read_text("utf-8").replace("d3,24,2,", "d3,24,3,"), "utf-8")
    said = _ran(desk, "--logger", "hilum", "--dry-run", "--", "wild_all", "own_all")
    assert "fit      checked tables → estimates, own  (would run" in said
    assert "fit      checked tables → estimates, wild" not in said
    assert "publish  pages → site, wild  (would run" in said
    config["own"]["sed"] = 1
    (desk / "config.yaml").write_text(yaml.safe_dump(config), encoding="utf-8")
    done = snakemake(desk, "--logger", "hilum")
    assert done.returncode != 0
    assert "config of module own: sed is not a setting; known are" in done.stdout + done.stderr


# logs and benchmarks


def test_a_fault_is_told_once_and_kept_in_the_log(desk):
    counts = desk / "own/germ/counts.csv"
    counts.write_text(counts.read_text("utf-8").replace("d3,24,2,", "d3,24,many,"), "utf-8")
    done = snakemake(desk, *START, "--config", "study=own")
    assert done.returncode != 0
    kept = (desk / "results/own/logs/check.txt").read_text(encoding="utf-8")
    (sentence,) = (desk / "results/own/check.txt").read_text(encoding="utf-8").splitlines()
    assert sentence in kept
    assert (done.stdout + done.stderr).count(sentence) == 1


def test_logs_and_benchmarks_of_each_stage_are_in_no_manifest(demo):
    results = demo / "results/strandline"
    stages = ("check", "fit", "publish", "report")
    assert sorted(p.name for p in (results / "logs").iterdir()) == [f"{s}.txt" for s in stages]
    for stage in stages:
        head, figures = (results / f"benchmarks/{stage}.tsv").read_text("utf-8").splitlines()
        assert float(dict(zip(head.split(), figures.split(), strict=True))["s"]) > 0
        hashed = json.loads((results / f"manifests/{stage}.json").read_text(encoding="utf-8"))
        assert not [name for name in hashed if name.startswith(("logs/", "benchmarks/"))]
    assert "no faults" in (results / "logs/check.txt").read_text(encoding="utf-8")


# reports


def test_a_report_of_snakemake_holds_charts_and_estimates_without_a_network(demo, tmp_path):
    folder = tmp_path / "copy"
    shutil.copytree(demo, folder, copy_function=shutil.copy2)
    _ran(folder, "--report", "report.zip", http_proxy="http://127.0.0.1:9", https_proxy="http://127.0.0.1:9")  # fmt: skip
    with zipfile.ZipFile(folder / "report.zip") as archive:
        names = {Path(name).name for name in archive.namelist()}
        told = archive.read("report/report.html").decode()
    results = folder / "results/strandline"
    charts = {p.name for p in results.glob("charts/*/**/*.svg")}
    tables = {p.name for p in results.glob("estimates/**/*.csv")}
    assert len(charts) > 10
    assert charts | tables <= names
    for word in ("Charts", "Estimates", "lot drift-24", "germination"):
        assert f'"{word}"' in told, word
    assert not any(f'{place}="http' in told for place in ("src", "<link href"))
    assert "Nothing to be done" in _ran(folder)


# environments


def test_the_schema_says_what_the_settings_say():
    for config in ({"study": "a"}, {"study": "a", "confidence": 0.9, "storage_months": [6]}):
        validate(dict(config), str(SCHEMA))
    for wrong in ({"study": "a", "sed": 1}, {}, {"study": "a", "confidence": 2}):
        with pytest.raises(settings.SettingsFault):
            settings.merged([], wrong)
        with pytest.raises(Exception, match="Error validating"):
            validate(dict(wrong), str(SCHEMA))
    (line, *_) = (REPOSITORY / "config/config.yaml").read_text(encoding="utf-8").splitlines()
    assert (REPOSITORY / "config" / line.partition("$schema=")[2]).samefile(SCHEMA)


@pytest.fixture
def conda(tmp_path):
    """Return the environment of a machine with a stand-in for conda."""
    home = tmp_path / "conda"
    (home / "bin").mkdir(parents=True)
    (home / "create.py").write_text(CREATE, encoding="utf-8")
    (home / "bin/conda").write_text(CONDA, encoding="utf-8")
    (home / "bin/conda").chmod(0o755)
    (home / "bin/activate").write_text('export PATH="$1/bin:$PATH"\n', encoding="utf-8")
    path = os.pathsep.join([str(home / "bin"), os.environ["PATH"]])
    return {"PATH": path, "CONDA_HOME": str(home), "PYTHON_HERE": sys.executable}


def test_steps_run_in_an_environment_that_snakemake_makes_for_them(desk, conda):
    """As far as it can be tried without conda: the packages that the environment asks for, and no Hilum among them."""
    folder = copy_workflow(desk / "hilum")
    words = ("--sdm", "conda", "--config", "study=../own", "--until", "fit")
    _ran(folder, *words, **conda)
    (python,) = (folder / ".snakemake/conda").glob("*/bin/python")
    tell = [python, "-c", "import hilum"]
    assert "No module named 'hilum'" in subprocess.run(tell, capture_output=True, text=True).stderr
    assert (folder / "results/own/estimates/germ/time_course.csv").exists()
    # what asks for the version of an installed package finds it all the same
    tell[-1] = "from hilum import lock; print(lock.own())"
    there = os.environ | {"PYTHONPATH": str(folder / "workflow")}
    said = subprocess.run(tell, capture_output=True, text=True, env=there, check=True).stdout
    assert said.strip() == lock.own()


def test_the_lines_of_a_dockerfile_that_snakemake_prints_can_be_followed(desk, conda):
    said = subprocess.run(
        [Path(sys.executable).with_name("snakemake"), "--containerize"],
        cwd=copy_workflow(desk / "hilum"), env=os.environ | conda, capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    lines = said.replace("\\\n", " ").splitlines()
    run = [line.removeprefix("RUN ") for line in lines if line.startswith("RUN ")]
    (copied,) = [line.split()[1:] for line in lines if line.startswith("COPY ")]
    run.insert(1, f"cp {' '.join(copied)}")
    script = "\n".join(run).replace("/conda-envs", str(desk / "envs"))
    done = subprocess.run(
        ["sh", "-ec", script], cwd=desk / "hilum", env=os.environ | conda, capture_output=True, text=True
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert list((desk / "envs").glob("*/bin/python"))

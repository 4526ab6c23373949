"""The workflow keeps to the conventions of the Snakemake workflow catalogue, whose keys are from memory."""

import re
import subprocess
import sys
from pathlib import Path

import yaml

from tests.conftest import REPOSITORY

TOOLS = Path(sys.executable).parent
# every title that `snakemake --lint` tells, and why it stands; a title that is not here is a fault to mend
ACCEPTED: dict[str, str] = {}


def test_lint_tells_nothing_that_was_not_read():
    command = [str(TOOLS / "snakemake"), "--lint"]
    done = subprocess.run(command, cwd=REPOSITORY, capture_output=True, text=True)
    titles = re.findall(
        r"^    \* (.+?)(?: in line \d+)?\.?:$", done.stdout + done.stderr, re.MULTILINE
    )
    assert {t for t in titles if not t.startswith(tuple(ACCEPTED))} == set()
    # and a reason that is no longer needed goes
    assert {known for known in ACCEPTED if not any(t.startswith(known) for t in titles)} == set()


def test_the_snakefiles_are_formatted():
    files = [REPOSITORY / "Snakefile", REPOSITORY / "workflow"]
    command = [str(TOOLS / "snakefmt"), "--check", *map(str, files)]
    done = subprocess.run(command, cwd=REPOSITORY, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_each_rule_begins_with_what_goes_in_and_what_comes_out():
    for path in (REPOSITORY / "workflow/rules").glob("*.smk"):
        text = path.read_text(encoding="utf-8")
        for rule in re.finditer(r"^rule \w+:", text, re.MULTILINE):
            line = text[: rule.start()].splitlines()[-1]
            assert line.startswith("# "), path.name


# what the catalogue asks of a workflow, from memory: these files, a README that says how it is used, and clean formatting and
# linting (above); that the repository is public and has the topic `snakemake-workflow` and a release cannot be seen here
def test_the_catalogue_finds_what_it_looks_for():
    made = yaml.safe_load(
        (REPOSITORY / ".snakemake-workflow-catalog.yml").read_text(encoding="utf-8")
    )
    assert set(made) == {"usage"}
    assert set(made["usage"]) == {"mandatory-flags", "software-stack-deployment", "report"}
    deployed = made["usage"]["software-stack-deployment"]
    # no image was ever built and no environment of conda's own made where Hilum is tested
    assert set(deployed.values()) == {False}
    assert isinstance(made["usage"]["mandatory-flags"]["flags"], str)
    # another test makes such a report
    assert made["usage"]["report"] is True
    names = (
        "workflow/Snakefile",
        "workflow/schemas/config.schema.yaml",
        "workflow/envs/hilum.yaml",
    )
    for name in (*names, "config/README.md", "config/config.yaml", "README.md", "LICENSE"):
        assert (REPOSITORY / name).stat().st_size > 0
    said = (REPOSITORY / "README.md").read_text(encoding="utf-8")
    for word in ("Snakemake workflow", "snakedeploy", "module", "--config study="):
        assert word in said, word


def test_each_rule_has_a_log_a_benchmark_its_resources_and_its_environment():
    for path in (REPOSITORY / "workflow/rules").glob("*.smk"):
        _, *rules = re.split(r"^rule ", path.read_text(encoding="utf-8"), flags=re.MULTILINE)
        for rule in rules:
            words = re.findall(r"^    (\w+):", rule, re.MULTILINE)
            assert {"log", "benchmark", "resources", "conda"} <= set(words), rule
            assert {"mem_mb", "runtime"} <= set(re.findall(r"^        (\w+)=", rule, re.MULTILINE))

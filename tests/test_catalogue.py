"""The workflow keeps to the conventions of the Snakemake workflow catalogue, whose keys are from memory."""

import re
import subprocess
import sys
from pathlib import Path

import yaml

from tests.conftest import REPOSITORY

TOOLS = Path(sys.executable).parent
# every title that `snakemake --lint` tells, and why it stands; a title that is not here is a fault to mend
ACCEPTED = {
    "Environment variable PATH": "it is set there, so that the steps run in the environment of snakemake itself",
    "Mixed rules and functions in same snakefile": "two functions of three lines, beside the rules they serve",
    "No log directive defined": "a step tells its sentences to the person; snakemake keeps them in .snakemake/log",
    "Specify a conda environment or container for each rule": "one lock for all rules: the numbers depend on it",
    "Path composition with '+'": "lists of files and the words of a command are added, no paths",
    "Shell command directly uses variable rule from outside": "{rule} is snakemake's own word",
}


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
    files = [REPOSITORY / "Snakefile", *(REPOSITORY / "workflow/rules").glob("*.smk")]
    command = [str(TOOLS / "snakefmt"), "--check", *map(str, files)]
    done = subprocess.run(command, cwd=REPOSITORY, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_each_rule_begins_with_what_goes_in_and_what_comes_out():
    for path in (REPOSITORY / "workflow/rules").glob("*.smk"):
        text = path.read_text(encoding="utf-8")
        for rule in re.finditer(r"^rule \w+:", text, re.MULTILINE):
            line = text[: rule.start()].splitlines()[-1]
            assert line.startswith("# "), path.name


def test_the_catalogue_finds_what_it_looks_for():
    made = yaml.safe_load(
        (REPOSITORY / ".snakemake-workflow-catalog.yml").read_text(encoding="utf-8")
    )
    deployed = made["usage"]["software-stack-deployment"]
    assert set(deployed.values()) == {False}
    assert isinstance(made["usage"]["mandatory-flags"]["flags"], str)
    for name in ("Snakefile", "config/README.md", "config/config.yaml", "README.md", "LICENSE"):
        assert (REPOSITORY / name).stat().st_size > 0

"""What a release must agree on: version, date, citation, locks, and the numbers that it stands by."""

import json
import re
import tomllib

import jsonschema
import pytest
import yaml

from hilum import lock
from tests import golden
from tests.conftest import REPOSITORY

PROJECT = tomllib.loads((REPOSITORY / "pyproject.toml").read_text(encoding="utf-8"))["project"]
# what the standard calls a date is text, whatever YAML takes it for
CITATION = yaml.safe_load((REPOSITORY / "CITATION.cff").read_text(encoding="utf-8"))
CFF = json.loads(json.dumps(CITATION, default=str))
CHANGES = golden.CHANGES.read_text(encoding="utf-8")
RELEASE = re.compile(r"^## (\d+\.\d+\.\d+) \((\d{4}-\d{2}-\d{2})\)$", re.MULTILINE)


def test_version_and_date_are_the_same_everywhere():
    version, date = RELEASE.findall(CHANGES)[0]
    assert (version, date) == (CFF["version"], CFF["date-released"])
    assert version == PROJECT["version"]


def test_no_code_spells_the_version():
    """It is set in pyproject.toml, and asked of the installed package."""
    spelled = [
        path
        for folder in ("workflow/hilum", "workflow/rules", "site/templates")
        for path in (REPOSITORY / folder).rglob("*")
        if path.suffix in (".py", ".smk", ".jinja")
        and PROJECT["version"] in path.read_text(encoding="utf-8")
    ]
    assert spelled == []


def test_every_release_says_which_numbers_changed():
    releases = re.split(r"\n(?=## )", CHANGES)[1:]
    assert releases
    for one in releases:
        assert golden.HEADING in one, one.splitlines()[0]


def test_the_citation_keeps_to_the_standard():
    """The Citation File Format's own schema, version 1.2.0 (see tests/standards/README.md)."""
    schema = json.loads((REPOSITORY / "tests/standards/cff-1.2.0.json").read_text(encoding="utf-8"))
    judge = jsonschema.Draft7Validator(
        schema, format_checker=jsonschema.Draft7Validator.FORMAT_CHECKER
    )
    assert list(judge.iter_errors(CFF)) == []
    assert CFF["cff-version"] == "1.2.0"
    # and it finds what is wrong
    assert list(judge.iter_errors(CFF | {"version": ""}))
    assert list(judge.iter_errors({k: v for k, v in CFF.items() if k != "authors"}))


# golden numbers


def test_the_demo_gives_the_numbers_that_the_release_stands_by(demo):
    """Where this fails, `python -m tests.golden --why "…"` writes them anew, and what moved into CHANGELOG.md."""
    then = golden.read(golden.GOLDEN)
    assert len(then) > 100
    now = golden.of_demo(demo / "results/strandline", {row["experiment"] for row in then})
    for name, one in golden.compared(then, now).items():
        assert not one.moved, (name, one.moved[:5])
        assert not one.gone, (name, one.gone[:5])


def test_the_changes_tell_of_every_change_of_these_numbers():
    told = golden.newest(CHANGES).split(golden.HEADING)[1]
    assert golden.digest() in told, 'python -m tests.golden --why "…" writes this line'


def test_a_moved_number_is_told_with_both_values_under_the_heading():
    row = dict.fromkeys(golden.COLUMNS, "") | {
        "experiment": "acid",
        "analysis": "scarification",
        "lot": "A",
        "quantity": "best_duration",
        "status": "estimated",
        "value": "30",
        "low": "20",
        "high": "40",
    }
    (line,) = golden.lines([row], [row | {"value": "31"}], "Better arithmetic.")
    assert line == (
        f"- Better arithmetic (`tests/golden.csv` {golden.digest()}): acid/scarification, best_duration (A): "
        "value 30 → 31."
    )
    (quiet,) = golden.lines([row], [row], "Nothing.")
    assert quiet.endswith(f"{golden.digest()}).")
    changes = "# Changes\n\n## 2\n\n### Added\n\n- x\n\n## 1\n\n### Numbers that changed\n\n- old\n"
    once = golden.note(changes, ["- a"])
    assert once.startswith(
        "# Changes\n\n## 2\n\n### Added\n\n- x\n\n### Numbers that changed\n\n- a\n"
    )
    twice = golden.note(once, ["- b"])
    assert "### Numbers that changed\n\n- b\n- a\n\n## 1\n" in twice
    assert twice.endswith("## 1\n\n### Numbers that changed\n\n- old\n")


# locks and environments


def test_conda_and_pip_take_their_packages_from_one_lock():
    """By construction: conda gives Python and pip, and pip reads the lock; conda itself could not be tried."""
    made = yaml.safe_load((REPOSITORY / "environment.yml").read_text(encoding="utf-8"))
    assert made["channels"] == ["conda-forge"]
    python, pip, from_pip = made["dependencies"]
    assert pip == "pip"
    assert from_pip == {"pip": ["--require-hashes", "-r requirements.lock"]}
    makefile = (REPOSITORY / "Makefile").read_text(encoding="utf-8")
    (locked_for,) = set(re.findall(r"--python-version (\S+)", makefile))
    assert python == f"python={locked_for}"
    assert f">={locked_for}" in PROJECT["requires-python"]


LOCKS = sorted(p.relative_to(REPOSITORY) for p in REPOSITORY.glob("**/requirements.lock"))
LOCKS = [path for path in LOCKS if not path.parts[0].startswith(".")]


@pytest.mark.parametrize("path", LOCKS, ids=str)
def test_a_lock_has_a_hash_for_each_package_and_no_address(path):
    text = (REPOSITORY / path).read_text(encoding="utf-8")
    assert "://" not in text
    entries = re.split(r"\n(?=\S)", text.strip())
    assert all("--hash=sha256:" in entry for entry in entries)


@pytest.mark.parametrize(
    "path", [p for p in LOCKS if p.parts[:2] != ("tests", "standards")], ids=str
)
def test_every_environment_has_the_packages_of_a_run(path):
    ours = lock.locked((REPOSITORY / "requirements.lock").read_text(encoding="utf-8"))
    theirs = lock.locked((REPOSITORY / path).read_text(encoding="utf-8"))
    assert ours.items() <= theirs.items()


def test_the_lock_has_every_package_that_the_project_names():
    ours = lock.locked((REPOSITORY / "requirements.lock").read_text(encoding="utf-8"))
    named = {re.split(r"[\[><=]", one)[0] for one in PROJECT["dependencies"]}
    assert named <= ours.keys()

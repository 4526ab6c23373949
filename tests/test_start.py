"""The page from an empty folder to a report says what really happens: its plan is written, filled and checked here."""

import re
from pathlib import Path

import pytest

from hilum.report import start
from hilum.settings import load
from hilum.steps import check, sheets
from hilum.study import SITE, Study
from hilum.tables import TABLES
from hilum.tables.sentences import Faults
from tests import raw

PLAN = SITE / "templates" / "first-plan.yaml"
MAKEFILE = SITE.parent / "Makefile"


@pytest.fixture
def study(tmp_path):
    """Return the study that the page's commands write."""
    mine = tmp_path / "my-study"
    mine.mkdir()
    (mine / "plan.yaml").write_text(PLAN.read_text(encoding="utf-8"), encoding="utf-8")
    settings = load(sheets.run(mine / "plan.yaml", mine / "study"))
    return Study(raw=settings.study, results=tmp_path / "results" / settings.study.name)


def filled(study, *lines):
    """Type numbers into rows of the counts, the first of them in line 2; return the path."""
    path = study.raw / "beside" / "counts.csv"
    rows = path.read_text(encoding="utf-8").splitlines()
    for line, number in lines:
        dish, day, _, *rest = rows[line - 1].split(",")
        rows[line - 1] = ",".join([dish, day, str(number), *rest])
    path.write_text("\n".join([*rows, ""]), encoding="utf-8")
    return path


def test_the_page_shows_the_plan_and_the_cells_that_are_to_be_filled():
    page = start.start(dictionary=True)
    assert PLAN.read_text(encoding="utf-8") in page
    for table in TABLES.values():
        assert (table.awaited is not None) == (f"<td>{table.file}</td>" in page), table.name


def test_its_commands_are_those_of_the_makefile():
    made = set(re.findall(r"^ {4}make (\w+)", start.start(dictionary=True), re.MULTILINE))
    assert made == {"plan", "sheets", "due", "check", "site"}
    targets = set(re.findall(r"^(\w+):", MAKEFILE.read_text(encoding="utf-8"), re.MULTILINE))
    assert made <= targets


def test_its_example_is_what_is_written(study):
    rows = filled(study, (2, 0), (3, 4)).read_text(encoding="utf-8").splitlines()
    head, first, second, _, later = start.EXAMPLE.splitlines()
    assert rows[:3] == [head, first, second]
    assert rows[9] == later


def test_its_sentence_on_a_gap_is_what_the_check_says(study):
    filled(study, (10, 3))
    with raw.standing_in(study.results.parent.parent), pytest.raises(Faults) as told:
        check.run(study, load(study.raw.parent / "config.yaml"))
    assert told.value.sentences == (start.GAP,)
    assert Path(start.GAP.split(",")[0]).name == "counts.csv"

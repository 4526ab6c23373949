"""What is too large is refused with file, line and limit, and what a machine will not give ends in a sentence."""

import errno
import os
from concurrent.futures.process import BrokenProcessPool

import pytest

from hilum import machine
from hilum.plan.asked import design
from hilum.settings import SettingsFault
from hilum.steps import due, parallel
from hilum.tables import limits, survey
from tests import raw

ABOUT = "title: Large\nanalyses: [{}]\n"
HEAD = "dish,lot,treatment,temperature_c,seeds\n"


def told(tmp_path, analysis, dishes):
    """Return what the check says of an experiment with these rows of dishes."""
    files = {
        "large/experiment.yaml": ABOUT.format(analysis),
        "large/dishes.csv": HEAD + "".join(f"{row}\n" for row in dishes),
        "large/counts.csv": "dish,elapsed_h,germinated\nx0,24,3\nx0,48,2\n",
        "large/outcomes.csv": "dish,outcome,seeds\nx0,hard,20\n",
    }
    return [line for line in raw.faults(tmp_path, files) if "may have" in line]


def test_dishes_beyond_the_limit_are_refused_at_their_line(tmp_path, monkeypatch):
    small = tuple(
        limit if limit.columns else limits.Limit(table="dishes", columns=(), most=5, what="dishes")
        for limit in limits.LIMITS[:1]
    )
    monkeypatch.setattr(limits, "LIMITS", small)
    rows = [f"x{i},A,intact,20,25" for i in range(6)]
    assert told(tmp_path / "five", "time_course", rows[:5]) == []
    (says,) = told(tmp_path / "six", "time_course", rows)
    assert says.startswith("large/dishes.csv, line 7: ")
    assert "an experiment may have 5 dishes, and this row is one more" in says
    # what is only checked may be as large as its tables
    assert told(tmp_path / "idle", "", rows) == []


def test_more_temperatures_than_a_model_can_climb_are_refused(tmp_path):
    rows = [f"x{i},A,intact,{5 + i % 26},25" for i in range(40)]
    (says,) = told(tmp_path / "many", "temperature", rows)
    assert says.startswith("large/dishes.csv, line 27: ")
    assert "25 temperatures of the analysis temperature" in says
    assert told(tmp_path / "course", "time_course", rows) == []


def test_a_table_of_more_columns_than_any_is_refused_at_a_glance(tmp_path):
    wide = {"germ/counts.csv": "dish" + "," * limits.MOST_COLUMNS + "\nd1\n"}
    (says,) = [line for line in raw.faults(tmp_path, wide) if "columns" in line]
    assert says.startswith("germ/counts.csv, line 1: names 5,001 columns; a table may have 5,000")


def test_tables_that_no_memory_holds_are_not_read(tmp_path, monkeypatch):
    study = raw.write(tmp_path, {"germ/notes.csv": None})
    table = study.raw / "germ/counts.csv"
    with table.open("ab") as file:
        # as long as two hundred million bytes, without a byte on the disk
        file.truncate(limits.MOST_BYTES + 1)
    monkeypatch.setattr(survey._Folder, "contents", lambda *_: pytest.fail("was read"))
    (says,) = survey.survey(study, study.raw).faults
    assert says.file.endswith("germ/counts.csv")
    assert "a study may have 200 MB" in says.says


# plans

PLAN = """name: large
title: Large
lots: [{lot: A, taxon: Strandia ficta}]
treatments: [{treatment: intact, method: none}]
experiments:
  - {experiment: one, analysis: time_course, lots: [A], treatments: [intact], temperature_c: 20%s}
%s"""


@pytest.mark.parametrize(
    ("of_experiment", "of_plan", "says"),
    [
        ("", "sow_on: 9999-12-31\n", "sow_on is datetime.date"),
        (", dishes: 100000", "", "less than or equal to 100"),
        (", seeds: 1000000000", "", "less than or equal to 1000"),
        (", inspections: {every_d: 0.000001}", "", "more than 1,000 inspections"),
        ("", "# " + "x" * 500_000, "is larger than 0.5 MB"),
    ],
)
def test_a_plan_beyond_any_bench_is_refused(tmp_path, of_experiment, of_plan, says):
    path = tmp_path / "plan.yaml"
    path.write_text(PLAN % ("", ""), encoding="utf-8")
    assert design.load(path).name == "large"
    path.write_text(PLAN % (of_experiment, of_plan), encoding="utf-8")
    with pytest.raises(SettingsFault, match=says):
        design.load(path)


def test_a_plan_of_more_dishes_than_a_study_may_have_is_refused(tmp_path):
    many = "".join(
        f"  - {{experiment: e{i}, analysis: time_course, lots: [A], treatments: [intact], temperature_c: 20, dishes: 100}}\n"
        for i in range(99)
    )
    path = tmp_path / "plan.yaml"
    path.write_text(PLAN % (", dishes: 100", many), encoding="utf-8")
    assert len(design.load(path).places()) == 100
    more = many.replace("lots: [A], treatments", "lots: [A, A], treatments", 1)
    path.write_text(PLAN % (", dishes: 100", more), encoding="utf-8")
    with pytest.raises(SettingsFault, match="more than 10,000 dishes"):
        design.load(path)


def test_a_day_beyond_the_calendar_is_no_day_to_work_on(capsys):
    assert due.main(["config/config.yaml", "9999-12-31", "7"]) == 1
    assert "TODAY is 9999-12-31; a day from 1900 to 2100 was meant." in capsys.readouterr().err


# machines


def _end_this_process():
    os._exit(9)


def test_a_process_that_is_killed_ends_in_a_sentence(tmp_path):
    with pytest.raises(machine.Lack, match="CORES=1") as found, machine.lent(tmp_path):
        parallel.each([_end_this_process] * 2, apart=True)
    assert isinstance(found.value.__cause__, BrokenProcessPool)


@pytest.mark.parametrize(
    ("error", "says"),
    [
        (MemoryError(), "Memory ran out"),
        (OSError(errno.ENOMEM, "Cannot allocate memory"), "Memory ran out"),
        (OSError(errno.EROFS, "Read-only file system", "r"), "r: may not be written"),
        (OSError(errno.EEXIST, "File exists", "r"), "r: may not be written"),
        (OSError(errno.EBUSY, "Device or resource busy", "m"), "m: is a disk of its own"),
        (OSError(errno.ENOSPC, "No space left on device"), "the disk has no room"),
    ],
)
def test_what_a_machine_will_not_give_is_told(error, says, tmp_path):
    with pytest.raises(machine.Lack, match=says), machine.lent(tmp_path):
        raise error


def test_an_error_of_ours_stays_one(tmp_path):
    with pytest.raises(FileNotFoundError), machine.lent(tmp_path):
        (tmp_path / "never").read_bytes()


@pytest.mark.parametrize(("asked", "used"), [("1", 1), ("all", 2), ("", 2), ("0", 2)])
def test_cores_of_make_limits_the_processes_of_a_step(asked, used, monkeypatch):
    monkeypatch.setenv("CORES", asked)
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0, 1}, raising=False)
    assert parallel.cores() == used

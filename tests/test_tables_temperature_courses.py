"""The check of temperature_courses.csv: times in three forms, in order, at least two rows, gaps told."""

import pytest

from hilum.tables import checked
from tests import raw

NAME = "temperature_courses.csv"
HEAD = "course,elapsed_h,temperature_c\n"


def _stored(tmp_path, text):
    study = raw.write(tmp_path, {NAME: text})
    assert raw.run(study) == []
    return study, checked.read_checked(study.checked / NAME, "temperature_courses")


@pytest.mark.parametrize(
    "text",
    [
        "course,elapsed_h,temperature_c\nsill,0,10\nsill,6,12\nsill,24,11\n",
        "course,elapsed_d,temperature_c\nsill,0,10\nsill,0.25,12\nsill,1,11\n",
        "course,at,temperature_c\nsill,2024-04-01T09:00+02:00,10\nsill,2024-04-01T13:00Z,12\nsill,2024-04-02T07:00Z,11\n",
    ],
)
def test_every_form_of_time_is_stored_as_hours(tmp_path, text):
    _, stored = _stored(tmp_path, text)
    assert stored["elapsed_h"].tolist() == [0, 6, 24]
    assert stored["temperature_c"].tolist() == [10, 12, 11]


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        (
            "sill,6,10\nsill,0,11\n",
            "line 3: elapsed_h is 0, earlier than line 2 of the same course; put the rows in order of time.",
        ),
        ("sill,0,10\npond,0,9\npond,1,9\n", "line 2: course is sill, which has one row; a course needs at least two."),
        ("sill,0,10\nsill,2,99\n", "line 3: temperature_c is 99; allowed is a number from -60 to 80 °C."),
        ("sill,0,10\nsill,0,11\n", "line 3: elapsed_h is 0, which line 2 has already for the same course, but with temperature_c 10 there and 11 here."),
    ],
)  # fmt: skip
def test_a_fault_is_told(tmp_path, rows, told):
    assert raw.faults(tmp_path, {NAME: HEAD + rows})[0] == f"{NAME}, {told}"


def test_courses_may_stand_among_each_other(tmp_path):
    _, stored = _stored(tmp_path, HEAD + "a,0,1\nb,0,2\na,5,3\nb,4,4\n")
    assert stored["elapsed_h"].tolist() == [0, 0, 5, 4]


def test_a_gap_of_more_than_a_day_is_told_and_a_day_is_not(tmp_path):
    study, _ = _stored(tmp_path, HEAD + "sill,0,10\nsill,24,11\nsill,60,12\nlate,30,1\nlate,31,1\n")
    told = [line for line in raw.notes(study) if line.startswith(NAME)]
    assert [line.split(";")[0] for line in told] == [
        f"{NAME}: course late: no temperature for 30 h from hour 0 on",
        f"{NAME}: course sill: no temperature for 36 h from hour 24 on",
    ]

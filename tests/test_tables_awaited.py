"""Rows that nobody filled in yet: left out and told where they come last, a fault where they do not."""

import csv
import json

import pytest

from tests import raw

COUNTS = "dish,elapsed_d,germinated,removed,removed_as\n"
DISHES = (
    "dish,lot,treatment,temperature_c,seeds,sown_at\n"
    "d1,A,intact,15,25,\n"
    "d2,A,acid,15,20,\n"
    "d3,A,acid,15,20,\n"
)
PLAIN = dict.fromkeys(
    ("germ/weighings.csv", "germ/outcomes.csv", "germ/events.csv", "chamber_log.csv")
)
YAML = "title: Germination\nanalyses: [time_course]\n"


def study(tmp_path, counts, **changes):
    """Write a small study with these counts."""
    files = {"germ/dishes.csv": DISHES, "germ/counts.csv": COUNTS + counts}
    files |= {"germ/experiment.yaml": YAML}
    return raw.write(tmp_path, PLAIN | files | changes)


def checked(made, table="counts"):
    """Return a checked table as rows."""
    with (made.checked / "germ" / f"{table}.csv").open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def notes(made):
    """Return the remarks of the check."""
    return made.check_notes.read_text(encoding="utf-8")


SEEN = "d1,1,0,,\nd2,1,3,,\nd3,1,2,,\n"


def test_inspections_to_come_are_left_out_and_told(tmp_path):
    made = study(tmp_path, SEEN + "d1,2,4,,\nd2,2,,,\nd3,2,,,\nd1,3,,,\nd2,3,,,\nd3,3,,,\n")
    assert raw.run(made) == []
    assert [row["line"] for row in checked(made)] == ["2", "3", "4", "5"]
    told = notes(made)
    assert "counts.csv: 5 inspections are not filled in yet, and left out: lines 6 to 10." in told
    # d1 was looked at on day 2, and they were sown together
    assert "d2, d3 has no inspection for a time at which others" in told
    assert len(checked(made, "dishes")) == 3


def test_a_blank_in_the_middle_is_a_fault_with_file_and_line(tmp_path):
    made = study(tmp_path, SEEN + "d1,2,,,\nd2,2,1,,\nd1,3,5,,\nd2,3,,,\n")
    assert raw.run(made) == [
        "data/strand/germ/counts.csv, line 5: germinated is empty, but every row needs it; where nobody looked, take the "
        "row out."
    ]


@pytest.mark.parametrize(
    "row", ["d1,2,,1,dead", "d1,2,,,dead", "d1,2,x,,", "d1,,,,", "d1,0.5,,,", "d1,1,,,", "d9,2,,,"]
)
def test_what_is_not_surely_an_inspection_to_come_is_never_left_out(tmp_path, row):
    """Something was noted, cannot be read, has no time, is not later than what was seen, or is of a dish that there is not."""
    assert raw.run(study(tmp_path, f"{SEEN}{row}\n"))


def test_a_row_that_cannot_be_read_keeps_those_above_it(tmp_path):
    told = raw.run(study(tmp_path, SEEN + "d1,2,,,\nd1,3,4x,,\n"))
    assert [line.split(": ")[0].split(", ")[1] for line in told] == ["line 5", "line 6"]


def test_a_dish_in_which_nothing_was_seen_is_left_out(tmp_path):
    dishes = DISHES.replace("d3,A,acid,15,20,", "d3,A,acid,15,20,2024-05-01T09:00Z")
    made = study(tmp_path, "d1,1,0,,\nd2,1,,,\nd3,1,,,\n", **{"germ/dishes.csv": dishes})
    assert raw.run(made) == []
    assert [row["dish"] for row in checked(made, "dishes")] == ["d1"]
    assert "dishes.csv: 1 dish is not sown yet, and left out: d2." in notes(made)
    assert "1 dish is sown, but nothing was seen in it yet, and left out: d3." in notes(made)


def test_a_dish_without_any_row_stays_as_it_was(tmp_path):
    made = study(tmp_path, "d1,1,0,,\n")
    assert raw.run(made) == []
    assert len(checked(made, "dishes")) == 3


def test_dishes_sown_on_other_days_are_not_behind(tmp_path):
    dishes = DISHES.replace("20,\n", "20,2024-05-03T09:00Z\n", 1)
    assert "d2,A,acid,15,20,2024" in dishes
    made = study(tmp_path, SEEN + "d1,2,4,,\nd3,2,1,,\nd2,2,,,\n", **{"germ/dishes.csv": dishes})
    assert raw.run(made) == []
    assert "no inspection for a time" not in notes(made)


def test_an_analysis_without_rows_waits_and_the_others_go_on(tmp_path):
    tests = "sample,lot,treatment,method,seeds,alive,dead,empty\n"
    changes = {
        "germ/experiment.yaml": "title: Germination\nanalyses: [time_course, storage, scarification]\n",
        "germ/outcomes.csv": "dish,outcome,seeds,alive,assessed_by\nd1,hard,,,cutting\nd1,dead,,,cutting\n",
        "germ/viability.csv": f"{tests}z1,A,intact,cutting,50,,,\n",
    }
    made = study(tmp_path, SEEN, **changes)
    assert raw.run(made) == []
    about = json.loads((made.checked / "germ/experiment.json").read_text(encoding="utf-8"))
    assert about["analyses"] == ["time_course", "storage"]
    assert about["waiting"] == {"scarification": "outcomes.csv"}
    assert "scarification waits for the first filled row of outcomes.csv" in notes(made)
    assert "1 viability test is not filled in yet" in notes(made)


def test_fates_of_a_dish_are_given_all_or_none(tmp_path):
    outcomes = "dish,outcome,seeds,alive,assessed_by\nd1,hard,25,,pressing\nd1,dead,,,pressing\n"
    told = raw.run(study(tmp_path, SEEN, **{"germ/outcomes.csv": outcomes}))
    assert "outcomes.csv, line 3: seeds is empty" in told[0]
    lonely = outcomes.replace("d1,hard,25,,pressing\n", "")
    assert raw.run(study(tmp_path, SEEN, **{"germ/outcomes.csv": lonely}))


def test_weighings_to_come_are_left_out_and_their_seeds_with_them(tmp_path):
    weighings = (
        "seed,lot,treatment,soaked_h,mass_mg,floats\n"
        "s1,A,acid,0,20.0,\ns1,A,acid,24,30.0,\ns1,A,acid,48,,\n"
        "s2,A,acid,0,,\ns2,A,acid,24,,\n"
    )
    made = study(tmp_path, SEEN, **{"germ/weighings.csv": weighings})
    assert raw.run(made) == []
    assert [row["line"] for row in checked(made, "weighings")] == ["2", "3"]
    gap = weighings.replace("24,30.0", "24,").replace("48,,", "48,30.0,")
    told = raw.run(study(tmp_path, SEEN, **{"germ/weighings.csv": gap}))
    assert "weighings.csv, line 3: seed s1 has neither a mass" in told[0]


def test_accepted_faults_still_find_their_line(tmp_path):
    known = (
        "known_faults:\n- table: counts\n  row: {dish: d1, elapsed_d: '1', germinated: '0'}\n"
        "  use: {germinated: '1'}\n  why: The bench sheet says 1.\n"
    )
    made = study(tmp_path, SEEN + "d1,2,,,\n", **{"germ/experiment.yaml": YAML + known})
    assert raw.run(made) == []
    about = json.loads((made.checked / "germ/experiment.json").read_text(encoding="utf-8"))
    assert about["accepted"][0]["line"] == 2
    assert checked(made)[0]["germinated"] == "1"

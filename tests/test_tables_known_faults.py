"""Faults that a researcher accepts: corrected or left out at exactly one line, with a reason, and told."""

import json

import numpy as np
import pytest

from hilum.tables import checked
from tests import raw

YAML = "germ/experiment.yaml"
COUNTS = "germ/counts.csv"
# two dishes of mungbean; of m16 the inspection on day 6 was entered twice, with different numbers
CROP = {
    "germ/dishes.csv": (
        "dish,lot,treatment,temperature_c,seeds,sown_at\n"
        "m10,A,intact,10,20,\nm16,A,intact,16,20,\nd3,A,intact,20,20,\n"
    ),
    COUNTS: (
        "dish,elapsed_d,germinated\n"
        "m10,2,0\nm10,3,4\nm10,4,0\nm10,5,0\nm10,6,9\nm10,7,7\n"
        "m16,1,0\nm16,2,1\nm16,3,7\nm16,4,12\nm16,5,0\nm16,6,0\nm16,6,4\n"
    ),
    "germ/outcomes.csv": None,
    "germ/weighings.csv": None,
}


def _accepting(*faults):
    """Return experiment.yaml with known faults, each given as YAML flow text."""
    listed = "".join(f"  - {fault}\n" for fault in faults)
    return {YAML: raw.FILES[YAML] + "known_faults:\n" + listed}


def _about(study):
    return json.loads((study.checked / YAML).with_suffix(".json").read_text(encoding="utf-8"))


def _checked(study, name):
    return checked.read_checked(study.checked / "germ" / f"{name}.csv", name)


def test_an_inspection_entered_twice_is_refused(tmp_path):
    assert raw.faults(tmp_path, CROP) == [
        "germ/counts.csv, line 14: elapsed_d is 6, which line 13 has already for the same dish, but with "
        "germinated 0 there and 4 here; keep one, or name the wrong one under known_faults in "
        "experiment.yaml."
    ]


def test_and_then_put_right_with_a_reason(tmp_path):
    fault = (
        "{table: counts, row: {dish: m16, elapsed_d: 6, germinated: 4}, "
        "use: {elapsed_d: 7, germinated: 0}, why: the sheet of day 7 was typed under day 6}"
    )
    study = raw.write(tmp_path, CROP | _accepting(fault))
    assert raw.run(study) == []
    counts = _checked(study, "counts")
    assert counts["elapsed_h"][-1] == 168
    assert counts["germinated"][counts["dish"] == "m16"].sum() == 20
    assert _about(study)["accepted"] == [
        {
            "table": "counts",
            "line": 14,
            "row": {"dish": "m16", "elapsed_d": "6", "germinated": "4"},
            "use": {"elapsed_d": "7", "germinated": "0"},
            "leave_out": False,
            "why": "the sheet of day 7 was typed under day 6",
            "sentence": "counts.csv, line 14: elapsed_d read as 7 instead of 6, germinated read as 0 "
            "instead of 4.",
        }
    ]


def test_and_then_left_out_while_the_other_entry_stays(tmp_path):
    """The inspection is still there once, so no count is missing and the dish stays."""
    fault = "{table: counts, row: {dish: m16, elapsed_d: 6, germinated: 4}, leave_out: yes, why: typed twice}"
    study = raw.write(tmp_path, CROP | _accepting(fault))
    assert raw.run(study) == []
    counts = _checked(study, "counts")
    assert counts["germinated"][counts["dish"] == "m16"].tolist() == [0, 1, 7, 12, 0, 0]
    assert counts["line"].tolist() == list(range(2, 14))
    assert _about(study)["accepted"][0]["sentence"] == "counts.csv, line 14: left out."
    assert "germ/counts.csv, line 14: left out: typed twice." in raw.notes(study)


def test_a_count_that_is_left_out_takes_its_dish_with_it(tmp_path):
    fault = "{table: counts, row: {dish: d1, elapsed_h: 48}, leave_out: yes, why: mould}"
    study = raw.write(tmp_path, _accepting(fault))
    assert raw.run(study) == []
    for name in ("dishes", "counts", "outcomes", "weighings"):
        assert "d1" not in _checked(study, name)["dish"]
    # seed s2 was sown in d1
    assert "s2" not in _checked(study, "weighings")["seed"]
    assert _about(study)["accepted"][0]["sentence"] == (
        "counts.csv, line 3: left out, and with it dish d1 out of every table."
    )


def test_an_outcome_that_is_left_out_takes_its_dish_or_seed_with_it(tmp_path):
    by_dish = (
        "{table: outcomes, row: {dish: d2, outcome: fresh}, leave_out: yes, why: not looked at}"
    )
    study = raw.write(tmp_path / "dish", _accepting(by_dish))
    assert raw.run(study) == []
    assert set(_checked(study, "dishes")["dish"]) == {"d1", "d3"}
    by_seed = "{table: outcomes, row: {seed: s1}, leave_out: yes, why: mixed up}"
    changes = raw.with_rows("germ/outcomes.csv", ",s1,normal,1,,")
    study = raw.write(tmp_path / "seed", changes | _accepting(by_seed))
    assert raw.run(study) == []
    assert set(_checked(study, "weighings")["seed"]) == {"s2"}
    assert set(_checked(study, "dishes")["dish"]) == {"d1", "d2", "d3"}


def test_a_weighing_that_is_left_out_goes_alone(tmp_path):
    fault = (
        "{table: weighings, row: {seed: s1, soaked_h: 48}, leave_out: yes, why: the pan was wet}"
    )
    changes = raw.edited("germ/weighings.csv", ("48,42.0", "48,4.2"))
    study = raw.write(tmp_path, changes | _accepting(fault))
    assert raw.run(study) == []
    assert _checked(study, "weighings")["line"].tolist() == [2, 3, 5, 6]


def test_a_fault_of_a_study_table_is_accepted_in_an_experiment(tmp_path):
    fault = (
        "{table: chamber_log, row: {at: '2024-05-02T09:00Z'}, leave_out: yes, why: door left open}"
    )
    changes = raw.edited("chamber_log.csv", ("14.9", "off"))
    study = raw.write(tmp_path, changes | _accepting(fault))
    assert raw.run(study) == []
    log = checked.read_checked(study.checked / "chamber_log.csv", "chamber_log")
    assert log["line"].tolist() == [2, 4]


def test_a_correction_is_checked_like_any_other_value(tmp_path):
    fault = "{table: counts, row: {dish: d2, elapsed_h: 48}, use: {germinated: 99}, why: blot}"
    assert raw.faults(tmp_path, _accepting(fault)) == [
        "germ/counts.csv, line 5: germinated is 99 (by known_faults in experiment.yaml), but only 10 "
        "seeds of dish d2 were left; if these are running totals, call the column germinated_so_far."
    ]


def test_a_correction_may_empty_a_cell(tmp_path):
    fault = "{table: weighings, row: {seed: s1, soaked_h: 48}, use: {mass_mg: ''}, why: balance not at zero}"
    changes = raw.edited("germ/weighings.csv", ("48,42.0", "48,0.5"))
    study = raw.write(tmp_path, changes | _accepting(fault))
    assert raw.run(study) == []
    assert np.isnan(_checked(study, "weighings")["mass_mg"][2])
    assert "mass_mg read as empty instead of 0.5" in _about(study)["accepted"][0]["sentence"]


@pytest.mark.parametrize(
    ("fault", "says"),
    [
        (
            "{table: counts, row: {dish: d9}, leave_out: yes, why: x}",
            "known_faults: no row of data/strand/germ/counts.csv has dish d9; cells are compared as typed.",
        ),
        (
            "{table: counts, row: {dish: d1, elapsed_h: 24.0}, leave_out: yes, why: x}",
            "known_faults: no row of data/strand/germ/counts.csv has dish d1, elapsed_h 24.0; cells are",
        ),
        (
            "{table: counts, row: {dish: d2}, leave_out: yes, why: x}",
            "known_faults: 3 rows of data/strand/germ/counts.csv have dish d2, in lines 4 to 6; name one",
        ),
        (
            "{table: counts, row: {dsh: d2}, leave_out: yes, why: x}",
            "known_faults: the known fault names the column dsh, which data/strand/germ/counts.csv lacks; "
            "perhaps you meant dish.",
        ),
        (
            "{table: counts, row: {dish: d3}, use: {germinatd: 1}, why: x}",
            "names the column germinatd, which data/strand/germ/counts.csv lacks; perhaps you meant",
        ),
        (
            "{table: count, row: {dish: d3}, leave_out: yes, why: x}",
            "known_faults: there is no count table here; perhaps you meant counts.",
        ),
        (
            "{table: counts, row: {dish: d3}, why: x}",
            "line 6: known_faults.0: give either `use` with the values to use, or `leave_out: yes`.",
        ),
        (
            "{table: counts, row: {dish: d3}, leave_out: yes, use: {germinated: 1}, why: x}",
            "line 6: known_faults.0: give either `use` with the values to use, or `leave_out: yes`.",
        ),
        (
            "{table: counts, row: {dish: d3}, leave_out: yes}",
            "the key known_faults.0.why is missing.",
        ),
        ("{table: counts, row: {}, leave_out: yes, why: x}", "line 6: known_faults.0.row:"),
        (
            "{table: counts, row: {dish: d3}, leave_out: maybe, why: x}",
            "line 6: known_faults.0.leave_out is maybe: input should be a valid boolean",
        ),
        (
            "{table: counts, row: {dish: d3}, leave_out: yes, why: x, who: me}",
            "line 6: known_faults.0.who is not a key of experiment.yaml; known are table, row, use",
        ),
    ],
)
def test_a_known_fault_that_is_itself_a_fault(tmp_path, fault, says):
    told = [line for line in raw.faults(tmp_path, _accepting(fault)) if line.startswith(YAML)]
    assert len(told) == 1
    assert says in told[0]


def test_two_known_faults_of_one_line(tmp_path):
    one = "{table: counts, row: {dish: d3}, use: {germinated: 1}, why: x}"
    two = "{table: counts, row: {elapsed_h: 24, dish: d3}, use: {germinated: 3}, why: y}"
    assert (
        "germ/experiment.yaml: known_faults: two known faults name line 7 of counts.csv; keep one."
        in (raw.faults(tmp_path, _accepting(one, two)))
    )

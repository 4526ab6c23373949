"""The forms that people bring, all stored in one: totals, wide tables, days, clock times, grams, containers."""

import numpy as np
import pytest

from hilum.tables import checked
from hilum.tables.counts import read_series
from tests import raw

COUNTS = "germ/counts.csv"
NO_OUTCOMES = {"germ/outcomes.csv": None}
LONG = "dish,elapsed_h,germinated\nd1,24,2\nd1,48,0\nd1,72,5\nd2,24,1\nd2,48,3\n"
FORMS = {
    "days": "dish,elapsed_d,germinated\nd1,1,2\nd1,2,0\nd1,3,5\nd2,1,1\nd2,2,3\n",
    "running totals": (
        "dish,elapsed_h,germinated_so_far\nd1,24,2\nd1,48,2\nd1,72,7\nd2,24,1\nd2,48,4\n"
    ),
    "wide by days": "dish,d_1,d_2,d_3\nd1,2,0,5\nd2,1,3,\n",
    "wide by hours": "dish,h_24,h_48,h_72\nd1,2,0,5\nd2,1,3,\n",
    "wide, days in disorder": "d_3,dish,d_1,d_2\n5,d1,2,0\n,d2,1,3\n",
    "wide running totals": "dish,so_far_d_1,so_far_d_2,so_far_d_3\nd1,2,2,7\nd2,1,4,\n",
    "clock times in the experiment's zone": (
        "dish,inspected_at,germinated\nd1,2024-05-02T09:00,2\nd1,2024-05-03 09:00,0\n"
        "d1,2024-05-04T09:00:00,5\nd2,2024-05-02T09:00,1\nd2,2024-05-03T09:00,3\n"
    ),
    "clock times with offsets": (
        "dish,inspected_at,germinated\nd1,2024-05-02T08:00Z,2\nd1,2024-05-03T10:00+02:00,0\n"
        "d1,2024-05-04T04:00-0400,5\nd2,2024-05-02T09:00+01:00,1\nd2,2024-05-03T09:00,3\n"
    ),
}


def _checked(tmp_path, changes, name="counts", file=COUNTS):
    study = raw.write(tmp_path, changes | NO_OUTCOMES)
    assert raw.run(study) == []
    return checked.read_checked(study.checked / file, name), study


@pytest.mark.parametrize("form", FORMS)
def test_every_form_of_counts_is_stored_alike(tmp_path, form):
    long, _ = _checked(tmp_path / "long", {COUNTS: LONG})
    other, _ = _checked(tmp_path / "other", {COUNTS: FORMS[form]})
    for column in ("dish", "elapsed_h", "germinated", "removed", "removed_as"):
        np.testing.assert_array_equal(long[column], other[column])


@pytest.mark.parametrize(
    ("form", "note"),
    [
        (
            "running totals",
            "read as running totals (germinated_so_far); stored as newly germinated",
        ),
        ("wide by days", "one column an inspection (d_1 to d_3), holding seeds newly germinated"),
        (
            "wide running totals",
            "one column an inspection (so_far_d_1 to so_far_d_3), holding running",
        ),
    ],
)
def test_a_form_that_is_not_the_stored_one_is_noted(tmp_path, form, note):
    _, study = _checked(tmp_path, {COUNTS: FORMS[form]})
    assert any(note in n for n in raw.notes(study) if n.startswith("germ/counts.csv: read as "))


def test_a_fault_names_the_cell_as_it_was_typed(tmp_path):
    wide = {COUNTS: "dish,d_1,d_2\nd1,2,30\nd2,1,x\n"} | NO_OUTCOMES
    assert raw.faults(tmp_path / "wide", wide) == [
        "germ/counts.csv, line 2: d_2 is 30, but only 23 seeds of dish d1 were left; if these are "
        "running totals, call the column germinated_so_far.",
        "germ/counts.csv, line 3: d_2 is x, which is not a number; allowed is a whole number "
        "from 0 to 100000 seeds.",
    ]
    totals = {COUNTS: FORMS["running totals"].replace("d1,72,7", "d1,72,1")} | NO_OUTCOMES
    assert raw.faults(tmp_path / "totals", totals) == [
        "germ/counts.csv, line 4: germinated_so_far is 1, but 2 seeds of dish d1 had germinated at the "
        "inspection before; a running total cannot fall."
    ]
    over = {COUNTS: FORMS["running totals"].replace("d1,72,7", "d1,72,26")} | NO_OUTCOMES
    assert raw.faults(tmp_path / "over", over) == [
        "germ/counts.csv, line 4: germinated_so_far is 26, but dish d1 had 25 seeds."
    ]
    days = {COUNTS: FORMS["days"].replace("d1,3,5", "d1,1.5,5")} | NO_OUTCOMES
    assert raw.faults(tmp_path / "days", days) == [
        "germ/counts.csv, line 4: elapsed_d is 1.5, but line 3 above has dish d1 at 48 h; the "
        "inspections of a dish stand in order of time."
    ]


@pytest.mark.parametrize(
    ("name", "read"),
    [
        ("d_3", (72.0, False)),
        ("h_24", (24.0, False)),
        ("d_0.5", (12.0, False)),
        ("so_far_h_12", (12.0, True)),
        ("d_", None),
        ("d_x", None),
        ("day_3", None),
        ("d_-1", None),
        ("dish", None),
    ],
)
def test_the_names_of_wide_columns(name, read):
    assert read_series(name) == read


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (
            "dish,d_1,so_far_d_2\nd1,1,2\n",
            "some columns are running totals (so_far_…) and some are not",
        ),
        ("dish,d_1,removed\nd1,1,2\n", "removed seeds need one row for each inspection"),
        ("dish,d_1,elapsed_h\nd1,1,2\n", "the columns elapsed_h and d_1 say the same thing"),
        ("dish,d_1,germinated\nd1,1,2\n", "the columns germinated and d_1 say the same thing"),
        ("dish,d_1,h_24\nd1,1,2\n", "is 2, which line 2 has already for the same dish"),
    ],
)
def test_wide_tables_that_contradict_themselves(tmp_path, text, says):
    told = raw.faults(tmp_path, {COUNTS: text} | NO_OUTCOMES)
    assert len(told) == 1
    assert says in told[0]


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("2024-05-02", ", without a time of day; write for example"),
        ("02.05.2024 09:00", ", which may be 2024-05-02 or 2024-02-05; write the year first"),
        ("2024-05-02T25:00", ", and there is no such day or hour"),
        ("2024-05-01T08:00", ", 1 h before dish d1 was sown"),
        ("2024-03-31T01:30", ", an hour that Europe/Lisbon skipped when clocks were put forward"),
        ("2024-10-27T01:30", ", an hour that Europe/Lisbon had twice; add the offset from UTC"),
        ("yesterday", "; allowed is a date and time such as 2024-05-03T09:00"),
    ],
)
def test_a_clock_time_that_says_no_moment(tmp_path, typed, says):
    text = f"dish,inspected_at,germinated\nd1,{typed},1\n"
    told = raw.faults(tmp_path, {COUNTS: text} | NO_OUTCOMES)
    assert len(told) == 1
    assert told[0].startswith("germ/counts.csv, line 2: inspected_at is ")
    assert typed in told[0]
    assert says in told[0]


def test_a_clock_time_needs_a_zone_and_a_sowing_time(tmp_path):
    text = {COUNTS: "dish,inspected_at,germinated\nd3,2024-05-02T09:00,1\n"} | NO_OUTCOMES
    assert raw.faults(tmp_path / "sown", text) == [
        "germ/counts.csv, line 2: inspected_at is 2024-05-02T09:00, but dish d3 has no sown_at in "
        "dishes.csv to count from."
    ]
    zoneless = raw.edited("germ/experiment.yaml", ("time_zone: Europe/Lisbon\n", ""))
    told = raw.faults(tmp_path / "zone", zoneless)
    assert told[0].startswith(
        "germ/dishes.csv, line 2: sown_at is 2024-05-01T09:00; nothing says in which time zone"
    )
    local = raw.faults(tmp_path / "log", raw.edited("chamber_log.csv", ("2024-05-02T09:00Z", "2024-05-02T09:00")))  # fmt: skip
    assert local[0].startswith("chamber_log.csv, line 3: at is 2024-05-02T09:00; nothing says in")


def test_moments_are_stored_in_utc(tmp_path):
    dishes, study = _checked(tmp_path, {}, "dishes", "germ/dishes.csv")
    assert dishes["sown_at"].tolist() == ["2024-05-01T08:00:00Z", "2024-05-01T08:00:00Z", ""]
    log = checked.read_checked(study.checked / "chamber_log.csv", "chamber_log")
    assert log["at"][0] == "2024-05-01T09:00:00Z"


def test_events_at_clock_times_become_hours(tmp_path):
    changes = {"germ/events.csv": "dish,at,event,to\nd2,2024-05-03T21:00,moved,20\n"}
    events, _ = _checked(tmp_path, changes, "events", "germ/events.csv")
    assert events["elapsed_h"].tolist() == [60.0]


def _weighings(tmp_path, text):
    return _checked(tmp_path, {"germ/weighings.csv": text}, "weighings", "germ/weighings.csv")[0]


def test_grams_and_containers_become_net_milligrams(tmp_path):
    text = (
        "seed,lot,treatment,soaked_h,mass_g,container_mg\n"
        "s1,A,acid,0,0.8213,800\ns1,A,acid,24,0.8426,800\ns2,A,acid,0,0.0213,\n"
    )
    assert _weighings(tmp_path, text)["mass_mg"].tolist() == [21.3, 42.6, 21.3]


def test_a_container_heavier_than_both_is_a_fault(tmp_path):
    text = "seed,lot,treatment,soaked_h,mass_g,container_mg\ns1,A,acid,0,0.7,800\n"
    assert raw.faults(tmp_path, {"germ/weighings.csv": text} | NO_OUTCOMES) == [
        "germ/weighings.csv, line 2: mass_g is 0.7, but the container alone weighs 800 mg."
    ]


def test_the_first_weighing_at_a_clock_time_is_the_dry_one(tmp_path):
    text = (
        "seed,lot,treatment,weighed_at,mass_mg,floats\n"
        "s1,A,acid,2024-05-02T09:30,40,no\ns1,A,acid,2024-05-01T09:00,20,yes\n"
        "s2,A,acid,2024-05-01T10:00,20,\n"
    )
    stored = _weighings(tmp_path, text)
    assert stored["soaked_h"].tolist() == [24.5, 0.0, 0.0]
    assert stored["floats"].tolist()[:2] == [0.0, 1.0]
    assert np.isnan(stored["floats"][2])


def test_empty_cells_stand_for_one_seed_one_step_and_nothing_removed(tmp_path):
    text = "seed,lot,treatment,soaked_h,mass_mg\ns1,A,acid,0,20\n"
    weighings, study = _checked(
        tmp_path, {"germ/weighings.csv": text}, "weighings", "germ/weighings.csv"
    )
    assert weighings["seeds"].tolist() == [1.0]
    treatments = checked.read_checked(study.checked / "treatments.csv", "treatments")
    assert treatments["step"].tolist() == [1.0, 1.0, 2.0, 1.0, 1.0]
    counts = checked.read_checked(study.checked / COUNTS, "counts")
    assert counts["removed"].tolist() == [0.0, 1.0, 0.0, 0.0, 0.0, 0.0]


def test_days_do_not_leave_dust_in_the_hours(tmp_path):
    counts, _ = _checked(tmp_path, {COUNTS: "dish,elapsed_d,germinated\nd1,1.1,2\n"})
    assert counts["elapsed_h"].tolist() == [26.4]

"""What is due at the bench, on fixed days."""

from datetime import UTC, date, datetime, timedelta

import pytest

from hilum.plan.running import due
from hilum.plan.running.due import Task
from hilum.steps import due as step
from tests import raw

NOON = datetime(2026, 12, 1, 12, tzinfo=UTC)
PLAIN = dict.fromkeys(
    ("germ/outcomes.csv", "germ/events.csv", "germ/weighings.csv", "chamber_log.csv")
)
YAML = "title: Germination\nanalyses: [time_course]\ntime_zone: Pacific/Auckland\n"
HEAD = "dish,lot,treatment,temperature_c,chamber,shelf,seeds,sown_at,stored_d,stored_at_c\n"
DISHES = HEAD + (
    "d2,A,intact,15,c15,1,25,2026-11-28T09:00,,\n"
    "d10,A,acid,15,c15,1,25,2026-11-28T09:00,,\n"
    "d11,A,acid,15,c15,2,25,2026-11-28T09:00,,\n"
)
COUNTS = "dish,elapsed_d,germinated\n" + "".join(
    f"d{dish},{day},{'' if (dish, day) in {(10, 2), (10, 3), (2, 3), (11, 3), (2, 5), (10, 5), (11, 5)} else 0}\n"
    for day in (1, 2, 3, 5)
    for dish in (2, 10, 11)
)


def told(tmp_path, day, days=7, **files):
    """Return the lines of a study on a day."""
    base = {"germ/dishes.csv": DISHES, "germ/counts.csv": COUNTS, "germ/experiment.yaml": YAML}
    made = raw.write(tmp_path, PLAIN | base | {k.replace("__", "/"): v for k, v in files.items()})
    return list(step.run(made, date.fromisoformat(day), days))


def task(days, name="d1", kind="inspect", place="c15"):
    at = None if days is None else NOON + timedelta(days=days)
    return Task(experiment="germ", kind=kind, name=name, place=place, after="day 1", at=at)


def test_tasks_fall_to_their_days():
    tasks = [task(d, f"d{d}") for d in (-2, 0, 1, 7, 8)] + [task(None, "d99")]
    found = due.agenda(tasks, today=NOON.date(), days=7)
    parts = (found.overdue, found.now, found.coming, found.undated)
    assert [[g.names[0] for g in part] for part in parts] == [
        ["d-2"],
        ["d0"],
        ["d1", "d7"],
        ["d99"],
    ]
    assert found.later == 1


def test_of_what_is_overdue_the_first_miss_of_each_dish_is_told():
    found = due.agenda([task(-1), task(-3), task(-2)], today=NOON.date(), days=7)
    assert [g.at for g in found.overdue] == [NOON - timedelta(days=3)]


def test_today_overdue_and_what_comes_by_experiment_and_shelf(tmp_path):
    lines = told(tmp_path, "2026-12-01")
    assert lines[0] == "Tuesday 2026-12-01 (Pacific/Auckland)"
    missed = lines.index("Overdue")
    assert lines[missed + 1 : missed + 3] == [
        "  since 2026-11-30, 1 day ago  germ: inspect, day 2",
        "    chamber c15, shelf 1: 1 dish: d10",
    ]
    now = lines.index("Today")
    assert lines[now + 1 : now + 4] == [
        "  09:00  germ: inspect, day 3",
        "    chamber c15, shelf 1: 2 dishes: d2, d10",
        "    chamber c15, shelf 2: 1 dish: d11",
    ]
    assert "  Thu 2026-12-03 09:00  germ: inspect, day 5: 3 dishes" in lines


def test_the_day_is_that_of_the_clock_of_the_study(tmp_path):
    """09:00 on 1 December in Auckland is still November in UTC."""
    third = "  09:00  germ: inspect, day 3"
    assert third in told(tmp_path, "2026-12-01")
    assert third not in told(tmp_path, "2026-11-30")


def test_a_day_stays_a_day_where_clocks_are_set_forward(tmp_path):
    """Lisbon sets its clocks forward on 28 March 2027 (rule of the European Union, as in the time zone data)."""
    dishes = DISHES.replace("2026-11-28T09:00", "2027-03-27T09:00")
    yaml = YAML.replace("Pacific/Auckland", "Europe/Lisbon")
    lines = told(
        tmp_path, "2027-03-30", **{"germ/dishes.csv": dishes, "germ/experiment.yaml": yaml}
    )
    assert "  09:00  germ: inspect, day 3" in lines


def test_a_finished_study_has_nothing_due(tmp_path):
    full = COUNTS.replace(",\n", ",1\n")
    lines = told(tmp_path, "2026-12-01", **{"germ/counts.csv": full})
    assert lines[-1].startswith("Nothing is due: every inspection")


def test_a_dish_whose_seeds_were_scored_is_not_looked_at_any_more(tmp_path):
    ends = "dish,outcome,seeds\nd10,fresh,25\nd2,fresh,\nd2,dead,\n"
    lines = told(tmp_path, "2026-12-01", **{"germ/outcomes.csv": ends})
    assert not any("d10" in line for line in lines)
    assert "    chamber c15, shelf 1: 1 dish: d2" in lines


def test_seeds_in_store_are_due_so_long_after_fresh_ones_were_sown(tmp_path):
    dishes = HEAD + (
        "d1,A,acid,25,c25,1,25,2026-11-01T09:00,0,5\n"
        "d2,A,acid,25,c25,1,25,,30,5\n"
        "d3,A,acid,25,c25,1,25,,20,5\n"
    )
    counts = "dish,elapsed_d,germinated\nd1,1,3\nd2,1,\nd3,1,\n"
    lines = told(tmp_path, "2026-12-01", **{"germ/dishes.csv": dishes, "germ/counts.csv": counts})
    assert "  09:00  germ: take from the store and sow, day 30 of storage" in lines
    late = lines.index(
        "  since 2026-11-21, 10 days ago  germ: take from the store and sow, day 20 of storage"
    )
    assert lines[late + 1].endswith("1 dish: d3")
    # what is not sown cannot be inspected
    assert not any("since" in line and "inspect" in line for line in lines)


def test_dishes_without_a_day_of_sowing_are_told(tmp_path):
    dishes = DISHES.replace("2026-11-28T09:00", "")
    lines = told(tmp_path, "2026-12-01", **{"germ/dishes.csv": dishes})
    assert lines[-1].startswith("germ: 3 dishes with inspections to come cannot be dated: fill in")


def test_sowing_is_due_where_its_day_is_to_come(tmp_path):
    counts = "dish,elapsed_d,germinated\nd2,1,\nd10,1,\nd11,1,\n"
    lines = told(tmp_path, "2026-11-28", **{"germ/counts.csv": counts})
    assert "  09:00  germ: sow, day 0" in lines
    # a day later they are taken as sown: their first inspection is due
    lines = told(tmp_path, "2026-11-29", **{"germ/counts.csv": counts})
    assert "  09:00  germ: inspect, day 1" in lines
    assert not any(": sow," in line for line in lines)


@pytest.mark.parametrize(
    ("treatment", "dish", "where", "told_so"),
    [
        ("acid", "d2", "Today", ""),
        # seeds in no dish go into the water when others treated alike are sown
        ("acid", "", "Today", "germ: 3 seeds to be weighed, in no dish, are dated as if"),
        (
            "filed",
            "",
            "at a time that no table tells",
            "germ: 3 seeds to be weighed, in no dish, cannot",
        ),
    ],
)
def test_weighings_are_due_by_the_dish_of_the_seeds_or_by_others_like_them(
    tmp_path, treatment, dish, where, told_so
):
    rows = "".join(
        f"s{seed},A,{treatment},{dish},{hour},{mass}\n"
        for hour, mass in ((0, "20.1"), (72, ""), (96, ""))
        for seed in (1, 2, 3)
    )
    weighings = f"seed,lot,treatment,dish,soaked_h,mass_mg\n{rows}"
    files = {"germ/weighings.csv": weighings, "germ/counts.csv": COUNTS.replace(",\n", ",1\n")}
    lines = told(tmp_path, "2026-12-01", **files)
    head = next(i for i, line in enumerate(lines) if "weigh, after 72 h in water" in line)
    assert lines[head + 1] == f"    {treatment}: 3 seeds: s1 to s3"
    assert any(where in line for line in lines[:head])
    assert [line.startswith(told_so) for line in lines if "in no dish" in line] == [True] * bool(
        told_so
    )


def test_the_demo_has_nothing_due_and_the_command_ends_well(capsys):
    config = str(raw.Path(__file__).parent.parent / "config" / "config.yaml")
    assert step.main([config, "2026-12-01"]) == 0
    assert "Nothing is due" in capsys.readouterr().out
    assert step.main([config, "1. December"]) == 1
    assert "write a day as 2026-12-01" in capsys.readouterr().err
    assert step.main([config, "2026-12-01", "a week"]) == 1
    assert "DAYS is a week; write a whole number" in capsys.readouterr().err

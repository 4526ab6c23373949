"""Seeds followed one by one, read back from checked tables, in which yes is 1 and no is 0."""

import csv
import re
from dataclasses import replace

import numpy as np
import pytest

from hilum.analyses.simulated import as_table
from hilum.diagnosis import gather
from hilum.report import seed_table
from hilum.seeds import chart, rows
from hilum.steps import written

LOOKS = [
    {"seed": "s1", "lot": "lot", "treatment": "chipped", "seeds": 1.0, "soaked_h": hour}
    | {"mass_mg": mass, "floats": floats, "radicle": radicle}
    for hour, mass, floats, radicle in (
        (0.0, 100.0, 1.0, np.nan),
        (24.0, 190.0, 0.0, 0.0),
        (72.0, 260.0, np.nan, 1.0),
    )
]


@pytest.fixture
def looks(tmp_path):
    """Return the looks as text, as they stand in a checked table."""
    table = as_table("weighings", LOOKS)
    lines = ([written.cell(value) for value in row] for row in zip(*table.values(), strict=True))
    path = tmp_path / "weighings.csv"
    written.table(path, tuple(table), lines)
    with path.open(encoding="utf-8", newline="") as file:
        read = list(csv.DictReader(file))
    return [{k: "" if v == "nan" else v for k, v in row.items()} for row in read]


def test_looks_at_floating_are_spelled_and_growth_is_no_uptake(looks):
    """The page of seeds stopped at the first seed that anybody had seen floating."""
    (seed,) = rows.of_experiment("one", looks, [], [], lambda _: False)
    assert seed.floats == "F S"
    assert (seed.hours, seed.uptake) == ((0.0, 24.0), (0.0, 90.0))
    assert seed.fate == "germinated"


@pytest.mark.parametrize(
    ("high", "told"),
    [("0", "from the start<"), ("61.2", 'from the start <span class="figure">(0 to 61.2)<')],
)
def test_a_start_that_may_have_been_later_is_told_with_its_limits(looks, high, told):
    call = {"seed": "s1", "p_impermeable": "0", "call": "imbibed"}
    onset = {"onset_h": "0", "onset_low_h": "0", "onset_high_h": high}
    seeds = rows.of_experiment("one", looks, [], [call | onset], lambda _: False)
    assert told in seed_table.table(seeds)


def test_the_small_curves_hold_the_seed_that_took_up_most(looks):
    """They ended at 120 %, and a seed at 124 % ran along their edge."""
    (seed,) = rows.of_experiment("one", looks, [], [], lambda _: False)
    most = replace(seed, uptake=(0.0, 124.2))
    assert seed_table.highest([seed, most]) == 140
    assert seed_table.highest([replace(seed, uptake=(0.0, 0.0))]) > 0
    heights = re.findall(r"\d+,(\d+)", seed_table.curve(most, 140))
    assert min(map(int, heights)) > 0


def test_the_page_begins_with_how_many_seeds_came_to_each_end(looks):
    (seed,) = rows.of_experiment("one", looks, [], [], lambda _: False)
    seeds = [seed, replace(seed, says="dead seed"), replace(seed, says="closed coat"), seed]
    assert seed_table.answer(seeds) == (
        "Of 4 seeds of all lots and treatments: 2 germinated; 1 stayed behind a closed coat; "
        "1 dead, empty or damaged by insects or mould."
    )


def test_whatever_a_seed_says_is_counted_and_drawn(looks):
    (seed,) = rows.of_experiment("one", looks, [], [], lambda _: False)
    for says in {*rows._SAYS.values(), *rows._BY_CALL.values(), *chart._LOOKS}:
        assert ": 1 " in seed_table.answer([replace(seed, says=says)])
        assert says in chart._LOOKS


def test_a_radicle_seen_in_water_counts_as_germinated():
    """It was overlooked, and a seed without an outcome of its own did not enter the diagnosis at all."""
    (dish,) = gather.dishes({"one": {"weighings": as_table("weighings", LOOKS)}})
    assert (dish.total("germinated"), dish.seeds, dish.scored) == (1, 1, True)

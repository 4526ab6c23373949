"""The calibration counts right, its table is whole, and a fast subset of it keeps its word.

An interval keeps its word when it holds the truth in at least 93 % less two Monte-Carlo errors.
"""

import csv
import html
import json
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

import numpy as np
import pytest

from hilum import analyses
from hilum.analyses.quantities import QUANTITIES
from hilum.report import calibration, pages
from hilum.study import CALIBRATION
from tests import generator
from tests.calibration import run, sown, tally, written
from tests.calibration.design import Design, Key
from tests.calibration.designs import DESIGNS
from tests.calibration.sown import Left, Place, Sown
from tests.calibration.tally import Printed

SEED = 11
# design: studies, few enough for a test
FAST = {
    "four treatments, ordinary spread": 24,
    "straight line, ordinary spread": 16,
    "200 mg, 7 weighings": 40,
    "baths differ": 16,
    "acid, ordinary spread": 24,
    "float test, 60 seeds": 24,
}


@pytest.fixture(scope="module")
def committed():
    with (CALIBRATION / "coverage.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return rows, json.loads((CALIBRATION / "run.json").read_text(encoding="utf-8"))


def _promised(design):
    """Return the figures that a design of the page must have."""
    if design.analysis == "temperature":
        return {"base_temperature", "thermal_time_50", "t50"}
    if design.analysis == "storage":  # not every design has untreated seed to compare with
        return {"half_viability_period", "p85", "predicted_viability", "viability"}
    headlines = set(analyses.describe(design.analysis).headlines)
    return headlines - ({"difference", "time_ratio"} if "one treatment" in design.name else set())


# a fast subset


@pytest.mark.parametrize("name", FAST)
def test_intervals_keep_their_word(name):
    studies = FAST[name]
    ((_, rows),) = run.table([name], studies=studies, seed=SEED)
    told = [row for row in rows if row["quantity"] in analyses.describe(row["analysis"]).headlines]
    assert {row["quantity"] for row in told} >= _promised(DESIGNS[name])
    # the intervals of one study are not drawn anew, so that studies are what is counted
    error = np.sqrt(0.93 * 0.07 / studies)
    for row in told:
        assert row["estimated"] > 0.4 * row["figures"], row["quantity"]
        assert row["coverage"] >= 0.93 - 2 * error, row["quantity"]


def test_a_base_that_the_data_do_not_hold_is_a_bracket_around_the_truth():
    ((_, rows),) = run.table(["steep rise, ordinary spread"], studies=10, seed=SEED)
    base = next(row for row in rows if row["quantity"] == "base_temperature")
    assert base["bracketed"] >= 9
    assert base["brackets_holding_the_truth"] >= 9


def test_the_table_does_not_depend_on_the_number_of_processes():
    names = ["200 mg, 2 weighings", "10 mg, 2 weighings"]
    one = list(run.table(names, studies=12, seed=3))
    with ProcessPoolExecutor(2) as pool:
        two = list(run.table(names, studies=12, seed=3, pool=pool))
    assert one == two


# the committed table


def test_the_table_has_every_design_and_figure_that_the_page_promises(committed):
    rows, about = committed
    assert [design["name"] for design in about["designs"]] == list(DESIGNS)
    for name, design in DESIGNS.items():
        found = {row["quantity"] for row in rows if row["design"] == name}
        assert found >= _promised(design), "make calibrate writes the table anew"
    assert {row["quantity"] for row in rows} <= set(QUANTITIES)
    assert about == written.about(about["studies"], about["seed"]) | {
        key: about[key] for key in ("python", "packages", "code")
    }


def test_the_columns_of_the_table_are_those_that_the_page_explains(committed):
    rows, _ = committed
    assert list(rows[0]) == list(calibration.MEANINGS)
    read = [calibration.row(row) for row in rows]
    for row in read:
        missed = row.truth_below + row.truth_above
        assert row.covered + missed == row.estimated
        assert row.estimated + row.bracketed <= row.figures


def test_more_than_half_of_what_is_asked_for_gets_an_interval(committed):
    rows, about = committed
    identified = {d["name"] for d in about["designs"] if d["identified"]}
    for row in rows:
        if row["quantity"] == "base_temperature" and row["design"] in identified:
            assert int(row["estimated"]) > 0.5 * int(row["figures"]), row["design"]


# counting


def _design(truths, analysis="time_course"):
    return Design(
        name="invented", analysis=analysis, about="", draw=lambda _: {}, truths=lambda: truths
    )


def test_figures_are_counted_as_they_were_printed():
    key, other = Key("t50", "lot", "a", 25.0), Key("t50", "lot", "b", 25.0)
    figures = [
        Printed(0, key, "estimated", 90, 110),
        Printed(0, other, "estimated", 210, 260),
        Printed(1, key, "estimated", 80, 95),
        Printed(1, other, "bracketed", 150, np.inf),
        Printed(2, key, "not_identified", -np.inf, np.inf),
        Printed(2, other, "bracketed", -np.inf, 150),
        Printed(2, Key("t50", "lot", "c", 25.0), "estimated", 1, 2),
    ]
    (row,) = tally.rows(_design({key: 100.0, other: 200.0}), 3, figures)
    assert (row["studies"], row["figures"]) == (3, 6)
    assert (row["estimated"], row["covered"]) == (3, 1)
    assert (row["truth_below"], row["truth_above"]) == (1, 1)
    assert (row["bracketed"], row["brackets_holding_the_truth"]) == (2, 1)
    # widths in relation to the truth: 20/100, 50/200, 15/100
    assert row["median_width"] == pytest.approx(0.2)
    assert (row["lowest_group"], row["lowest_estimated"], row["lowest_covered"]) == ("b", 1, 0)


def test_the_monte_carlo_error_counts_studies_not_intervals():
    keys = [Key("t50", "lot", name, 25.0) for name in "abcd"]
    # in half of the studies all four intervals hold the truth, in the others none does
    figures = [
        Printed(study, key, "estimated", 0.0, 2.0 if study % 2 else 0.5)
        for study in range(100)
        for key in keys
    ]
    (row,) = tally.rows(_design(dict.fromkeys(keys, 1.0)), 100, figures)
    assert row["coverage"] == 0.5
    assert row["monte_carlo_error"] == pytest.approx(np.sqrt(0.25 / 100), rel=1e-3)


def test_pairs_are_counted_in_the_order_in_which_they_were_compared():
    pairs = {Key("difference", "lot", a, 25.0, b): 0.1 for a, b in (("a", "b"), ("b", "a"))}
    figures = [Printed(0, Key("difference", "lot", "a", 25.0, "b"), "estimated", 0.0, 0.2)]
    (row,) = tally.rows(_design(pairs), 1, figures)
    assert (row["figures"], row["covered"]) == (1, 1)


def test_hours_are_told_apart_where_the_truth_differs_between_them():
    true = {Key("sensitivity", "lot", "a", at=hour): 0.1 * hour for hour in (1.0, 6.0)}
    true |= {Key("still_floating", "lot", "a"): 0.5}
    figures = [
        Printed(0, Key("sensitivity", "lot", "a", at=h), "estimated", 0, 0.3) for h in (1, 6)
    ]
    figures += [Printed(0, Key("still_floating", "lot", "a", at=6.0), "estimated", 0.4, 0.6)]
    sensitivity, still = tally.rows(_design(true), 1, figures)
    assert (sensitivity["figures"], sensitivity["covered"], sensitivity["truth_above"]) == (2, 1, 1)
    assert sensitivity["lowest_group"] == "at 6 h"
    assert (still["figures"], still["covered"]) == (1, 1)


# truths


def test_the_truth_of_a_treatment_is_that_of_many_dishes():
    dishes = generator.Dishes(
        t50_h=(100.0, 150.0), fraction=(0.8, 0.4), dish_correlation=0.1, inspections_h=(1e4,)
    )
    two = Sown(dishes=dishes, places=(Place(treatment="a"), Place(treatment="b")))
    true = sown.courses(two)
    at = ("lot", "a", 25.0)
    assert true[Key("germinable_fraction", *at)] == pytest.approx(0.8, abs=0.003)
    assert true[Key("t50", *at)] == pytest.approx(100, rel=0.003)
    # a logistic with a standard deviation of 0.3 on log time reaches 10 % at −ln 9 times its scale
    ten = 100 * np.exp(-np.log(9) * 0.3 * np.sqrt(3) / np.pi)
    assert true[Key("t10", *at)] == pytest.approx(ten, rel=0.003)
    assert true[Key("difference", *at, "b")] == pytest.approx(0.4, abs=0.005)
    assert true[Key("time_ratio", *at, "b")] == pytest.approx(2 / 3, rel=0.005)


def test_fates_add_up_in_the_truth_and_in_every_study():
    left = (Left(hard=0.5, fresh=0.4, hard_alive=0.9, fresh_alive=0.5),)
    one = Sown(dishes=generator.Dishes(fraction=(0.6,)), places=(Place(),), left=left)
    true = {key.quantity: value for key, value in sown.courses(one).items()}
    assert true["germinated"] + true["hard"] + true["fresh"] + true["dead"] == pytest.approx(1)
    assert true["viability"] == pytest.approx(
        true["germinated"] + 0.9 * true["hard"] + 0.5 * true["fresh"]
    )
    tables = one.draw(np.random.default_rng(1))
    total = tables["counts"]["germinated"].sum() + tables["outcomes"]["seeds"].sum()
    assert total == tables["dishes"]["seeds"].sum()


def test_seeds_of_a_dish_are_as_alike_as_the_generator_is_told():
    dishes = generator.Dishes(dish_correlation=0.05, dishes=20_000, inspections_h=(1e9,))
    (((seen,),),) = np.moveaxis(
        generator.counts(dishes, studies=1, rng=np.random.default_rng(2)), 3, 2
    )
    # variance of a binomial, times 1 + (n − 1)ρ
    assert seen.mean() / 25 == pytest.approx(0.8, abs=0.004)
    assert seen.var() / (25 * 0.8 * 0.2) == pytest.approx(1 + 24 * 0.05, rel=0.04)


def test_a_chamber_shifts_all_its_dishes_alike():
    still = generator.Dishes(sd_log=1e-6, chamber_sd_log_time=0.1, fraction=(1.0,))
    hours = generator.times(still, studies=4000, rng=np.random.default_rng(3))
    assert np.ptp(np.log(hours), axis=(2, 3)).max() < 1e-3
    assert np.log(hours).std() == pytest.approx(0.1, rel=0.05)


def test_seeds_with_a_base_above_the_temperature_never_germinate():
    own = generator.Dishes(sd_log=1e-6, base_sd_c=1.0, above_base_c=(1.0,), fraction=(1.0,))
    hours = generator.times(replace(own, dishes=2000), studies=1, rng=np.random.default_rng(4))
    # a seed's base exceeds the median by more than one standard deviation in 15.9 %
    assert np.isinf(hours).mean() == pytest.approx(0.1587, abs=0.005)
    assert np.median(hours) == pytest.approx(120, rel=0.02)


# the page


def _row(**known):
    cells = dict.fromkeys(calibration.MEANINGS, "")
    told = {"analysis": "time_course", "design": "d", "quantity": "t50", "figures": "100"}
    return calibration.row(cells | told | {name: str(value) for name, value in known.items()})


@pytest.mark.parametrize(
    ("covered", "below", "error", "short", "one_sided"),
    [
        (95, 3, 0.02, False, False),
        (90, 5, 0.02, False, False),
        (88, 6, 0.02, True, False),
        (85, 14, 0.05, False, True),
        (100, 0, 0.0, False, False),
    ],
)
def test_what_falls_short(covered, below, error, short, one_sided):
    counts = {"truth_below": below, "truth_above": 100 - covered - below}
    row = _row(estimated=100, covered=covered, monte_carlo_error=error, **counts)
    assert (row.short, row.one_sided) == (short, one_sided)


def test_a_handful_of_intervals_is_not_judged():
    row = _row(estimated=3, covered=0, truth_below=3, bracketed=5, brackets_holding_the_truth=0)
    assert (row.short, row.one_sided, row.brackets_short) == (False, False, False)
    assert _row(bracketed=60, brackets_holding_the_truth=30, brackets_say=0.95).brackets_short


def test_a_bracket_is_held_to_the_confidence_that_it_names():
    key = Key("t50", "lot", "a", 25.0)
    figures = [
        Printed(i, key, "bracketed", 50, 150 if i else 90, confidence=c)
        for i, c in enumerate((0.95, 0.75))
    ]
    (row,) = tally.rows(_design({key: 100.0}), 2, figures)
    assert (row["brackets_say"], row["brackets_holding_the_truth"]) == (pytest.approx(0.85), 1)
    few = {"bracketed": 100, "brackets_holding_the_truth": 84}
    assert _row(**few, brackets_say=0.95).brackets_short
    assert not _row(**few, brackets_say=0.85).brackets_short


def test_the_page_names_what_falls_short_and_whether_the_code_is_still_the_same(committed):
    rows, about = committed
    few = [calibration.row(row) for row in rows]
    bad = replace(few[0], estimated=100, covered=50, truth_below=40, truth_above=10)
    for same, said in ((True, "still the same"), (False, "have changed since")):
        found = calibration.Calibration(rows=(bad, *few[1:]), run=about, same_code=same)
        text = pages.page("calibration", **calibration.context(found))
        assert said in text
        place = text.index("although the studies meet")
        assert "50\N{NO-BREAK SPACE}%" in text[place : text.index("break what the models assume")]
    for design in about["designs"]:
        assert f">{design['name']}</td>" in html.unescape(text).replace("\N{NO-BREAK SPACE}", " ")


def test_a_page_tells_how_often_intervals_like_its_own_held_the_truth(committed):
    rows, _ = committed
    one = next(r for r in rows if (r["design"], r["quantity"]) == ("acid, 1 bath", "best_duration"))
    told = calibration.held(one["design"], one["quantity"])
    assert float(told.split()[0]) == pytest.approx(100 * float(one["coverage"]), abs=0.5)
    assert calibration.held("no such design", "t50") == ""

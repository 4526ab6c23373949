"""The diagnosis against seeds whose cause of failure is known, one by one."""

import collections
from dataclasses import replace

import numpy as np
import pytest

from hilum.analyses.simulated import as_table
from hilum.diagnosis import model
from hilum.diagnosis.causes import CAUSES, MIXED
from hilum.report.diagnosed import fates, in_order
from tests import sown_lots
from tests.calibration.causes import ACID, CASES, CHIPPED, INTACT, SPREADS, UNCUT, WITH_BREAK
from tests.sown_lots import Lot, Trial

SEPARATED = {name: case for name, case in CASES.items() if case.separated}
LEFT_OUT = {name: case for name, case in CASES.items() if not case.separated}
ORDINARY = SPREADS["ordinary"]
STUDIES = 72


def diagnosed(tables, *, weighed=None, coats=None, treatments=None, expected=85.0):
    """Return the diagnosis of one experiment, or of several by name."""
    experiments = tables if "dishes" not in tables and "weighings" not in tables else {"e": tables}
    found = {
        name: model.Findings(tables=own, weighed=weighed or {}, coats=coats or {})
        for name, own in experiments.items()
    }
    lots = as_table("lots", [{"lot": "L", "taxon": "x", "expected_germination_pct": expected}])
    return model.diagnose(
        found,
        lot_table=lots,
        treatment_table=treatments or sown_lots.treatment_table(),
        confidence=0.95,
        correlation_when_unknown=0.05,
    )


def first(tables, **options):
    return diagnosed(tables, **options).drawing["groups"][0]


def simulated(trial, seed, studies=STUDIES, sd=ORDINARY):
    """Return the truth of the sowing asked about, and its diagnosis in each study."""
    rng = np.random.default_rng(seed)
    trial = replace(trial, dish_sd_logit=sd)
    truth = sown_lots.shares(trial, trial.sowings[0], rng=rng)
    return truth, [first(sown_lots.tables(trial, rng=rng)) for _ in range(studies)]


def margin(share, n):
    """Two Monte-Carlo standard errors."""
    return 2 * np.sqrt(share * (1 - share) / n)


@pytest.mark.parametrize("sd", [0.0, ORDINARY, 2 * ORDINARY])
def test_all_causes_at_once_hold_the_truth_in_93_of_100_studies(sd):
    held = []
    for i, case in enumerate(SEPARATED.values()):
        truth, groups = simulated(case.trial, seed=10 + i, studies=24, sd=sd)
        held += [
            all(
                g["causes"][c]["low"] - 1e-9 <= truth[c] <= g["causes"][c]["high"] + 1e-9
                for c in CAUSES
            )
            for g in groups
        ]
    assert np.mean(held) >= 0.93 - margin(0.93, len(held))


def test_brackets_hold_the_truth_where_comparisons_were_left_out():
    held = []
    for i, case in enumerate(LEFT_OUT.values()):
        truth, groups = simulated(case.trial, seed=30 + i, studies=30)
        held += [
            all(
                g["causes"][c]["low"] - 1e-9 <= truth[c] <= g["causes"][c]["high"] + 1e-9
                for c in CAUSES
            )
            for g in groups
        ]
    assert np.mean(held) >= 0.93 - margin(0.93, len(held))


def test_the_causes_named_hold_the_true_one_and_mostly_are_it_alone():
    holds, alone = [], []
    for i, case in enumerate(SEPARATED.values()):
        _, groups = simulated(case.trial, seed=50 + i, studies=30)
        holds += [case.main in g["named"] for g in groups]
        alone += [g["named"] == [case.main] for g in groups]
    assert np.mean(holds) >= 0.97 - margin(0.97, len(holds))
    assert np.mean(alone) >= 0.80


def test_no_single_cause_is_named_where_the_data_cannot_separate_it():
    named = []
    for i, case in enumerate(LEFT_OUT.values()):
        _, groups = simulated(case.trial, seed=70 + i)
        named += [tuple(g["named"]) for g in groups]
    assert len(named) > 500
    assert [causes for causes in named if len(causes) == 1] == []


def test_a_harmless_acid_is_not_accused_of_the_dead_that_it_brought_to_light():
    # untreated coats hide the dead: next to intact seeds alone the acid looks deadly
    trial = Trial(lot=Lot(dead=0.4), sowings=(ACID, INTACT, CHIPPED))
    _, groups = simulated(trial, seed=90)
    accused = [g["causes"]["harmed"]["low"] > 0 for g in groups]
    assert np.mean(accused) <= 0.025 + margin(0.025, len(accused))
    hidden = Trial(lot=Lot(dead=0.4), sowings=(ACID, UNCUT))
    _, groups = simulated(hidden, seed=91)
    assert not any(g["causes"]["harmed"]["low"] > 0 for g in groups)
    assert all({"nonviable", "harmed"} <= set(g["named"]) for g in groups)


def _before_storage(treatment, dead, rng, *, days=0.0, samples=4, seeds=50):
    """Return samples of a store that differ by 0.35 on the logit, as the dishes here do."""
    logit = np.log(dead / (1 - dead)) + ORDINARY * rng.normal(size=samples)
    return _samples(rng.binomial(seeds, 1 / (1 + np.exp(-logit))), treatment, days, seeds)


def _samples(dead, treatment="intact", days=0.0, seeds=50):
    same = {"lot": "L", "treatment": treatment, "method": "tetrazolium", "seeds": float(seeds)}
    rows = [
        same | {"sample": f"{i}", "stored_d": days, "dead": float(n), "alive": float(seeds - n)}
        for i, n in enumerate(dead)
    ]
    return as_table("viability", rows)


HIDDEN = Trial(lot=Lot(dead=0.4), sowings=(ACID, UNCUT), dish_sd_logit=ORDINARY)


def _with_samples(seed, draw, studies=STUDIES):
    """Return the diagnosis of simulated studies of a harmless acid, each with the samples of a store that `draw` gives."""
    rng = np.random.default_rng(seed)
    made = [sown_lots.tables(HIDDEN, rng=rng) | {"viability": draw(rng)} for _ in range(studies)]
    return [first(tables) for tables in made]


def test_untreated_samples_before_storage_keep_a_harmless_acid_from_being_accused():
    groups = _with_samples(92, lambda rng: _before_storage("intact", 0.4, rng))
    accused = [g["causes"]["harmed"]["low"] > 0 for g in groups]
    assert np.mean(accused) <= 0.025 + margin(0.025, len(accused))
    # without them harm and dead seeds are never told apart (the test above)
    assert np.mean([g["named"] == ["nonviable"] for g in groups]) > 0.5
    says = [e["says"] for e in groups[0]["evidence"]]
    assert any("viability test before storage (tetrazolium, 4 samples)" in s for s in says)
    held = [g["causes"]["nonviable"] for g in groups]
    assert np.mean([c["low"] <= 0.4 <= c["high"] for c in held]) >= 0.93 - margin(0.93, len(held))


def test_samples_before_storage_tell_less_than_a_test_of_as_many_seeds_drawn_from_the_lot():
    tables = sown_lots.tables(HIDDEN, rng=np.random.default_rng(93))

    def width(viability):
        found = first({**tables, "viability": viability})["causes"]["nonviable"]
        return found["high"] - found["low"]

    one, four = _samples([20]), _samples([20] * 4)
    drawn = _samples([80], days=np.nan, seeds=200)
    assert width(drawn) < width(four) < width(one)


@pytest.mark.parametrize("changed", [{"lot": "other"}, {"treatment": "acid-short"}])
def test_samples_of_another_lot_or_treatment_tell_nothing_of_this_lot(changed):
    tables = sown_lots.tables(HIDDEN, rng=np.random.default_rng(94))
    other = _samples([5] * 4) | {name: np.full(4, value) for name, value in changed.items()}
    later = _samples([45] * 4, days=700.0)
    assert first(tables) == first({**tables, "viability": other})
    assert first(tables) == first({**tables, "viability": later})


def test_samples_treated_alike_bound_the_seeds_dead_before_from_above():
    groups = _with_samples(95, lambda rng: _before_storage("acid-long", 0.4, rng), 24)
    assert not any(g["causes"]["harmed"]["low"] > 0 for g in groups)
    assert all({"nonviable", "harmed"} <= set(g["named"]) for g in groups)
    says = [e["says"] for e in groups[0]["evidence"]]
    assert any("seeds treated alike, before storage" in s and ": 0 % to" in s for s in says)


def test_seeds_that_died_in_store_are_no_harm_of_the_treatment():
    acid = _dish("a", "acid-long", 100, 30, [("dead", 70, np.nan)])
    now = _dish("i", "intact", 100, 95, [("dead", 5, np.nan)])
    kept = _dish("k", "intact", 100, 30, [("dead", 70, np.nan)])
    for dish in (acid, kept):
        dish[0].update(stored_d=900.0, stored_at_c=25.0)
    alone = first(_tables(acid, now))
    assert alone["causes"]["harmed"]["low"] == 0
    assert any("stored as long" in needs for needs in alone["missing"])
    beside = first(_tables(acid, now, kept))
    assert beside["causes"]["harmed"]["low"] == 0
    assert beside["named"] == ["nonviable"]


# one dish after another, in numbers


def _dish(name, treatment, seeds, germinated, outcomes, temperature=25.0, lot="L"):
    dish = {"dish": name, "lot": lot, "treatment": treatment, "temperature_c": temperature}
    return (
        dish | {"seeds": float(seeds)},
        {"dish": name, "elapsed_h": 500.0, "germinated": float(germinated)},
        [{"dish": name, "outcome": o, "seeds": float(n), "alive": a} for o, n, a in outcomes],
    )


def _tables(*dishes, **others):
    rows = {
        "dishes": [d for d, _, _ in dishes],
        "counts": [c for _, c, _ in dishes],
        "outcomes": [o for _, _, found in dishes for o in found],
    }
    rows |= others
    return {name: as_table(name, made) for name, made in rows.items() if made}


UNKNOWN = float("nan")


def test_abnormal_seedlings_are_told_among_those_that_germinated():
    made = first(
        _tables(_dish("a", "chipped", 50, 40, [("abnormal", 10, UNKNOWN), ("dead", 10, UNKNOWN)]))
    )
    assert made["germinated"] == pytest.approx(0.8)
    assert made["abnormal"] == pytest.approx(0.2)
    assert fates(made) == "germinated 80 % (20 % abnormal), dead or empty 20 %"


def test_pages_list_treatments_as_the_study_does_and_the_coldest_place_first():
    groups = [
        {"treatment": name, "temperature_c": degrees}
        for name, degrees in (("b", None), ("b", 20.0), ("new", 5.0), ("a", 30.0), ("b", 0.0))
    ]
    listed = in_order(groups, ["a", "a", "b"])
    assert [(g["treatment"], g["temperature_c"]) for g in listed] == [
        ("a", 30.0),
        ("b", 0.0),
        ("b", 20.0),
        ("b", None),
        ("new", 5.0),
    ]


def test_the_worked_example_of_the_documentation():
    acid = _dish(
        "a", "acid-long", 100, 30, [("hard", 20, UNKNOWN), ("fresh", 5, 5.0), ("dead", 45, UNKNOWN)]
    )
    opened = _dish("b", "chipped", 100, 90, [("dead", 10, UNKNOWN)])
    causes = first(_tables(acid, opened))["causes"]
    bounds = {name: (causes[name]["least"], causes[name]["most"]) for name in (*CAUSES, *MIXED)}
    assert bounds["impermeable_coat"] == pytest.approx((0.10, 0.20))
    assert bounds["nonviable"] == pytest.approx((0.10, 0.10))
    assert bounds["harmed"] == pytest.approx((0.35, 0.45))
    assert bounds["other_dormancy"] == pytest.approx((0.0, 0.05))
    assert bounds["conditions"] == pytest.approx((0.0, 0.05))
    assert bounds["other_dormancy_or_conditions"] == pytest.approx((0.05, 0.05))
    assert bounds["unresolved"] == pytest.approx((0.10, 0.10))


@pytest.mark.parametrize("name", CASES)
def test_fates_add_up_to_one_and_so_do_germinated_seeds_and_causes(name):
    group = first(sown_lots.tables(CASES[name].trial, rng=np.random.default_rng(5)))
    parts = [group["causes"][c]["least"] for c in (*CAUSES, *MIXED)]
    assert group["germinated"] + sum(parts) == pytest.approx(1.0)
    if group["assessed"]:
        assert sum(fate["least"] for fate in group["fates"].values()) == pytest.approx(1.0)


def test_what_germinates_after_an_event_tells_what_held_it_back():
    dish, count, _ = _dish("a", "intact", 50, 5, [])
    later = {"dish": "a", "elapsed_h": 900.0, "germinated": 30.0}
    dead = {"dish": "a", "outcome": "dead", "seeds": 15.0}
    for event, cause in (
        ("opened", "impermeable_coat"),
        ("moved", "conditions"),
        ("light_given", "conditions"),
        ("agent_added", "other_dormancy"),
    ):
        events = [{"dish": "a", "elapsed_h": 600.0, "event": event, "to": "30"}]
        tables = {
            "dishes": as_table("dishes", [dish]),
            "counts": as_table("counts", [count, later]),
            "outcomes": as_table("outcomes", [dead]),
            "events": as_table("events", events),
        }
        group = first(tables)
        assert group["germinated"] == pytest.approx(0.1)
        assert group["causes"][cause]["least"] == pytest.approx(0.6)
        assert group["causes"]["nonviable"]["least"] == pytest.approx(0.3)
        assert group["named"][0] == cause


def test_seeds_that_waited_for_two_things_are_not_given_to_either():
    dish, count, _ = _dish("a", "intact", 50, 5, [])
    later = {"dish": "a", "elapsed_h": 900.0, "germinated": 45.0}
    events = [
        {"dish": "a", "elapsed_h": 600.0, "event": "opened"},
        {"dish": "a", "elapsed_h": 650.0, "event": "agent_added"},
    ]
    tables = {
        "dishes": as_table("dishes", [dish]),
        "counts": as_table("counts", [count, later]),
        "events": as_table("events", events),
    }
    group = first(tables)
    assert group["causes"]["impermeable_coat"]["least"] == 0
    assert group["causes"]["unresolved"]["least"] == pytest.approx(0.9)
    assert len(group["named"]) > 1


def _weighing(seed, hours, mass, **more):
    own = {"seed": seed, "lot": "L", "treatment": "intact", "seeds": 1.0}
    return own | {"soaked_h": hours, "mass_mg": mass} | more


def test_a_seed_that_was_weighed_and_then_sown_is_counted_once():
    dish = _dish("a", "intact", 10, 2, [("hard", 8, 8.0)])
    weighings = [_weighing(f"s{i}", h, 100.0, dish="a") for i in range(10) for h in (0.0, 48.0)]
    found = diagnosed(_tables(dish, weighings=weighings)).drawing["groups"]
    assert [g["seeds"] for g in found] == [10.0]


def test_seeds_followed_one_by_one_are_diagnosed_without_a_dish():
    weighings = [_weighing(f"s{i}", h, 100.0) for i in range(20) for h in (0.0, 48.0)]
    outcomes = [
        {"seed": f"s{i}", "outcome": "hard" if i < 16 else "germinated", "seeds": 1.0, "alive": 1.0}
        for i in range(20)
    ]
    tables = {
        "weighings": as_table("weighings", weighings),
        "outcomes": as_table("outcomes", outcomes),
    }
    group = first(tables)
    assert (group["seeds"], group["germinated"], group["temperature_c"]) == (20.0, 0.2, None)
    assert group["named"] == ["impermeable_coat"]


def test_weighings_alone_give_an_honest_part_of_the_diagnosis():
    weighings = [_weighing(f"s{i}", h, 100.0) for i in range(20) for h in (0.0, 48.0)]
    tables = {"weighings": as_table("weighings", weighings)}
    found = diagnosed(tables, weighed={("L", "intact"): (0.9, 0.7, 0.97)})
    (group,) = found.drawing["groups"]
    assert not group["sown"]
    assert group["fates"]["hard"]["least"] == pytest.approx(0.9)
    assert group["causes"]["impermeable_coat"]["low"] == 0
    assert group["causes"]["impermeable_coat"]["high"] > 0.9
    assert {"impermeable_coat", "nonviable"} <= set(group["named"])
    assert "Sow seeds" in group["next_action"]
    assert {row.status for row in found.rows if row.name in CAUSES and row.high > 0} == {
        "bracketed"
    }


def test_counts_alone_give_a_bracket_and_say_what_is_missing():
    found = diagnosed(_tables(_dish("a", "intact", 100, 8, [])))
    (group,) = found.drawing["groups"]
    assert group["causes"]["impermeable_coat"]["low"] == 0
    assert group["causes"]["unresolved"]["least"] == pytest.approx(0.92)
    assert "Score the seeds" in group["next_action"]


def test_weighed_seeds_narrow_what_counts_leave_open():
    tables = _tables(_dish("a", "chipped", 100, 8, []))
    open_ = first(tables)["causes"]["impermeable_coat"]
    told = first(tables, weighed={("L", "chipped"): (0.0, 0.0, 0.1)})["causes"]["impermeable_coat"]
    assert told["high"] < 0.3 < open_["high"]


def test_weighed_seeds_and_dishes_that_disagree_are_told():
    dishes = [_dish(str(i), "intact", 50, 30, [("hard", 20, 20.0)]) for i in range(4)]
    group = first(_tables(*dishes), weighed={("L", "intact"): (0.9, 0.85, 0.94)})
    assert "90 % of the weighed seeds" in group["disagreement"]
    agreed = first(_tables(*dishes), weighed={("L", "intact"): (0.4, 0.3, 0.5)})
    assert agreed["disagreement"] == ""


def test_dishes_of_several_experiments_are_one_group():
    one = _tables(_dish("a", "intact", 50, 5, [("hard", 45, 45.0)]))
    other = _tables(_dish("a", "intact", 50, 6, [("hard", 44, 44.0)]))
    found = diagnosed({"first": one, "second": other}).drawing["groups"]
    assert [g["seeds"] for g in found] == [100.0]
    assert {e["experiment"] for e in found[0]["evidence"]} >= {"first", "second"}


def test_lost_seeds_are_left_out_and_insect_damaged_count_as_nonviable():
    group = first(
        _tables(
            _dish("a", "chipped", 100, 40, [("lost", 20, UNKNOWN), ("insect_damaged", 40, UNKNOWN)])
        )
    )
    assert group["seeds"] == 80.0
    assert group["fates"]["insect_damaged"]["least"] == pytest.approx(0.5)
    assert group["named"] == ["nonviable"]


def test_nearly_all_germinated_names_no_cause():
    group = first(_tables(_dish("a", "chipped", 100, 97, [("dead", 3, UNKNOWN)])))
    assert group["named"] == []
    assert group["next_action"].startswith("Nothing to mend")


def test_all_rows_have_an_action_and_brackets_say_what_they_need():
    rng = np.random.default_rng(3)
    for case in CASES.values():
        for row in diagnosed(sown_lots.tables(case.trial, rng=rng)).rows:
            assert row.next_action
            assert row.evidence
            assert bool(row.needs) == (row.status == "bracketed")
            assert (row.fraction is None) == (row.status == "bracketed")
            assert 0 <= row.low <= row.high <= 1


# lots


def _lot(tables, **options):
    return diagnosed(tables, **options).drawing["lots"][0]


def test_physical_dormancy_alone_combined_or_untested():
    rng = np.random.default_rng(8)
    alone = Trial(lot=Lot(), sowings=(INTACT, CHIPPED))
    both = Trial(lot=Lot(dormant=0.7), sowings=(INTACT, CHIPPED, WITH_BREAK))
    open_ = Trial(lot=Lot(closed=0.0), sowings=(INTACT, CHIPPED))
    seen = [
        (lot["physical_dormancy"], lot["second"])
        for trial in (alone, both, open_, Trial(lot=Lot(), sowings=(INTACT,)))
        for lot in [_lot(sown_lots.tables(trial, rng=rng))]
    ]
    assert seen == [
        ("shown", "alone"),
        ("shown", "combined"),
        ("not_found", "alone"),
        ("hard", "untested"),
    ]


def test_the_shortfall_is_tested_with_dish_spread():
    rng = np.random.default_rng(9)
    poor = Trial(lot=Lot(dead=0.5), sowings=(CHIPPED,))
    short = _lot(sown_lots.tables(poor, rng=rng))["shortfall"]
    assert short["p"] < 0.001
    assert short["high"] < 0.85
    # a lot that reaches what is expected is called short in about 5 of 100 studies
    fair = Trial(lot=Lot(dead=0.15), sowings=(CHIPPED,), dish_sd_logit=ORDINARY)
    called = [_lot(sown_lots.tables(fair, rng=rng))["shortfall"]["p"] < 0.05 for _ in range(150)]
    assert np.mean(called) <= 0.05 + margin(0.05, len(called))
    assert _lot(sown_lots.tables(poor, rng=rng), expected=float("nan"))["shortfall"] is None


def _key_of_dormancy_classes(intact, scarified):
    """Return the class by final germination alone.

    Flora 206 (2011), 845–856, doi 10.1016/j.flora.2011.05.001, table 4, the branch of physical dormancy: intact seeds
    that germinate as well as scarified ones, and at least half of them, are not dormant; else scarified seeds of
    which half germinate show physical dormancy alone; else it is combined with another.
    """
    if intact >= scarified and intact >= 0.5:
        return "none"
    return "physical" if scarified >= 0.5 else "combined"


def test_the_published_key_of_dormancy_classes_agrees_on_clear_lots():
    ours = {("shown", "alone"): "physical", ("shown", "combined"): "combined"}
    rng = np.random.default_rng(12)
    for lot in (Lot(), Lot(dormant=0.8)):
        trial = Trial(lot=lot, sowings=(INTACT, CHIPPED, WITH_BREAK))
        found = diagnosed(sown_lots.tables(trial, rng=rng)).drawing
        share = {g["treatment"]: g["germinated"] for g in found["groups"]}
        verdict = found["lots"][0]["physical_dormancy"], found["lots"][0]["second"]
        assert ours[verdict] == _key_of_dormancy_classes(share["intact"], share["chipped"])


def test_an_empty_study_has_an_empty_diagnosis():
    found = diagnosed({"e": {}})
    assert found.rows == ()
    assert found.drawing["lots"][0]["physical_dormancy"] == "untested"


def test_what_next_points_to_what_worked():
    rng = np.random.default_rng(4)
    actions = {
        name: first(sown_lots.tables(case.trial, rng=rng))["next_action"]
        for name, case in SEPARATED.items()
    }
    counted = collections.Counter(actions.values())
    assert len(counted) >= 5
    assert "as chipped did" in actions["acid too weak"]
    assert "more gently" in actions["acid too strong"]
    assert "Sow at 25 °C" in actions["too cold"]
    assert "as chipped-cold did" in actions["another dormancy"]
    assert "other seed" in actions["dead seed"].lower()

"""What the analysis of scarification says of simulated experiments: each outcome has its sentence."""

import re
from dataclasses import replace

import numpy as np
import pytest

from hilum import analyses
from hilum.analyses.scarification import doses, model
from hilum.analyses.scarification.truth import ScarificationTruth, TrueDose, germinating
from hilum.analyses.simulated import as_table
from hilum.settings import Settings
from tests.test_report_analyses import _figures, _page, _result

SETTINGS = Settings(study=".")
DOSE = TrueDose()


def _tables(dose=DOSE, seed=1, **experiment):
    truth = ScarificationTruth(lots=(dose,), **experiment)
    return model.simulate(truth, rng=np.random.default_rng(seed))


def _fit(tables):
    return model.fit(tables, settings=SETTINGS, rng=np.random.default_rng(0))


def _by_quantity(fitted):
    return {e.quantity: e for e in fitted.estimates if e.quantity != "harmed"}


def _changed(tables, name, **columns):
    return {**tables, name: {**tables[name], **columns}}


def _outcome(fitted):
    (series,) = fitted.drawing.series
    return series.outcome


def test_best_duration_window_and_germination_are_near_the_truth():
    found = _by_quantity(_fit(_tables(dish_sd=0.1, seeds=100)))
    dose = np.geomspace(10, 1000, 5001)
    G = germinating(DOSE, dose)
    inside = dose[G.max() - 0.05 <= G]
    assert found["best_duration"].value == pytest.approx(dose[G.argmax()], rel=0.1)
    assert found["germination_at_best"].value == pytest.approx(G.max(), abs=0.05)
    assert found["window_low"].value == pytest.approx(inside[0], rel=0.15)
    assert found["window_high"].value == pytest.approx(inside[-1], rel=0.15)
    assert {e.status for e in found.values()} == {"estimated"}
    assert {found[q].unit for q in ("best_duration", "window_low", "window_high")} == {"min"}


def test_a_best_beyond_the_highest_dose_is_said_to_lie_outside():
    fitted = _fit(_tables(replace(DOSE, harms=1e6)))
    best = _by_quantity(fitted)["best_duration"]
    assert _outcome(fitted) == "above"
    assert (best.status, best.high) == ("bracketed", None)
    assert "outside what was tried" in best.needs
    assert "480 min" in best.needs
    others = [e for e in _by_quantity(fitted).values() if e is not best]
    assert {(e.status, e.high) for e in others} == {("bracketed", None)}


def test_a_best_below_the_lowest_dose_is_said_to_lie_outside():
    harsh = replace(DOSE, doses=(0.0, 120.0, 240.0, 360.0, 480.0), opens=20.0, harms=150.0)
    fitted = _fit(_tables(harsh))
    best = _by_quantity(fitted)["best_duration"]
    assert _outcome(fitted) == "below"
    assert (best.status, best.low) == ("bracketed", 0.0)
    assert "outside what was tried" in best.needs
    assert "falls from 120 min on" in best.needs
    window = [_by_quantity(fitted)[name] for name in ("window_low", "window_high")]
    assert {(e.status, e.low) for e in window} == {("bracketed", 0.0)}


def test_an_interval_that_leaves_the_doses_tried_is_open_there():
    late = replace(DOSE, harms=620.0, opens=150.0)
    found = [_fit(_tables(late, seed=seed, dishes=2)) for seed in range(8)]
    opened = [f for f in found if _outcome(f) == "open_above"]
    assert opened
    best = _by_quantity(opened[0])["best_duration"]
    assert best.status == "bracketed"
    assert best.low is not None
    assert "may lie beyond" in best.needs


def test_a_best_that_may_lie_anywhere_below_is_open_there():
    words = model.best.needs("open_below", _sown(_tables()))
    assert words.startswith("The best may lie anywhere below. Add doses below 30 min")


def _sown(tables):
    steps = doses.steps_of(tables["treatments"])
    kinds = (doses.untreated(steps), doses.by_hand(steps))
    return model.gather(model.assemble(tables), tables, doses.series_of(steps), *kinds)[0]


def test_a_flat_top_has_a_wide_interval_and_a_window_inside_the_doses():
    flat = replace(DOSE, opens=30.0, opens_slope=2.5, harms=700.0, harms_slope=4.0)
    found = _by_quantity(_fit(_tables(flat, seeds=50, dish_sd=0.1)))
    best = found["best_duration"]
    assert best.high > 1.3 * best.low
    assert found["window_high"].value > 2.5 * found["window_low"].value


def test_too_few_doses_are_told():
    fitted = _fit(_tables(replace(DOSE, doses=(0.0, 60.0, 240.0))))
    best = _by_quantity(fitted)["best_duration"]
    assert _outcome(fitted) == "too_few_doses"
    assert best.status == "not_identified"
    assert "four different doses" in best.needs
    assert "3 can be used" in best.needs


def test_seeds_that_nobody_assessed_are_told():
    tables = _tables()
    empty = {name: values[:0] for name, values in tables["outcomes"].items()}
    fitted = _fit({**tables, "outcomes": empty})
    assert _outcome(fitted) == "not_assessed"
    assert "outcomes.csv" in _by_quantity(fitted)["best_duration"].needs


def test_dishes_that_were_opened_during_the_test_are_left_out_and_counted():
    tables = _tables()
    of_120 = tables["dishes"]["dish"][tables["dishes"]["treatment"] == "acid-120"]
    events = [{"dish": dish, "elapsed_h": 240.0, "event": "opened"} for dish in of_120]
    (series,) = _fit({**tables, "events": as_table("events", events)}).drawing.series
    assert series.left_out == len(of_120)
    assert 120.0 not in series.doses
    assert series.outcome == "estimated"


def test_a_treatment_that_opens_no_coat_is_told():
    fitted = _fit(_tables(replace(DOSE, opens=1e5)))
    assert _outcome(fitted) == "not_opened"
    assert "No dose opened coats" in _by_quantity(fitted)["best_duration"].needs


def test_a_lot_without_hard_seeds_needs_no_scarification():
    fitted = _fit(_tables(replace(DOSE, permeable=0.999, viable_permeable=0.9)))
    assert _outcome(fitted) == "not_closed"
    assert "no dose can show what it opens" in _by_quantity(fitted)["best_duration"].needs


def test_doses_that_killed_everything_are_told():
    deadly = replace(
        DOSE, harms=0.5, harms_slope=5.0, opens=5.0, abnormal=0.0, viable_permeable=0.5
    )
    fitted = _fit(_tables(deadly))
    assert _outcome(fitted) == "all_dead"
    assert "killed" in _by_quantity(fitted)["best_duration"].needs


def test_seeds_that_stay_fresh_after_every_dose_are_told_apart_from_dead_ones():
    fitted = _fit(_tables(replace(DOSE, fresh=0.999999)))
    assert _outcome(fitted) == "none_germinated"
    assert "Cut the fresh seeds" in _by_quantity(fitted)["best_duration"].needs


def test_without_hand_opened_seeds_harm_is_a_bracket():
    fitted = _fit(_tables(replace(DOSE, opened="")))
    harmed = [e for e in fitted.estimates if e.quantity == "harmed"]
    assert {e.status for e in harmed} == {"bracketed"}
    assert {e.low for e in harmed} == {0.0}
    assert "Open seeds of the same lot by hand" in harmed[0].needs


def test_without_untreated_seeds_harm_is_a_bracket():
    fitted = _fit(_tables(replace(DOSE, doses=(30.0, 60.0, 120.0, 240.0, 480.0))))
    harmed = [e for e in fitted.estimates if e.quantity == "harmed"]
    assert {e.status for e in harmed} == {"bracketed"}
    assert "Sow untreated seeds" in harmed[0].needs


def _viability(method, alive):
    row = {"sample": "v", "lot": "first", "treatment": "intact", "method": method}
    seeds = {"seeds": 100.0, "alive": alive, "dead": 100.0 - alive}
    return as_table("viability", [row | seeds])


@pytest.mark.parametrize(
    ("method", "reference"), [("tetrazolium", "tested"), ("hand_opened", "opened")]
)
def test_a_viability_test_stands_in_for_hand_opened_seeds(method, reference):
    tables = _tables(replace(DOSE, opened=""))
    fitted = _fit({**tables, "viability": _viability(method, 88.0)})
    harmed = [e for e in fitted.estimates if e.quantity == "harmed"]
    assert {e.status for e in harmed} == {"estimated"}
    assert fitted.drawing.series[0].reference == reference


def test_a_sample_of_a_store_does_not_stand_in_for_them():
    tables = _tables(replace(DOSE, opened=""))
    stored = _viability("tetrazolium", 20.0) | {"stored_d": np.array([900.0])}
    fitted = _fit({**tables, "viability": stored})
    assert fitted.drawing.series[0].reference == ""
    assert {e.status for e in fitted.estimates if e.quantity == "harmed"} == {"bracketed"}


@pytest.mark.parametrize(
    ("method", "treatment", "reference"),
    [
        ("tetrazolium", "intact", "tested"),
        ("hand_opened", "intact", "opened"),
        ("hand_opened", "acid-60", ""),
        ("tetrazolium", "acid-60", ""),
    ],
)
def test_untreated_samples_before_storage_stand_in_for_them(method, treatment, reference):
    tables = _tables(replace(DOSE, opened=""))
    start = _viability(method, 88.0)
    start |= {"stored_d": np.zeros(1), "treatment": np.array([treatment])}
    fitted = _fit({**tables, "viability": start})
    assert fitted.drawing.series[0].reference == reference


def test_samples_before_storage_that_differ_widen_the_harm():
    tables = _tables(replace(DOSE, opened=""))

    def harm(*alive):
        rows = [_viability("tetrazolium", n) for n in alive]
        made = {k: np.concatenate([r[k] for r in rows]) for k in rows[0]}
        told = _fit({**tables, "viability": made | {"stored_d": np.zeros(len(alive))}}).estimates
        return [e for e in told if e.quantity == "harmed"][-1]

    even, uneven = harm(88.0, 88.0, 88.0), harm(98.0, 78.0, 88.0)
    assert even.value == pytest.approx(uneven.value)
    assert uneven.high - uneven.low > even.high - even.low


def test_a_harmless_acid_on_a_poor_lot_is_not_accused():
    poor = replace(DOSE, viable=0.6, harms=1e6)
    told = [e for seed in range(20) for e in _fit(_tables(poor, seed=seed)).estimates]
    harmed = [e for e in told if e.quantity == "harmed"]
    assert np.mean([e.low > 0 for e in harmed]) < 0.06
    dead = [g.dead for g in _fit(_tables(poor)).drawing.series[0].groups if g.dose == 480]
    assert dead[0] > 0.25, "the acid does bring dead seeds to light"


def test_baths_are_what_was_replicated_where_a_dose_had_several():
    one = _fit(_tables(baths=1, dishes=4)).drawing.series[0]
    two = _fit(_tables(baths=2, dishes=2))
    assert not one.by_bath
    assert two.drawing.series[0].by_bath
    assert "baths" in _by_quantity(two)["best_duration"].method


def test_one_dish_at_each_dose_has_its_spread_assumed_and_says_so():
    fitted = _fit(_tables(dishes=1, seeds=100))
    assert "dish spread assumed" in _by_quantity(fitted)["best_duration"].method
    assert fitted.drawing.series[0].assumed


def test_each_dish_stands_beside_its_curves_for_the_sceptic():
    tables = _tables()
    dish, germinated = (tables["counts"][c] for c in ("dish", "germinated"))
    first, *_ = [d for d in tables["dishes"]["dish"] if germinated[dish == d].sum() > 15]
    (figure,) = _of_residuals(_fit(tables))
    (line,) = [row for row in figure.rows if row["unit"] == first]
    normal = tables["outcomes"]["outcome"] == "normal"
    of_dish = tables["outcomes"]["dish"] == first
    seen = tables["outcomes"]["seeds"][normal & of_dish].sum() / line["sown"]
    assert line["germinated"] == pytest.approx(100 * seen, abs=0.01)
    assert len(figure.rows) == len(tables["dishes"]["dish"])
    assert "lie outside ±2" in figure.caption


def test_residuals_are_those_of_baths_where_baths_were_replicated():
    (figure,) = _of_residuals(_fit(_tables(baths=2, dishes=2)))
    assert "baths and dishes" in figure.caption
    assert sum("bath" in row["unit"] for row in figure.rows) == 2 * sum(d > 0 for d in DOSE.doses)


def test_one_dish_at_each_dose_has_no_figure_of_residuals():
    assert not _of_residuals(_fit(_tables(dishes=1, seeds=100)))


def _of_residuals(fitted):
    made = analyses.chart("scarification").figures(fitted.drawing, fitted.estimates)
    return [f for f in made if f.name.startswith("residuals")]


def test_a_bath_that_served_several_doses_is_told():
    tables = _tables()
    batch = np.where(tables["dishes"]["batch"] == "", "", "monday")
    fitted = _fit(_changed(tables, "dishes", batch=batch))
    assert fitted.drawing.series[0].shared_bath


def test_abnormal_seedlings_are_no_normal_germination():
    tables = _tables()
    outcome = tables["outcomes"]["outcome"]
    all_normal = np.where(outcome == "abnormal", "normal", outcome)
    with_abnormal, without = (
        _fit(t).drawing.series[0].groups
        for t in (tables, _changed(tables, "outcomes", outcome=all_normal))
    )
    pairs = list(zip(with_abnormal, without, strict=True))
    assert sum(a.abnormal for a, _ in pairs) > 0
    for a, b in pairs:
        assert a.normal + a.abnormal == pytest.approx(b.normal)


def _treatments(**rows):
    plain = {"treatment": "intact", "step": 1.0, "method": "none"}
    made = [{"treatment": name, "step": 1.0} | row for name, row in rows.items()]
    return doses.series_of(doses.steps_of(as_table("treatments", [plain, *made])))


def test_durations_in_different_units_are_one_series_in_minutes():
    (series,) = _treatments(
        a={"method": "acid", "duration": 30.0, "duration_unit": "s"},
        b={"method": "acid", "duration": 2.0, "duration_unit": "h"},
        c={"method": "acid", "duration": 10.0, "duration_unit": "min"},
    )
    assert series.doses == {"a": 0.5, "b": 120.0, "c": 10.0}
    assert (series.quantity, series.unit) == ("best_duration", "min")


@pytest.mark.parametrize(
    ("column", "more", "unit"),
    [
        ("temperature_c", {"method": "dry_heat"}, "°C"),
        ("concentration", {"method": "acid", "concentration_unit": "%"}, "%"),
        ("duration", {"method": "sandpaper", "duration_unit": "strokes"}, "strokes"),
    ],
)
def test_doses_that_are_no_minutes_have_a_best_dose_with_its_unit(column, more, unit):
    (series,) = _treatments(**{f"d{dose:g}": more | {column: dose} for dose in (20.0, 40.0, 60.0)})
    assert (series.quantity, series.unit) == ("best_dose", unit)


def test_treatments_that_differ_in_two_things_are_no_doses():
    found = _treatments(
        weak={"method": "acid", "duration": 30.0, "duration_unit": "min", "temperature_c": 20.0},
        strong={"method": "acid", "duration": 60.0, "duration_unit": "min", "temperature_c": 30.0},
        water={"method": "hot_water", "duration": 60.0, "duration_unit": "min"},
    )
    assert found == []


def test_series_of_one_method_that_would_share_a_name_are_told_apart():
    at = {"method": "acid", "duration_unit": "min"}
    found = _treatments(
        **{
            f"{warm:g}-{time:g}": at | {"duration": time, "temperature_c": warm}
            for warm in (20.0, 30.0)
            for time in (10.0, 20.0)
        }
    )
    names = [s.name for s in found]
    assert len(names) == 4
    assert len(set(names)) == 4


def _read(tables):
    result = _result("scarification", tables, SETTINGS)
    assert all(f.rows and f.description for f in _figures(result))
    # a word that is linked to the glossary stands close to the comma after it
    words = re.sub(r"\s+", " ", re.sub("<[^>]+>", " ", _page(result)))
    return re.sub(r" ([,.;:])", r"\1", words)


PAGES = {
    "best": (DOSE, "most seeds germinate normally after"),
    "above": (replace(DOSE, harms=1e6), "germination still rises at 480 min"),
    "below": (
        replace(DOSE, doses=(0.0, 120.0, 240.0, 360.0, 480.0), opens=20.0, harms=150.0),
        "germination falls from 120 min on",
    ),
    "few": (replace(DOSE, doses=(0.0, 60.0, 240.0)), "four different doses"),
    "shut": (replace(DOSE, opens=1e5), "No dose opened coats"),
    "soft": (
        replace(DOSE, permeable=0.999, viable_permeable=0.9),
        "no dose can show what it opens",
    ),
    "no reference": (replace(DOSE, opened=""), "Open seeds of the same lot by hand"),
    "one dose": (
        replace(DOSE, doses=(0.0, 60.0)),
        "No two treatments of a lot differ in one number",
    ),
}


@pytest.mark.parametrize("case", PAGES)
def test_the_page_says_each_outcome_first_and_prints_no_hole(case):
    dose, sentence = PAGES[case]
    told = _read(_tables(dose))
    assert sentence in told
    assert not re.search(r"\b(None|nan|inf|undefined)\b", told)


def test_the_page_says_that_one_bath_is_not_the_method():
    said = "The interval covers these seeds in this bath, not the method"
    assert said in _read(_tables(baths=1, dishes=4))
    assert said not in _read(_tables(baths=2, dishes=2))


def test_the_page_says_that_death_inside_a_hard_seed_is_not_counted():
    assert "Death inside seeds that stayed hard is not counted here" in _read(_tables())


def test_the_page_of_a_harmless_acid_accuses_it_of_nothing():
    told = _read(_tables(replace(DOSE, viable=0.6, harms=1e6)))
    assert "No harm was shown" in told
    assert "it killed or damaged" not in told
    harmed = _read(_tables(replace(DOSE, harms=300.0))).replace("\N{NO-BREAK SPACE}", " ")
    assert re.search(
        r"480 min harms \(.*?\): it killed or damaged \d+ % \(\d+ to \d+ %\) of the seeds, on top of those that were dead "
        r"before\. Harm was shown from \d+ min on\.",
        harmed,
    )


def test_a_best_between_the_doses_tried_is_said_to_be_fitted():
    tables = _tables(dish_sd=0.1, seeds=100)
    best = _by_quantity(_fit(tables))["best_duration"]
    tried = [d for d in DOSE.doses if d]
    assert min(abs(best.value / dose - 1) for dose in tried) > 0.02
    told = _read(tables)
    told = told.replace("\N{NO-BREAK SPACE}", " ")
    assert re.search(r"These are fitted figures: no dose of \d+ min was tried\.", told)
    # where the best is one of the doses, seeds were seen to do what is told
    at_best = replace(DOSE, doses=tuple(sorted({*DOSE.doses, round(best.value)})))
    again = _tables(at_best, dish_sd=0.1, seeds=100)
    value = _by_quantity(_fit(again))["best_duration"].value
    near = min(abs(value / dose - 1) for dose in at_best.doses if dose) <= 0.02
    assert near
    assert "These are fitted figures" not in _read(again)

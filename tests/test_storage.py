"""What the analysis of storage says of simulated stores: each outcome has its sentence."""

import re
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from hilum import analyses
from hilum.analyses.naming import Naming
from hilum.analyses.simulated import as_table
from hilum.analyses.storage import model
from hilum.analyses.storage.truth import StorageTruth, TrueStorage, alive_after
from hilum.report import pages
from hilum.settings import Settings
from tests.test_report_analyses import _figures, _page, _result

SETTINGS = Settings(study=".")
ACID = TrueStorage()
INTACT = TrueStorage(treatment="intact", method="none", ki=1.7, sigma_d=650.0)
TIMES = ("half_viability_period", "p85", "sigma")


def _tables(*stores, seed=1, **experiment):
    truth = StorageTruth(stores=stores or (ACID,), **experiment)
    return model.simulate(truth, rng=np.random.default_rng(seed))


def _fit(tables, settings=SETTINGS):
    return model.fit(tables, settings=settings, rng=np.random.default_rng(0))


def _of(fitted, quantity, treatment="acid"):
    return [e for e in fitted.estimates if (e.quantity, e.treatment) == (quantity, treatment)]


def _one(fitted, quantity, treatment="acid"):
    (found,) = _of(fitted, quantity, treatment)
    return found


def _samples(counts, seeds=50.0, **same):
    """Return viability tests with this many alive, by days."""
    rows = [
        {"stored_d": float(days), "alive": float(alive), "sample": f"{days}-{i}"}
        for days, samples in counts.items()
        for i, alive in enumerate(samples)
    ]
    shared = {"lot": "first", "treatment": "acid", "method": "tetrazolium", "seeds": seeds}
    made = [shared | {"dead": seeds - row["alive"]} | row | same for row in rows]
    treatments = [
        {"treatment": name, "step": 1.0, "method": method}
        for name, method in (("acid", "acid"), ("intact", "none"))
    ]
    return {
        "viability": as_table("viability", made),
        "treatments": as_table("treatments", treatments),
    }


def _told(fitted):
    (store,) = fitted.drawing.stores
    return store


def _text(tables):
    made = _page(_result("storage", tables, SETTINGS))
    return re.sub(r"\s+", " ", re.sub("<[^>]+>", "", made))


def _headline(tables):
    """Return what home says of the lot."""
    found = _fit(tables)
    about = {
        "estimates": found.estimates,
        "drawing": found.drawing,
        "seeds": Naming(found.estimates),
    }
    template = pages.environment().get_template("storage/page.md.jinja")
    return template.make_module(about).headline()


# the truth


@pytest.mark.parametrize("sown", [False, True])
def test_times_and_shares_are_near_the_truth(sown):
    found = _fit(_tables(ACID, sown=sown, seeds=400, samples=4, sample_sd=0.02))
    start = ndtr(ACID.ki)
    p85 = (ACID.ki - ndtri(0.85 * start)) * ACID.sigma_d
    assert _one(found, "half_viability_period").value == pytest.approx(900.0, rel=0.06)
    assert _one(found, "p85").value == pytest.approx(p85, rel=0.06)
    assert _one(found, "ki").value == pytest.approx(ACID.ki, abs=0.1)
    assert _one(found, "sigma").value == pytest.approx(600.0, rel=0.06)
    for e in _of(found, "predicted_viability"):
        days = np.array([e.at * 365.25 / 12])
        assert e.value == pytest.approx(alive_after(ACID, days)[0], abs=0.03)
    assert {e.status for e in found.estimates} == {"estimated"}
    assert {_one(found, q).unit for q in TIMES} == {"d"}


def test_the_months_are_those_of_the_settings():
    found = _fit(_tables(), Settings(study=".", storage_months=(6, 18)))
    assert [(e.at, e.at_unit) for e in _of(found, "predicted_viability")] == [
        (6.0, "months"),
        (18.0, "months"),
    ]


def test_treated_seed_is_held_against_untreated():
    found = _fit(_tables(INTACT, ACID, seeds=4000, sample_sd=0.0))
    ratio = _one(found, "half_viability_ratio")
    assert (ratio.versus, ratio.status, ratio.unit) == ("intact", "estimated", "ratio")
    assert ratio.value == pytest.approx(900 / (1.7 * 650), rel=0.03)
    assert ratio.low < ratio.value < ratio.high
    # treated seed, of which the page asks, stands first
    assert [s.treatment for s in found.drawing.stores] == ["acid", "intact"]


def test_untreated_seed_that_has_not_fallen_yet_sets_one_limit_of_the_ratio():
    hard = replace(INTACT, sigma_d=1e6)
    found = _fit(_tables(hard, ACID, seeds=100))
    ratio, treated = _one(found, "half_viability_ratio"), _one(found, "half_viability_period")
    plain = _one(found, "half_viability_period", "intact")
    assert (ratio.status, ratio.low) == ("bracketed", None)
    assert ratio.high == pytest.approx(treated.high / plain.low)
    assert "intact: No loss was seen yet" in ratio.needs


def test_seeds_tested_before_storage_begin_every_store_of_the_lot():
    cold = _samples({180: (48, 47), 360: (44, 45)}, stored_at_c=5.0)["viability"]
    warm = _samples({180: (40, 41), 360: (20, 22)}, stored_at_c=25.0)["viability"]
    start = _samples({0: (49, 48)})["viability"]
    tables = {"viability": {k: np.concatenate([t[k] for t in (start, cold, warm)]) for k in start}}
    stores = _fit(tables).drawing.stores
    assert [s.condition for s in stores] == [
        "tetrazolium, stored at 5 °C",
        "tetrazolium, stored at 25 °C",
    ]
    assert [len(s.units) for s in stores] == [6, 6]


# named outcomes


def test_a_viability_that_has_not_fallen_yet_sets_a_lower_limit():
    tables = _samples({0: (49, 48, 49), 180: (48, 49, 49), 365: (49, 48, 48)})
    found = _fit(tables)
    half = _one(found, "half_viability_period")
    assert _told(found).outcome == "no_fall"
    assert (half.status, half.high) == ("bracketed", None)
    assert 365 < half.low <= 730
    assert half.needs.startswith("No loss was seen yet: within 12 months")
    assert "No loss was seen yet" in _text(tables)


def test_a_fall_that_few_uneven_samples_show_is_told_to_be_unsure():
    tables = _samples({0: (189, 198), 365: (184, 190), 730: (128, 154)}, 200)
    found = _fit(tables)
    half = _one(found, "half_viability_period")
    assert _told(found).outcome == "unsure"
    assert (half.status, half.high) == ("bracketed", None)
    assert half.needs.startswith("The seeds seem to die")
    assert "No loss was seen" not in _text(tables)


def test_an_upper_limit_far_beyond_the_tests_is_none():
    found = _fit(_samples({0: (48, 49), 365: (46, 47), 730: (32, 38)}))
    half = _one(found, "half_viability_period")
    assert (half.status, half.high) == ("bracketed", None)
    assert half.needs.startswith("The seeds seem to die")


def test_seeds_all_dead_at_the_first_test_died_before_it():
    found = _fit(_samples({180: (0, 0), 365: (0, 0)}))
    half = _one(found, "half_viability_period")
    assert _told(found).outcome == "all_dead"
    assert (half.status, half.low, half.high) == ("bracketed", 0.0, 180.0)
    assert "All seeds were dead at the first test, after 5.9 months" in half.needs
    assert "Test earlier" in half.needs


def test_seeds_dead_before_storage_have_no_half_viability_period():
    tables = _samples({0: (0, 0), 365: (0, 0)})
    half = _one(_fit(tables), "half_viability_period")
    assert half.status == "not_identified"
    assert "dead before they were stored" in half.needs
    assert "dead before they were stored" in _text(tables)


@pytest.mark.parametrize(
    ("alive", "low", "high"),
    [((45, 46), 365.0, None), ((8, 5), 0.0, 365.0), ((25, 26), None, None)],
)
def test_a_single_storage_time_says_on_which_side_half_lies(alive, low, high):
    tables = _samples({365: alive})
    found = _fit(tables)
    half = _one(found, "half_viability_period")
    assert _told(found).outcome == "single_time"
    assert (half.low, half.high) == (low, high)
    assert "one storage time alone, 12 months" in half.needs
    assert _one(found, "viability").status == "estimated"
    assert _one(found, "ki").status == "not_identified"
    assert "one storage time alone" in _text(tables)


def test_one_dish_at_each_time_shows_its_spread_by_its_distance_from_the_curve():
    even, uneven = (
        _samples({d: (n,) for d, n in zip((0, 180, 365, 545, 730), alive, strict=True)})
        for alive in ((47, 43, 37, 28, 19), (44, 48, 30, 35, 14))
    )
    assert _one(_fit(even), "half_viability_period").status == "estimated"
    start, wide = (_one(_fit(t), "ki") for t in (even, uneven))
    assert wide.high - wide.low > 1.5 * (start.high - start.low)
    assert "One dish or sample at each time" in _text(even)


def test_two_dishes_in_all_have_an_assumed_spread():
    tables = _samples({0: (480,), 730: (200,)}, seeds=500.0)
    half = _one(_fit(tables), "half_viability_period")
    assert "dish spread assumed, correlation 0.05" in half.method
    none = Settings(study=".", dish_correlation_when_unknown=0.0)
    sure = _one(_fit(tables, none), "half_viability_period")
    assert half.high - half.low > 2 * (sure.high - sure.low)
    assert "assume a dish correlation from the settings" in _text(tables)


def test_a_viability_that_rises_is_told_to_be_impossible():
    tables = _samples({0: (20, 22, 21), 365: (35, 36, 34), 730: (46, 45, 47)})
    found = _fit(tables)
    assert _told(found).outcome == "rising"
    for quantity in TIMES:
        assert _one(found, quantity).status == "not_identified"
    assert {e.status for e in _of(found, "predicted_viability")} == {"not_identified"}
    assert "More seeds were alive late than early" in _text(tables)


def test_a_lot_of_which_less_than_half_was_alive_keeps_its_p85():
    found = _fit(_samples({0: (20, 18, 19), 365: (10, 9, 11), 730: (3, 2, 4)}))
    half, p85 = _one(found, "half_viability_period"), _one(found, "p85")
    assert half.status == "not_identified"
    assert half.needs.startswith("Less than half of the seeds were alive before storage")
    assert p85.status == "estimated"


def test_seeds_of_which_a_part_never_dies_do_not_follow_the_curve():
    # within half a year 60 % die, and the others live on
    shares = {0: 0.95, 91: 0.6, 182: 0.37, 365: 0.36, 547: 0.35, 730: 0.34}
    tables = _samples({d: [round(200 * s) + k for k in (-3, 0, 3)] for d, s in shares.items()}, 200)
    found = _fit(tables)
    half = _one(found, "half_viability_period")
    assert _told(found).outcome == "bent"
    # without the curve: surely more than half are alive at 91 days, surely less at 182
    assert (half.status, half.low, half.high) == ("bracketed", 91.0, 182.0)
    assert _told(found).curve == ()
    assert "The seeds do not die as a probit says" in _text(tables)


def _lognormal(seed, samples=4, seeds=50):
    rng = np.random.default_rng(seed)
    shares = {0: 1.0} | {d: ndtr(-np.log(d / 900) / 0.667) for d in (91, 182, 365, 547, 730)}
    return _samples({d: rng.binomial(seeds, s, size=samples) for d, s in shares.items()}, seeds)


def test_shares_that_bend_away_without_proof_are_said_to_beside_the_figure():
    told = [_told(_fit(_lognormal(seed))) for seed in range(12)]
    doubtful = [s.outcome != "bent" and s.shape.doubtful for s in told]
    assert {s.outcome for s in told} == {"bent", "estimated"}
    assert sum(doubtful) + sum(s.outcome == "bent" for s in told) >= 8
    seed = doubtful.index(True)
    text = _text(_lognormal(seed))
    assert "The shares bend away from the curve (p = 0." in text
    assert "the fall seems to slow down, and the half-viability period may lie later" in text


def test_the_page_says_what_the_tests_of_the_curve_can_tell():
    text = _text(_tables(seed=1))
    assert "Everything here takes the ages at which seeds die to be normal." in text
    assert "does not show it to be right" in text
    assert "The shares bend away" not in text
    two = _text(_samples({0: (480, 470), 730: (200, 210)}, seeds=500.0))
    assert "Two storage times lie on any curve" in two
    assert _told(_fit(_samples({0: (480, 470), 730: (200, 210)}, seeds=500.0))).shape is None


def _sown(late, looks=(240.0, 504.0)):
    """Return dishes of 50 of which `late` germinate between the last two looks, and the rest before or never."""
    dishes, counts, outcomes = [], [], []
    for days, alive in ((0.0, 46), (365.0, 38), (730.0, 24)):
        for i in range(3):
            name = f"d{days:g}{i}"
            row = {"dish": name, "lot": "first", "treatment": "acid", "seeds": 50.0}
            dishes.append(row | {"temperature_c": 25.0, "stored_d": days})
            found = [alive - late, late] if len(looks) == 2 else [alive]
            counts += [
                {"dish": name, "elapsed_h": h, "germinated": float(n)}
                for h, n in zip(looks, found, strict=True)
            ]
            outcomes.append({"dish": name, "outcome": "dead", "seeds": 50.0 - alive})
    rows = {"dishes": dishes, "counts": counts, "outcomes": outcomes}
    return {name: as_table(name, found) for name, found in rows.items()}


def test_tests_that_ended_while_seeds_still_germinated_are_told():
    assert _told(_fit(_sown(late=5))).going_on == pytest.approx(0.1)
    text = _text(_sown(late=5))
    assert "Germination was still going on when the tests ended" in text
    assert "let the tests run until no seed germinates between two looks" in text
    assert _told(_fit(_sown(late=1))).going_on == 0
    # one look alone does not tell when they germinated
    assert _told(_fit(_sown(late=5, looks=(504.0,)))).going_on == 0
    # what is left was shown alive: nothing was taken for dead
    cut = _sown(late=5)
    ends = cut["outcomes"] | {"outcome": np.full(9, "fresh"), "alive": cut["outcomes"]["seeds"]}
    assert _told(_fit(cut | {"outcomes": ends})).going_on == 0
    assert "still going on" not in _text(_sown(late=1))


# how far beyond the tests


def test_a_half_viability_period_beyond_the_tests_says_how_far():
    tables = _tables(ACID, days=(0.0, 182.0, 365.0, 547.0), seeds=200, sample_sd=0.02)
    found = _fit(tables)
    half = _one(found, "half_viability_period")
    assert half.status == "estimated"
    assert _told(found).reach == pytest.approx(half.value / 547)
    text = _text(tables)
    assert "That reaches beyond the data: the last test came after 18 months" in text
    assert "later than the last test" in text


def test_nothing_is_claimed_beyond_twice_the_tests():
    found = _fit(_tables(ACID, days=(0.0, 91.0, 182.0), seeds=800, sample_sd=0.02))
    half = _one(found, "half_viability_period")
    assert (half.status, half.high) == ("bracketed", None)
    assert half.low <= 364
    assert "further off than 2 times the 6 months" in half.needs
    far = _of(found, "predicted_viability")[-1]
    last = _of(found, "viability")[-1]
    assert (far.status, far.low) == ("bracketed", None)
    assert last.low < far.high < last.high


# seeds of which nobody knows, and rows that tell nothing


def test_seeds_that_nobody_looked_at_widen_the_interval_and_many_leave_no_value():
    tables = _tables(ACID, sown=True, seeds=100, fresh=0.03)
    unknown = _changed(tables, "outcomes", alive=np.full_like(tables["outcomes"]["alive"], np.nan))
    known, some = (_one(_fit(t), "half_viability_period") for t in (tables, unknown))
    assert some.status == "estimated"
    assert some.low < known.low
    assert some.high > known.high
    many = _tables(ACID, sown=True, seeds=100, fresh=0.3, cut=0.0)
    half = _one(_fit(many), "half_viability_period")
    assert half.value is None
    assert "Cut or stain the hard and fresh seeds" in half.needs
    assert half.low < 900
    # neither curve nor crops, which would stand on the seeds shown alive alone
    store = _told(_fit(many))
    assert (store.curve, store.reference.crops, store.sow_within) == ((), (), "")


def test_hard_seed_that_nobody_opened_tells_nothing():
    rows = [
        {"dish": f"d{d:g}{i}", "lot": "first", "treatment": "intact", "stored_d": d, "seeds": 50.0}
        for d in (0.0, 365.0, 730.0)
        for i in range(3)
    ]
    dishes = as_table("dishes", [row | {"temperature_c": 25.0} for row in rows])
    ends = [{"dish": r["dish"], "outcome": "hard", "seeds": 46.0} for r in rows]
    ends += [{"dish": r["dish"], "outcome": "dead", "seeds": 2.0} for r in rows]
    counts = [{"dish": r["dish"], "elapsed_h": 504.0, "germinated": 2.0} for r in rows]
    found = _fit(
        {
            "dishes": dishes,
            "outcomes": as_table("outcomes", ends),
            "counts": as_table("counts", counts),
        }
    )
    half = _one(found, "half_viability_period", "intact")
    assert half.status == "not_identified"
    assert "nobody knows that of 92 % of the seeds" in half.needs


def test_rows_that_tell_nothing_are_left_out_and_counted():
    tables = _tables(ACID, sown=True)
    days = tables["dishes"]["stored_d"].copy()
    days[0] = np.nan
    empty = tables["dishes"]["dish"][-1]
    kept = tables["outcomes"]["dish"] != empty
    outcomes = {name: values[kept] for name, values in tables["outcomes"].items()}
    looks = tables["counts"]["dish"] != empty
    counts = {name: values[looks] for name, values in tables["counts"].items()}
    unseen = {**tables, "outcomes": outcomes, "counts": counts}
    store = _told(_fit(_changed(unseen, "dishes", stored_d=days)))
    assert (store.undated, store.unassessed, len(store.units)) == (1, 1, 22)


def test_a_dish_whose_leftovers_nobody_scored_may_hold_living_or_dead_ones():
    """It was left out, so that dishes in which nothing was left stood for all of their storage time."""
    tables = _tables(ACID, sown=True)
    unscored = tables["outcomes"]["dish"] == tables["dishes"]["dish"][-1]
    outcomes = {name: values[~unscored] for name, values in tables["outcomes"].items()}
    store = _told(_fit({**tables, "outcomes": outcomes}))
    assert store.unassessed == 0
    assert store.unknown_share == pytest.approx(
        tables["outcomes"]["seeds"][unscored].sum() / tables["dishes"]["seeds"].sum()
    )


def test_without_days_nothing_is_told():
    tables = _samples({0: (40, 41)})
    found = _fit(_changed(tables, "viability", stored_d=np.full(2, np.nan)))
    assert _told(found).outcome == "not_assessed"
    assert "Enter stored_d" in _one(found, "half_viability_period").needs


def _changed(tables, name, **columns):
    return {**tables, name: {**tables[name], **columns}}


# crops


def test_crops_have_one_start_in_chart_table_and_numbers():
    tables = _tables(INTACT, ACID, seeds=400)
    tables["viability"] |= {
        "stored_at_c": np.full(len(tables["viability"]["lot"]), 15.0),
        "stored_moisture_pct": np.full(len(tables["viability"]["lot"]), 9.0),
    }
    found = _fit(tables)
    acid, intact = found.drawing.stores
    (figure,) = analyses.chart("storage").figures(found.drawing, found.estimates)
    assert "with the same start as acid, in the same store" in figure.caption
    assert "What crops with the same start as acid" in _text(tables)
    onion = [r for r in figure.rows if r["treatment"] == "onion"]
    assert onion[0]["expected"] == pytest.approx(100 * acid.reference.crops[1].share[0], abs=0.06)
    assert onion[0]["expected"] != pytest.approx(100 * intact.reference.crops[1].share[0], abs=0.06)


def test_seed_of_which_no_loss_was_seen_has_no_last_day_to_sow():
    hard = replace(INTACT, sigma_d=1e6)
    told = _text(_tables(hard, ACID, seeds=100)).replace("\N{NO-BREAK SPACE}", " ")
    assert "acid: sow within" in told
    assert "intact: No loss was seen yet" in told
    assert "intact: sow within" not in told
    home = _headline(_tables(hard, ACID, seeds=100)).replace("\N{NO-BREAK SPACE}", " ")
    assert re.search(
        r"In store, acid: half of the seeds are dead after about [\d.]+ months \(", home
    )
    assert "intact: no loss was seen in 24 months" in home
    assert "intact: if its coats are closed, open them before sowing" in told


def test_crops_are_drawn_where_the_equation_holds():
    reference = _told(_fit(_tables())).reference
    assert [c.crop for c in reference.crops] == ["barley", "onion", "soybean"]
    barley = reference.crops[0]
    # by hand: 10^(9.983 − 5.896·log10 9 − 0.040·15 − 0.000428·15²) = 10^3.660509
    assert barley.sigma == pytest.approx(4576.2, abs=0.5)
    assert barley.source == "Ellis and Roberts 1980"
    keys = {s.key for s in analyses.describe("storage").sources}
    assert {c.source for c in reference.crops} <= keys
    text = _text(_tables())
    assert "Seeds that stay dry and hard behind a closed coat are outside it" in text
    for crop in reference.crops:
        assert crop.source in text
    assert "from −20 to 90 °C; check that, and the constants, against your copy." in text


@pytest.mark.parametrize("moisture", [3.0, 40.0])
def test_no_crops_outside_the_equation(moisture):
    tables = _tables(moisture_pct=moisture)
    reference = _told(_fit(tables)).reference
    assert (reference.given, reference.holds, reference.crops) == (True, False, ())
    assert "No lines of crops" in _text(tables)


def test_without_moisture_the_page_asks_for_it():
    tables = _tables(moisture_pct=np.nan)
    assert not _told(_fit(tables)).reference.given
    assert "Enter stored_at_c and stored_moisture_pct" in _text(tables)


def test_its_figure_says_what_it_found():
    made = _figures(_result("storage", _tables(INTACT, ACID), SETTINGS))
    (figure,) = made
    assert "acid: half are dead after" in figure.caption
    assert "broken beyond the last test" in figure.caption
    crops = {"barley", "onion", "soybean"}
    assert {row["treatment"] for row in figure.rows} == {"acid", "intact"} | crops

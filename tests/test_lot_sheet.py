"""The sheet of a lot: thousand-seed mass, moisture on both bases, and what is tolerated between replicates."""

import re

import numpy as np
import pytest
from scipy.stats import chi2, t

from hilum.analyses.simulated import as_table
from hilum.diagnosis import lot_sheet
from hilum.diagnosis.references import treatments
from hilum.report import lot_sheet as told
from hilum.stats import moisture, thousand_seed
from hilum.tables import moisture as tables_moisture
from tests import raw

# mg: eight replicates of 100 seeds
EIGHT = np.array([18050, 17980, 18210, 18100, 17890, 18020, 18160, 18040.0])
DONE = treatments(
    as_table(
        "treatments",
        [
            {"treatment": "intact", "step": 1.0, "method": "none"},
            {"treatment": "chipped", "step": 1.0, "method": "chipping"},
        ],
    )
)


def _weighings(masses, seeds=100.0, treatment="intact", hours=0.0, lot="bag"):
    about = {"lot": lot, "treatment": treatment, "soaked_h": hours, "seeds": seeds}
    rows = [about | {"seed": f"{treatment}{i}", "mass_mg": m} for i, m in enumerate(masses)]
    return as_table("weighings", rows)


def _dried(*pairs, lot="bag"):
    rows = [
        {
            "lot": lot,
            "sample": str(i),
            "container_g": 10.0,
            "before_g": 15.0,
            "after_g": 15 - 5 * wet / 100,
        }
        for i, wet in enumerate(pairs)
    ]
    return as_table("moisture", rows)


def _sheet(weighings=(), dried=None, given=np.nan):
    lots = as_table("lots", [{"lot": "bag", "taxon": "Fabula", "moisture_pct": given}])
    found = lot_sheet.sheets(lots, weighings, DONE, dried, confidence=0.95)["bag"]
    sheets = told.Sheets(found.estimates, {"bag": found.facts})
    return {e.quantity: e for e in found.estimates}, sheets


def _words(sheets, groups=()):
    made = sheets.of_lot("bag", groups)
    said = " ".join(map(str, [made["table"], *made["agreement"]]))
    text = re.sub("<[^>]+>", " ", said).replace("\N{NO-BREAK SPACE}", " ")
    return " ".join(text.replace("&#46;", ".").split()), made


# --- the mathematics


def test_replicates_of_one_size_have_the_mean_with_its_ordinary_interval():
    found = thousand_seed.thousand_seed_mass(EIGHT, np.full(8, 100.0), confidence=0.95)
    assert found.mass_g == pytest.approx(EIGHT.mean() / 100)
    half = t.ppf(0.975, 7) * EIGHT.std(ddof=1) / np.sqrt(8) / 100
    assert (found.high_g - found.mass_g, found.mass_g - found.low_g) == pytest.approx((half, half))
    assert found.cv_pct == pytest.approx(100 * EIGHT.std(ddof=1) / EIGHT.mean())
    limits = found.cv_pct * np.sqrt(7 / chi2.ppf([0.975, 0.025], 7))
    assert (found.cv_low_pct, found.cv_high_pct) == pytest.approx(tuple(limits))


def test_replicates_of_several_sizes_are_taken_together_by_their_seeds():
    found = thousand_seed.thousand_seed_mass([200, 330, 410], [10, 15, 20], confidence=0.95)
    # (200 + 330 + 410)/45 mg a seed is as many g a thousand
    assert found.mass_g == pytest.approx(940 / 45)
    assert found.low_g < found.mass_g < found.high_g


def test_one_replicate_has_no_limits():
    found = thousand_seed.thousand_seed_mass([1810.0], [10.0], confidence=0.95)
    assert found.mass_g == 181
    assert np.isnan([found.low_g, found.high_g, found.cv_pct]).all()


def test_the_interval_of_the_mass_holds_it():
    rng, held, spread = np.random.default_rng(1), 0, 0
    for _ in range(1000):
        seeds = np.array([100.0, 100, 100, 50, 50, 120])
        mass = 180 * seeds + 18 * np.sqrt(seeds) * rng.normal(size=6)
        found = thousand_seed.thousand_seed_mass(mass, seeds, confidence=0.95)
        held += found.low_g <= 180 <= found.high_g
        single = thousand_seed.thousand_seed_mass(
            180 * (1 + 0.1 * rng.normal(size=20)), np.ones(20), confidence=0.95
        )
        spread += single.cv_low_pct <= 10 <= single.cv_high_pct
    assert 0.93 <= held / 1000 <= 0.985
    assert 0.93 <= spread / 1000 <= 0.97


def test_the_rules_speak_of_eight_replicates_of_a_hundred():
    # 4.0 %: International Rules for Seed Testing, chapter 10, from memory
    assert thousand_seed.tolerated_cv(8, 100) == 4.0
    assert np.isnan([thousand_seed.tolerated_cv(7, 100), thousand_seed.tolerated_cv(20, 1)]).all()


def test_the_mean_of_two_determinations_has_wide_limits():
    mean, low, high = moisture.mean_of([8.4, 8.5], confidence=0.95)
    # t of one degree of freedom is tan(0.475·π) = 12.706
    assert (mean, high - mean) == pytest.approx((8.45, 12.7062 * 0.05), abs=1e-4)
    assert low == pytest.approx(2 * mean - high)
    assert np.isnan(moisture.mean_of([8.4], confidence=0.95)[1])


# --- from the tables to the sheet


def test_eight_replicates_are_held_against_the_tolerance():
    own, sheets = _sheet([_weighings(EIGHT)])
    assert own["thousand_seed_mass"].value == pytest.approx(180.5625)
    text, made = _words(sheets)
    says = "The replicates of the seed mass {}: their coefficient of variation lies {} the 4 % tolerated."
    assert says.format("agree", "within") in text
    assert made["remarks"] == []
    _, wild = _sheet([_weighings(EIGHT * np.linspace(0.9, 1.1, 8))])
    text, made = _words(wild)
    assert says.format("disagree", "beyond") in text
    assert "weigh eight more" in made["remarks"][0]


def test_only_untreated_seeds_that_are_dry_tell_of_the_lot():
    tables = [
        _weighings([180.0, 182.0], 1.0),
        _weighings([150.0, 151.0, 152.0], 1.0, "chipped"),
        _weighings([300.0, 310.0, 320.0], 1.0, hours=24.0),
        _weighings([90.0, 91.0], 1.0, lot="other"),
    ]
    own, sheets = _sheet(tables)
    assert own["thousand_seed_mass"].value == pytest.approx(181)
    assert "2 seeds, one by one" in _words(sheets)[0]
    own, _ = _sheet(tables[1:])
    assert own["thousand_seed_mass"].needs == lot_sheet.NOT_WEIGHED


def test_the_size_in_which_most_seeds_were_weighed_counts():
    own, sheets = _sheet([_weighings(EIGHT), _weighings([150.0] * 30, 1.0)])
    assert own["thousand_seed_mass"].value == pytest.approx(180.5625)
    assert "8 × 100 seeds" in _words(sheets)[0]


def test_one_weighing_and_one_determination_say_what_is_missing():
    own, sheets = _sheet([_weighings([1800.0], 10.0)], _dried(8.4))
    assert own["thousand_seed_mass"].needs == lot_sheet.WEIGHED_ONCE
    assert own["moisture_wet"].needs == lot_sheet.DRIED_ONCE
    assert sheets.of_lot("bag", []) is None


def test_duplicates_agree_or_are_to_be_repeated():
    own, sheets = _sheet(dried=_dried(8.4, 8.55))
    # 8.475 g of water on 91.525 g of dry matter, nearly: the mean of both quotients
    assert own["moisture_dry"].value == pytest.approx((8.4 / 91.6 + 8.55 / 91.45) * 50)
    text, made = _words(sheets)
    says = "The moisture determinations {}: they differ by {} points, and up to 0.2 are tolerated."
    assert says.format("agree", "0.15") in text
    assert made["remarks"] == []
    text, made = _words(_sheet(dried=_dried(8.4, 8.7))[1])
    assert says.format("disagree", "0.30") in text
    assert "repeat them" in made["remarks"][0]


def test_a_moisture_that_was_typed_is_shown_on_both_bases():
    text, _ = _words(_sheet(given=8.4)[1])
    # 8.4/91.6 of the dry matter
    assert "moisture, wet basis 8.4 % lots.csv, as typed" in text
    assert "moisture, dry basis 9.17 % lots.csv" in text


def test_a_lot_of_which_nothing_is_known_has_no_sheet():
    assert _sheet()[1].of_lot("bag", []) is None


# --- moisture.csv


def test_a_moisture_that_was_typed_is_held_against_the_one_determined():
    assert "typed" not in _words(_sheet(dried=_dried(8.4, 8.5), given=8.3)[1])[0]
    assert _words(_sheet(dried=_dried(8.4, 8.5), given=8.3)[1])[1]["remarks"] == []
    (told,) = _words(_sheet(dried=_dried(8.4, 8.5), given=9.5)[1])[1]["remarks"]
    told = told.replace("\N{NO-BREAK SPACE}", " ")
    assert "lots.csv says 9.5 % moisture, drying says 8.45 %" in told
    assert "than the 0.2 % tolerated" in told
    assert "the sheet goes by the drying" in told


@pytest.mark.parametrize(
    ("typed", "told"), [("9.5", 1), ("10.1", 0), ("", 0), ("10.3", 1), ("10.2", 0)]
)
def test_the_check_remarks_on_a_moisture_typed_that_drying_contradicts(tmp_path, typed, told):
    # 1 of 10 g: 10 %
    dried = "lot,sample,container_g,before_g,after_g\nA,1,10,20,19\nA,2,10,20,19\n"
    lots = f"lot,taxon,moisture_pct\nA,Strandia ficta,{typed}\nlot #3,Strandia ficta,\n"
    study = raw.write(tmp_path, {"moisture.csv": dried, "lots.csv": lots})
    assert raw.run(study) == []
    found = [line for line in raw.notes(study) if "moisture" in line]
    assert len(found) == told
    if told:
        assert found[0].startswith(f"lots.csv, line 2: moisture_pct of lot A is {typed} %, but")
        assert "says 10.00 %, further apart than the 0.2 points tolerated" in found[0]


def test_check_and_sheet_tolerate_as_much():
    assert tables_moisture.APART_PCT == moisture.DUPLICATES_PCT


def test_masses_out_of_order_are_refused(tmp_path):
    text = "lot,sample,container_g,before_g,after_g\nA,1,10,15,9.9\nA,2,10,15,15.2\nA,3,10,15,14.5\nA,3,10,15,14\nB,1,10,15,14\n"
    found = raw.faults(tmp_path, {"moisture.csv": text})
    assert found[:2] == [
        "moisture.csv, line 2: after_g is 9.9, but the container alone weighs 10 g.",
        "moisture.csv, line 3: after_g is 15.2, more than the 15 g before drying.",
    ]
    assert "line 5: sample is 3, which line 4 has already for the same lot" in found[2]
    assert found[3] == "moisture.csv, line 6: lot is B, which lots.csv does not list."

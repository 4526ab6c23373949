"""Imbibition from the tables to the page: truths found again, and a sentence for every named outcome."""

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from hilum.analyses import imbibition
from hilum.analyses.imbibition import chart, model, weighed
from hilum.analyses.imbibition.truth import TrueCoats
from hilum.analyses.naming import Naming
from hilum.report import pages

SETTINGS = SimpleNamespace(confidence=0.95, dish_correlation_when_unknown=0.05)
INTACT = TrueCoats(impermeable=0.8, late=0.1)
CHIPPED = TrueCoats(treatment="chipped", method="chipping", impermeable=0.02, late=0.0)
ACID = TrueCoats(treatment="acid", method="acid", impermeable=0.8, late=0.1)


def _fit(tables, seed=1):
    return model.fit(tables, settings=SETTINGS, rng=np.random.default_rng(seed))


def _simulated(*coats, seed=1, **truth):
    made = replace(model.TRUTH, coats=coats or model.TRUTH.coats, **truth)
    return model.simulate(made, rng=np.random.default_rng(seed))


def _page(found):
    """Return every sentence of the page in the order of its macros, as a reader sees it."""
    figures = {figure.name: "" for figure in chart.figures(found.drawing, found.estimates)}
    module = (
        pages.environment()
        .get_template("imbibition/page.md.jinja")
        .make_module(
            {
                "estimates": found.estimates,
                "drawing": found.drawing,
                "figures": figures,
                "experiment": {},
                "seeds": Naming(found.estimates),
                "rows": found.rows,
            }
        )
    )
    parts = (getattr(module, name)() for name in ("answer", "limits", "next_step", "details"))
    text = " ".join(str(part) for part in parts).replace("\N{NO-BREAK SPACE}", " ")
    return " ".join(text.replace("&#46;", ".").replace("&#45;", "-").split())


def _estimate(found, quantity, treatment="intact"):
    return next(e for e in found.estimates if (e.quantity, e.treatment) == (quantity, treatment))


def _group(found, treatment="intact"):
    return next(g for g in found.drawing.groups if g.treatment == treatment)


def _bulk(**gains):
    """Return weighings of 25 seeds together at 0, 24 and 48 h, three times for each treatment."""
    rows = [
        {
            "seed": f"{name}-{bulk}",
            "treatment": name,
            "soaked_h": hour,
            "mass_mg": 5000.0 * (1 + add),
        }
        for name, gain in gains.items()
        for bulk in range(3)
        for hour, add in ((0.0, 0.0), (24.0, 0.9 * gain), (48.0, gain + 0.01 * bulk * (gain > 0)))
    ]
    weighings = {name: np.array([row[name] for row in rows]) for name in rows[0]}
    n = len(rows)
    weighings |= {"lot": np.full(n, "first"), "batch": np.full(n, ""), "seeds": np.full(n, 25.0)}
    weighings |= {"floats": np.full(n, np.nan), "radicle": np.full(n, np.nan)}
    methods = {"intact": "none", "chipped": "chipping"}
    treatments = {
        "treatment": np.array(list(gains)),
        "method": np.array([methods.get(name, "acid") for name in gains]),
    }
    return {"weighings": weighings, "treatments": treatments}


# --- the truth is found again


def test_fit_finds_what_simulate_put_in():
    truth, covered = model.TRUTH, []
    for seed in range(8):
        found = _fit(model.simulate(truth, rng=np.random.default_rng(seed)))
        for coats in truth.coats:
            true = {
                "impermeable_fraction": coats.impermeable,
                "half_time": truth.half_time_h,
                "plateau_uptake": 100 * truth.plateau,
                "initial_rate": 100 * np.log(2) * truth.plateau / truth.half_time_h,
            }
            for quantity, value in true.items():
                e = _estimate(found, quantity, coats.treatment)
                if e.status == "estimated":
                    covered.append(e.low <= value <= e.high)
    assert len(covered) > 60
    assert np.mean(covered) >= 0.93 - 2 * np.sqrt(0.93 * 0.07 / len(covered))


def test_a_lag_and_a_peleg_curve_are_found():
    coats = replace(CHIPPED, lag_h=3.0)
    found = _fit(_simulated(coats, shape="peleg", half_time_h=10.0, seed=3))
    assert found.drawing.curve.name == "Peleg with a lag"
    half = _estimate(found, "half_time", "chipped")
    assert half.low <= 13.0 <= half.high


def test_the_same_generator_gives_the_same_numbers():
    tables = _simulated()
    assert _fit(tables, seed=4) == _fit(tables, seed=4)


def test_a_call_for_each_seed():
    tables = _simulated()
    rows = _fit(tables).rows["seeds"]
    assert list(rows[0]) == [
        "seed",
        "lot",
        "treatment",
        "p_impermeable",
        "call",
        "onset_h",
        "onset_low_h",
        "onset_high_h",
        "uptake_pct",
    ]
    assert len(rows) == 75
    for row in rows:
        assert (row["call"] == "impermeable") == (row["p_impermeable"] >= 0.95)
        assert (row["call"] == "imbibed") == (row["p_impermeable"] <= 0.05)
        assert (row["onset_h"] is None) == (row["p_impermeable"] >= 0.5)
    told = {row["p_impermeable"] for row in rows}
    assert 0.0 in told
    assert min(told - {0.0}) >= 1e-6


def test_it_can_be_drawn():
    found = _fit(_simulated(INTACT, CHIPPED, ACID))
    figures = chart.figures(found.drawing, found.estimates)
    assert [figure.name for figure in figures] == ["uptake-1", "calls"]
    assert all("config" in f.spec and f.caption and f.description and f.rows for f in figures)


# --- named outcomes, each with its sentence


def test_physical_dormancy_is_named_when_intact_seeds_stay_dry_and_opened_ones_do_not():
    page = _page(_fit(_simulated(INTACT, CHIPPED)))
    assert "opened seeds take it up (chipped): physical dormancy." in page
    assert "Germinate opened seeds (chipped) beside intact ones." in page


def test_a_treatment_that_opened_nothing_is_told():
    page = _page(_fit(_simulated(INTACT, ACID)))
    assert "no treatment was shown to let more of it in" in page
    assert "acid was too weak" in page
    page = _page(_fit(_simulated(INTACT, CHIPPED, ACID)))
    assert "acid did not surely open coats" in page


def test_without_opened_seeds_dormancy_is_untested():
    page = _page(_fit(_simulated(INTACT)))
    assert "no opened seeds of this lot were weighed" in page
    assert "physical dormancy" not in page


def test_without_intact_seeds_nothing_is_said_of_what_treatments_did():
    page = _page(_fit(_simulated(CHIPPED, ACID)))
    assert "No intact seeds of this lot were weighed" in page


def test_nothing_imbibed():
    found = _fit(_simulated(replace(INTACT, impermeable=1.0)))
    assert _group(found).outcome == "nothing_imbibed"
    e = _estimate(found, "impermeable_fraction")
    # 25 of 25: the mid-P limit is where all of them have a chance of 5 %
    assert (e.low, e.high) == (pytest.approx(0.05 ** (1 / 25), abs=1e-3), 1.0)
    assert "no seed took up water through 72 h" in _page(found)
    assert _estimate(found, "half_time").needs == "no seed took up water."


def test_everything_imbibed():
    found = _fit(_simulated(replace(INTACT, impermeable=0.0, late=0.0)))
    assert _group(found).outcome == "everything_imbibed"
    e = _estimate(found, "impermeable_fraction")
    assert (e.low, e.high) == (0.0, pytest.approx(1 - 0.05 ** (1 / 25), abs=1e-3))
    page = _page(found)
    assert "every seed took up water" in page
    assert "The coat is not what keeps them from germinating." in page


def test_two_weighings_only():
    found = _fit(_simulated(INTACT, CHIPPED, hours=(0.0, 72.0)))
    assert _estimate(found, "impermeable_fraction").status == "estimated"
    needs = _estimate(found, "half_time", "chipped").needs
    assert needs.startswith("one weighing after soaking shows that water got in, but not how fast")
    assert "Weighed only once after soaking: intact; chipped." in _page(found)


def test_a_single_dry_weighing():
    found = _fit(_simulated(INTACT, CHIPPED, hours=(0.0,)))
    assert {e.status for e in found.estimates} == {"not_identified"}
    page = _page(found)
    assert "not weighed both dry and soaked, so that nothing can be told" in page
    assert "Whether water gets into the intact seeds cannot be told from these weighings." in page


def test_no_weighing_at_all():
    tables = _simulated(INTACT)
    tables["weighings"] = {name: column[:0] for name, column in tables["weighings"].items()}
    found = _fit(tables)
    assert (found.estimates, chart.figures(found.drawing, found.estimates)) == ((), [])
    assert "**" not in _page(found)


def test_one_seed():
    coats = replace(INTACT, impermeable=1.0, seeds=1), replace(CHIPPED, seeds=1)
    found = _fit(_simulated(*coats))
    e = _estimate(found, "impermeable_fraction")
    assert e.status == "estimated"
    assert e.low < 0.2
    page = _page(found)
    assert "One seed says little of a lot: intact; chipped." in page
    assert "too few were weighed to be sure" in page


def test_a_balance_too_coarse():
    found = _fit(_simulated(INTACT, mass_mg={"first": 2.0}, hours=(0.0, 72.0), seed=2))
    assert _group(found).outcome == "too_coarse"
    e = _estimate(found, "impermeable_fraction")
    assert e.status == "bracketed"
    assert "weigh to 0.1 mg" in e.needs
    seen = _estimate(found, "smallest_detectable_gain")
    assert seen.value > 100
    page = _page(found)
    assert "lean on what is usual of balances and of seeds" in page
    assert page.count("weigh to 0.1 mg") == 1
    assert "most seeds cannot be told from merely wet ones" in page
    assert "The balance is too coarse for these seeds" in page


def test_seeds_that_a_balance_mostly_tells_still_want_a_finer_one():
    found = _fit(_simulated(INTACT, mass_mg={"first": 5.0}, hours=(0.0, 72.0), seed=2))
    assert _group(found).outcome == "some_imbibed"
    page = _page(found)
    assert "lean on what is usual of balances and of seeds" in page
    assert "intact: weigh to 0.1 mg, so that the call of each seed rests on its own masses." in page
    assert "weigh to" not in _page(_fit(_simulated(INTACT, hours=(0.0, 72.0), seed=2)))


def test_a_test_too_short_brackets_the_plateau():
    found = _fit(_simulated(CHIPPED, hours=(0.0, 1.0, 2.0, 4.0)))
    e = _estimate(found, "plateau_uptake", "chipped")
    assert (e.status, e.high) == ("bracketed", None)
    assert 20 < e.low < 100
    assert "still going on at the last weighing, at 4 h: soak for longer" in e.needs


def test_a_first_weighing_too_late_leaves_the_speed_open():
    found = _fit(_simulated(CHIPPED, half_time_h=2.0, hours=(0.0, 48.0, 72.0)))
    assert (
        "uptake was nearly over at the first weighing, at 48 h"
        in _estimate(found, "half_time", "chipped").needs
    )


def test_seeds_weighed_together_beside_opened_ones():
    found = _fit(_bulk(intact=0.2, acid=0.65, chipped=1.0))
    e = _estimate(found, "impermeable_fraction")
    # gains beyond a film of 2 %: (0.21 − 0.02)/(1.01 − 0.02)
    assert e.value == pytest.approx(1 - 0.19 / 0.99)
    assert e.low < e.value < e.high
    assert _group(found, "chipped").outcome == "bulk_reference"
    page = _page(found)
    assert "by the gain of the opened seeds (chipped)" in page
    assert "opened by hand and weighed together, taken as the full gain of the lot" in page
    assert "physical dormancy" in page


def test_seeds_weighed_singly_and_together():
    """The fraction is that of single seeds; what the others show is told beside it, and no weighing is dropped."""
    alone = _fit(_simulated(INTACT, CHIPPED))
    single, bulk = _simulated(INTACT, CHIPPED), _bulk(intact=0.2, chipped=1.0)
    hours = {
        name: column[single["weighings"]["soaked_h"] <= 48]
        for name, column in single["weighings"].items()
    }
    both = {n: np.concatenate([hours[n], bulk["weighings"][n]]) for n in bulk["weighings"]}
    found = _fit(single | {"weighings": both})
    fraction = _estimate(found, "impermeable_fraction")
    assert "mixture" in fraction.method
    assert fraction.value == pytest.approx(_estimate(alone, "impermeable_fraction").value, abs=0.05)
    assert len([s for s in found.drawing.seeds if s.call == "weighed together"]) == 6
    page = _page(found)
    assert "intact: 75 more seeds were weighed together. By their gain 8" in page
    assert "The fraction above is that of the 25 seeds weighed one by one." in page
    assert (
        "chipped: 75 more seeds were weighed together. They tell no fraction of their own." in page
    )


def test_seeds_weighed_together_without_opened_ones():
    found = _fit(_bulk(intact=0.2, acid=0.65))
    assert {e.status for e in found.estimates} == {"not_identified"}
    assert "with no opened seeds to show the full gain" in _page(found)


def test_opened_seeds_that_stay_dry_are_no_reference():
    found = _fit(_bulk(intact=0.02, chipped=0.04))
    assert _group(found).outcome == "bulk_dull"
    assert "the opened seeds of the lot hardly took up water either" in _page(found)


def test_batches_are_replicates():
    """Two baths that differ widen the interval; one bath is told as what it is."""
    one = _fit(_simulated(replace(ACID, impermeable=0.5, batches=("a",))))
    several = tuple("abcde")
    many = _fit(_simulated(replace(ACID, impermeable=0.5, batches=several)))
    tables = _simulated(replace(ACID, impermeable=0.5, batches=several))
    spread = _fit(tables | {"weighings": _sorted_into_batches(tables["weighings"])})
    widths = [
        e.high - e.low
        for e in (_estimate(f, "impermeable_fraction", "acid") for f in (one, many, spread))
    ]
    assert widths[2] > 1.3 * widths[0]
    assert "the interval holds for the seeds of that batch, not for the method" in _page(one)
    assert "spread between batches" in _estimate(spread, "impermeable_fraction", "acid").method


def _sorted_into_batches(weighings):
    """Return the weighings with batches as unlike as can be: seeds of like gain share one."""
    gain = dict(zip(weighings["seed"], weighings["mass_mg"], strict=True))
    dry = dict(zip(weighings["seed"][::7], weighings["mass_mg"][::7], strict=True))
    order = sorted(gain, key=lambda s: gain[s] / dry[s])
    batch = {s: "abcde"[5 * place // len(order)] for place, s in enumerate(order)}
    return weighings | {"batch": np.array([batch[s] for s in weighings["seed"]])}


# --- what enters


def test_weighings_after_the_radicle_are_not_used():
    tables = _simulated(CHIPPED)
    grown = {name: column.copy() for name, column in tables["weighings"].items()}
    out = (grown["soaked_h"] >= 48) & (grown["seed"] == "01-003")
    grown["radicle"][out], grown["mass_mg"][out] = 1.0, 5000.0
    found = _fit(tables | {"weighings": grown})
    assert next(r for r in found.rows["seeds"] if r["seed"] == "01-003")["uptake_pct"] < 200
    plain = _estimate(_fit(tables), "plateau_uptake", "chipped")
    assert _estimate(found, "plateau_uptake", "chipped").value == pytest.approx(
        plain.value, rel=0.03
    )


@pytest.mark.parametrize(
    ("mass", "given", "step", "known"),
    [
        ([200.0, 213.0, 190.0], 0.1, 0.1, "given"),
        ([200.0, 213.0, 190.0], np.nan, 1.0, "decimals"),
        ([200.03, 213.1, 190.0], np.nan, 0.01, "decimals"),
        ([2000.0, 2130.0, 1900.0], np.nan, 10.0, "decimals"),
        ([200.0 / 3, 213.0, 190.0], np.nan, np.nan, "unknown"),
    ],
)
def test_the_step_of_the_balance(mass, given, step, known):
    table = {"balance_readability_mg": np.array([given])}
    found = weighed.step_of_balance(table, np.array(mass))
    assert found.known == known
    np.testing.assert_allclose(found.mg, step)


def test_a_balance_of_which_nothing_is_known_is_estimated_from_the_seeds():
    tables = _simulated(INTACT, CHIPPED, balance_readability_mg=1e-9)
    tables["experiment"]["balance_readability_mg"] = np.array([np.nan])
    found = _fit(tables)
    error = found.drawing.balance.error_mg
    assert error.low < 1.0 < error.high
    assert "its error was estimated from the seeds alone" in _page(found)


FALSE_DIGITS = {"mass_mg": {"first": 10.0}, "balance_readability_mg": 0.01}


def test_a_balance_that_does_not_keep_its_digits_is_told():
    tables = _simulated(INTACT, CHIPPED, **FALSE_DIGITS)
    found = _fit(tables)
    balance = found.drawing.balance
    assert balance.scatters
    assert 0.8 < balance.error_mg.value < 1.2
    scatter = r"The weighings scatter by about (0\.\d+|1\.\d*|1) mg, although "
    page = _page(found)
    assert re.search(scatter + r"the balance reads to 0\.01 mg: the scatter was used\.", page)
    tables["experiment"]["balance_readability_mg"] = np.array([np.nan])
    page = _page(_fit(tables))
    assert re.search(scatter + r"they are typed to 0\.01 mg: the scatter was used\.", page)
    assert "that was taken for it" not in page


def test_a_balance_that_keeps_its_digits_is_believed():
    for step in (1.0, 0.1):
        made = _simulated(INTACT, CHIPPED, balance_sd_mg=step, balance_readability_mg=step)
        found = _fit(made)
        assert not found.drawing.balance.scatters
        assert "scatter by" not in _page(found)


def test_seeds_too_small_for_the_scatter_want_a_balance_that_keeps_its_digits():
    small = FALSE_DIGITS | {"mass_mg": {"first": 2.5}}
    page = _page(_fit(_simulated(INTACT, hours=(0.0, 24.0, 72.0), seed=2, **small)))
    assert "weigh to 0.1 mg on a balance that keeps its digits" in page


def test_moisture_of_the_imbibed_seeds():
    tables = _simulated(CHIPPED)
    lots = {"lot": np.array(["first"]), "moisture_pct": np.array([10.0])}
    found = _fit(tables | {"lots": lots})
    (row,) = found.drawing.moisture
    plateau = _estimate(found, "plateau_uptake", "chipped").value
    # 100 g at 10 % that gain P % hold 10 + P g of water on 90 g of dry matter
    assert row.dry.value == pytest.approx(100 * (10 + plateau) / 90)
    assert "on the wet and the dry basis" in _page(found)


def test_two_lots_are_told_apart():
    coats = [replace(c, lot=lot) for lot in ("old", "new") for c in (INTACT, CHIPPED)]
    coats[0] = replace(coats[0], impermeable=0.0, late=0.0)
    found = _fit(_simulated(*coats, mass_mg={"old": 150.0, "new": 210.0}))
    assert [c.verdict for c in found.drawing.coats] == [
        "coat_lets_water_in",
        "physical_dormancy",
    ]
    page = _page(found)
    assert "old: Water gets into the intact seeds" in page
    assert "new: The coat keeps water out" in page


def test_a_seed_weighed_only_dry_is_left_out_and_told():
    tables = _simulated(INTACT, CHIPPED)
    weighings = tables["weighings"]
    kept = (weighings["seed"] != "01-004") | (weighings["soaked_h"] == 0)
    tables["weighings"] = {name: column[kept] for name, column in weighings.items()}
    found = _fit(tables)
    assert _group(found).seeds == 24
    assert "Left out, since they were not weighed both dry and soaked: intact (1)." in _page(found)


def test_the_analysis_says_what_it_needs():
    about = imbibition.ANALYSIS
    assert about.needs == ("weighings",)
    assert all(
        source.key in {"Peleg 1988", "Currie 1968"} or source.text for source in about.sources
    )

"""Buoyancy from the tables to the page: truths found again, and a sentence for every named outcome."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binom

from hilum.analyses.buoyancy import chart, looks, model
from hilum.analyses.buoyancy.truth import TrueFloating, floats_at, sunk_by
from hilum.analyses.naming import Naming
from hilum.analyses.simulated import as_table
from hilum.report import pages
from tests import floated

USUAL = TrueFloating()


def _fit(tables):
    return model.fit(tables, settings=floated.SETTINGS, rng=np.random.default_rng(1))


def _simulated(*floating, seed=1, **truth):
    made = replace(model.TRUTH, floating=floating or model.TRUTH.floating, **truth)
    return model.simulate(made, rng=np.random.default_rng(seed))


def _page(found):
    """Return every sentence of the page in the order of its macros, as a reader sees it."""
    module = (
        pages.environment()
        .get_template("buoyancy/page.md.jinja")
        .make_module(
            {
                "estimates": found.estimates,
                "drawing": found.drawing,
                "figures": {f.name: "" for f in chart.figures(found.drawing, found.estimates)},
                "experiment": {},
                "seeds": Naming(found.estimates),
                "rows": found.rows,
            }
        )
    )
    parts = (getattr(module, name)() for name in ("answer", "limits", "next_step", "details"))
    text = " ".join(str(part) for part in parts).replace("\N{NO-BREAK SPACE}", " ")
    return " ".join(text.replace("&#46;", ".").replace("&#45;", "-").split())


def _estimate(found, quantity, at=None):
    return next(e for e in found.estimates if e.quantity == quantity and at in (None, e.at))


def _group(found):
    return found.drawing.groups[0]


def _seeds(traces, fates=None, **columns):
    """Return tables of seeds looked at at 1, 6, 24 h …: a trace is F, S, or . where nobody looked."""
    hours = (1.0, 6.0, 24.0, 72.0, 168.0)
    rows = [
        {"seed": f"s{i}", "lot": "lot", "treatment": "chipped", "seeds": 1.0, "soaked_h": hour}
        | {"floats": {"F": 1.0, "S": 0.0, ".": np.nan}[look]}
        | columns
        for i, trace in enumerate(traces)
        for hour, look in zip(hours, trace, strict=False)
    ]
    ends = [
        {"seed": f"s{i}", "outcome": fate, "seeds": 1.0}
        for i, fate in enumerate(fates or ())
        if fate
    ]
    return {"weighings": as_table("weighings", rows), "outcomes": as_table("outcomes", ends)}


# --- the truth is found again


def test_fit_finds_what_simulate_put_in():
    truth = replace(model.TRUTH, hours=(1.0, 6.0, 24.0, 72.0, 168.0))
    true, hours = truth.floating[0], np.geomspace(1, 168, 5001)
    up = {alive: floats_at(true, np.array([24.0]), alive=alive)[0] for alive in (True, False)}
    known = {
        "sensitivity": up[False],
        "specificity": 1 - up[True],
        "live_thrown_away": up[True],
        "youden_index": up[False] - up[True],
        "sinking_t50": hours[np.argmax(sunk_by(true, hours) >= 0.5)],
    }
    held = []
    for seed in range(80):
        found = _fit(model.simulate(truth, rng=np.random.default_rng(seed)))
        for quantity, value in known.items():
            e = _estimate(found, quantity, None if quantity == "sinking_t50" else 24.0)
            held.append((e.low or 0.0) <= value <= (np.inf if e.high is None else e.high))
    assert np.mean(held) >= 0.93 - 2 * np.sqrt(0.93 * 0.07 / 80)


@pytest.mark.parametrize(
    "name", ["60 seeds", "12 seeds, 4 looks", "4 batches of 25, alike by 0.05"]
)
def test_intervals_hold_the_truth_of_studies_that_share_no_code(name):
    studies = 60
    counted = floated.count(floated.DESIGNS[name], studies, seed=5)
    for quantity in {quantity for quantity, _ in counted}:
        told, below, above, brackets, missed = sum(
            row for (q, _), row in counted.items() if q == quantity
        )
        rows = len([1 for q, _ in counted if q == quantity])
        # the hours of one study are looks at the same seeds, so that studies are what is counted
        error = np.sqrt(0.93 * 0.07 / studies)
        assert told + brackets > 0.8 * rows * studies, quantity
        assert (below + above + missed) / (told + brackets) <= 0.07 + 2 * error, quantity


def test_a_worthless_test_is_seldom_said_to_tell_something():
    """Live and dead seeds float alike: of 200 studies no more than 5 % and chance are wrong either way."""
    alike = floated.Design(cavity=0.6, cavity_dead=0.6, forever=0.0, seeds=40)
    wrong = 0
    for number in range(200):
        rng = np.random.default_rng([9, number])
        found = _fit(floated.tables(alike, floated.draw(alike, rng), rng))
        wrong += _group(found).verdict in ("tells", "misleads")
    assert wrong <= binom.ppf(0.99, 200, 0.05)


def test_it_can_be_drawn():
    found = _fit(_simulated())
    figures = chart.figures(found.drawing, found.estimates)
    assert [f.name for f in figures] == ["floats-1", "worth-1"]
    many = _fit(_simulated(replace(USUAL, seeds=300)))
    assert "120 of 300 seeds drawn." in chart.figures(many.drawing, many.estimates)[0].caption


# --- named outcomes, each with its sentence


def test_a_test_that_tells_something_says_when_and_what_it_costs():
    found = _fit(_simulated())
    page = _page(found)
    assert _group(found).verdict == "tells"
    assert "floating tells something at 48, 96 and 168 h" in page
    assert "would have cost 27 of the 43 live seeds at 1 h" in page
    assert "no sooner than after 96 h in water: that cost " in page


def test_a_worthless_test_is_called_worthless():
    found = _fit(_seeds(["FFSSS"] * 10 + ["SSSSS"] * 10, (["germinated"] * 4 + ["dead"]) * 4))
    assert _group(found).verdict == "not_lower"
    page = _page(found)
    assert "no sign that the float test works here" in page
    assert "at no hour are floating seeds less often alive than sunken ones" in page
    assert "Keep the seeds that float: more seeds or other hours will hardly make" in page


def test_a_difference_that_chance_explains_is_not_shown():
    """One of three dead seeds floats and none of 57 live ones: by Fisher's exact test 0.05, one side."""
    found = _fit(
        _seeds(["FFFFF", "SSSSS", "SSSSS"] + ["SSSSS"] * 57, ["dead"] * 3 + ["normal"] * 57)
    )
    assert _group(found).verdict == "not_shown"
    page = _page(found)
    assert "the float test is not shown to work here" in page
    assert "worthless" not in page, "no proof that it works is no proof that it does not"
    assert "3 dead seeds of 60 are too few" in page
    wanted = _group(found).seeds_wanted
    assert wanted > 60
    assert f"about {wanted:.0f} seeds of known fate would settle it" in page
    assert f"about {wanted:.0f} seeds of known fate are needed" in page


def test_of_hours_that_tell_as_much_the_first_is_named():
    """From the second look at 3 h on the same seeds float: nothing is gained by waiting longer."""
    found = _fit(_seeds(["FFFFF"] * 20 + ["FSSSS"] * 20, ["dead"] * 20 + ["normal"] * 20))
    page = _page(found)
    first = _group(found).hours[1].hour
    assert f"From {first:g} h on, where it says most" in page.replace("\N{NO-BREAK SPACE}", " ")
    assert f"no sooner than after {first:g} h in water: that cost 0 %" in page.replace(
        "\N{NO-BREAK SPACE}", " "
    )


def test_a_half_that_no_limit_can_be_given_of_is_told_as_counted():
    found = _fit(_seeds(["FFFFF"] * 14 + ["FFFSS"] * 16, ["normal"] * 30))
    half = _estimate(found, "sinking_t50")
    assert half.status == "bracketed"
    assert half.high is None
    hours = [h.hour for h in _group(found).hours]
    page = _page(found).replace("\N{NO-BREAK SPACE}", " ")
    assert f"(seen: 30 of 30 float at {hours[2]:g} h, 14 of 30 at {hours[3]:g} h)" in page


def test_a_test_that_throws_away_the_better_seeds():
    found = _fit(_seeds(["FSSSS"] * 20 + ["SSSSS"] * 20, ["germinated"] * 20 + ["dead"] * 20))
    assert _group(found).verdict == "misleads"
    assert "the float test misleads here" in _page(found)


def test_all_float():
    found = _fit(_seeds(["FFFFF"] * 12, ["germinated"] * 6 + ["dead"] * 6))
    half = _estimate(found, "sinking_t50")
    assert (half.status, half.low, half.high) == ("bracketed", 168.0, None)
    assert half.needs == "no seed had sunk for good by 7 d: look for longer, or open the coats."
    sunk = _estimate(found, "predictive_value_sinking", 1.0)
    assert (sunk.status, sunk.needs) == (
        "not_identified",
        "no seed of known fate had sunk at this hour.",
    )
    assert "Every seed floats at its last look, at 168 h." in _page(found)


def test_all_sink():
    found = _fit(_seeds(["SSSSS"] * 12, ["germinated"] * 6 + ["dead"] * 6))
    half = _estimate(found, "sinking_t50")
    assert (half.status, half.low, half.high) == ("bracketed", 0.0, 1.0)
    assert half.needs.startswith("no seed was seen floating: look earlier than 1 h")
    assert _estimate(found, "predictive_value_floating", 6.0).needs.endswith(
        "floated at this hour."
    )
    assert "No seed was seen floating." in _page(found)


def test_no_fates_known():
    found = _fit(_seeds(["FFSSS"] * 12))
    assert _group(found).verdict == "no_fates"
    assert "enter each seed in outcomes.csv" in _estimate(found, "sensitivity").needs
    assert _estimate(found, "sinking_t50").status == "estimated"
    page = _page(found)
    assert "nobody knows what became of these seeds" in page
    assert "Do not sort seeds by floating yet" in page


def test_one_look():
    found = _fit(_seeds(["F"] * 6 + ["S"] * 6, ["dead"] * 6 + ["normal"] * 6))
    assert "Looked at only once: lot, chipped." in _page(found)
    assert _group(found).verdict == "tells"


def test_one_seed():
    found = _fit(_seeds(["FFSSS"], ["germinated"]))
    assert "One seed says little of a lot: lot, chipped." in _page(found)
    assert _estimate(found, "sinking_t50").status == "not_identified"


def test_all_live():
    found = _fit(_seeds(["FFSSS"] * 8 + ["SSSSS"] * 4, ["germinated"] * 12))
    assert _group(found).verdict == "all_live"
    assert "no seed was found dead" in _estimate(found, "sensitivity").needs
    assert _estimate(found, "live_thrown_away", 1.0).value == pytest.approx(8 / 12)
    page = _page(found)
    assert "every seed of known fate was alive, so nobody can say whether dead ones float" in page
    assert "would have cost 8 of the 12 live seeds at 1 h" in page


def test_all_dead():
    found = _fit(_seeds(["FFFFF"] * 8 + ["SSSSS"] * 4, ["dead"] * 12))
    assert _group(found).verdict == "all_dead"
    assert _estimate(found, "live_thrown_away", 1.0).needs.startswith("no seed was found alive")
    assert "no seed of known fate was alive" in _page(found)


def test_nobody_looked():
    found = _fit(_seeds(["....."] * 3, ["dead"] * 3))
    assert {e.status for e in found.estimates} == {"not_identified"}
    assert "nobody wrote whether single seeds float" in _page(found)
    assert chart.figures(found.drawing, found.estimates) == []


def test_no_seed_at_all():
    tables = _simulated()
    tables["weighings"] = {name: column[:0] for name, column in tables["weighings"].items()}
    found = _fit(tables)
    assert found.estimates == ()
    assert "No seed was followed in water here" in _page(found)


def test_fewer_than_half_sunk_and_half_sunk_before_the_first_look():
    late = _fit(_seeds(["FFFFF"] * 14 + ["FFSSS"] * 4))
    assert "look for longer" in _estimate(late, "sinking_t50").needs
    early = _fit(_seeds(["SSSSS"] * 14 + ["FFSSS"] * 4))
    assert "look earlier" in _estimate(early, "sinking_t50").needs
    few = _fit(_seeds(["FSSSS", "FFSSS", "FFFSS"]))
    assert "too few seeds" in _estimate(few, "sinking_t50").needs


# --- what enters


def test_a_seed_that_comes_up_again_has_not_sunk_for_good():
    found = _fit(_seeds(["FSFSS", "FFSSS", "F.SSS"]))
    rows = found.rows["seeds"]
    assert [(r["last_seen_floating_h"], r["sunk_by_h"]) for r in rows] == [
        (24.0, 72.0),
        (6.0, 24.0),
        (1.0, 24.0),
    ]
    assert [r["came_up_again"] for r in rows] == ["yes", "no", "no"]
    assert "Some seeds sank and came up again: lot, chipped (1 of 3)" in _page(found)


@pytest.mark.parametrize(
    ("outcome", "alive", "how", "fate"),
    [
        ("germinated", np.nan, "", "alive"),
        ("abnormal", np.nan, "", "alive"),
        ("fresh", 1.0, "tetrazolium", "alive"),
        ("fresh", 1.0, "pressing", ""),
        ("fresh", np.nan, "", ""),
        ("hard", 0.0, "cutting", "dead"),
        ("hard", np.nan, "", ""),
        ("empty", np.nan, "", "dead"),
        ("insect_damaged", np.nan, "", "dead"),
        ("lost", np.nan, "", ""),
    ],
)
def test_fates(outcome, alive, how, fate):
    row = {"seed": "s0", "outcome": outcome, "seeds": 1.0, "alive": alive, "assessed_by": how}
    tables = _seeds(["FS"]) | {"outcomes": as_table("outcomes", [row])}
    assert looks.traces(tables)[0].fate == fate


def test_a_radicle_shows_life_and_ends_the_looks():
    tables = _seeds(["FFFFF"], ["dead"])
    tables["weighings"]["radicle"][3:] = 1.0
    trace = looks.traces(tables)[0]
    assert trace.fate == "alive"
    assert trace.hours.tolist() == [1.0, 6.0, 24.0]


def test_seeds_of_unknown_fate_are_left_out_and_told():
    found = _fit(_seeds(["FFSSS"] * 9, ["dead"] * 3 + ["germinated"] * 3 + [""] * 3))
    assert _group(found).hours[0].dead_floated + _group(found).hours[0].live_floated == 6
    assert "left out of the test’s worth: lot, chipped (3 of 9)" in _page(found)
    assert _estimate(found, "still_floating").value == 0


def test_seeds_entered_together_are_left_out_and_told():
    tables = _seeds(["FFSSS"] * 4, ["dead", "germinated"] * 2)
    tables["weighings"]["seeds"][:5] = 20.0
    found = _fit(tables)
    assert _group(found).seeds == 3
    assert "Seeds entered together under one name tell nothing of each other" in _page(found)


def test_seeds_with_masses_and_one_dish():
    found = _fit(_seeds(["FFSSS"] * 6, ["dead", "germinated"] * 3, mass_mg=150.0, dish="d1"))
    assert "All seeds came from one dish or batch" in _page(found)


def test_hours_of_the_clock_that_differ_a_little_are_one_round():
    tables = _seeds(["FFS", "FSS", "SSS"])
    tables["weighings"]["soaked_h"] = np.array([1.0, 6.0, 24.0, 1.05, 6.2, 24.4, 1.08, 6.3, 24.9])
    hours, seen = looks.rounds(looks.traces(tables))
    assert hours.tolist() == [1.05, 6.2, 24.4]
    assert seen.tolist() == [[1, 1, 0], [1, 0, 0], [0, 0, 0]]


def test_two_looks_at_one_seed_are_two_rounds_however_close():
    tables = _seeds(["FS"])
    tables["weighings"]["soaked_h"] = np.array([23.0, 24.0])
    hours, _ = looks.rounds(looks.traces(tables))
    assert hours.tolist() == [23.0, 24.0]

"""The demo's estimates are held against the truths that its raw tables were drawn from."""

import csv
from pathlib import Path

import numpy as np
import pytest
from scipy.special import ndtr, ndtri
from scipy.stats import binom

from hilum.analyses.buoyancy.truth import floats_at, sunk_by
from hilum.analyses.scarification.truth import germinating
from hilum.analyses.storage.truth import alive_after
from hilum.analyses.trueness_to_name.truth import outside
from tests.demo import draw, truth

QUANTITIES = ("t50", "germinable_fraction", "germinated", "impermeable_fraction")


def _estimates(demo: Path, experiment: str, analysis: str) -> list[dict[str, str]]:
    path = demo / "results/strandline/estimates" / experiment / f"{analysis}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _truths() -> dict[tuple[str, str, str], float]:
    """Return what is true of each lot and treatment, by quantity."""
    known = {}
    for course in truth.GERMINATION.courses:
        known[course.lot, course.treatment, "t50"] = course.t50_h
        known[course.lot, course.treatment, "germinable_fraction"] = course.germinable
        known[course.lot, course.treatment, "germinated"] = course.germinable
    for coats in truth.UPTAKE.coats:
        known[coats.lot, coats.treatment, "impermeable_fraction"] = coats.impermeable
        known[coats.lot, coats.treatment, "half_time"] = truth.UPTAKE.half_time_h
        known[coats.lot, coats.treatment, "plateau_uptake"] = 100 * truth.UPTAKE.plateau
    series = truth.SERIES
    known[truth.LOT, "chipped", "base_temperature"] = series.base
    known[truth.LOT, "chipped", "thermal_time_50"] = series.thermal_time_50
    known[truth.LOT, "chipped", "plateau_low"] = series.optimum
    return known | _best_of_acid() | _of_floating() | _of_store()


def _of_store() -> dict[tuple[str, str, str], float]:
    """Return what is true of the mean of very many samples: that they differ flattens it."""
    flat = np.hypot(1.0, truth.STORE.sample_sd)
    known = {}
    for true in truth.STORE.stores:
        start = true.ki / flat
        p85 = (start - ndtri(0.85 * ndtr(start))) * true.sigma_d * flat
        found = {"ki": start, "sigma": true.sigma_d * flat, "p85": p85}
        found["half_viability_period"] = true.ki * true.sigma_d
        known |= {(true.lot, true.treatment, q): float(value) for q, value in found.items()}
    return known


def _of_floating() -> dict[tuple[str, str, str], float]:
    """Return when half of the seeds of the float test have sunk, and how many still float at the end."""
    hours, last = np.geomspace(1, 168, 20_001), truth.FLOATING.hours[-1:]
    known = {}
    for true in truth.FLOATING.floating:
        live, dead = (floats_at(true, np.array(last), alive=alive)[0] for alive in (True, False))
        still = true.live * live + (1 - true.live) * dead
        half = hours[np.argmax(sunk_by(true, hours) >= 0.5)]
        known[true.lot, true.treatment, "sinking_t50"] = float(half)
        known[true.lot, true.treatment, "still_floating"] = float(still)
    return known


def _best_of_acid() -> dict[tuple[str, str, str], float]:
    minutes = np.geomspace(10, 1000, 20_001)
    share = germinating(truth.STRAND, minutes)
    inside = minutes[share >= share.max() - 0.05]
    found = {
        "best_duration": minutes[share.argmax()],
        "germination_at_best": share.max(),
        "window_low": inside[0],
        "window_high": inside[-1],
    }
    return {(truth.LOT, "acid by duration", q): float(value) for q, value in found.items()}


@pytest.fixture(scope="module")
def claims(demo):
    """Return (estimate, truth) for each interval of the demo whose truth is known."""
    places = [
        ("germination", "time_course"),
        ("uptake", "imbibition"),
        ("temperatures", "temperature"),
        ("temperatures-coarse", "temperature"),
        ("acid", "scarification"),
        ("float-test", "buoyancy"),
        ("storage", "storage"),
    ]
    known = _truths()
    rows = [row for place in places for row in _estimates(demo, *place) if not row["versus"]]
    keys = [(row["lot"], row["treatment"], row["quantity"]) for row in rows]
    return [(row, known[key]) for row, key in zip(rows, keys, strict=True) if key in known]


def _holds(row: dict[str, str], true: float) -> bool:
    low, high = (float(row[end]) if row[end] else None for end in ("low", "high"))
    return (low is None or low <= true) and (high is None or true <= high)


def test_the_raw_tables_are_what_the_truths_draw(tmp_path):
    draw.draw(tmp_path)
    drawn = {p.relative_to(tmp_path): p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}
    kept = {p.relative_to(draw.DEMO): p.read_bytes() for p in draw.DEMO.rglob("*") if p.is_file()}
    assert kept == drawn, "python -m tests.demo.draw writes the demo anew"


def test_no_more_intervals_miss_the_truth_than_chance_allows(claims):
    told = [(row, true) for row, true in claims if row["status"] != "not_identified"]
    missed = [(r["lot"], r["treatment"], r["quantity"]) for r, true in told if not _holds(r, true)]
    print(f"{len(missed)} of {len(told)} intervals of the demo miss the truth: {missed}")
    assert len(told) >= 40
    assert len(missed) <= binom.ppf(0.99, len(told), 0.05)


def test_chipped_and_acid_treated_seeds_take_up_water_and_intact_ones_do_not(claims):
    found = {
        (r["lot"], r["treatment"]): float(r["value"])
        for r, _ in claims
        if r["quantity"] == "impermeable_fraction"
    }
    assert found[truth.LOT, "intact"] > 0.6
    assert found[truth.LOT, "acid-30"] > 0.5
    assert found[truth.LOT, "chipped"] < 0.1
    assert found[truth.LOT, "acid-240"] < 0.2


def test_the_base_temperature_is_claimed_only_where_the_series_holds_it(demo):
    found = {
        place: next(
            r for r in _estimates(demo, place, "temperature") if r["quantity"] == "base_temperature"
        )
        for place in ("temperatures", "temperatures-coarse")
    }
    fine, coarse = found["temperatures"], found["temperatures-coarse"]
    assert fine["status"] == "estimated"
    assert abs(float(fine["value"]) - truth.SERIES.base) < 1
    assert coarse["status"] == "bracketed"
    assert not coarse["value"]
    assert "°C" in coarse["needs"]


def test_the_best_duration_in_acid_lies_inside_the_doses_and_the_longest_bath_harms(demo):
    rows = _estimates(demo, "acid", "scarification")
    best = next(row for row in rows if row["quantity"] == "best_duration")
    assert best["status"] == "estimated"
    harmed = {float(row["at"]): row for row in rows if row["quantity"] == "harmed"}
    assert float(harmed[480.0]["low"]) > 0
    assert float(harmed[30.0]["low"]) == 0


def test_the_float_test_would_throw_away_live_seeds_in_the_first_hours_and_none_at_the_end(demo):
    rows = _estimates(demo, "float-test", "buoyancy")
    wasted = [row for row in rows if row["quantity"] == "live_thrown_away"]
    held = []
    for row in wasted:
        lots = {true.lot: true for true in truth.FLOATING.floating}
        at = np.array([float(row["at"])])
        held.append(_holds(row, floats_at(lots[row["lot"]], at, alive=True)[0]))
    assert np.mean(held) > 0.8
    ends = {
        (row["lot"], row["at"]): float(row["value"]) for row in wasted if row["at"] in ("1", "168")
    }
    assert ends[truth.LOT, "1"] > 0.6
    assert ends[truth.LOT, "168"] == ends[truth.OLD_LOT, "168"] == 0


def test_treated_seed_is_half_dead_in_its_third_year_and_hard_seed_has_not_fallen(demo):
    rows = _estimates(demo, "storage", "storage")
    half = {r["treatment"]: r for r in rows if r["quantity"] == "half_viability_period"}
    assert 730 < float(half["acid-240"]["value"]) < 1096
    assert (half["intact"]["status"], half["intact"]["high"]) == ("bracketed", "")
    assert float(half["intact"]["low"]) >= 2 * 730
    ratio = next(r for r in rows if r["quantity"] == "half_viability_ratio")
    assert float(ratio["high"]) < 1
    shares = {
        (r["treatment"], float(r["at"])): _holds(r, alive_after(true, float(r["at"]) * 365.25 / 12))
        for true in truth.STORE.stores
        for r in rows
        if r["quantity"] == "predicted_viability" and r["treatment"] == true.treatment
    }
    assert len(shares) == 6
    assert np.mean(list(shares.values())) > 0.8


def test_seedlings_pause_at_two_leaves_and_the_stunted_one_is_named(demo):
    rows = _estimates(demo, "seedlings", "seedlings")
    held = []
    for true in truth.GROWING.groups:
        own = {(r["quantity"], r["at"]): r for r in rows if r["lot"] == true.lot}
        for level, z in (("t5", -1.6449), ("t50", 0.0), ("t95", 1.6449)):
            pause = true.pause_d * np.exp(z * np.hypot(true.pause_spread, true.vigour))
            first = true.first_d * np.exp(z * np.hypot(true.spread, true.vigour))
            held.append(_holds(own[f"pause_{level}", "2"], pause))
            held.append(_holds(own[f"leaf_{level}", "1"], first))
    assert len(held) == 12
    assert sum(held) >= binom.ppf(0.01, len(held), 0.95)
    path = demo / "results/strandline/estimates/seedlings/seedlings_seedlings.csv"
    with path.open(encoding="utf-8", newline="") as file:
        later = {row["seedling"]: row["later"] for row in csv.DictReader(file)}
    assert later["24-p01"] != "no"


def test_the_cautions_of_acid_and_blades_stand_above_what_was_done(demo):
    page = (demo / "results/strandline/site/experiments/acid.html").read_text("utf-8")
    treatments = page[page.index('id="treatments"') :]
    assert treatments.index("Acid burns skin") < treatments.index("<table")
    assert treatments.index("Blades, files") < treatments.index("<table")


def test_the_slip_of_the_keyboard_is_accepted_and_told(demo):
    page = (demo / "results/strandline/site/experiments/germination.html").read_text("utf-8")
    assert "typed into the table by a slip" in page


def test_the_lots_keep_to_their_label_as_far_as_their_seeds_did_not_shrink(demo):
    rows = _estimates(demo, "seed-traits", "trueness_to_name")
    lots = {lot.lot: lot for lot in truth.LABELS.lots}
    held = []
    for row in (row for row in rows if row["quantity"] == "outside_range"):
        taxon, trait = row["versus"].split(": ")
        held.append(_holds(row, outside(truth.LABELS, lots[row["lot"]], taxon, trait)))
    assert len(held) == 18
    assert sum(held) >= binom.ppf(0.01, len(held), 0.95)
    fits = {(r["lot"], r["versus"]): r["value"] for r in rows if r["quantity"] == "compatible"}
    assert fits[truth.LOT, truth.FICTA.taxon] == fits[truth.LOT, truth.SIMILIS.taxon] == "1"
    assert fits[truth.LOT, truth.MINUTA.taxon] == fits[truth.OLD_LOT, truth.FICTA.taxon] == "0"


def test_the_sheet_of_a_lot_holds_its_mass_and_moisture(demo):
    path = demo / "results/strandline/estimates/lot_sheet.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = {(r["lot"], r["quantity"]): r for r in csv.DictReader(file)}
    for lot, wet in truth.MOISTURE_PCT.items():
        assert _holds(rows[lot, "moisture_wet"], wet)
        # mg of one seed are g of a thousand
        assert _holds(rows[lot, "thousand_seed_mass"], truth.UPTAKE.mass_mg[lot])
    page = (demo / f"results/strandline/site/lots/{truth.LOT}.html").read_text("utf-8")
    assert "7 CFR 201.55(a)" in page
    assert (demo / "results/strandline/site/data/lot_sheet.csv").exists()

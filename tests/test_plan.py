"""A plan: its file, what it expects, and that simulated studies bear it out."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from hilum.analyses.estimate import Estimate
from hilum.analyses.scarification import model as scarification
from hilum.analyses.scarification.truth import ScarificationTruth, TrueDose, simulate
from hilum.analyses.storage import model as storage
from hilum.analyses.storage.truth import StorageTruth, TrueStorage
from hilum.plan.asked import design, experiments, finished
from hilum.plan.asked.experiments import Place
from hilum.plan.expected import (
    dosed,
    guessed,
    prospect,
    stored,
    timed,
    warm,
    warm_design,
    warm_limits,
)
from hilum.plan.failure import causes
from hilum.plan.shown import words
from hilum.plan.simulated.sown import Kind
from hilum.settings import Settings, SettingsFault
from hilum.stats import foreseen, spread
from hilum.stats.scarification import Units, fit
from hilum.steps import plan as step
from tests.calibration import planned

EXAMPLE = Path(__file__).parent.parent / "config" / "plan.yaml"
DAYS_21 = tuple(24.0 * day for day in range(1, 22))


def written(tmp_path, *changes):
    """Return the example plan with pieces of its text replaced."""
    text = EXAMPLE.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "plan.yaml"
    path.write_text(text, encoding="utf-8")
    return path


# the file


def test_the_example_plan_has_all_kinds_of_experiments_and_their_places():
    plan = design.load(EXAMPLE)
    assert {e.analysis for e in plan.experiments} == {
        "temperature",
        "time_course",
        "scarification",
        "storage",
        "imbibition",
    }
    # 7 temperatures, 3 treatments, 2 treatments and 6 durations, 4 times of storage; weighed seeds stand nowhere
    assert len(plan.places()) == 7 + 3 + 8 + 4
    assert plan.by_name["acid-120"].minutes == 120


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("name: drift-25\n", "name: drift-25\ncolour: red\n", "colour is no key of a plan"),
        ("treatments: [chipped]", "treatments: [chiped]", "cold: treatment chiped is not among"),
        ("lots: [drift-25]", "lots: [drift-26]", "lot drift-26 is not among the lots"),
        ("method: chipping", "method: chiping", "a method is one of none, chipping"),
        ("wanted: {base_temperature", "wanted: {t50: 5, base_temperature", "t50 cannot be wanted"),
        ("title: What drift-25 needs before it is sown\n", "", "title is missing"),
    ],
)
def test_a_fault_of_a_plan_is_told_in_a_sentence(tmp_path, old, new, says):
    with pytest.raises(SettingsFault, match=says):
        design.load(written(tmp_path, (old, new)))


def test_the_last_inspection_is_always_one():
    looks = experiments.Inspections(first_d=2, every_d=3, last_d=9)
    assert looks.hours == (48.0, 120.0, 192.0, 216.0)


def estimated(quantity, value, lot="old", treatment="chipped"):
    return Estimate(
        quantity=quantity,
        value=value,
        low=value,
        high=value,
        lot=lot,
        treatment=treatment,
        status="estimated",
        method="invented",
    )


def test_a_finished_study_fills_in_what_was_not_guessed(tmp_path):
    plan = design.load(written(tmp_path, ("  base_temperature_c: 10.4\n", "")))
    known = [estimated("base_temperature", 9.5), estimated("thermal_time_50", 900.0)]
    filled = finished.filled(plan, known)
    assert filled.guesses.base_temperature_c == 9.5
    assert filled.guesses.thermal_time_50_c_h == 1040  # was typed


def test_steepness_comes_from_times_that_every_family_has():
    """A log-logistic curve of slope 4 has a ninth of its odds at t50·9^(−1/4): t90/t10 = 9^(2/4) = 3."""
    plan = design.load(EXAMPLE)
    plan = plan.model_copy(update={"guesses": plan.guesses.model_copy(update={"slope": None})})
    filled = finished.filled(plan, [estimated("t10", 50.0), estimated("t90", 150.0)])
    assert filled.guesses.slope == pytest.approx(4.0)


def test_of_several_lots_a_plan_has_to_name_one():
    plan = design.load(EXAMPLE)
    two = [estimated("t50", 100.0, lot="old"), estimated("t50", 120.0, lot="new")]
    with pytest.raises(SettingsFault, match="has the lots old, new"):
        finished.filled(plan, two)


# expected information


def test_drawn_scores_are_those_at_a_maximum():
    """At the maximum the scores add up to nothing in every direction of the parameters."""
    seen = warm.look(planned.seeds(), {12.5: 4, 16.0: 4, 22.0: 4})
    drawn = foreseen.drawn_scores(
        seen.scores, planned.seeds().components, draws=3, rng=np.random.default_rng(1)
    )
    total = np.einsum("dja,jap->dp", drawn.score, seen.scores.jacobian)
    each = np.abs(np.einsum("dja,jap->djp", drawn.score, seen.scores.jacobian)).max()
    assert np.abs(total).max() < 1e-8 * each


def test_moments_of_drawn_scores_find_the_dish_effects_that_were_put_in():
    seen = warm.look(planned.seeds(), dict.fromkeys((12.5, 16.0, 22.0), 30))
    put = spread.Components(np.array([0.01, 0.2]), np.array([60.0, 60.0]))
    drawn = foreseen.drawn_scores(seen.scores, put, draws=200, rng=np.random.default_rng(2))
    found = spread.components(spread.moments(drawn)).variance.mean(0)
    np.testing.assert_allclose(found, put.variance, rtol=0.1)


def test_the_expected_base_is_what_simulated_studies_know():
    own = {12.5: 6, 16.0: 4, 19.0: 6, 25.0: 4}
    low, high, why = warm_limits.limits(planned.seeds(), own, seed=1)
    found = warm_design.simulated(planned.seeds(), own, studies=10, rng=np.random.default_rng(3))
    assert not why
    # the middle of ten half-widths is known to about 9 %
    assert np.median(found) == pytest.approx((high - low) / 2, rel=0.25)


def test_a_design_with_one_temperature_surely_on_the_rising_part_cannot_tell_the_base():
    """10 °C is too cold, and the bend at 20 °C may lie lower: only 15 °C is surely on the rising part."""
    own = dict.fromkeys((10.0, 15.0, 20.0, 25.0, 30.0), 4)
    assert (
        "only one is surely on the rising part"
        in warm_limits.limits(planned.seeds(), own, seed=1)[2]
    )


@pytest.mark.parametrize("lowest", [12.0, 12.5])
def test_sharing_dishes_out_narrows_the_base_by_a_quarter_and_more(lowest):
    both = planned.designs(lowest, 28, 7)
    assert sum(both["best"].values()) == sum(both["evenly spaced"].values()) == 28
    assert len(both["best"]) >= 4
    assert min(np.diff(sorted(both["best"]))) >= 2
    halves = {
        name: float(np.subtract(*warm_limits.limits(planned.seeds(), own, seed=1)[1::-1])) / 2
        for name, own in both.items()
    }
    assert halves["best"] < 0.75 * halves["evenly spaced"]


def test_simulated_studies_gain_what_a_better_design_promised():
    both = planned.designs(12.0, 28, 7)
    widths = {
        name: np.median(
            warm_design.simulated(planned.seeds(), own, studies=6, rng=np.random.default_rng(4))
        )
        for name, own in both.items()
    }
    # 40 % are expected; `python -m tests.calibration.planned` counts more studies
    assert widths["best"] < 0.75 * widths["evenly spaced"]


def kind(treatment, grown, t50_d, dishes=4):
    return Kind(
        place=Place("opening", "lot", treatment, 25.0, dishes),
        seeds=25,
        hours=DAYS_21,
        shares=(grown, 0.05, 0.0, 0.3 * (0.95 - grown), 0.0, 0.7 * (0.95 - grown)),
        t50_h=24 * t50_d,
        sigma=1 / 6,
        ends_with="scoring",
    )


def side_by_side():
    return timed.Timed(
        experiment="opening",
        kinds=[kind("chipped", 0.88, 4.5), kind("acid", 0.7, 5.0)],
        correlation=0.03,
        confidence=0.95,
        wanted={},
    )


def test_expected_shares_times_and_differences_are_what_simulated_studies_know():
    found = timed.simulated(side_by_side(), studies=200, rng=np.random.default_rng(5))
    expected = timed.prospects(side_by_side(), seed=1)
    assert {p.quantity for p in expected} == {
        "t50",
        "germinable_fraction",
        "germinated",
        "hard",
        "difference",
    }
    for p in expected:
        seen = p.checked(found[p.quantity, p.lot, p.treatment, p.versus])
        # a few hard seeds have half-widths in steps
        within = 0.1 if p.quantity in ("t50", "germinable_fraction") else 0.15
        assert seen.in_simulations == pytest.approx(p.half_width, rel=within), p


def test_power_grows_with_dishes_and_no_difference_is_hardly_ever_found():
    few, many = (
        timed.power(side_by_side(), 0.85, 0.2, dishes=dishes, seed=1) for dishes in (4, 12)
    )
    assert few < 0.8 < many
    assert timed.power(side_by_side(), 0.85, 1e-9, dishes=4, seed=1) < 0.06


def test_the_expected_best_duration_is_what_simulated_studies_know():
    true = TrueDose(
        permeable=0.07, opens=60.0, opens_slope=2.5, harms=450.0, harms_slope=4.3, fresh=0.02
    )
    design_ = dosed.Dosed(
        truth=ScarificationTruth(lots=(true,), dish_sd=0.1), correlation=0.05, confidence=0.95
    )
    low, high, why = design_.limits(seed=1)
    assert not why
    assert low < dosed.value(design_) < high
    found = design_.simulated(studies=8, rng=np.random.default_rng(6))
    assert np.median(found) == pytest.approx((high - low) / 2, rel=0.25)
    early = replace(design_, truth=replace(design_.truth, lots=(replace(true, harms=2000.0),)))
    assert "longer" in early.limits(seed=1)[2]


def units_of(tables, truth):
    """Return the seeds of each dish as the likelihood of durations wants them, from the tables of one lot."""
    dishes, counts, outcomes = (tables[name] for name in ("dishes", "counts", "outcomes"))

    def seeds(outcome):
        own = outcomes["outcome"] == outcome
        return np.array([outcomes["seeds"][own & (outcomes["dish"] == d)].sum() for d in dish])

    dish = dishes["dish"]
    germinated = np.array([counts["germinated"][counts["dish"] == d].sum() for d in dish])
    dose = [float(t.removeprefix("acid-")) if "acid" in t else 0.0 for t in dishes["treatment"]]
    with np.errstate(divide="ignore"):
        log_dose = np.log(np.array(dose))
    opened = dishes["treatment"] == truth.lots[0].opened
    sown = dishes["seeds"]
    return Units(log_dose, opened, sown, sown - seeds("hard"), germinated - seeds("abnormal"))


def dose_design():
    true = TrueDose(
        permeable=0.1, opens=60.0, opens_slope=2.5, harms=400.0, harms_slope=4, opened="chipped"
    )
    truth = ScarificationTruth(lots=(true,), dish_sd=0.5)
    return dosed.Dosed(truth=truth, correlation=0.05, confidence=0.95)


def test_the_short_way_to_a_best_duration_ends_where_the_analysis_does():
    own = dose_design()
    for seed in (1, 2, 3):
        tables = simulate(own.truth, rng=np.random.default_rng(seed))
        found = scarification.fit(
            tables, settings=Settings(study=Path()), rng=np.random.default_rng(0)
        )
        fitted = fit(units_of(tables, own.truth))
        estimates = {e.quantity: e for e in found.estimates}
        assert estimates["best_duration"].status == "estimated"
        for quantity in ("best_duration", *dosed.WINDOW):
            e = estimates[quantity]
            name = quantity if quantity in dosed.WINDOW else "best"
            there = (e.low, e.high) if e.status == "estimated" else (np.inf, np.inf)
            assert dosed._ends(own.asking(name), fitted) == pytest.approx(there, rel=1e-6)


def test_limits_of_a_best_duration_are_stretched_to_those_of_drawn_studies(monkeypatch):
    monkeypatch.setattr(dosed, "_DRAWN", 25)
    own = dose_design()
    stretched = own.calibrated(seed=3)
    low, high, _ = stretched.limits(seed=3)
    widths = own.simulated(studies=25, rng=np.random.default_rng([3, 2]))
    assert (high - low) / 2 == pytest.approx(np.median(widths), rel=0.002)
    assert low < dosed.value(own) < high
    # of other sizes it is the same, of another end of the window one of its own
    assert stretched.resized(8, 50).stretch == stretched.stretch < 0.95
    assert stretched.asking("window_low").stretch == 1.0


def test_drawn_dishes_of_durations_are_like_those_of_simulated_tables():
    own, rng = dose_design(), np.random.default_rng(4)
    drawn = [own.treated.drawn(rng) for _ in range(400)]
    tables = [units_of(simulate(own.truth, rng=rng), own.truth) for _ in range(60)]
    for name in ("permeable", "germinated"):
        ours, theirs = (np.array([getattr(u, name) for u in many]) for many in (drawn, tables))
        # dishes of 25 seeds: means over 60 tables and 4 dishes, and their spread
        ours, theirs = (x.reshape(len(x), -1, own.truth.dishes) for x in (ours, theirs))
        np.testing.assert_allclose(ours.mean((0, 2)), theirs.mean((0, 2)), atol=1.3)
        np.testing.assert_allclose(ours.std((0, 2)), theirs.std((0, 2)), rtol=0.3, atol=0.1)


def test_more_studies_are_simulated_until_their_middle_is_known():
    class Asked:
        def __init__(self, sd):
            self.sd = sd

        def simulated(self, *, studies, rng):
            return 10 + self.sd * rng.normal(size=studies)

    even, uneven = (
        prospect.simulated(Asked(sd), studies=50, rng=np.random.default_rng(1)) for sd in (0.5, 9)
    )
    assert len(even) == 50
    assert len(uneven) == prospect.MOST_STUDIES


def test_a_power_that_is_wanted_stands_before_that_of_the_plan(tmp_path):
    wanted = "wanted: {t50: 12, germinable_fraction: 0.1"
    plan = design.load(written(tmp_path, (wanted, f"{wanted}, power: 0.95")))
    powers = {e.experiment: plan.power_of(e) for e in plan.experiments}
    assert powers == dict.fromkeys(powers, 0.8) | {"opening": 0.95}
    for old, new, says in (
        (wanted, f"{wanted}, power: 1", "a power that is wanted lies below 1"),
        (
            "    difference: 0.15\n    wanted: {",
            "    wanted: {power: 0.9, ",
            "needs a `difference`",
        ),
    ):
        with pytest.raises(SettingsFault, match=says):
            design.load(written(tmp_path, (old, new)))


def test_the_expected_half_viability_period_is_what_simulated_studies_know():
    true = TrueStorage(ki=1.4, sigma_d=500 / 1.4)
    truth = StorageTruth(
        stores=(true,), days=(0.0, 182.0, 365.0, 730.0), seeds=25, sample_sd=0.12, sown=True
    )
    design_ = stored.Kept(truth=truth, correlation=0.01, confidence=0.95)
    low, high, why = design_.limits(seed=1)
    assert not why
    assert low < 500 < high
    found = design_.simulated(studies=8, rng=np.random.default_rng(7))
    assert np.median(found) == pytest.approx((high - low) / 2, rel=0.3)
    slow = replace(design_, truth=replace(truth, stores=(replace(true, sigma_d=5000.0),)))
    assert "store for longer" in slow.limits(seed=1)[2]


@pytest.mark.parametrize("half_d", [500, 9000])
def test_the_short_way_to_a_half_viability_period_ends_where_the_analysis_does(half_d):
    true = TrueStorage(ki=1.4, sigma_d=half_d / 1.4)
    truth = StorageTruth(stores=(true,), days=(0.0, 365.0, 730.0), sown=True)
    kept = stored.Kept(truth=truth, correlation=0.05, confidence=0.95)
    found = kept.simulated(studies=3, rng=np.random.default_rng(3))
    rng, settings = np.random.default_rng(3), Settings(study=Path())
    fits = [
        storage.fit(storage.simulate(truth, rng=rng), settings=settings, rng=rng) for _ in found
    ]
    halves = [e for f in fits for e in f.estimates if e.quantity == "half_viability_period"]
    expected = [(e.high - e.low) / 2 if e.status == "estimated" else np.inf for e in halves]
    assert found.tolist() == expected
    assert np.isfinite(found).all() == (half_d == 500)


# causes


def told(path):
    rows = causes.table(design.load(path))
    return {(r.target.place.treatment, r.cause): r for r in rows}


SMALL = """\
name: small
title: A small plan
source: invented
simulations: 20
lots: [{lot: a}]
treatments:
  - {treatment: acid, method: acid, germinable: 0.8, hard: 0.05, t50_d: 5}
  - {treatment: chipped, method: chipping, germinable: 0.85, hard: 0.01, t50_d: 4.5}
experiments:
  - {experiment: only, analysis: time_course, lots: [a], treatments: [acid], temperature_c: 25, ends_with: cutting, difference: 0.2,
     wanted: {t50: 12}}
"""


def small(tmp_path, *changes):
    text = SMALL
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "plan.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def test_harm_is_told_from_dead_seed_by_a_sample_of_the_lot_or_by_seeds_opened_by_hand(tmp_path):
    alone = told(small(tmp_path))
    assert set(alone["acid", "harmed"].named) == {"harmed", "nonviable"}
    cheapest = alone["acid", "harmed"].cheapest
    assert (cheapest.dishes, cheapest.says[:22]) == (0, "cut 50 untreated seeds")
    beside = told(
        small(
            tmp_path,
            ("treatments: [acid]", "treatments: [acid, chipped]"),
            ("experiment: only", "experiment: only, dishes: 8"),
        )
    )
    assert beside["acid", "harmed"].told_apart
    assert beside["acid", "impermeable_coat"].told_apart
    assert not beside["chipped", "harmed"].possible
    # another dormancy takes a dormancy break, the conditions another place
    assert "moist storage" in beside["acid", "other_dormancy"].cheapest.says
    assert "at 20 °C" in beside["acid", "conditions"].cheapest.says


def test_nothing_is_told_where_nobody_looks_at_the_end(tmp_path):
    blind = told(small(tmp_path, ("ends_with: cutting", "ends_with: nothing")))
    assert not any(row.told_apart for row in blind.values())
    assert blind["acid", "impermeable_coat"].cheapest.dishes == 0
    assert "cut the hard and fresh seeds" in blind["acid", "impermeable_coat"].cheapest.says


# the page


def test_numbers_of_a_plan_are_rounded_as_those_of_pages():
    # a half goes away from zero: Python's own formats make 0.12 and 12 of these
    assert [words.rounded(value) for value in (0.125, 0.3, 134.0, 9.96)] == [
        "0.13",
        "0.30",
        "130",
        "10",
    ]
    assert words.points(0.125) == "12.5 points"
    assert words.of_thousand(0.007) == "7 of 1000"


def test_a_plan_becomes_a_page_that_opens_from_a_disk(tmp_path):
    first = step.run(small(tmp_path), tmp_path / "plans")
    page = first.read_text(encoding="utf-8")
    assert "Which failures could be told apart" in page
    assert "of studies" in page
    assert 'src="charts/plan-only-t50.svg"' in page
    for file in ("charts/vega.js", "charts/plan-only-t50.js", "data/expected.csv", "glossary.html"):
        assert (first.parent / file).exists(), file
    assert not [*first.parent.glob("404.html"), *first.parent.glob("sitemap*")]


def test_what_is_not_guessed_is_asked_for(tmp_path):
    plan = design.load(small(tmp_path, (", t50_d: 5}", "}")))
    with pytest.raises(guessed.Missing, match="Give `t50_d` of acid"):
        guessed.timed(plan, plan.experiments[0], "a")

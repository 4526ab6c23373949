"""Plans of seeds that are weighed while they soak: what is expected, and that simulated studies bear it out."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import expit, logit

from hilum.analyses.estimate import Estimate
from hilum.analyses.imbibition.truth import ImbibitionTruth, TrueCoats
from hilum.plan.advised import reweighed, weighing
from hilum.plan.asked import design, finished
from hilum.plan.expected import guessed, soaked, soaked_studies
from hilum.plan.expected.prospect import error_of_middle
from hilum.plan.expected.soaked_studies import Seen
from hilum.plan.simulated import pool
from hilum.settings import SettingsFault
from hilum.steps import plan as step

HOURS = (0.0, 4.0, 24.0, 48.0)
TRUTH = ImbibitionTruth(
    mass_mg={"lot": 9.0},
    balance_sd_mg=1.5,
    balance_readability_mg=1.5,
    hours=HOURS,
    late_until_h=48.0,
)
INTACT = TrueCoats(lot="lot", impermeable=0.7, late=0.1, seeds=10)
PLAN = """\
name: wet
title: Hard seeds
source: invented
simulations: 20
lots: [{lot: A}]
treatments:
  - {treatment: intact, method: none, hard: 0.8}
  - {treatment: acid, method: acid, hard: 0.1}
guesses: {seed_mg: 9}
experiments:
  - {experiment: soaking, analysis: imbibition, lots: [A], treatments: [intact, acid], weighings_h: [24, 4, 48], longest_h: 72,
     balance_mg: 1, dishes: 6, seeds: 8, wanted: {impermeable_fraction: 0.2, misclassified: 0.001}}
"""


def design_(dishes=8, **truth):
    return soaked.Soaked(
        experiment="soaking",
        lot="lot",
        coats=(INTACT,),
        truth=replace(TRUTH, **truth),
        dishes=dishes,
        correlation=0.05,
        confidence=0.95,
        wanted={},
    )


@pytest.fixture(scope="module")
def seeds():
    hours = (0.0, 2.0, 4.0, 12.0, 24.0, 48.0, 72.0)
    return pool.drawn(TRUTH, hours, np.random.default_rng(1))


def written(tmp_path, *changes):
    text = PLAN
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "plan.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_expected_interval_and_calls_are_what_simulated_studies_have(seeds):
    (told,) = soaked.foreseen(design_(), seeds, seed=1)
    (seen,) = soaked_studies.simulated(design_(), studies=12, rng=np.random.default_rng(2))
    # the middle of 12 half-widths, and shares of 960 seeds of which 5 in 100 are told wrongly
    assert np.median(seen.half_width) == pytest.approx(told.half_width, rel=0.2)
    assert seen.wrong.mean() == pytest.approx(told.wrong, abs=0.02)
    assert seen.uncertain.mean() == pytest.approx(told.uncertain, abs=0.06)
    assert told.wrong > 0.02
    assert told.uncertain > told.wrong


def test_one_dish_has_the_limits_of_a_binomial_where_every_seed_is_told(seeds):
    """Jeffreys' and mid-P limits of 35 of 50 seeds lie 13 points from the share on average (computed here by their definition)."""
    fine = replace(design_(dishes=1).with_balance(0.01).resized(1, 50), correlation=1e-6)
    (told,) = soaked.foreseen(fine, seeds, seed=1)
    low, high = soaked.proportions.mid_p(35, 50, 0.95)
    assert told.half_width == pytest.approx((high - low) / 2, rel=0.03)
    assert told.wrong < 0.005


def test_dishes_that_differ_widen_the_interval(seeds):
    alike, apart = (
        soaked.foreseen(replace(design_(), correlation=rho), seeds, seed=1)[0].half_width
        for rho in (0.01, 0.2)
    )
    assert apart > 1.3 * alike


def test_seeds_told_wrongly_are_as_many_by_their_probabilities_as_by_their_fates(seeds):
    (told,) = soaked.foreseen(design_(), seeds, seed=1)
    assert reweighed.wrong(design_(), seeds) == pytest.approx(told.wrong, rel=0.15)


@pytest.mark.parametrize("readability_mg", [1.5, 4.0])
def test_probabilities_of_pooled_seeds_are_right_on_average(seeds, readability_mg):
    """Over seeds of all kinds, each as often as it comes, the mean probability is the share that is impermeable."""
    truth = design_().with_balance(readability_mg).truth
    never, imbibed = soaked.of_coat(INTACT, seeds.told(truth))
    p = expit(never - imbibed + logit(INTACT.impermeable))
    share = np.array([INTACT.impermeable, 1 - INTACT.impermeable - INTACT.late, INTACT.late])
    size = len(p) // 3
    assert np.repeat(share / size, size) @ p == pytest.approx(INTACT.impermeable, abs=0.012)


def test_a_finer_balance_and_a_later_weighing_tell_more_seeds_rightly(seeds):
    now = reweighed.wrong(design_(), seeds)
    assert reweighed.wrong(design_().with_balance(0.1), seeds) < 0.3 * now
    # seeds that open late have taken up their water a day after the last one opened
    assert reweighed.wrong(design_().weighed((*HOURS, 72.0)), seeds) < 0.8 * now
    assert reweighed.wrong(design_().weighed((0.0, 4.0)), seeds) > 1.5 * now


def test_weighings_are_placed_better_than_planned_and_as_many():
    own = design_().weighed((0.0, 2.0, 4.0, 48.0))
    candidates = reweighed.candidates(own, 72.0)
    assert candidates == [1.0, 3.0, 6.0, 8.0, 12.0, 18.0, 24.0, 36.0, 72.0]
    hours = tuple(sorted({*own.hours, *candidates}))
    seeds = pool.drawn(own.truth, hours, np.random.default_rng(3), size=150)
    found = reweighed.advise(own, seeds, 72.0, seed=1)
    assert len(found.best) == 4
    assert (found.best[0], found.best[-1]) == (0.0, 72.0)
    assert found.best_told.wrong < found.now.wrong
    assert found.added[0] == 72.0
    assert found.added[1].wrong == min(told.wrong for _, told in found.points)
    best = min(reweighed.wrong(own.weighed((0.0, 2.0, at, 72.0)), seeds) for at in (4.0, 24.0))
    assert found.best_told.wrong <= best
    assert found.steps[0][1].half_width == min(told.half_width for _, told in found.steps)


@pytest.mark.parametrize("readability_mg", [6.0, 30.0])
def test_a_balance_that_tells_hardly_any_seed_gives_no_answer(seeds, readability_mg):
    blind = design_().with_balance(readability_mg)
    told = soaked.foreseen(blind, seeds, seed=1)
    (own,) = weighing.prospects_of(blind, told)
    assert "weigh to a finer step" in own.why
    assert own.half_width == np.inf


def test_the_plan_says_what_is_weighed_and_asks_for_what_is_missing(tmp_path):
    plan = design.load(written(tmp_path))
    (one,) = plan.experiments
    assert one.hours == (0.0, 4.0, 24.0, 48.0)
    assert plan.places() == []
    own = guessed.soaked(plan, one, "A")
    assert [c.impermeable for c in own.coats] == [0.8, 0.1]
    assert (own.truth.film, own.truth.plateau, own.truth.half_time_h) == (0.02, 1.0, 8.0)
    assert own.truth.late_until_h == 48.0
    bare = design.load(written(tmp_path, ("{seed_mg: 9}", "{}")))
    with pytest.raises(guessed.Missing, match="Give `seed_mg`"):
        guessed.soaked(bare, one, "A")
    soft = design.load(written(tmp_path, ("method: acid, hard: 0.1", "method: acid")))
    with pytest.raises(guessed.Missing, match="Give `hard` of acid"):
        guessed.soaked(soft, one, "A")


def estimated(quantity, value, treatment=""):
    return Estimate(
        quantity=quantity,
        value=value,
        low=value,
        high=value,
        lot="A",
        treatment=treatment,
        status="estimated",
        method="invented",
    )


def test_a_finished_study_tells_how_much_water_its_seeds_took_up(tmp_path):
    bare = written(tmp_path, ("{seed_mg: 9}", "{}"), ("method: none, hard: 0.8", "method: none"))
    known = [
        estimated("thousand_seed_mass", 11.0),
        estimated("plateau_uptake", 95.0, "acid"),
        estimated("half_time", 6.0, "acid"),
        estimated("impermeable_fraction", 0.7, "intact"),
        estimated("impermeable_fraction", 0.3, "acid"),
    ]
    plan = finished.filled(design.load(bare), known)
    truth = guessed.soaked(plan, plan.experiments[0], "A")
    assert truth.truth.mass_mg == {"A": 11.0}
    assert (truth.truth.plateau, truth.truth.half_time_h) == (0.95, 6.0)
    # what was typed stays
    assert [c.impermeable for c in truth.coats] == [0.7, 0.1]


@pytest.mark.parametrize(
    ("wanted", "says"),
    [("{t50: 3}", "t50 cannot be wanted"), ("{power: 0.9}", "power cannot be wanted")],
)
def test_only_what_weighings_tell_can_be_wanted(tmp_path, wanted, says):
    path = written(tmp_path, ("{impermeable_fraction: 0.2, misclassified: 0.001}", wanted))
    with pytest.raises(SettingsFault, match=says):
        design.load(path)


def test_the_page_has_widths_wrong_calls_and_what_to_add(tmp_path, monkeypatch):
    def studies(own, studies, rng):
        width = rng.uniform(0.1, 0.11, studies)
        return [Seen(half_width=width, wrong=0.01 + 0 * width, uncertain=width)] * len(own.coats)

    monkeypatch.setattr(soaked_studies, "simulated", studies)
    # the other sizes are those of a chart
    monkeypatch.setattr(weighing, "DISHES", (2, 6))
    monkeypatch.setattr(weighing, "SEEDS", (8,))
    page = step.run(written(tmp_path), tmp_path / "plans").read_text(encoding="utf-8")
    assert "How many weighed seeds would be told wrongly" in page
    assert "Wanted is 1 of 1000: <strong>not enough</strong>" in page
    assert "10 of 1000" in page
    assert "placed at <strong>dry, " in page
    assert "Looked at were weighings up to" in page
    assert 'src="charts/plan-soaking-A-weighing-added.svg"' in page
    assert "What is not planned here" in page
    assert "12 dishes, 96 seeds" in page


def test_how_well_a_middle_is_known():
    """The median of n normal numbers has the error 1.2533·sd/√n (Stuart and Ord, Kendall's Advanced Theory; from memory)."""
    widths = 10 + np.random.default_rng(4).normal(size=40_000)
    assert error_of_middle(widths) == pytest.approx(1.2533 / 200 / 10, rel=0.15)

"""Baths in a plan: what differs between them widens a best duration, and one for each duration cannot show it."""

from dataclasses import replace

import numpy as np
import pytest
from markupsafe import Markup

from hilum.analyses.dishes import assemble
from hilum.analyses.scarification import best, doses
from hilum.analyses.scarification.sown import gather
from hilum.analyses.scarification.truth import ScarificationTruth, TrueDose, simulate
from hilum.plan import model
from hilum.plan.advised import baths as advised
from hilum.plan.asked import baths as asked
from hilum.plan.asked import design
from hilum.plan.expected import dosed, guessed
from hilum.plan.expected.prospect import half_width
from hilum.plan.failure import causes
from hilum.plan.simulated.treated import Treated
from hilum.report import planned
from hilum.stats import foreseen, spread

TRUE = TrueDose(
    permeable=0.1,
    opens=60.0,
    opens_slope=2.5,
    harms=400.0,
    harms_slope=4,
    doses=(0.0, 30.0, 60.0, 120.0, 240.0, 480.0),
)
PLAN = """\
name: bathed
title: Invented seeds in acid
source: invented
simulations: 20
room: {BATHS shelves: 1}
lots: [{lot: A}]
treatments:
  - {treatment: intact, method: none, hard: 0.9}
  - {treatment: chipped, method: chipping}
guesses: {opening_min: 60, harming_min: 400, SD}
experiments:
  - {experiment: acid, analysis: scarification, lots: [A], treatments: [intact, chipped], method: METHOD, temperature_c: 25,
     durations_min: [30, 60, 120, 240, 480], dishes: 4}
"""


def written(tmp_path, baths="", sd="", method="acid"):
    path = tmp_path / "plan.yaml"
    text = PLAN.replace("BATHS", baths).replace("SD", sd).replace("METHOD", method)
    path.write_text(text, encoding="utf-8")
    return path


def question(**parts):
    truth = ScarificationTruth(lots=(TRUE,), dishes=4, dish_sd=0.3)
    return dosed.Dosed(truth=truth, correlation=0.05, confidence=0.95, **parts)


def test_dishes_of_one_bath_are_one_unit_where_a_duration_has_several():
    truth = ScarificationTruth(lots=(TRUE,), dishes=5, seeds=20)
    two = Treated(truth, 2, 0.4)
    # untreated and chipped seeds lay in no bath; baths take turns
    assert two.bath.tolist()[:10] == [-1] * 5 + [0, 1, 0, 1, 0]
    assert two.bath.tolist()[-5:] == [-1] * 5
    assert two.expected.sown.tolist() == [20.0] * 5 + [60.0, 40.0] * 5 + [20.0] * 5
    assert len(Treated(truth, 1, 0.4).expected.sown) == 7 * 5
    drawn = two.drawn(np.random.default_rng(1))
    assert (drawn.sown == two.expected.sown).all()
    assert (drawn.permeable[drawn.opened] == 20).all()


def test_effects_are_those_of_baths_and_of_the_dishes_that_they_hold():
    truth = ScarificationTruth(lots=(TRUE,), dishes=4, dish_sd=0.3)
    variance, shared = Treated(truth, 2, 0.4).effects(30)
    assert shared is None
    # 4 untreated dishes, 10 baths of two dishes, 4 chipped dishes, and terms that have none
    assert variance[:, 0, 0] == pytest.approx(
        [0.09] * 4 + [0.045 + 0.16] * 10 + [0.09] * 4 + [0.0] * 12
    )
    variance, shared = Treated(truth, 1, 0.4).effects(40)
    assert variance[:, 0, 1] == pytest.approx([0.09] * 28 + [0.0] * 12)
    assert shared.group.tolist() == [-1] * 4 + [n for n in range(5) for _ in range(4)] + [-1] * 16


def test_drawn_scores_of_one_bath_go_together():
    """With effects of sd s on top, scores of two dishes of one group have the covariance I·s²·I, those of others none."""
    dishes = spread.DishScores(
        np.zeros((4, 3)),
        np.tile(50.0 * np.eye(3), (4, 1, 1)),
        np.zeros((4, 3, 3)),
        np.full(4, 0.5),
        np.zeros(4, dtype=bool),
    )
    drawn = foreseen.drawn_scores(
        dishes,
        spread.Components(np.zeros(2), np.full(2, np.inf)),
        draws=20_000,
        rng=np.random.default_rng(1),
        shared=foreseen.Shared(np.array([-1, 0, 0, 1]), 0.5),
    ).score
    speed = np.cov(drawn[..., 0].T)
    assert speed[1, 2] == pytest.approx(50 * 0.25 * 50, rel=0.05)
    assert speed.diagonal() == pytest.approx([50, 675, 675, 675], rel=0.05)
    assert abs(speed[0, 1]) < 15
    assert abs(speed[1, 3]) < 15


def in_series(tables):
    """Return what the analysis finds of a series."""
    steps = doses.steps_of(tables["treatments"])
    kinds = doses.untreated(steps), doses.by_hand(steps)
    gathered = gather(assemble(tables), tables, doses.series_of(steps), *kinds)
    (found,) = best.find(gathered, unknown=0.05, confidence=0.95)
    return found


def test_baths_are_pooled_and_analysed_as_the_analysis_does():
    own = question(baths=2, bath_sd=0.4)
    truth = replace(own.truth, baths=2, dishes=2, bath_sd=0.4)
    found = in_series(simulate(truth, rng=np.random.default_rng(3)))
    assert found.sown.by_bath
    low, high = np.exp((found.ends["best"].low, found.ends["best"].high))
    assert dosed._ends(own, found.fitted) == pytest.approx((low, high), rel=1e-6)
    # as many units as the plan expects
    assert len(found.sown.units) == len(own.treated.expected.sown)


def test_baths_that_differ_widen_a_best_duration():
    alike, differ = (question(baths=4, bath_sd=sd).resized(12, 25) for sd in (0.0, 0.4))
    assert half_width(differ, seed=1) > 1.5 * half_width(alike, seed=1)
    # the dishes of one bath show next to nothing of it
    blind = [question(bath_sd=sd).resized(12, 25) for sd in (0.0, 0.4)]
    assert half_width(blind[1], seed=1) < 1.2 * half_width(blind[0], seed=1)


def test_a_plan_has_baths_where_seeds_lie_in_one(tmp_path):
    plan = design.load(written(tmp_path, "baths: 2,"))
    own = guessed.dosed(plan, plan.experiments[0], "A")
    # where nothing is known they differ by 0.4 on a logit (common practice, no source)
    assert (own.baths, own.bath_sd) == (2, 0.4)
    plan = design.load(written(tmp_path, "baths: 2,", "bath_sd: 0.1"))
    assert guessed.dosed(plan, plan.experiments[0], "A").bath_sd == 0.1
    plan = design.load(written(tmp_path, "baths: 2,", method="sandpaper"))
    own = guessed.dosed(plan, plan.experiments[0], "A")
    assert (own.baths, own.bath_sd) == (1, 0.0)
    assert advised.compared(plan.experiments[0], "A", own, seed=1) is None


@pytest.mark.parametrize("sd", [0.2, 0.6])
def test_a_finished_study_tells_how_far_its_baths_differed(tmp_path, sd):
    plan = design.load(written(tmp_path))
    truth = ScarificationTruth(lots=(TRUE,), baths=4, dishes=3, bath_sd=sd, dish_sd=0.3)
    rng = np.random.default_rng(2)
    found = [asked.bath_sd(plan, {"acid": simulate(truth, rng=rng)}) for _ in range(12)]
    assert np.sqrt(np.mean(np.square(found))) == pytest.approx(sd, abs=0.12)


def test_few_baths_are_drawn_to_what_holds_where_nothing_is_known(tmp_path):
    plan = design.load(written(tmp_path))
    few = replace(TRUE, doses=(0.0, 60.0, 120.0))
    truth = ScarificationTruth(lots=(few,), baths=2, dishes=2, bath_sd=0.0, dish_sd=0.0)
    rng = np.random.default_rng(2)
    found = [asked.bath_sd(plan, {"acid": simulate(truth, rng=rng)}) for _ in range(6)]
    # two baths beyond the first, seen twice, that do not differ, and six as good as seen: 0.4·√(6/10) at least
    assert min(found) == 0.31
    assert max(found) < 0.6
    alone = {"acid": simulate(replace(truth, baths=1), rng=rng)}
    assert asked.bath_sd(plan, alone) is None
    assert asked.bath_sd(plan, {}) is None


def test_the_page_says_what_one_bath_cannot_tell(tmp_path, monkeypatch):
    ends = np.array([[100.0, 200.0], [180.0, 240.0], [np.inf, np.inf], [120.0, 260.0]])
    monkeypatch.setattr(dosed, "_studies", lambda _, studies, rng: ends)  # noqa: ARG005
    monkeypatch.setattr(model, "DISHES", (4,))
    monkeypatch.setattr(model, "SEEDS", (25,))
    monkeypatch.setattr(causes, "table", lambda _: [])

    def page(*changes):
        worked = model.work_out(design.load(written(tmp_path, *changes)))
        return planned.plan_page(worked, {"acid-acid-added": Markup("")})

    said = page()
    assert "What one" in said
    # the best duration, 157 min, lies in two of three intervals
    said = said[said.index("In acid each duration has one bath") :]
    held = "**67 % of the intervals hold it**, of 95 % promised"
    assert held in said.replace("\u00a0", " ")
    assert "between 40 % and 60 %" in said.replace("\u00a0", " ")
    # half-widths 30, 50, 70 and none, of which none cannot tell
    assert "would give between ± 50 min and ± 70 min in half of the studies" in said.replace(
        "\u00a0", " "
    )
    said = page("baths: 2,")
    assert "each duration has one bath" not in said
    assert "In acid each duration has 2" in said
    assert "67 % of the simulated intervals hold it" in said.replace("\u00a0", " ")

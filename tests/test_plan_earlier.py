"""A plan that adds to a study: its dishes are counted in, and what still runs is weighed."""

import csv
from dataclasses import asdict

import numpy as np
import pytest

from hilum.analyses.estimate import COLUMNS, Estimate
from hilum.plan import model
from hilum.plan.asked import design, finished
from hilum.plan.expected import guessed, warm_limits
from hilum.plan.expected.warm_design import WarmDesign
from hilum.plan.running import stopping
from hilum.steps import earlier
from hilum.steps import plan as step
from tests import raw

LOTS = "lot,taxon\nA,Strandia ficta\nB,Strandia ficta\n"
TREATMENTS = "treatment,step,method\nintact,,none\nchipped,1,chipping\n"
HEAD = "dish,lot,treatment,temperature_c,night_temperature_c,warm_h,seeds\n"
# of lot A three chipped dishes at 14 °C and two at 18 °C; the others are not of these seeds, or not at one temperature
COLD = HEAD + (
    "c1,A,chipped,14,,,25\nc2,A,chipped,14,,,25\nc3,A,chipped,14,,,25\nc4,A,chipped,18,,,25\nc5,A,chipped,18,,,25\n"
    "c6,A,intact,18,,,25\nc7,B,chipped,18,,,25\nc8,A,chipped,20,10,12,25\n"
)
RUNNING = HEAD + "".join(
    f"{name}-{dish},A,{name},25,,,25\n" for name in ("intact", "chipped") for dish in "abcd"
)
# no dish came to its end: 3 and 15 of 25 on average by day 4
COUNTS = "dish,elapsed_d,germinated\n" + "".join(
    f"{name}-{dish},{day},{n}\n"
    for name, newly in (("intact", (0, 1, 1, 1)), ("chipped", (1, 4, 6, 4)))
    for dish in "abcd"
    for day, n in enumerate(newly, start=1)
)
PLAN = """\
name: more
title: More of the cold
source: invented
simulations: 20
lots: [{lot: A}]
treatments: [{treatment: chipped, method: chipping, germinable: 0.9, hard: 0.02}]
guesses: {study: STUDY, lot: A, base_temperature_c: 10, thermal_time_50_c_h: 900, slope: 6}
experiments:
  - {experiment: further, analysis: temperature, lots: [A], treatments: [chipped], temperatures_c: [13, 22], dishes: 4,
     lowest_c: 12, highest_c: 24, step_c: 2, ADDS wanted: {base_temperature: 1}}
"""


@pytest.fixture
def study(tmp_path):
    """Return the results of a study of which `running` is not finished; its estimates are written by hand."""
    counts = "dish,elapsed_d,germinated\n" + "".join(f"c{n},28,20\n" for n in range(1, 9))
    ends = "dish,outcome,seeds\n" + "".join(f"c{n},dead,5\n" for n in range(1, 9))
    files = dict.fromkeys(raw.FILES) | {
        "lots.csv": LOTS,
        "treatments.csv": TREATMENTS,
        "cold/experiment.yaml": "title: Cold\nanalyses: []\n",
        "cold/dishes.csv": COLD,
        "cold/counts.csv": counts,
        "cold/outcomes.csv": ends,
        "running/experiment.yaml": "title: Running\nanalyses: []\n",
        "running/dishes.csv": RUNNING,
        "running/counts.csv": COUNTS,
    }
    made = raw.write(tmp_path, files)
    assert raw.run(made) == []
    guess = Estimate(
        lot="A",
        quantity="slope",
        value=6.0,
        low=5.0,
        high=7.0,
        status="estimated",
        method="invented",
    )
    place = made.results / "estimates" / "cold" / "temperature.csv"
    place.parent.mkdir(parents=True)
    with place.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS)
        writer.writeheader()
        writer.writerow({k: "" if v is None else v for k, v in asdict(guess).items()})
    return made


@pytest.fixture
def at_once(monkeypatch):
    """Spare the simulated studies, which other tests hold."""
    monkeypatch.setattr(WarmDesign, "simulated", lambda _, studies, rng: rng.uniform(size=studies))


def written(tmp_path, study, adds="adds_to: cold,"):
    path = tmp_path / "plan.yaml"
    text = PLAN.replace("STUDY", str(study.results)).replace("ADDS", adds)
    path.write_text(text, encoding="utf-8")
    return path


def test_dishes_of_the_same_seeds_at_a_constant_temperature_are_counted_in(tmp_path, study):
    plan = design.load(written(tmp_path, study))
    tables = earlier.tables(study.results)
    assert finished.allocation(plan, tables["cold"], "chipped") == {14.0: 3, 18.0: 2}
    assert finished.allocation(plan, None, "chipped") == {}


@pytest.mark.usefixtures("at_once")
def test_a_plan_that_adds_to_an_experiment_expects_what_all_dishes_tell(tmp_path, study):
    tables = earlier.tables(study.results)
    plan = design.load(written(tmp_path, study))
    added = model.work_out(plan, tables)
    (own,) = added.prospects
    seeds = guessed.warm(plan, plan.experiments[0], "chipped")
    every = {13.0: 4, 14.0: 3, 18.0: 2, 22.0: 4}
    seed = int(np.random.default_rng([plan.seed, 0]).integers(2**31))
    low, high, why = warm_limits.limits(seeds, every, seed=seed)
    assert (own.low, own.high, own.why) == (low, high, why)
    # other sizes would change dishes that were sown already
    assert added.sizes == []
    # 8 dishes are shared out, those that were sown stay
    assert all(sum(d.dishes.values()) == 8 for d in added.advice[0].designs)
    alone = model.work_out(design.load(written(tmp_path, study, adds="")), tables)
    assert own.half_width < alone.prospects[0].half_width
    assert alone.sizes


@pytest.mark.usefixtures("at_once")
def test_the_page_says_whether_to_go_on_with_what_still_runs(tmp_path, study):
    path = written(tmp_path, study)
    page = step.run(path, tmp_path / "plans").read_text(encoding="utf-8")
    assert "Whether to go on" in page
    assert "In running, which still runs, 7 more days of inspections" in page
    assert "In cold, which still runs" not in page
    found = stopping.outlook(
        earlier.tables(study.results)["running"],
        days=7,
        unknown=0.05,
        confidence=0.95,
        rng=np.random.default_rng([1, 1001]),
    )
    assert f"<strong>{100 * found.changes:.0f}" in page[page.index("In running, which") :]
    more = {g.key[1]: g.more for g in found.groups}
    # chipped seeds have come to their bend, intact ones go on slowly
    for name in ("intact", "chipped"):
        assert f"{more[name]:.1f} of 100" in page


def test_nothing_is_said_of_going_on_where_every_experiment_is_finished(tmp_path, study):
    tables = earlier.tables(study.results)
    plan = design.load(written(tmp_path, study))
    assert list(model._running(plan, tables)) == ["running"]
    assert model._running(plan, {"cold": tables["cold"]}) == {}

"""A plan that adds to a study: its dishes are counted in, and what still runs is weighed."""

import csv
from dataclasses import asdict

import numpy as np
import pytest
from markupsafe import Markup

from hilum.analyses.estimate import COLUMNS, Estimate
from hilum.plan import model
from hilum.plan.asked import added, design
from hilum.plan.expected import guessed, timed, warm_limits
from hilum.plan.expected.warm_design import WarmDesign
from hilum.plan.running import stopping
from hilum.report import planned
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
    assert added.at_temperatures(plan, tables["cold"], "chipped") == {14.0: 3, 18.0: 2}
    assert added.at_temperatures(plan, None, "chipped") == {}


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


ACID = """\
name: more
title: More acid
source: invented
simulations: 20
lots: [{lot: A}]
treatments:
  - {treatment: intact, method: none, germinable: 0.2, hard: 0.7, t50_d: 5}
  - {treatment: chipped, method: chipping, germinable: 0.9, hard: 0.02, t50_d: 4}
guesses: {study: STUDY, lot: A, opening_min: 60, harming_min: 400, bath_sd: 0.2, slope: 6}
experiments:
  - {experiment: acid, analysis: scarification, lots: [A], treatments: [intact, chipped], method: acid, temperature_c: 25,
     durations_min: [60, 240], dishes: 4, adds_to: running}
  - {experiment: beside, analysis: time_course, lots: [A], treatments: [intact, chipped], temperature_c: 25, dishes: 2,
     inspections: {last_d: 21}, adds_to: running}
  - {experiment: keeping, analysis: storage, lots: [A], treatments: [intact], temperature_c: 25, stored_d: [0, 90, 400],
     adds_to: running}
  - {experiment: cold, analysis: temperature, lots: [A], treatments: [chipped], temperatures_c: [14, 18, 22], adds_to: gone}
  - {experiment: warm, analysis: temperature, lots: [A], treatments: [chipped], temperatures_c: [14, 18, 22], adds_to: bathed}
"""
BATHED = "dish,lot,treatment,temperature_c,seeds,batch\n" + "".join(
    f"{name}{n},{lot},{name},{degrees},20,{bath}\n"
    for name, lot, degrees, baths in (
        ("acid-30", "A", 25, "ppqq"),
        ("acid-60", "A", 25, "rr"),
        ("acid-90", "B", 25, "ss"),
        ("acid-120", "A", 15, "tt"),
        ("acid-dry", "A", 25, "uu"),
        ("intact", "A", 25, "  "),
    )
    for n, bath in enumerate(baths)
)


@pytest.fixture
def bathed(study):
    """Return checked tables of the study with an experiment of acid added."""
    tables = earlier.tables(study.results)
    dishes = [line.split(",") for line in BATHED.splitlines()]
    columns = dict(zip(dishes[0], np.array(dishes[1:]).T, strict=True))
    numbers = {name: columns[name].astype(float) for name in ("temperature_c", "seeds")}
    nan = np.full(len(dishes) - 1, np.nan)
    columns |= numbers | {"night_temperature_c": nan, "stored_d": nan}
    columns["batch"] = np.char.strip(columns["batch"])
    steps = [
        ("intact", "none", np.nan),
        ("acid-dry", "acid", 60.0),
        ("acid-dry", "chipping", np.nan),
    ]
    steps += [(f"acid-{n}", "acid", float(n)) for n in (30, 60, 90, 120)]
    blank = np.full(len(steps), "")
    treatments = {
        "treatment": np.array([s[0] for s in steps]),
        "method": np.array([s[1] for s in steps]),
        "duration": np.array([s[2] for s in steps]),
        "duration_unit": np.array(["" if np.isnan(s[2]) else "min" for s in steps]),
        "step": np.array([1.0, 1.0, 2.0, *(1.0 for _ in steps[3:])]),
        "concentration": np.full(len(steps), np.nan),
        "temperature_c": np.full(len(steps), np.nan),
    } | dict.fromkeys(("position", "agent", "concentration_unit"), blank)
    return tables | {"bathed": {"dishes": columns, "treatments": treatments}}


def acid(tmp_path, study):
    path = tmp_path / "acid.yaml"
    path.write_text(ACID.replace("STUDY", str(study.results)), encoding="utf-8")
    return design.load(path)


def test_dishes_of_durations_are_counted_in_with_their_seeds_and_baths(tmp_path, study, bathed):
    plan = acid(tmp_path, study)
    one = plan.experiments[0]
    found = added.at_durations(plan, one, bathed["bathed"])
    # neither another lot, another temperature, nor a second step
    assert [(e.minutes, e.opened, e.dishes, e.seeds, e.baths) for e in found] == [
        (0.0, False, 2, 20.0, 1),
        (30.0, False, 4, 20.0, 2),
        (60.0, False, 2, 20.0, 1),
    ]
    own = guessed.dosed(plan, one, "A", found)
    # untreated, 60 and 240 min alone are too few durations
    assert "takes untreated seeds and three" in guessed.dosed(plan, one, "A").limits(seed=1)[2]
    assert own.treated.doses == [0.0, 30.0, 60.0, 240.0]
    assert "three durations" not in own.limits(seed=1)[2]
    # 60 min now has a bath of before and one of its own
    assert own.treated.most_baths == 2
    seeds = own.treated.expected
    assert seeds.sown[np.isclose(seeds.log_dose, np.log(60))].tolist() == [100.0, 40.0]
    assert sorted(seeds.sown[np.isclose(seeds.log_dose, np.log(30))]) == [40.0, 40.0]


def test_dishes_beside_each_other_are_counted_in(tmp_path, study):
    plan = acid(tmp_path, study)
    one, tables = plan.experiments[1], earlier.tables(study.results)["running"]
    assert added.side_by_side(plan, one, tables) == {"intact": 4, "chipped": 4}
    alone, more = (guessed.timed(plan, one, "A", a) for a in ({}, {"chipped": 4}))
    assert more.dishes == [2, 6]
    few, many = (
        {(p.quantity, p.treatment): p.half_width for p in timed.prospects(own, seed=1)}
        for own in (alone, more)
    )
    for quantity in ("germinated", "hard"):
        assert many[quantity, "chipped"] < 0.75 * few[quantity, "chipped"]
    # groups of unequal size are simulated as they are
    widths = timed.simulated(more, studies=100, rng=np.random.default_rng(1))
    for p in timed.prospects(more, seed=1):
        if p.quantity in ("t50", "germinated") and not p.why:
            seen = p.checked(widths[p.quantity, p.lot, p.treatment, p.versus]).in_simulations
            assert seen == pytest.approx(p.half_width, rel=0.2)


@pytest.mark.usefixtures("at_once")
def test_a_plan_says_what_it_counts_in_and_what_it_cannot(tmp_path, study, bathed):
    plan = acid(tmp_path, study)
    told = [added.said(plan, one, bathed) for one in plan.experiments]
    assert [t.counted for t in told] == [True, True, False, False, False]
    assert told[0].says == (
        "For acid, these dishes of running are counted in: 4 untreated; 4 opened by hand."
    )
    assert told[1].says.endswith(
        "4 of intact; 4 of chipped; with as many seeds in each as planned."
    )
    assert told[2].says.startswith(
        "For keeping, nothing of running is counted in: a time of storage is planned without"
    )
    assert "over durations in minutes" in told[2].says
    assert "no such experiment with dishes that were inspected (it has" in told[3].says
    assert "no fresh seeds of the lot after these treatments at a constant" in told[4].says
    # what adds to nothing needs no sentence
    assert (
        added.said(plan, plan.experiments[0].model_copy(update={"adds_to": None}), bathed) is None
    )
    worked = model.work_out(design.load(written(tmp_path, study, adds="adds_to: gone,")), {})
    page = planned.plan_page(worked, {"further-chipped-added": Markup("")})
    assert "Not counted in" in page
    assert "For further, nothing of gone is counted in" in page


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

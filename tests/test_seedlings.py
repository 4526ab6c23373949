"""Seedlings from the tables to the page: truths found again, and a sentence for every named outcome."""

import re
from dataclasses import replace

import numpy as np
import pytest

from hilum.analyses.naming import Naming
from hilum.analyses.seedlings import chart, grown, late, model, pause
from hilum.analyses.seedlings.truth import TrueSeedlings
from hilum.analyses.simulated import as_table
from hilum.report import pages
from hilum.settings import Settings
from hilum.steps import check, fit, report
from hilum.study import Study
from tests import leaved
from tests.demo import raw

USUAL = TrueSeedlings(dying=0.0)


def _fit(tables):
    return model.fit(tables, settings=leaved.SETTINGS, rng=np.random.default_rng(1))


def _simulated(*groups, seed=1, **truth):
    made = replace(model.TRUTH, groups=groups or (USUAL,), **truth)
    return model.simulate(made, rng=np.random.default_rng(seed))


def _page(found):
    """Return every sentence of the page in the order of its macros, as a reader sees it."""
    module = (
        pages.environment()
        .get_template("seedlings/page.md.jinja")
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
    macros = ("answer", "headline", "limits", "next_step", "details")
    text = " ".join(str(getattr(module, name)()) for name in macros)
    text = text.replace("\N{NO-BREAK SPACE}", " ").replace("&#46;", ".").replace("&#45;", "-")
    return " ".join(text.split())


def _estimate(found, quantity, at=None):
    return next(e for e in found.estimates if e.quantity == quantity and at in (None, e.at))


def _group(found):
    return found.drawing.groups[0]


def _row(found, name):
    return next(row for row in found.rows["seedlings"] if row["seedling"] == name)


def _seedlings(counts, *, step=3.0, days=None, repeat=1, **columns):
    """Return the table of seedlings looked at every third day: digits are leaves, x is dead, . where nobody looked."""
    rows = []
    for i, looks in enumerate(counts * repeat):
        for place, look in enumerate(looks):
            day = days[place] if days else step * (place + 1)
            if look == ".":
                continue
            about = {"seedling": f"s{i}", "lot": "lot", "treatment": "chipped", "elapsed_d": day}
            about |= {"leaves": 0.0 if look == "x" else float(look), "alive": float(look != "x")}
            rows.append(about | columns)
    return {"stages": as_table("stages", rows)}


# --- the truth is found again


def test_fit_finds_what_simulate_put_in():
    true = replace(USUAL, seedlings=400)
    found = _fit(_simulated(true))
    z = np.array([-1.6449, 0.0, 1.6449])
    first = true.first_d * np.exp(z * np.hypot(true.spread, true.vigour))
    paused = true.pause_d * np.exp(z * np.hypot(true.pause_spread, true.vigour))
    for i, level in enumerate(("t5", "t50", "t95")):
        assert _estimate(found, f"leaf_{level}", 1).value == pytest.approx(first[i], rel=0.06)
        assert _estimate(found, f"pause_{level}").value == pytest.approx(paused[i], rel=0.08)
    assert _estimate(found, "pause_t50").at == true.pause_leaves
    assert _estimate(found, "stay_t50", 4).value == pytest.approx(true.leaf_d, rel=0.06)


@pytest.mark.parametrize("leaves", [1, 2, 4])
def test_the_pause_is_found_where_it_is(leaves):
    found = _fit(_simulated(replace(USUAL, pause_leaves=leaves, pause_d=20.0)))
    assert (_group(found).verdict, _group(found).leaves) == ("pause", leaves)
    assert f"a pause at {leaves} lea" in _page(found)


def test_leaves_that_open_in_pairs_are_no_pauses():
    # two leaves at once: the stay at each odd number is a moment, and that at each even one is not a pause
    pairs = ["0000222244446666888", "0002222444466668888", "0000222224444666688"]
    assert _group(_fit(_seedlings(pairs, repeat=6))).verdict == "no_pause"
    paused = ["000222222222444666888", "002222222224446668888", "000222222222244466688"]
    found = _group(_fit(_seedlings(paused, repeat=6)))
    assert (found.verdict, found.leaves) == ("pause", 2)


# --- what a seedling's looks say


def test_a_leaf_opens_between_two_looks():
    seedling = grown.gather(_seedlings(["0112"]))[0].seedlings[0]
    assert seedling.reached(0) == (0.0, 0.0)
    assert seedling.reached(1) == (3.0, 6.0)
    assert seedling.reached(2) == (9.0, 12.0)
    assert seedling.reached(3) == (12.0, np.inf)
    assert seedling.stay(1) == (3.0, 9.0)
    assert seedling.stay(2) == (0.0, np.inf)


def test_a_leaf_that_fell_counts_and_the_order_of_rows_does_not():
    fell = _seedlings(["01211"])
    turned = {"stages": {name: column[::-1] for name, column in fell["stages"].items()}}
    for tables in (fell, turned):
        seedling = grown.gather(tables)[0].seedlings[0]
        assert seedling.leaves.tolist() == [0, 1, 2, 2, 2]


def test_a_dead_seedling_counts_up_to_its_last_look_alive():
    (siblings,) = grown.gather(_seedlings(["0122x", "01222"]))
    dead, living = siblings.seedlings
    assert (dead.died, dead.last_d, dead.now) == (15.0, 12.0, 2)
    assert np.isnan(living.died)
    _, spans = siblings.at_leaves(2)
    assert spans.ended_low.tolist() == [12.0, 15.0]
    assert not spans.ended.any()


# --- named outcomes, each with its sentence


def test_one_seedling_says_nothing_of_others():
    found = _fit(_seedlings(["0112222223"]))
    assert _group(found).verdict == "alone"
    assert all(e.status == "not_identified" for e in found.estimates)
    assert "one seedling says nothing of what is normal" in _page(found)
    assert "follow at least ten" in _page(found)


def test_none_has_leaves_yet():
    found = _fit(_seedlings(["0000"], repeat=8))
    assert _group(found).verdict == "no_leaves"
    half = _estimate(found, "leaf_t50", 1)
    assert (half.status, half.low, half.high) == ("bracketed", 12.0, None)
    assert "no seedling has a leaf yet, 12 d after germination" in _page(found)


def test_none_has_resumed():
    found = _fit(_seedlings(["0122222222222", "0112222222222", "0012222222222"], repeat=5))
    assert (_group(found).verdict, _group(found).leaves) == ("not_resumed", 2)
    half = _estimate(found, "pause_t50")
    assert (half.status, half.high) == ("bracketed", None)
    assert half.low > 20
    page = _page(found)
    assert "seedlings stop at 2 leaves, and none has grown on yet" in page
    assert "half of them stay there for longer than" in page
    assert "drawn by lot" in page


def test_all_resumed_between_two_inspections():
    # weekly looks from day 3 on: all stay at two leaves from day 10 to day 31, and go on by day 38
    days = [3.0, 10.0, 17.0, 24.0, 31.0, 38.0, 45.0, 52.0]
    found = _fit(_seedlings(["02222345"], days=days, repeat=12))
    assert _group(found).leaves == 2
    half = _estimate(found, "stay_t50", 2)
    assert half.status == "bracketed"
    assert (half.low, half.high) == (21.0, 35.0)
    assert "look more often" in half.needs
    page = _page(found)
    assert "The median seedling stays there between 21 and 35 d" in page
    assert "too far apart to see how they differ: look more often" in page
    assert "Looks lie far apart: lot, chipped (every 7 d)" in page


def test_there_is_no_pause():
    found = _fit(_simulated(replace(USUAL, pause_leaves=0)))
    assert _group(found).verdict == "no_pause"
    assert _estimate(found, "pause_t50").status == "not_identified"
    page = _page(found)
    assert "there is no pause" in page
    assert "There is no pause to wait for" in page


def test_seedlings_pause_at_different_leaf_numbers():
    two, three = "01222222222345", "01233333333345"
    found = _fit(_seedlings([two, three], repeat=6))
    assert _group(found).verdict == "scattered"
    assert {row["pause_leaves"] for row in found.rows["seedlings"]} == {2, 3}
    assert "not at the same leaf number" in _page(found)


def test_too_few_looks_cannot_tell():
    found = _fit(_seedlings(["0123"], repeat=3))
    assert _group(found).verdict == "not_told"
    page = _page(found)
    assert "whether there is a pause cannot be told yet" in page
    assert "Few seedlings" in page


def test_seedlings_that_died_are_told_and_censored():
    found = _fit(_simulated(replace(USUAL, dying=0.4)))
    group = _group(found)
    assert group.verdict == "pause"
    assert group.died > 5
    # a seedling that died after its pause has grown on in every count, and each death is told once
    died = [row["leaves"] for row in found.rows["seedlings"] if row["state"] == "died"]
    later, within = sum(n > 2 for n in died), sum(n == 2 for n in died)
    before, grown_on = len(died) - later - within, group.resumed + later
    page = _page(found)
    assert min(later, within, before) > 0
    assert f"{grown_on} of {group.seedlings} have grown on ({later} of them died later)" in page
    assert f"{within} died in it; {before} died before it." in page
    assert f">{grown_on} of " in page
    assert "If the slowest die" in _page(found)
    # as if they had only been lost
    tables = _simulated(replace(USUAL, dying=0.4))
    living = tables["stages"]["alive"] == 1
    lost = _fit({"stages": {name: column[living] for name, column in tables["stages"].items()}})
    for e, other in zip(found.estimates, lost.estimates, strict=True):
        assert (e.value, e.low) == pytest.approx((other.value, other.low))
    assert "not looked at to the end" in _page(lost)


def test_seedlings_found_dead_at_their_first_look_leave_the_others_as_they_are():
    usual = ["01222222345", "01122222234", "00122222234", "01122222345"]
    alone = _fit(_seedlings(usual, repeat=4))
    with_dead = _fit(_seedlings([*(usual * 4), "x", "x"]))
    assert _group(with_dead).died == 2
    for e, other in zip(alone.estimates, with_dead.estimates, strict=True):
        assert (e.quantity, e.at) == (other.quantity, other.at)
        if e.status == other.status == "estimated":
            # kinds of span lie in another order, and a flat top is reached from another side
            assert e.value == pytest.approx(other.value, rel=1e-3)


# --- late seedlings


def test_a_seedling_that_never_leaves_the_pause_is_late_and_not_called_dead():
    found = _fit(
        _simulated(replace(USUAL, stunted=1), looks_d=tuple(3.0 * n for n in range(1, 41)))
    )
    row = _row(found, "1-01")
    assert row["state"] == "in the pause"
    assert row["pause_at_most_d"] is None
    assert row["pause_at_least_d"] > 90
    assert row["later"] == "than chance explains"
    page = _page(found)
    assert "1-01 is later than chance explains" in page
    assert "A late seedling is not a dead one" in page
    assert "Discard none for being late" in page


def test_in_a_crowd_some_are_late_by_chance_and_the_page_says_how_many():
    found = _fit(_simulated(replace(USUAL, seedlings=100), seed=3))
    group = _group(found)
    assert 1 <= len(group.late) <= 10
    assert not group.strictly_late
    page = _page(found)
    assert "chance alone makes up to about 10 of 100 look so" in page
    assert "Not one is later than chance explains" in page


def test_among_more_seedlings_the_strict_mark_is_stricter():
    # 0.002 is below 0.05/20, and above 0.05/200: each seedling is looked at twice
    few, many = (late.Chances(np.array([0.002] + [1.0] * n), np.ones(n + 1)) for n in (9, 99))
    assert late.beyond_chance([few], 0.95)[0].tolist() == [True] + [False] * 9
    assert not late.beyond_chance([many], 0.95)[0].any()
    assert not any(marks.any() for marks in late.beyond_chance([few, many], 0.95))


def test_a_seedling_is_judged_by_its_own_lot_and_treatment():
    one = replace(USUAL, seedlings=15, stunted=1)
    quick = replace(one, lot="second", pause_d=5.0, seedlings=15)
    alone, both = _fit(_simulated(one)), _fit(_simulated(one, quick))
    names = ("siblings_no_further", "siblings_pausing_as_long")
    assert [_row(alone, "1-01")[n] for n in names] == [_row(both, "1-01")[n] for n in names]


# --- other things that may not change, or crash


def test_a_pause_of_one_seedling_is_sure_only_where_its_looks_are():
    (siblings,) = grown.gather(_seedlings(["0122222223456", "0123456666666", "012"]))
    assert [pause.own_pause(s) for s in siblings.seedlings] == [2, 0, 0]


@pytest.mark.parametrize(
    "counts", [["0"], ["9"], ["5", "0"], ["x"], ["x", "x"], ["08"], ["0.1..2"], ["88888"] * 7]
)
def test_odd_seedlings_end_in_a_page(counts):
    found = _fit(_seedlings(counts))
    page = _page(found)
    assert "None" not in page
    assert "nan" not in page.split()
    assert "inf" not in page.split()


def test_the_band_of_siblings_is_drawn_where_the_slowest_are_not_there_yet():
    # a tenth stays at two leaves for good: when 95 % have three is not known, but that it takes long is
    found = _simulated(replace(USUAL, stunted=4, seedlings=40))
    made = _fit(found)
    third = _estimate(made, "leaf_t95", 3.0)
    assert third.status == "bracketed"
    bars = {b["leaves"]: b for b in chart._band(_group(made), made.estimates)}
    assert set(bars) == set(range(1, 7))
    assert not bars[1]["open"]
    assert bars[3]["open"]
    assert bars[3]["low"] < bars[3]["middle"] <= bars[3]["high"]
    assert bars[3]["high"] >= third.low
    pause = _estimate(made, "pause_t95")
    assert pause.status == "bracketed"
    assert re.search(
        r"Nine of ten pauses last from .{5,60} to a time (between|above) ", _page(made)
    )
    (caption,) = [
        f.caption for f in chart.figures(made.drawing, made.estimates) if "leaves" in f.name
    ]
    assert "A bar that ends in an arrow reaches so far at least" in caption


# --- trays


def test_trays_that_differ_widen_the_intervals_and_the_page_says_so():
    counts = ["0011122", "0000112"] * 5
    table = _seedlings(counts)["stages"]

    def fitted(*trays):
        named = {f"s{i}": tray for i, tray in enumerate(trays)}
        return _fit({"stages": table | {"tray": np.array([named[s] for s in table["seedling"]])}})

    plain, single = fitted(*[""] * 10), fitted(*["t1"] * 10)
    apart = fitted(*[f"{'quick' if i % 2 else 'slow'} {i % 3}" for i in range(10)])
    one, other = (_estimate(found, "leaf_t50", 1.0) for found in (plain, apart))
    assert other.high - other.low > 1.5 * (one.high - one.low)
    assert "widened for the spread between trays (6)" in other.method
    assert "the intervals allow for how far the trays lie apart" in _page(apart)
    page = _page(plain)
    assert "No tray is named" in page
    assert "seedlings were taken to be independent" in page
    assert "Name the tray of each seedling in stages.csv" in page
    assert "All seedlings stood in one tray" in _page(single)
    assert _estimate(single, "leaf_t50", 1.0).high == one.high
    few = _page(fitted("", *["a", "b", "b"] * 3))
    assert "Few trays" in few
    assert "Some seedlings have no tray" in few


def test_a_pause_is_found_among_trays_as_well_as_without_them():
    tried = {n: leaved.Design(trays=5, paused_at=n) for n in (2, 0)}
    found = {n: leaved.find(design, 4, 3)[0] for n, design in tried.items()}
    assert found[2]["pause at 2"] == 4
    assert not any(verdict.startswith("pause") for verdict in found[0])


def test_no_seedlings_at_all():
    found = _fit(_seedlings([]))
    assert found.estimates == ()
    assert "No seedling was followed here" in _page(found)


def test_pauses_and_none_are_found_in_studies_that_share_no_code():
    verdicts, found = leaved.find(leaved.Design(seedlings=25), 3, 7)
    assert verdicts == {"pause at 2": 3}
    assert found["studies that call a sound one later than chance"] <= 1
    assert found["sound, than 95 %"] <= 0.1 * 75
    verdicts, _ = leaved.find(leaved.Design(paused_at=0, seedlings=25), 3, 7)
    assert not [v for v in verdicts if v.startswith(("pause", "not_resumed"))]


# --- a study that has nothing else


def test_a_study_of_seedlings_alone_goes_the_whole_way(tmp_path):
    study = Study(raw=tmp_path / "leaves", results=tmp_path / "results")
    stages = _simulated(replace(USUAL, seedlings=12), replace(USUAL, lot="second", seedlings=1))
    table = stages["stages"] | {"alive": np.full(len(stages["stages"]["alive"]), "")}
    raw.write(study.raw / "grown" / "stages.csv", *raw.table(table))
    raw.write(study.raw / "lots.csv", ["lot", "taxon"], [["first", "Fabula"], ["second", "Fabula"]])
    raw.write(study.raw / "treatments.csv", ["treatment", "method"], [["chipped", "none"]])
    text = "title: Is this pause normal?\nanalyses: [seedlings]\n"
    (study.raw / "grown" / "experiment.yaml").write_text(text, encoding="utf-8")
    settings = Settings(study=study.raw)
    for step in (check, fit, report):
        step.run(study, settings)
    made = {p.name: p.read_text(encoding="utf-8") for p in study.pages.rglob("*.md")}
    assert {"index.md", "grown.md", "first.md", "second.md"} <= set(made)
    assert "a pause at 2 leaves is normal here" in made["grown.md"]
    assert "one seedling says nothing of what is normal" in made["grown.md"]
    assert "pauses at 2 leaves" in made["index.md"]
    assert "No seeds of this lot were sown or weighed yet" in made["second.md"]
    # plants may come to stand outdoors, whatever was done to the seeds
    assert "Sowing and planting out" in made["grown.md"]
    cautions = made["grown.md"].index("{ #treatments }")
    assert "authority for nature" in made["grown.md"][cautions:]

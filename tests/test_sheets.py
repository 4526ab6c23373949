"""From a plan to tables to be filled in, and from filled tables to the report's answers."""

import errno
import re
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import sync_playwright

from hilum import manifest
from hilum.plan.asked import design
from hilum.plan.laid_out import layout, weighed
from hilum.report import bench_sheets
from hilum.settings import SettingsFault, load
from hilum.steps import check, earlier, fit, report, sheets
from hilum.study import Study
from hilum.tables.sentences import Faults
from tests import bench_hand, raw

EXAMPLE = Path(__file__).parent.parent / "config" / "plan.yaml"
PLAN = """\
name: bay-1
title: What bay-1 needs
source: Invented for a test.
seed: 3
sow_on: 2027-03-01
room: {shelves: 3, positions: 20, baths: 2}
lots: [{lot: bay-1, taxon: Litorivolva ficta}]
treatments:
  - {treatment: intact, method: none, germinable: 0.06, hard: 0.85, t50_d: 6}
  - {treatment: chipped, method: chipping, germinable: 0.88, hard: 0.01, t50_d: 4.5}
guesses: {base_temperature_c: 10, thermal_time_50_c_h: 1000, opening_min: 60, harming_min: 500, viable: 0.9,
  half_viability_d: 400, seed_mg: 9}
viability_tests: [{lot: bay-1, seeds: 50}]
experiments:
  - {experiment: cold, analysis: temperature, lots: [bay-1], treatments: [chipped], temperatures_c: [13, 16, 19, 22], dishes: 3,
     chambers: 2}
  - {experiment: beside, analysis: time_course, lots: [bay-1], treatments: [intact, chipped], temperature_c: 22, dishes: 3}
  - {experiment: acid, analysis: scarification, lots: [bay-1], treatments: [intact, chipped], method: acid, temperature_c: 22,
     durations_min: [15, 60, 240, 480, 960], dishes: 4, seeds: 50, inspections: {every_d: 7, last_d: 21}}
  - {experiment: keeping, analysis: storage, lots: [bay-1], treatments: [chipped], temperature_c: 22, stored_d: [0, 200, 400, 800],
     dishes: 3, inspections: {every_d: 7, last_d: 21}, ends_with: cutting}
  - {experiment: wet, analysis: imbibition, lots: [bay-1], treatments: [intact, chipped], weighings_h: [4, 24, 48], balance_mg: 0.1,
     dishes: 2, seeds: 10}
"""
ANSWERS = {
    "cold": "base_temperature",
    "beside": "t50",
    "acid": "best_duration",
    "keeping": "half_viability_period",
    "wet": "impermeable_fraction",
}


def written(folder, text=PLAN):
    """Return the path of a plan."""
    path = folder / "plan.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def plan_of(tmp_path, *changes):
    """Return the plan with pieces of its text replaced."""
    text = PLAN
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return design.load(written(tmp_path, text))


def blank(folder, text=PLAN):
    """Return the study that `make sheets` writes for a plan, and its settings."""
    config = sheets.run(written(folder, text), folder / "mine")
    settings = load(config)
    return Study(raw=settings.study, results=folder / "results" / settings.study.name), settings


# where dishes stand


def test_the_same_plan_gives_the_same_bytes_and_another_seed_other_places(tmp_path):
    path = written(tmp_path)
    first, second = (sheets.run(path, tmp_path / name).parent for name in ("a", "b"))
    both = [{p.relative_to(f): p.read_bytes() for p in manifest.files(f)} for f in (first, second)]
    assert both[0] == both[1]
    assert len(both[0]) > 15
    plan = design.load(EXAMPLE)
    other = plan.model_copy(update={"seed": plan.seed + 1})
    assert layout.laid_out(plan) != layout.laid_out(other)


def test_no_two_dishes_stand_in_one_place_at_one_time(tmp_path):
    plan = plan_of(tmp_path)
    standing = layout.laid_out(plan)
    assert len(standing) == sum(place.dishes for place in plan.places())
    assert len({(s.experiment, s.dish) for s in standing}) == len(standing)
    for days in {s.stored_d or 0.0 for s in standing}:
        places = Counter((s.temperature_c, s.place) for s in standing if (s.stored_d or 0) == days)
        assert max(places.values()) == 1


def test_dishes_that_still_stand_keep_their_places_from_those_sown_later(tmp_path):
    standing = layout.laid_out(plan_of(tmp_path, ("[0, 200, 400, 800]", "[0, 10, 400, 800]")))
    both = [s for s in standing if s.temperature_c == 22 and (s.stored_d or 0) <= 10]
    assert len({s.place for s in both}) == len(both)


def test_each_treatment_stands_once_on_every_shelf_as_far_as_its_dishes_go(tmp_path):
    plan = plan_of(tmp_path)
    kinds = {}
    for dish in layout.laid_out(plan):
        kinds.setdefault(dish.kind, []).append(dish)
    for (experiment, *_), own in kinds.items():
        shelves = Counter(s.place[:2] for s in own)
        assert max(shelves.values()) - (min(shelves.values()) if len(own) > 6 else 0) <= 1
        if experiment == "cold":
            # three dishes in two chambers: two and one
            assert sorted(Counter(s.chamber for s in own).values()) == [1, 2]
        if own[0].batch:
            assert sorted(Counter(s.batch for s in own).values()) == [2, 2]


def test_shelves_fill_evenly(tmp_path):
    standing = layout.laid_out(plan_of(tmp_path))
    warm = Counter(s.place[:2] for s in standing if s.temperature_c == 22 and not s.stored_d)
    assert max(warm.values()) - min(warm.values()) <= 1


def test_places_are_drawn_evenly():
    """Over many seeds each treatment comes to stand about as often at the front as at the back."""
    plan = design.load(EXAMPLE)
    first = Counter[str]()
    for seed in range(100):
        drawn = layout.laid_out(plan.model_copy(update={"seed": seed}))
        first.update(s.treatment for s in drawn if s.experiment == "opening" and s.position <= 2)
    # three treatments, 4 dishes each in the 52 places of 4 shelves: 8 in 52 fall among the first two
    for found in first.values():
        assert found == pytest.approx(100 * 4 * 8 / 52, abs=32)  # four standard errors
    assert len(first) == 3


def test_each_treatment_gets_as_many_seeds_for_each_vessel(tmp_path):
    plan = plan_of(tmp_path)
    seeds = weighed.seeds(plan, plan.experiments[-1])
    assert Counter((s.treatment, s.batch) for s in seeds) == dict.fromkeys(
        [(t, f"{t} vessel {n}") for t in ("intact", "chipped") for n in (1, 2)], 10
    )
    assert [s.treatment for s in seeds[:20]] != sorted(s.treatment for s in seeds[:20])


def test_a_room_that_is_too_small_is_refused(tmp_path):
    plan = plan_of(tmp_path, ("positions: 20", "positions: 5"))
    with pytest.raises(
        SettingsFault, match=r"room: 40 dishes come to stand at 22 °C, but 6 shelves"
    ):
        layout.laid_out(plan)


def test_what_a_layout_cannot_tell_apart_is_said(tmp_path):
    plan = plan_of(tmp_path)
    standing = layout.laid_out(plan)
    assert layout.confounded(plan, standing) == []
    alone = plan_of(tmp_path, ("     chambers: 2", "     chambers: 1"), (", baths: 2", ""))
    told = layout.confounded(alone, layout.laid_out(alone))
    assert "In cold one chamber stands for each temperature (13, 16, 19, 22 °C)" in told[0]
    assert "In acid (acid-15, acid-60, acid-240, acid-480, acid-960) all dishes" in told[1]
    assert len(told) == 2
    heaped = [
        replace(s, chamber="c22", shelf=1) if s.treatment == "intact" else s for s in standing
    ]
    told = layout.confounded(plan, heaped)
    assert (
        "In beside (intact) and acid (intact) all dishes of a treatment stand on one shelf"
        in told[0]
    )
    single = plan_of(tmp_path, ("temperature_c: 22, dishes: 3}", "temperature_c: 22, dishes: 1}"))
    assert (
        "one dish stands for a treatment" in layout.confounded(single, layout.laid_out(single))[0]
    )


# the folder


def test_what_a_person_filled_in_is_never_written_over(tmp_path):
    path = written(tmp_path)
    folder = sheets.run(path, tmp_path / "mine").parent
    # nothing was filled in, so another plan may take its place
    sheets.run(
        written(tmp_path, PLAN.replace("dishes: 2, seeds: 10", "dishes: 2, seeds: 5")), folder
    )
    table = next(folder.rglob("weighings.csv"))
    table.write_text(table.read_text(encoding="utf-8").replace(",,", ",8.1,", 1), encoding="utf-8")
    held = table.read_bytes()
    with pytest.raises(SettingsFault, match=r"bay-1/wet/weighings.csv was changed since"):
        sheets.run(path, folder)
    assert table.read_bytes() == held
    (folder / ".blank.json").write_text("{", encoding="utf-8")
    with pytest.raises(SettingsFault, match="cannot be read"):
        sheets.run(path, folder)
    own = tmp_path / "own"
    own.mkdir()
    (own / "notes.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(SettingsFault, match="did not write"):
        sheets.run(path, own)
    assert (own / "notes.txt").read_text(encoding="utf-8") == "mine"


def test_a_new_page_of_the_plan_keeps_the_study_also_after_a_kill(tmp_path):
    place = tmp_path / "bay-1"
    (place / "study").mkdir(parents=True)
    (place / "study" / "counts.csv").write_text("filled", encoding="utf-8")
    (place / "index.html").write_text("old", encoding="utf-8")
    with manifest.replaced(place, keeping=("study",)) as fresh:
        (fresh / "index.html").write_text("new", encoding="utf-8")
    assert (place / "index.html").read_text(encoding="utf-8") == "new"
    assert (place / "study" / "counts.csv").read_text(encoding="utf-8") == "filled"
    # killed after both renames, before the study was moved
    old = tmp_path / ".bay-1.old"
    old.mkdir()
    (place / "study").rename(old / "study")
    with manifest.replaced(place, keeping=("study",)):
        pass
    assert (place / "study" / "counts.csv").read_text(encoding="utf-8") == "filled"


def test_names_that_no_table_can_hold_are_refused_before_anything_is_written(tmp_path):
    path = written(tmp_path, PLAN.replace("experiment: cold", "experiment: cold room"))
    with pytest.raises(SettingsFault, match="may have letters, digits"):
        sheets.run(path, tmp_path / "mine")
    assert not (tmp_path / "mine").exists()
    nameless = written(tmp_path, PLAN.replace(", taxon: Litorivolva ficta", ""))
    with pytest.raises(SettingsFault, match="give `taxon` of bay-1"):
        sheets.run(nameless, tmp_path / "mine")


# paper


def test_every_inspection_of_every_dish_has_a_box_on_paper(tmp_path):
    plan = plan_of(tmp_path)
    standing = layout.laid_out(plan)
    paper = bench_sheets.html(plan, standing)
    for dish in standing:
        looks = len(plan.counted[dish.experiment].inspections.hours)
        # filled once, counted at each inspection, scored once
        assert paper.count(f">{dish.dish}</td>") == looks + 2
        assert paper.count(f"<b>{dish.dish}</b>") == 1
    for seed in weighed.seeds(plan, plan.experiments[-1]):
        assert paper.count(f">{seed.seed}</td>") == 4
    assert "Day 28, Monday 29 March 2027" in paper
    assert paper.count(">bay-1 cutting 1</td>") == 1
    assert paper.count("Moisture of the lots") == 1
    assert "Acid burns skin and eyes" in paper
    assert "At the end the seed had not taken up water." in paper


@pytest.mark.browser
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_each_sheet_is_one_page_of_either_paper(tmp_path, paper):
    """The example fills its sheets to the last row: 76 dishes on the first day, 38 beside each other."""
    plan = design.load(EXAMPLE)
    made = tmp_path / "sheets.html"
    made.write_text(bench_sheets.html(plan, layout.laid_out(plan)), encoding="utf-8")
    with sync_playwright() as playwright:
        switches = ["--no-sandbox", "--disable-gpu"]
        chromium = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=switches)
        page = chromium.new_page(viewport={"width": 390, "height": 844})
        page.goto(made.as_uri())
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        sections = page.locator("section").count()
        printed = page.pdf(format=paper)
        chromium.close()
    assert sections > 100
    assert len(re.findall(rb"/Type /Page\b", printed)) == sections


# from an empty folder to a report


def told(study, settings):
    """Run a study as far as its pages, and return the status of each experiment's answer."""
    with raw.standing_in(study.raw.parent.parent):
        check.run(study, settings)
        fit.run(study, settings)
        report.run(study, settings)
    found = {}
    for name in study.experiments():
        quantity = ANSWERS[name]
        estimates = (study.estimates / name).glob("*.csv")
        lines = [line for p in estimates for line in p.read_text(encoding="utf-8").splitlines()]
        found[name] = any(f",{quantity}," in line and ",estimated," in line for line in lines)
        assert (study.pages / "experiments" / f"{name}.md").exists()
    return found


def test_filled_tables_give_each_experiment_its_answer(tmp_path):
    study, settings = blank(tmp_path)
    bench_hand.fill(study.raw, bench_hand.drawn(design.load(tmp_path / "plan.yaml"), seed=1))
    assert told(study, settings) == dict.fromkeys(ANSWERS, True)
    known = {(e.quantity, e.treatment): e for e in earlier.estimates(study.results)}
    # what the seeds were drawn with; twice the width of an interval is four standard errors
    for what, true in (
        (("base_temperature", "chipped"), 10.0),
        (("impermeable_fraction", "intact"), 0.85),
        (("half_viability_period", "chipped"), 400.0),
    ):
        e = known[what]
        assert abs(e.value - true) < e.high - e.low, what
    assert "not filled in yet" not in study.check_notes.read_text(encoding="utf-8")


def test_half_filled_tables_give_a_report_of_what_was_seen(tmp_path):
    kept = [e for e in PLAN.split("  - {experiment: ") if not e.startswith(("cold", "wet"))]
    study, settings = blank(tmp_path, "  - {experiment: ".join(kept))
    hand = bench_hand.drawn(design.load(tmp_path / "plan.yaml"), seed=1)

    def early(table, name, row):
        return table != "outcomes" and row < 9 and name.startswith("beside")

    bench_hand.fill(study.raw, hand, early)
    assert told(study, settings) == {"acid": False, "beside": True, "keeping": False}
    page = (study.pages / "experiments" / "keeping.md").read_text(encoding="utf-8")
    assert "It waits for the first filled row of counts.csv. Fill in" in page
    assert "12 rows of dishes.csv" in page
    # a gap in what was filled is a fault, with file and line
    whole = next(study.raw.glob("beside/counts.csv"))
    lines = whole.read_text(encoding="utf-8").splitlines()
    lines[3] = ",".join([*lines[3].split(",")[:2], "", "", ""])
    whole.write_text("\n".join([*lines, ""]), encoding="utf-8")
    with (
        raw.standing_in(study.raw.parent.parent),
        pytest.raises(Faults, match=r"beside/counts.csv, line 4: "),
    ):
        check.run(study, settings)


@pytest.mark.parametrize("kind", ["link", "torn link", "link to a folder", "folder", "sheets"])
def test_nothing_that_make_sheets_did_not_write_is_removed(tmp_path, kind):
    path, into = written(tmp_path, PLAN), tmp_path / "mine"
    sheets.run(path, into)
    sheets.run(path, into)
    mine = into / "of mine"
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    if kind == "folder":
        mine.mkdir()
    elif kind == "sheets":
        mine = into / "sheets.html"
        mine.write_text("with a note of mine", encoding="utf-8")
    else:
        ends = {"link": path, "torn link": tmp_path / "nowhere", "link to a folder": elsewhere}
        mine.symlink_to(ends[kind])
    with pytest.raises(SettingsFault, match=mine.name):
        sheets.run(path, into)
    assert mine.is_symlink() or mine.exists()


def test_a_mount_point_is_not_swapped(tmp_path, monkeypatch, capsys):
    """What rename says of a folder on which a disk is mounted."""
    path, into = written(tmp_path, PLAN), tmp_path / "disk"
    into.mkdir()
    rename = Path.rename

    def busy(self, target):
        if self == into:
            raise OSError(errno.EBUSY, "Device or resource busy", str(self))
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", busy)
    assert sheets.main([str(path), str(into)]) == 1
    assert f"{into}: is a disk of its own" in capsys.readouterr().err
    # nothing is left beside it
    assert not list(tmp_path.glob(".disk.*"))

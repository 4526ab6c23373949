"""Damaged studies are refused in a sentence or harmless; `make faults` counts many more than these."""

import itertools
from collections import Counter

import numpy as np
import pytest

from hilum.analyses.temperature.prediction import even_days, sowing_days
from hilum.stats import germination_curve
from hilum.stats.families import FAMILIES
from hilum.stats.low_rank import density
from tests import raw
from tests.faults import __main__ as command
from tests.faults import curves, fits
from tests.faults.damage import KINDS
from tests.faults.ground import demo, small, written
from tests.faults.judge import Bench
from tests.faults.nonsense import DRAWN
from tests.faults.tally import by_command, each


@pytest.fixture(scope="module")
def benches(tmp_path_factory):
    """Return a bench for the small study and one for the demo."""
    folder = tmp_path_factory.mktemp("faults")
    return [Bench(folder / ground.name, ground) for ground in (small(), demo())]


@pytest.mark.parametrize("name", KINDS)
def test_damage_is_told_or_harmless(benches, name):
    found = [v for bench in benches for v in each(bench, KINDS[name], 1, seed=7)]
    assert found
    assert [v for v in found if v.outcome == "defect"] == []


def test_the_judge_sees_a_silent_change(tmp_path, monkeypatch):
    """A check that lets everything pass must not pass here."""
    monkeypatch.setattr("tests.faults.judge.in_process", lambda _: [])
    monkeypatch.setattr("tests.faults.judge.Bench._notes", lambda _: set())
    monkeypatch.setattr("tests.faults.judge._tables", lambda _, __=(): itertools.count())
    found = [v.outcome for v in each(Bench(tmp_path, small()), KINDS["A NUL byte"], 3, seed=1)]
    assert found == ["defect"] * 3


def test_damaged_studies_through_the_real_command(tmp_path):
    made = by_command(tmp_path, small(), seed=3, every=16)
    assert made.defects == []
    assert made.total()["refused"] >= 3


def test_the_counts_are_of_these_kinds_and_hold_no_defect():
    text = command.COUNTS.read_text(encoding="utf-8")
    rows = [line.split(" | ") for line in text.splitlines() if line.startswith("| ")]
    names = {row[0].removeprefix("| ") for row in rows}
    assert set(KINDS) <= names, "make faults writes the page anew"
    last = next(row for row in rows if row[0].startswith("| **all"))
    assert int(last[0].split()[-1].strip("*")) >= 2000
    assert last[-1] == "0 |"


def test_random_data_sets_end_in_estimates_or_named_reasons():
    made = fits.stressed(share=0.02, seed=5)
    assert made.failures == []
    assert made.sets.total() >= 2000


def test_the_counts_are_of_these_fits_and_hold_no_failure():
    text = command.COUNTS.read_text(encoding="utf-8")
    for name, drawn in DRAWN.items():
        assert f"| {name} | {drawn.lots * drawn.studies} |" in text, "make faults writes it anew"
    assert f"| {fits.CURVES} |" in text
    assert "| 0 failures |" in text
    assert "; 0 times the raw tables" in text


def test_counts_of_one_fit_take_the_place_of_the_former_ones_alone():
    page = f"Before.\n\n{fits.table(fits.Stress(sets=Counter(time_course=3, proportions=5)))}\n\nAfter.\n"
    made = fits.Stress(sets=Counter(time_course=4, storage=2))
    made.statuses["storage"] = Counter(estimated=1, not_identified=7)
    told = fits.renewed(page, made)
    rows = [line for line in told.splitlines() if line.startswith("|")][2:]
    assert rows == [
        "| time_course | 4 |  |",
        "| storage | 2 | 1 estimated, 7 not identified |",
        "| proportions | 5 |  |",
        "| **all** | 11 | 0 failures |",
    ]
    assert told.startswith("Before.\n\n|")
    assert told.endswith("|\n\nAfter.\n")
    once = fits.table(fits.Stress(sets=Counter(time_course=3), failures=["one"]))
    assert fits.renewed(once, fits.Stress(failures=["two"])).endswith("| 2 failures |")


def test_the_same_seed_gives_the_same_damage(tmp_path):
    kind = KINDS["A slip of ten or a thousand in any number"]
    bench = Bench(tmp_path, small())
    assert list(each(bench, kind, 4, seed=2)) == list(each(bench, kind, 4, seed=2))


# each of these was found by damage, and mended


@pytest.mark.parametrize(
    "name", ["+cmd|'/C calc'!A0", "@SUM(1)", "-IMPORTXML(A1)", "＝A1", "＋cmd|'/C calc'!A0", "=A1"]
)
def test_a_name_that_a_spreadsheet_would_run_is_refused(tmp_path, name):
    """Only `=` was refused, and notes were free: a download of the site would have run the rest."""
    for file, old in (("germ/events.csv", ",20\n"), ("lots.csv", "second bag")):
        new = f",{name}\n" if old.startswith(",") else name
        told = raw.faults(tmp_path, raw.edited(file, (old, new)))
        assert len(told) == 1
        assert told[0].endswith(", which is a formula; save the values instead.")


@pytest.mark.parametrize("name", ["+GA3", "-5", "- (rinsed)", "@home", "+ 2 d (dry)", "a=b"])
def test_a_name_with_a_sign_is_a_name(tmp_path, name):
    assert raw.faults(tmp_path, raw.edited("lots.csv", ("second bag", name))) == []


def test_an_endless_cell_of_a_large_file_is_not_called_empty(tmp_path):
    """Files above a megabyte take another way, which took the cell, and then called it empty."""
    told = raw.faults(tmp_path, raw.edited("germ/dishes.csv", ("d1,A", "d1," + "A" * 1_100_000)))
    assert told[0] == (
        "germ/dishes.csv, line 2: a cell is longer than 131072 characters; is a quotation mark "
        "never closed?"
    )


def test_a_header_without_end_is_told_in_few_sentences(tmp_path):
    """Thousands of unknown columns made as many sentences, and took seconds of guesses; beyond a limit there is one."""
    for columns, says in (
        (4_000, "and 3980 more of its columns are not those of counts.csv"),
        (20_000, "names 20,005 columns; a table may have 5,000: are its rows columns?"),
    ):
        rows = small().copy("germ/counts.csv")
        rows[0] += [f"c{i}" for i in range(columns)]
        told = raw.faults(tmp_path / f"{columns}", {"germ/counts.csv": written(rows)})
        assert says in "\n".join(told)
        assert len(told) < 50


def test_a_cut_experiment_yaml_is_remarked(tmp_path):
    """A licence cut in the middle was taken as it stood."""
    text = raw.FILES["germ/experiment.yaml"] + "licence: CC0"
    study = raw.write(tmp_path, {"germ/experiment.yaml": text})
    assert raw.run(study) == []
    says = "germ/experiment.yaml: does not end with a line break; make sure that its end was not"
    assert any(line.startswith(says) for line in raw.notes(study))


def test_seeds_that_do_not_add_up_name_the_counts_too(tmp_path):
    """A slip in counts.csv was told of dishes.csv and outcomes.csv only."""
    told = raw.faults(tmp_path, raw.edited("germ/counts.csv", ("d2,72,1", "d2,72,0")))
    assert "15 germinated and 0 removed in counts.csv, and 4 in outcomes.csv, make 19" in told[0]
    rows = [r for r in small().copy("germ/counts.csv") if r[0] != "d1"]
    told = raw.faults(tmp_path, {"germ/counts.csv": written(rows)})
    assert "with no inspection in counts.csv" in told[0]


@pytest.mark.parametrize("batch", [2000, 18000, 26000])
def test_curves_of_absurd_inspections_reach_their_top(batch):
    """Three seeds long after ten thousand, and inspections seconds apart, stopped far below it."""
    cells = curves.draw(np.random.default_rng([1, batch]), 2000)
    with np.errstate(divide="raise", over="raise", invalid="raise"):
        for family in FAMILIES:
            found = germination_curve.fit(cells, family)
            assert list(curves._wrong(cells, found, family)) == []


def test_two_causes_that_are_nearly_one_leave_no_square_below_nothing():
    """Rounding left less than -1 of a variance, whose logarithm there is not."""
    v = 1e9 * np.array([1.0, 1.0 + 1e-9, 1.0])
    with np.errstate(divide="raise", invalid="raise"):
        found = density(np.zeros(3), (v, v * (1 + 1e-12), v * (1 - 1e-12)))
    assert np.isfinite(found.log)
    assert 0 < found.variance <= 1


def test_a_test_of_an_hour_has_days_to_predict_for():
    """A series whose last inspection came within 72 minutes ended in a traceback."""
    days = even_days(0.01)
    assert days[-1] == pytest.approx(0.01)
    assert len(sowing_days(days)) == 5
    assert even_days(2.0)[-1] == 2.0


@pytest.mark.parametrize("seed", [5, 6])
def test_base_temperatures_without_an_end_or_below_all_advice(seed):
    """A profile that is impossible on both sides, and seeds that germinated below 0 °C, ended in a traceback."""
    made = fits.Stress()
    fits.stress("temperature", studies=2, seed=seed, made=made)
    assert made.failures == []


@pytest.mark.parametrize(("name", "study"), [("temperature", 11), ("imbibition", 88)])
def test_nonsense_that_once_ended_in_a_traceback(name, study):
    """A lesser peak stood still at its anchor; a climb strayed to a speed that overflowed."""
    made = fits.Stress()
    fits.one(name, study=study, seed=1, made=made)
    assert made.failures == []

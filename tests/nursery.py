"""A small invented study as the steps before the report leave it, with an analysis of its own.

The report is tested on it without any statistics; its names try to become markup.
"""

import csv
import json
from dataclasses import asdict, fields
from pathlib import Path

from hilum import analyses, manifest
from hilum.analyses.estimate import COLUMNS, Estimate
from hilum.diagnosis.done import Done
from hilum.diagnosis.words import CAUSES, NAMES
from hilum.report import pages
from hilum.settings import Settings
from hilum.study import Study

HOSTILE = "<script>document.title='taken'</script>"
LOT = f"dune {HOSTILE} *7* [x](javascript:alert) | `a` $b$"
LOT_PAGE = "lots/dune-script-document-title-taken-script-7-x-javascript-alert"
SEED = "<img src=x onerror=\"document.title='taken'\">"

INIT = """
from hilum.analyses import Analysis, Source
from hilum.analyses.further import Further, Meaning

ANALYSIS = Analysis(
    title="Swelling",
    question="Do the seeds swell?",
    needs=("weighings",),
    method="Masses followed $m(t) = m_0 + a\\\\,t_{50}$ (Invented 1901).",
    sources=(Source(key="Invented 1901", text="A source that does not exist."),),
    tables={
        "seeds": Further(
            title="Each seed",
            one_row_is="one seed",
            columns={"seed": Meaning("The seed."), "p_impermeable": Meaning("Probability.", "fraction")},
        ),
    },
)
"""
CHART = """
import altair as alt
import pandas as pd

from hilum.figure import Figure


def figures(drawing, estimates):
    points = pd.DataFrame(drawing["points"])
    picked = alt.selection_point(fields=["seed"], bind="legend")
    chart = alt.Chart(points).mark_line(point=True).encode(
        x=alt.X("hours:Q").title("Soaked (h)"),
        y=alt.Y("uptake:Q").title("Uptake (% of mass before soaking)"),
        color="seed:N",
        tooltip=["seed", "hours", "uptake"],
        opacity=alt.when(picked).then(alt.value(1)).otherwise(alt.value(0.2)),
    ).add_params(picked)
    rows = drawing["points"]
    return [
        Figure(name="curves", title="Uptake of each seed", caption="Two of three seeds swell.",
               description="Uptake over soaking time, one line for each seed.",
               spec=chart.to_dict(), rows=rows, units={"hours": "h", "uptake": "%"}),
        Figure(name="again", title="The same by panels", caption="One panel for each seed.",
               description="Uptake over soaking time in panels.",
               spec=chart.facet("seed:N", columns=3).to_dict(), rows=rows),
    ]
"""
PAGE = """
{% macro answer() %}
{% for e in estimates if e.quantity == "impermeable_fraction" %}
Of lot {{ e.lot }} ({{ e.treatment }}), {{ e | interval }} are impermeable.
{% endfor %}
{% endmacro %}
{% macro limits() %}Nothing about other lots.{% endmacro %}
{% macro next_step() %}Chip the seeds that did not swell.{% endmacro %}
{% macro details() %}
The rate is $r = 1/t$.

{{ figures.again }}
{% endmacro %}
"""
ESTIMATES = (
    Estimate(
        lot=LOT,
        treatment="acid",
        quantity="impermeable_fraction",
        value=0.2,
        low=0.08,
        high=0.41,
        unit="fraction",
        status="estimated",
        method="counted",
    ),
    Estimate(
        lot=LOT,
        treatment="acid",
        quantity="base_temperature",
        low=4.0,
        high=9.5,
        unit="°C",
        status="bracketed",
        method="likelihood",
        needs=f"two temperatures below 15 °C {HOSTILE}",
    ),
)
POINTS = [
    {"seed": seed, "hours": hours, "uptake": round(rate * hours, 2)}
    for seed, rate in ((SEED, 1.5), ("s2", 1.2), ("s3", 0.02))
    for hours in (0, 12, 24, 48)
]


def _write_csv(path, rows):
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def _cells(estimate):
    return {c: "" if (v := getattr(estimate, c)) is None else v for c in COLUMNS}


def _experiment(study, name):
    checked, estimates = study.checked / name, study.estimates / name
    about = {
        "title": f"Soaking {HOSTILE}",
        "question": "Does water get in?",
        "analyses": ["swelling"],
        "source": "invented for a test",
        "person": "",
        "dates": "",
        "licence": "",
        "accepted": [
            {"table": "weighings", "line": 3, "sentence": f"{SEED} left out.", "why": "_dropped_"}
        ],
    }
    weighings = [
        {"line": line, "seed": seed, "lot": LOT, "treatment": "acid", "dish": "", "seeds": "1"}
        | {"soaked_h": hours, "mass_mg": mass, "floats": "no", "radicle": ""}
        for line, (seed, hours, mass) in enumerate(
            ((SEED, 0, 12.5), (SEED, 24, 25.0), ("s2", 0, 12.0), ("s2", 24, 12.1)), start=2
        )
    ]
    # a checked table spells no as 0
    _write_csv(checked / "weighings.csv", [row | {"floats": "0"} for row in weighings])
    _write_csv(study.raw / name / "weighings.csv", weighings)
    (study.raw / name / "experiment.yaml").write_text("title: Soaking\n", encoding="utf-8")
    (checked / "experiment.json").write_text(json.dumps(about), encoding="utf-8")
    _write_csv(estimates / "swelling.csv", [_cells(e) for e in ESTIMATES])
    _write_csv(estimates / "swelling_seeds.csv", [{"seed": SEED, "p_impermeable": 0.03}])
    drawing = json.dumps({"points": POINTS})
    (estimates / "swelling.json").write_text(drawing, encoding="utf-8")


def _diagnosis(study, experiment):
    """Write the diagnosis of one group of seeds; its texts are hostile where people wrote them."""
    share = {"least": 0.7, "most": 0.7, "low": 0.6, "high": 0.8}
    none = {"least": 0.0, "most": 0.0, "low": 0.0, "high": 0.05}
    shares = {SEED: 0.8, "d2": 0.9, "d3": 0.9, "d4": 1.0}
    dishes = {"dishes": list(shares), "germinated": list(shares.values()), "seeds": 100}
    dishes |= {"mean": 0.9, "range": 0.2, "tolerated": 0.12}
    group = {
        "lot": LOT,
        "treatment": HOSTILE,
        "temperature_c": 25.0,
        "condition": HOSTILE,
        "seeds": 100.0,
        "sown": True,
        "assessed": True,
        "germinated": 0.3,
        "abnormal": 0.0,
        "unscored": 0.0,
        "lost": 0.0,
        "ends_differ": False,
        "untreated": True,
        "experiments": [{"experiment": experiment, "seeds": 100.0, "germinated": 0.3}],
        "fates": {fate: share if fate == "hard" else none for fate in NAMES},
        "causes": {cause: share if cause == "impermeable_coat" else none for cause in CAUSES},
        "named": ["impermeable_coat"],
        "evidence": [{"experiment": experiment, "says": f"4 dishes {HOSTILE}"}],
        "next_action": f"Open the coats as {HOSTILE} did.",
        "missing": ["Sow more seeds."],
        "at_its_best": True,
        "disagreement": f"Weighed seeds and dishes disagree {HOSTILE}",
        "replicates": [{"experiment": experiment, **dishes, "published": True, "within": False}],
    }
    lot = {"lot": LOT, "physical_dormancy": "shown", "second": "untested", "shortfall": None}
    lot |= {"waiting_at_most": None, "done": asdict(Done(*[False] * len(fields(Done))))}
    drawing = json.dumps({"groups": [group], "lots": [lot]})
    study.diagnosis.with_suffix(".json").write_text(drawing, encoding="utf-8")
    _write_csv(study.diagnosis.with_suffix(".csv"), [{"lot": LOT, "layer": "cause"}])


def _lot_sheet(study):
    """Write the sheet of the lot: seeds weighed and samples dried, which lie too far apart."""
    figures = {
        "thousand_seed_mass": "g",
        "mass_variation": "%",
        "moisture_wet": "%",
        "moisture_dry": "%",
    }
    rows = [
        Estimate(
            lot=LOT,
            quantity=quantity,
            value=12.0,
            low=11.0,
            high=13.0,
            unit=unit,
            status="estimated",
            method="counted",
        )
        for quantity, unit in figures.items()
    ]
    facts = {
        "mass": {"replicates": 8, "seeds_each": 100, "tolerated_cv": 4.0, "agrees": False},
        "moisture": {"samples": 2, "apart": 0.31, "tolerated": 0.2, "agrees": False},
        "typed_apart": None,
        "given": None,
    }
    _write_csv(study.lot_sheet.with_suffix(".csv"), [_cells(e) for e in rows])
    text = json.dumps({"lots": {LOT: facts}})
    study.lot_sheet.with_suffix(".json").write_text(text, encoding="utf-8")


def study(folder: Path, experiments=("soaking", "ñandú soak")) -> tuple[Study, Settings]:
    """Return a study of these experiments below the folder, ready for the report."""
    made = Study(raw=folder / "data" / "nursery", results=folder / "results" / "nursery")
    lot = {"line": 2, "lot": LOT, "taxon": "Invented plant", "origin": "", "collected_on": ""}
    empty = (
        "position",
        "agent",
        "concentration",
        "concentration_unit",
        "duration",
        "duration_unit",
    )
    steps = [{"line": 2, "treatment": "acid", "step": "1", "method": "acid"}]
    steps[0] |= dict.fromkeys((*empty, "temperature_c", "notes"), "")
    for name in experiments:
        _experiment(made, name)
    _write_csv(made.checked / "lots.csv", [lot])
    _write_csv(made.checked / "treatments.csv", steps)
    _write_csv(made.raw / "lots.csv", [lot])
    manifest.keep(made.manifest("raw"), manifest.hashes(made.raw, made.raw_files()))
    _diagnosis(made, experiments[0])
    _lot_sheet(made)
    return made, Settings(study=made.raw)


def swelling(folder: Path) -> Path:
    """Write the analysis `swelling` below the folder and return the folder."""
    home = folder / "swelling"
    home.mkdir(parents=True)
    for name, text in (("__init__.py", INIT), ("chart.py", CHART), ("page.md.jinja", PAGE)):
        (home / name).write_text(text.lstrip("\n"), encoding="utf-8")
    return folder


def register(folder: Path) -> None:
    """Make the analyses of the folder known, as if they lay in the package."""
    analyses.__path__.append(str(folder))
    pages.environment.cache_clear()


def forget(folder: Path) -> None:
    """Undo `register`."""
    analyses.__path__.remove(str(folder))
    pages.environment.cache_clear()

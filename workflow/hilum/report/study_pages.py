"""The pages of the whole study: home, methods, dictionary, glossary, calibration, cautions, provenance, settings."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from typing import Any

from markupsafe import Markup

from hilum import analyses
from hilum.analyses import Source
from hilum.analyses.quantities import QUANTITIES
from hilum.report import calibration as calibrated
from hilum.report import grid, summary
from hilum.report.cautions import HAZARDS, hazards_of
from hilum.report.markup import address, escape
from hilum.report.numbers import interval
from hilum.report.pages import page, words
from hilum.report.results import Experiment, Row
from hilum.settings import Settings
from hilum.tables import TABLES
from hilum.tables import dictionary as data_dictionary
from hilum.tables.column import Table

# the columns of every estimates file
MEANINGS = {
    "lot": "The seed lot, as named in lots.csv.",
    "treatment": "The treatment, as named in treatments.csv.",
    "temperature_c": "Temperature in °C; empty where the figure is not tied to one.",
    "condition": "Light, night temperature, medium and storage in words; empty where plain.",
    "at": "The time or dose that the figure belongs to, in the unit of at_unit.",
    "at_unit": "Unit of at.",
    "versus": "The treatment or condition that this one is compared with.",
    "quantity": "What was estimated; the page on reading explains each.",
    "value": "The estimate; empty unless the status is estimated.",
    "low": "Lower end of the interval or bracket; empty where it is open.",
    "high": "Upper end of the interval or bracket; empty where it is open.",
    "standard_error": "Standard error, where the method has one.",
    "confidence": "Confidence of the interval.",
    "unit": "Unit of value, low and high; fractions are from 0 to 1.",
    "status": "estimated, bracketed (the data allow no more than this range) or not_identified.",
    "method": "How the estimate and its interval were made.",
    "needs": "What would settle a bracket, or why there is no figure.",
}


@dataclass(frozen=True, kw_only=True)
class Whole:
    """Everything that the pages of a study are written from; `raw` are raw files with their hash."""

    name: str
    lots: Sequence[Row]
    experiments: Sequence[Experiment]
    settings: Settings
    treatments: Sequence[Row]
    packages: Mapping[str, str]
    python: str
    commit: str
    raw: Mapping[str, str]
    calibration: calibrated.Calibration

    @property
    def invented(self) -> bool:
        """Return whether any experiment says that its data are invented."""
        return any(e.invented for e in self.experiments)


# home


def _finding(finding: summary.Finding, known: str) -> Markup:
    place = summary.place(finding)
    return Markup('<span class="finding"><a class="figure" href="{}">{}</a>{}</span>').format(
        address("experiments", f"{finding.experiment.name}.html"),
        interval(finding.estimate),
        Markup('<span class="note">at {}</span>').format(escape(place))
        if place not in ("", known)
        else "",
    )


def _cell(findings: Iterable[summary.Finding], known: str) -> Markup:
    shown = Markup(" ").join(_finding(f, known) for f in findings)
    return shown or Markup('<span class="note">no figure</span>')


def _lot(whole: Whole, row: Row) -> dict[str, Any]:
    """Return a lot as home shows it: its findings as a table, and the place that they share."""
    # a lot as a whole has findings too, which are tied to no treatment
    treatments = list(dict.fromkeys(["", *(step["treatment"] for step in whole.treatments)]))
    lines = summary.of_lot(whole.experiments, row["lot"], treatments)
    known, others = summary.usual_place(lines)
    heads: list[object] = ["treatment"]
    heads += [grid.quantity_link(q, "glossary.html") for q in summary.HEADLINES]
    cells = (
        [line.treatment, *(_cell(line.findings[q], known) for q in summary.HEADLINES)]
        for line in lines
    )
    table = grid.grid(heads, cells, f"What was found for lot {row['lot']}") if lines else None
    return {
        "row": row,
        "table": table,
        "place": known,
        "others": others,
        "headlines": _headlines(whole, row["lot"]),
    }


def _headlines(whole: Whole, lot: str) -> list[Markup]:
    told = (
        words(e, r, "headline", own)
        for e in whole.experiments
        for r in e.results
        if (own := [estimate for estimate in r.estimates if estimate.lot == lot])
    )
    return [said for said in told if said]


def home(whole: Whole) -> str:
    """Return the home page: each lot's findings with links, and what to do next."""
    steps = [
        {"experiment": e, "result": r, "words": said}
        for e in whole.experiments
        for r in e.results
        if (said := words(e, r, "next_step"))
    ]
    return page(
        "index",
        study=whole.name,
        invented=whole.invented,
        lots=[_lot(whole, row) for row in whole.lots],
        steps=steps,
        experiments=whole.experiments,
        confidence=whole.settings.confidence,
    )


# methods


def _parts(experiments: Sequence[Experiment]) -> list[dict[str, Any]]:
    ran = sorted({r.name for e in experiments for r in e.results})
    return [
        {
            "name": name,
            "about": analyses.describe(name),
            "experiments": [e for e in experiments if name in [r.name for r in e.results]],
        }
        for name in ran
    ]


def methods(whole: Whole) -> str:
    """Return the methods page, written from the analyses that ran."""
    parts = _parts(whole.experiments)
    sources: dict[str, Source] = {s.key: s for part in parts for s in part["about"].sources}
    return page(
        "methods",
        invented=whole.invented,
        experiments=whole.experiments,
        faults=sum(len(e.about["accepted"]) for e in whole.experiments),
        parts=parts,
        settings=whole.settings,
        sources=[sources[key] for key in sorted(sources)],
        version=version("hilum"),
        python=whole.python,
        packages=whole.packages,
    )


# how to read it all


def dictionary(whole: Whole) -> str:  # noqa: ARG001
    """Return the data dictionary: every column of the raw tables and of the estimates."""
    tables = [{"table": t, "columns": _columns(t)} for t in TABLES.values()]
    estimates = _pairs(("column", "meaning"), MEANINGS, "Columns of the estimates")
    return page("dictionary", tables=tables, estimates=estimates)


def _columns(table: Table) -> Markup:
    rows = data_dictionary.rows(table)
    heads = ("column", "needed", "description", "unit", "allowed", "example")
    lines = ([row[head] for head in heads] for row in rows)
    return grid.grid([grid.heading(h) for h in heads], lines, f"Columns of {table.name}.csv")


def glossary(whole: Whole) -> str:
    """Return the page on intervals, fates and words."""
    return page("glossary", confidence=whole.settings.confidence, quantities=QUANTITIES)


def calibration(whole: Whole) -> str:
    """Return how often the printed intervals held the truth in simulated studies."""
    return page("calibration", **calibrated.context(whole.calibration))


def cautions(whole: Whole) -> str:
    """Return the cautions: those of the study's treatments named first."""
    return page("cautions", hazards=HAZARDS, used=hazards_of(whole.treatments))


def provenance(whole: Whole) -> str:
    """Return which code, packages and raw files the report was made from."""
    code = {"Hilum": version("hilum"), "commit": whole.commit, "Python": whole.python}
    return page(
        "provenance",
        python=whole.python,
        code=_pairs(("what", "which"), {**code, **whole.packages}, "Code and packages"),
        raw=_pairs(("file", "SHA-256"), whole.raw, "Raw files and their hashes"),
    )


def _pairs(heads: tuple[str, str], pairs: Mapping[str, str], label: str) -> Markup:
    return grid.grid(heads, pairs.items(), label)


def settings(whole: Whole) -> str:
    """Return every setting: its value in this run, its default, and its reason."""
    heads = ("key", "this run", "default", "what it chooses, and why")
    lines = [
        (
            name,
            # a path would tell of one machine, and differ on the next
            whole.name if name == "study" else getattr(whole.settings, name),
            "needed" if field.is_required() else field.default,
            field.description,
        )
        for name, field in Settings.model_fields.items()
    ]
    return page("settings", settings=grid.grid(heads, lines, "Settings of this run"))


PAGES: Mapping[str, Callable[[Whole], str]] = {
    "index": home,
    "methods": methods,
    "dictionary": dictionary,
    "glossary": glossary,
    "calibration": calibration,
    "cautions": cautions,
    "provenance": provenance,
    "settings": settings,
}

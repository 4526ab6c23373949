"""The pages of the whole study: home, lots, methods, dictionary, glossary, calibration, cautions, provenance, settings."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from markupsafe import Markup

from hilum import analyses
from hilum.analyses import Source
from hilum.analyses import estimate as contract
from hilum.analyses.estimate import Estimate
from hilum.analyses.further import Further
from hilum.analyses.quantities import QUANTITIES
from hilum.diagnosis import about as diagnosing
from hilum.diagnosis import model as diagnosis
from hilum.markup import escape, ours
from hilum.report import calibration as calibrated
from hilum.report import citing, diagnosed, grid, seed_table, stored
from hilum.report import glossary as words_of
from hilum.report import provenance as origins
from hilum.report import start as starting
from hilum.report.cautions import HAZARDS, RELEASE, Hazard, hazards_of
from hilum.report.elsewhere import told_elsewhere
from hilum.report.pages import method, page, words
from hilum.report.results import Experiment, Result, Row
from hilum.report.words import CAUSES, FATES, WORDS
from hilum.settings import Settings, shown
from hilum.tables import TABLES
from hilum.tables import dictionary as data_dictionary
from hilum.tables.column import Table


# the columns of every estimates file
@dataclass(frozen=True, kw_only=True)
class Whole:
    """Everything that the pages of a study are written from; `made` tells from what."""

    name: str
    lots: Sequence[Row]
    experiments: Sequence[Experiment]
    settings: Settings
    treatments: Sequence[Row]
    made: origins.Made
    citation: citing.Citation
    diagnosis: diagnosed.Diagnosed
    calibration: calibrated.Calibration
    remarks: Sequence[str] = ()

    def of_lot(self, lot: str) -> list[tuple[Experiment, Result, list[Estimate]]]:
        """Return the estimates of a lot with their experiment and analysis."""
        return self._by_lot.get(lot, [])

    @cached_property
    def _by_lot(self) -> dict[str, list[tuple[Experiment, Result, list[Estimate]]]]:
        found: dict[str, list[tuple[Experiment, Result, list[Estimate]]]] = {}
        for experiment in self.experiments:
            for result in experiment.results:
                own: dict[str, list[Estimate]] = {}
                for estimate in result.estimates:
                    own.setdefault(estimate.lot, []).append(estimate)
                for lot, estimates in own.items():
                    found.setdefault(lot, []).append((experiment, result, estimates))
        return found

    @property
    def sows_outdoors(self) -> bool:
        """Return whether any experiment tells of plants or sowings that may come to stand outdoors."""
        return any(e.sows_outdoors for e in self.experiments)

    @property
    def invented(self) -> bool:
        """Return whether any experiment says that its data are invented."""
        return any(e.invented for e in self.experiments)


# home

# with more lots than these home tells each in one line, and the rest stands on its own page
_LOTS_IN_FULL = 12


def _lot(whole: Whole, row: Row) -> dict[str, Any]:
    """Return a lot as pages show it: what is known of it, and a line for each treatment."""
    name, groups = row["lot"], whole.diagnosis.of_lot(row["lot"])
    table = diagnosed.home_table(groups, whole.diagnosis.pages[name]) if groups else None
    known = [lot for lot in whole.diagnosis.lots if lot["lot"] == name]
    return {
        "row": row,
        "table": table,
        "page": whole.diagnosis.pages[name],
        "place": diagnosed.home_place(groups) if groups else "",
        "words": diagnosed.lot_words(known[0], groups) if known and groups else [],
        "evidence": _said(whole, name, "evidence"),
        "headlines": _said(whole, name, "headline"),
    }


def _said(whole: Whole, lot: str, macro: str) -> list[Markup]:
    told = (words(e, r, macro, own) for e, r, own in whole.of_lot(lot))
    return [said for said in told if said]


def home(whole: Whole) -> str:
    """Return the home page: each lot's diagnosis with links, and what to do next."""
    steps = [
        {"experiment": e, "result": r, "words": said, "told": told_elsewhere(e, whole.experiments)}
        for e in whole.experiments
        for r in e.results
        if (said := words(e, r, "next_step"))
    ]
    many = len(whole.lots) > _LOTS_IN_FULL
    return page(
        "index",
        study=whole.name,
        invented=whole.invented,
        lots=[] if many else [_lot(whole, row) for row in whole.lots],
        overview=diagnosed.overview(whole.diagnosis, whole.lots) if many else None,
        steps=[] if many else steps,
        experiments=whole.experiments,
        remarks=whole.remarks,
        remarked=[e for e in whole.experiments if e.remarks],
        hazards=hazards_of(whole.treatments, outdoors=whole.sows_outdoors),
        confidence=whole.settings.confidence,
    )


# lots


def lot(
    whole: Whole, row: Row, figures: Mapping[str, Markup], sheet: Mapping[str, Any] | None
) -> str:
    """Return the page of a lot: why the seeds of each treatment and place did not germinate, with the evidence."""
    groups = whole.diagnosis.of_lot(row["lot"])
    told, kept = stored.apart(groups)
    used = {group["treatment"] for group in groups}
    steps = (step for step in whole.treatments if step["treatment"] in used)
    outdoors = any(e.sows_outdoors for e, _, _ in whole.of_lot(row["lot"]))
    return page(
        "lot",
        hazards=hazards_of(steps, outdoors=outdoors),
        lot=_lot(whole, row),
        figures=figures,
        sheet=sheet,
        groups=[diagnosed.in_full(group) for group in told],
        stored=[diagnosed.in_full(group) for group in kept],
        stored_table=stored.table(kept),
        invented=whole.invented,
        confidence=whole.settings.confidence,
    )


# seeds


def seeds(whole: Whole, answer: str, table: Markup, figure: Markup, highest: float) -> str:
    """Return the page of single seeds; the small curves of its table reach up to `highest` %."""
    return page(
        "seeds",
        answer=answer,
        table=table,
        figure=figure,
        highest=highest,
        hazards=hazards_of(whole.treatments),
        invented=whole.invented,
    )


# methods


def _parts(whole: Whole) -> list[dict[str, Any]]:
    """Return the analyses that ran, and the diagnosis, each with its method as it was carried out."""
    ran = sorted({r.name for e in whole.experiments for r in e.results})
    told = [(name, about.title, about.method, about.sources) for name, about in _described(ran)]
    told += [
        ("diagnosis", diagnosing.TITLE, diagnosing.METHOD, diagnosing.SOURCES),
        ("lot_sheet", diagnosing.SHEET_TITLE, diagnosing.SHEET_METHOD, diagnosing.SHEET_SOURCES),
    ]
    return [
        {
            "name": name,
            "title": title,
            "method": method(text, whole.settings),
            "sources": sources,
            "experiments": [e for e in whole.experiments if name in [r.name for r in e.results]],
        }
        for name, title, text, sources in told
    ]


def _described(names: Sequence[str]) -> list[tuple[str, analyses.Analysis]]:
    return [(name, analyses.describe(name)) for name in names]


def _sources(parts: Sequence[Mapping[str, Any]]) -> list[Source]:
    return citing.each_once(source for part in parts for source in part["sources"])


def bibliography(whole: Whole) -> str:
    """Return the BibTeX entries of the pipeline and of the sources of what ran."""
    return citing.bibliography(whole.citation, _sources(_parts(whole)))


def methods(whole: Whole) -> str:
    """Return the methods page, written from the analyses that ran."""
    parts = _parts(whole)
    lines = bibliography(whole).splitlines()
    return page(
        "methods",
        invented=whole.invented,
        lots=whole.lots,
        experiments=whole.experiments,
        faults=sum(len(e.about["accepted"]) for e in whole.experiments),
        parts=parts,
        settings=whole.settings,
        sources=_sources(parts),
        cite=whole.citation.text,
        bibtex=ours("\n").join(map(_indented, lines)),
        version=whole.made.version,
        python=whole.made.python,
        packages=whole.made.packages,
    )


def _indented(line: str) -> Markup:
    """Return a line of a file as a page shows it, with the spaces that it begins with."""
    return ours(" " * (len(line) - len(line.lstrip()))) + escape(line.lstrip())


# how to read it all


def dictionary(whole: Whole) -> str:  # noqa: ARG001
    """Return the data dictionary: every column of the raw tables and of the estimates."""
    tables = [{"table": t, "columns": _columns(t)} for t in TABLES.values()]
    estimates = _pairs(("column", "meaning"), contract.MEANINGS, "Columns of the estimates")
    causes = _pairs(("column", "meaning"), diagnosis.MEANINGS, "Columns of the diagnosis")
    single = _pairs(("column", "meaning"), seed_table.COLUMNS, "Columns of seeds.csv")
    return page(
        "dictionary",
        tables=tables,
        estimates=estimates,
        further=_further(),
        diagnosis=causes,
        seeds=single,
    )


def _further() -> list[dict[str, Any]]:
    """Return the tables that analyses write beside their estimates."""
    return [
        {"file": f"{name}_{table}", "about": about, "columns": _meanings(f"{name}_{table}", about)}
        for name in analyses.names()
        for table, about in analyses.describe(name).tables.items()
    ]


def _meanings(file: str, about: Further) -> Markup:
    lines = ((name, meaning.says, meaning.unit) for name, meaning in about.columns.items())
    return grid.grid(("column", "meaning", "unit"), lines, f"Columns of {file}.csv")


def _columns(table: Table) -> Markup:
    rows = data_dictionary.rows(table)
    heads = ("column", "needed", "description", "unit", "allowed", "example")
    lines = ([row[head] for head in heads] for row in rows)
    return grid.grid([grid.heading(h) for h in heads], lines, f"Columns of {table.name}.csv")


def start(whole: Whole) -> str:  # noqa: ARG001
    """Return the page that leads from an empty folder to a report."""
    return starting.start(dictionary=True)


def glossary(whole: Whole) -> str:
    """Return the page on intervals, fates and words."""
    return glossary_of(whole.settings.confidence)


def glossary_of(confidence: float, *, calibrated: bool = True) -> str:
    """Return the page on intervals, fates and words; `calibrated` where a page tells how often intervals held."""
    return page(
        "glossary",
        confidence=confidence,
        calibrated=calibrated,
        fates=FATES,
        causes=CAUSES,
        all_words=WORDS,
        place=words_of.anchor,
        quantities=QUANTITIES,
    )


def calibration(whole: Whole) -> str:
    """Return how often the printed intervals held the truth in simulated studies."""
    return page("calibration", **calibrated.context(whole.calibration))


def cautions(whole: Whole) -> str:
    """Return the cautions: those of the study's treatments named first."""
    return cautions_of(hazards_of(whole.treatments, outdoors=whole.sows_outdoors))


def cautions_of(used: Sequence[Hazard]) -> str:
    """Return all cautions, those that are `used` named first."""
    return page("cautions", hazards=(*HAZARDS, RELEASE), used=used)


def provenance(whole: Whole) -> str:
    """Return from which code, packages, settings and raw files the report was made."""
    return origins.provenance(whole.made, whole.settings, whole.name, whole.citation.text)


def _pairs(heads: tuple[str, str], pairs: Mapping[str, str], label: str) -> Markup:
    return grid.grid(heads, pairs.items(), label)


def settings(whole: Whole) -> str:
    """Return every setting: its value in this run, its default, and its reason."""
    heads = ("key", "this run", "default", "what it chooses, and why")
    lines = [
        (
            name,
            # a path would tell of one machine, and differ on the next
            whole.name if name == "study" else shown(getattr(whole.settings, name)),
            "needed" if field.is_required() else shown(field.default),
            field.description,
        )
        for name, field in Settings.model_fields.items()
    ]
    return page("settings", settings=grid.grid(heads, lines, "Settings of this run"))


PAGES: Mapping[str, Callable[[Whole], str]] = {
    "index": home,
    "start": start,
    "methods": methods,
    "dictionary": dictionary,
    "glossary": glossary,
    "calibration": calibration,
    "cautions": cautions,
    "provenance": provenance,
    "settings": settings,
}

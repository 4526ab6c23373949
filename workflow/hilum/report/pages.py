"""Pages in Markdown, written by templates from results; a number that is missing is an error here."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cache
from typing import Any

from jinja2 import ChoiceLoader, Environment, FileSystemLoader, StrictUndefined, pass_context
from jinja2.runtime import Context
from markupsafe import Markup

from hilum import analyses
from hilum.analyses.estimate import Estimate
from hilum.analyses.naming import Naming
from hilum.analyses.quantities import INDICES, QUANTITIES
from hilum.diagnosis.done import Done
from hilum.markup import address, escape, ours, slug
from hilum.report import grid, origin
from hilum.report.calibration import held
from hilum.report.cautions import hazards_of
from hilum.report.citing import reference
from hilum.report.formulas import formulas, unbroken
from hilum.report.glossary import linked
from hilum.report.numbers import Unit, alike, duration, interval, number, percent
from hilum.report.results import Experiment, Result, Row
from hilum.settings import Settings
from hilum.study import SITE

# where the glossary lies, seen from the pages that tell of results; on the others words are explained or defined
_GLOSSARY = {
    **dict.fromkeys(("index", "seeds", "calibration"), "glossary.html"),
    **dict.fromkeys(("experiment", "lot"), "../glossary.html"),
}
# a word that is searched for is wanted where it was measured or is explained, not where a column has its name
_IN_SEARCH = {
    "experiment": 2,
    "glossary": 2,
    "calibration": 0.1,
    "seeds": 0.1,
    "dictionary": 0.001,
    "settings": 0.01,
    "provenance": 0.01,
}


@dataclass(frozen=True, kw_only=True)
class Section:
    """One analysis in words and figures; `first` follows the answer, `others` the details.

    `shared` is what all its seeds have in common, said once. `listed` are the estimates of its table, `indices` those of its
    indices of germination, by what they say of a lot.
    """

    result: Result
    shared: str
    answer: Markup
    limits: Markup
    next_step: Markup
    details: Markup
    first: Markup
    others: Markup
    listed: Sequence[Estimate]
    indices: Mapping[str, Sequence[Estimate]]


@cache
def environment() -> Environment:
    """Return the template engine: strict about what is missing, wary of what people wrote."""
    made = Environment(
        loader=ChoiceLoader(
            [FileSystemLoader(SITE / "templates"), FileSystemLoader(list(analyses.__path__))]
        ),
        autoescape=True,
        # jinja's own escaping knows HTML only; in a page, Markdown has to be kept out as well
        finalize=escape,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    made.filters |= {
        "number": number,
        "percent": percent,
        "interval": _interval,
        "duration": duration,
        "escape": escape,
        "join": joined,
        "reference": reference,
    }
    made.globals |= {"grid": grid, "address": address, "slug": slug, "quantities": QUANTITIES}
    made.globals |= {"held": held, "known": defaultdict(lambda: _NOTHING_KNOWN)}
    return made


@pass_context
def _interval(context: Context, estimate: Estimate) -> Markup:
    """Return an estimate with its interval, in the unit of the others of its quantity on the page."""
    units: Mapping[str, Unit] = context.get("units") or {}
    return interval(estimate, units.get(estimate.quantity))


def joined(values: Sequence[object], between: str = ", ") -> Markup:
    """Return values as text with `between` in the gaps; jinja's own `join` would let Markdown through."""
    return ours(between).join(escape(value) for value in values)


def page(template: str, **context: Any) -> str:
    """Return a page of the study as Markdown with its formulas drawn, and its words linked to the glossary."""
    made = unbroken(formulas(environment().get_template(f"{template}.md.jinja").render(**context)))
    text = linked(made, _GLOSSARY[template]) if template in _GLOSSARY else made
    weight = _IN_SEARCH.get(template)
    return f"---\nsearch:\n  boost: {weight}\n---\n\n{text}" if weight else text


# of a lot whose study was not diagnosed
_NOTHING_KNOWN: Mapping[str, Any] = {"coat": "untested"} | {f.name: False for f in fields(Done)}


def _module(
    experiment: Experiment,
    result: Result,
    estimates: Sequence[Estimate],
    figures: Mapping[str, Markup],
) -> Any:
    template = environment().get_template(f"{result.name}/page.md.jinja")
    return template.make_module(
        {
            "estimates": estimates,
            "units": alike(estimates),
            "drawing": result.drawing,
            "figures": figures,
            "experiment": experiment.about,
            "seeds": Naming(result.estimates),
            "rows": result.rows,
            "known": defaultdict(lambda: _NOTHING_KNOWN, experiment.lots),
        }
    )


def method(text: str, settings: Settings) -> Markup:
    """Return the method of an analysis as it was carried out with these settings."""
    return ours(environment().from_string(text).render(settings=settings))


def words(
    experiment: Experiment, result: Result, macro: str, estimates: Sequence[Estimate] | None = None
) -> Markup:
    """Return one macro of an analysis in words alone, for all estimates or some of them.

    A macro that the analysis does not have says nothing: `evidence` (why seeds did
    not germinate) and `headline` (what else is known of a lot), both for home, are optional.
    """
    figures: Mapping[str, Markup] = defaultdict(Markup)
    chosen = result.estimates if estimates is None else estimates
    said = getattr(_module(experiment, result, chosen, figures), macro, Markup)
    return ours(said().strip())


def section(experiment: Experiment, result: Result, figures: Mapping[str, Markup]) -> Section:
    """Return an analysis in words, with every figure that its own words did not place yet."""
    module = _module(experiment, result, result.estimates, figures)
    said = {
        macro: ours(getattr(module, macro)().strip())
        for macro in ("answer", "limits", "next_step", "details")
    }
    unplaced = [f for f in figures.values() if not any(f in text for text in said.values())]
    return Section(
        result=result,
        shared=Naming(result.estimates).shared,
        first=Markup("\n\n").join(unplaced[:1]),
        others=Markup("\n\n").join(unplaced[1:]),
        listed=[
            e for e in result.estimates if not any(e.quantity in own for own in INDICES.values())
        ],
        indices=_indices(result.estimates),
        **said,
    )


def _indices(estimates: Sequence[Estimate]) -> dict[str, list[Estimate]]:
    """Return the indices of germination among estimates by what they say of a lot, none where there are none."""
    found = {says: [e for e in estimates if e.quantity in own] for says, own in INDICES.items()}
    return {says: own for says, own in found.items() if own}


def protocol(steps: Sequence[Row]) -> Markup:
    """Return the steps of treatments as a table, without the columns that say nothing; empty where nothing was done."""
    if not any(row["method"] != "none" for row in steps):
        return Markup("")
    lines = [_step(row) for row in steps]
    heads = [name for name in lines[0] if any(line[name] for line in lines)]
    cells = ([line[name] for name in heads] for line in lines)
    return grid.grid(heads, cells, "What was done, step by step")


def _step(row: Row) -> dict[str, Markup]:
    def joined_up(*parts: str) -> Markup:
        return Markup(" ").join(cell for part in parts if (cell := grid.cell(part)))

    strength = joined_up(row["concentration"], row["concentration_unit"])
    agent = joined_up(row["agent"])
    return {
        "treatment": escape(row["treatment"]),
        "step": grid.cell(row["step"]),
        "method": escape(row["method"].replace("_", " ")),
        "where on the coat": escape(row["position"]),
        "with": Markup(", ").join(part for part in (agent, strength) if part),
        "how long": joined_up(row["duration"], row["duration_unit"]),
        "at": joined_up(row["temperature_c"], "°C" if row["temperature_c"] else ""),
        "notes": escape(row["notes"]),
    }


def experiment_page(
    experiment: Experiment,
    figures: Mapping[str, Mapping[str, Markup]],
    settings: Settings,
    rows: Sequence[origin.Behind] = (),
) -> str:
    """Return the page of an experiment; `figures` are rendered ones by analysis and name, `rows` what they rest on."""
    return page(
        "experiment",
        experiment=experiment,
        sections=[section(experiment, r, figures[r.name]) for r in experiment.results],
        hazards=hazards_of(experiment.treatments, outdoors=experiment.sows_outdoors),
        protocol=protocol(experiment.treatments),
        invented=experiment.invented,
        methods={r.name: method(r.about.method, settings) for r in experiment.results},
        waiting=[
            (analyses.describe(name).title, files)
            for name, files in experiment.about.get("waiting", {}).items()
        ],
        unfilled=experiment.about.get("unfilled", {}),
        confidence=settings.confidence,
        shows_indices=settings.germination_indices,
        anchors=origin.anchors(rows),
        rows=origin.table(rows, ["..", "data", experiment.name, "raw"]) if rows else None,
    )

"""How often intervals held the truth in simulated studies: the table of `make calibrate` as a page shows it."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from math import sqrt
from typing import Any

from markupsafe import Markup

from hilum import analyses
from hilum.analyses.quantities import QUANTITIES
from hilum.markup import escape
from hilum.report import grid
from hilum.report.numbers import number, percent
from hilum.study import CALIBRATION

# an interval keeps its word when it holds the truth this often, and misses it on one side no more often than that
GOAL, MOST_ON_ONE_SIDE = 0.93, 0.035
# a number of seeds to sow can only be too small
_PROMISES = ("seeds_to_sow", "seeds_to_sow_along")
_FEWEST = 20  # intervals or brackets, below which a share says nothing
_GLOSSARY = "glossary.html"
# the columns of coverage.csv
MEANINGS = {
    "analysis": "the analysis that prints the figure",
    "design": "what was simulated",
    "quantity": "the figure",
    "studies": "how many studies",
    "figures": "how many figures of this kind they should have",
    "estimated": "how many got a value with an interval",
    "bracketed": "how many got a bracket instead",
    "brackets_holding_the_truth": "how many of the brackets hold the true value",
    "brackets_say": "mean confidence that the brackets themselves name",
    "covered": "how many of the intervals hold it",
    "truth_below": "how many intervals lie wholly above it",
    "truth_above": "how many lie wholly below it",
    "coverage": "covered of estimated",
    "monte_carlo_error": "standard error of the coverage, the intervals of one study taken together",
    "median_width": "median width of the intervals, in width_unit",
    "width_unit": "a unit, or the true value",
    "lowest_group": "the treatment, pair or temperature that speaks most against the interval, where there are several",
    "lowest_estimated": "how many intervals it got",
    "lowest_covered": "how many of them hold the true value",
}


@dataclass(frozen=True, kw_only=True)
class Row:
    """What came of one quantity in one design.

    Of `figures` some are `estimated`, some `bracketed`, the rest was not printed or said to be unknown. Of the
    estimated `covered` hold the truth; it lies below the others `truth_below` times, above them `truth_above` times.
    """

    analysis: str
    design: str
    quantity: str
    studies: int
    figures: int
    estimated: int
    bracketed: int
    brackets_holding_the_truth: int
    brackets_say: float
    covered: int
    truth_below: int
    truth_above: int
    monte_carlo_error: float
    median_width: float
    width_unit: str
    lowest_group: str
    lowest_estimated: int
    lowest_covered: int

    @property
    def coverage(self) -> float:
        """Return how often the intervals hold the truth."""
        return self.covered / self.estimated

    @property
    def given(self) -> float:
        """Return how often there was an interval at all."""
        return self.estimated / self.figures

    @property
    def judged(self) -> bool:
        """Return whether there are intervals enough to say whether they keep their word."""
        return self.estimated >= _FEWEST

    @property
    def short(self) -> bool:
        """Return whether the intervals surely miss the goal: by more than two Monte-Carlo errors."""
        return self.judged and self.coverage + 2 * self.monte_carlo_error < GOAL

    @property
    def one_sided(self) -> bool:
        """Return whether they surely miss the truth too often on one side."""
        if not self.judged or self.quantity in _PROMISES:
            return False
        side = max(self.truth_below, self.truth_above) / self.estimated
        return side - 2 * sqrt(side * (1 - side) / self.estimated) > MOST_ON_ONE_SIDE

    @property
    def holding(self) -> float:
        """Return how often the brackets hold the truth."""
        return self.brackets_holding_the_truth / self.bracketed

    @property
    def brackets_short(self) -> bool:
        """Return whether the brackets surely hold the truth too seldom."""
        if self.bracketed < _FEWEST:
            return False
        error = sqrt(self.holding * (1 - self.holding) / self.bracketed)
        # what few seeds can say is told with a confidence of its own
        return self.holding + 2 * error < min(GOAL, self.brackets_say)


@dataclass(frozen=True, kw_only=True)
class Calibration:
    """The table, what was run for it, and whether the code of the intervals is still the same."""

    rows: tuple[Row, ...]
    run: Mapping[str, Any]
    same_code: bool
    diagnosis: Sequence[Mapping[str, str]] = ()

    def designs(self, analysis: str) -> list[Mapping[str, Any]]:
        """Return the designs of an analysis, in order."""
        return [design for design in self.run["designs"] if design["analysis"] == analysis]


def row(cells: Mapping[str, str]) -> Row:
    """Return a row of coverage.csv; a number that is missing is 0."""
    known: dict[str, Any] = {}
    for name, kind in Row.__annotations__.items():
        text = cells.get(name, "")
        known[name] = text if kind == "str" else {"int": int, "float": float}[kind](text or 0)
    return Row(**known)


@cache
def _counted() -> Mapping[tuple[str, str], Row]:
    with (CALIBRATION / "coverage.csv").open(encoding="utf-8", newline="") as file:
        rows = [row(cells) for cells in csv.DictReader(file)]
    return {(r.design, r.quantity): r for r in rows}


def held(design: str, quantity: str) -> Markup:
    """Return how often the intervals of a quantity held the truth in a design; empty where that was not counted."""
    found = _counted().get((design, quantity))
    return percent(found.coverage) if found is not None and found.judged else Markup("")


def context(found: Calibration) -> dict[str, Any]:
    """Return what the page is written from."""
    designs = found.run["designs"]
    # a value claimed where the data hold none is not a matter of coverage
    held = [d["name"] for d in designs if d["identified"] is not False]
    within = {d["name"] for d in designs if d["within"]}.intersection(held)
    rows = [r for r in found.rows if r.design in held]
    kept = [r for r in rows if r.design in within]
    judged = [r for r in kept if r.judged]
    return {
        "run": found.run,
        "diagnosis": _diagnosis(found.diagnosis),
        "same_code": found.same_code,
        "columns": MEANINGS,
        "goal": GOAL,
        "one_side": MOST_ON_ONE_SIDE,
        "judged": len(judged),
        "good": sum(not (r.short or r.one_sided) for r in judged),
        "within": len(within),
        "falls_short": _fallen(kept, "Figures that fall short"),
        "breaks": _fallen(
            (r for r in rows if r.design not in within), "Figures where the assumptions are broken"
        ),
        "brackets": _brackets(found.rows),
        "parts": [_part(found, name) for name in dict.fromkeys(d["analysis"] for d in designs)],
        "claims": _claims(found),
        "false_claims": _how_often(found, lambda r: r.estimated, identified=False),
        "false_alarms": _how_often(found, lambda r: r.figures - r.estimated, identified=True),
    }


def _fallen(rows: Iterable[Row], label: str) -> Markup | None:
    """Return the figures that do not keep their word, the worst first; None where there is none."""
    fallen = sorted((r for r in rows if r.short or r.one_sided), key=lambda r: r.coverage)
    heads = ("design", "figure", "holds the truth", "truth below", "truth above", "got an interval")
    lines = (
        (
            r.design,
            grid.quantity_link(r.quantity, _GLOSSARY),
            percent(r.coverage),
            percent(r.truth_below / r.estimated),
            percent(r.truth_above / r.estimated),
            percent(r.given),
        )
        for r in fallen
    )
    return grid.grid(heads, lines, label) if fallen else None


def _brackets(rows: Iterable[Row]) -> Markup | None:
    """Return the brackets that hold the truth too seldom, the worst first; None where there are none."""
    found = sorted((r for r in rows if r.brackets_short), key=lambda r: r.holding)
    heads = ("design", "figure", "brackets", "hold the truth", "say they do")
    lines = (
        (
            r.design,
            grid.quantity_link(r.quantity, _GLOSSARY),
            r.bracketed,
            percent(r.holding),
            percent(r.brackets_say),
        )
        for r in found
    )
    return grid.grid(heads, lines, "Brackets that seldom hold the truth") if found else None


def _part(found: Calibration, analysis: str) -> dict[str, Any]:
    own = [r for r in found.rows if r.analysis == analysis]
    about = analyses.describe(analysis)
    return {
        "name": analysis,
        "title": about.title,
        "matrix": _matrix(found.designs(analysis), own, about.headlines, about.title),
        "designs": found.designs(analysis),
        "rows": _details(own, about.title),
    }


def _matrix(
    designs: Sequence[Mapping[str, Any]], rows: Sequence[Row], quantities: Sequence[str], title: str
) -> Markup:
    """Return how often the headline figures hold the truth, a line for each design."""
    at = {(r.design, r.quantity): r for r in rows}
    told = [q for q in quantities if any(r.quantity == q for r in rows)]
    heads = ["design", *(grid.quantity_link(q, _GLOSSARY) for q in told)]
    lines = ([_name(d), *(_cell(at.get((d["name"], q))) for q in told)] for d in designs)
    return grid.grid(heads, lines, f"{title}: how often intervals hold the truth")


def _name(design: Mapping[str, Any]) -> Markup:
    note = Markup("") if design["within"] else Markup('<span class="note">breaks the model</span>')
    return escape(design["name"]) + note


def _cell(found: Row | None) -> Markup:
    if found is None:
        return Markup("–")
    if not found.estimated:
        return Markup('<span class="note">no interval</span>')
    shown = Markup('<span class="figure">{}</span>').format(percent(found.coverage))
    if found.short:
        shown = Markup("<strong>{}</strong>").format(shown)
    if found.given > 0.995:
        return shown
    return shown + Markup('<span class="note">given in {}</span>').format(percent(found.given))


def _details(rows: Sequence[Row], title: str) -> Markup:
    heads = (
        "design",
        "figure",
        "got an interval",
        "holds the truth",
        "truth below",
        "truth above",
        "median width",
        "got a bracket",
        "brackets that hold the truth",
    )
    # the counts, errors and worst groups are in the table to take along: a page of all would be heavy
    # a link at its first line: at each of hundreds they would weigh more than the numbers
    first = {r.quantity: r for r in reversed(rows)}
    lines = (_detail(r, linked=first[r.quantity] is r) for r in rows)
    return grid.grid(heads, lines, f"{title}: every figure of every design")


def _detail(r: Row, *, linked: bool) -> list[object]:
    told = [Markup("")] * 4
    if r.estimated:
        told = [
            percent(r.coverage),
            percent(r.truth_below / r.estimated),
            percent(r.truth_above / r.estimated),
            _width(r),
        ]
    bracket = percent(r.holding) if r.bracketed else Markup("")
    return [
        r.design,
        grid.quantity_link(r.quantity, _GLOSSARY, meaning=False)
        if linked
        else QUANTITIES[r.quantity].title,
        percent(r.given),
        *told,
        percent(r.bracketed / r.figures),
        bracket,
    ]


def _width(r: Row) -> Markup:
    if r.width_unit == "of the true value":
        return percent(r.median_width) + " of the truth"
    if r.width_unit == "fraction":
        return percent(r.median_width)
    return number(r.median_width, r.width_unit)


def _diagnosis(rows: Sequence[Mapping[str, str]]) -> dict[str, Any] | None:
    """Return what came of lots whose seeds fail for a known cause, None where that was not run."""
    if not rows:
        return None

    def share(own: Sequence[Mapping[str, str]], what: str) -> Markup:
        return percent(sum(int(r[what]) for r in own) / sum(int(r["studies"]) for r in own))

    told = [r for r in rows if r["separated"] == "yes"]
    left = [r for r in rows if r["separated"] == "no"]
    heads = (
        "what was drawn",
        "dishes differ",
        "comparison made",
        "all limits hold",
        "main cause named",
        "named alone",
        "another named alone",
        "causes named, mean",
    )
    counted = ("all_within_limits", "names_the_main_cause", "names_it_alone", "names_one_wrongly")
    lines = (
        [
            r["case"],
            r["spread"],
            r["separated"],
            *(share([r], name) for name in counted),
            r["mean_causes_named"],
        ]
        for r in rows
    )
    return {
        "within": share(told, "all_within_limits"),
        "holds": share(told, "names_the_main_cause"),
        "alone": share(told, "names_it_alone"),
        "claimed": sum(int(r["names_it_alone"]) + int(r["names_one_wrongly"]) for r in left),
        "left_out": sum(int(r["studies"]) for r in left),
        "table": grid.grid(heads, lines, "How often the diagnosis is right"),
    }


def _how_often(found: Calibration, what: Callable[[Row], int], *, identified: bool) -> Markup:
    """Return the share of base temperatures, of designs that keep to the models, of which something is true."""
    designs = [
        d["name"] for d in found.run["designs"] if d["identified"] is identified and d["within"]
    ]
    own = [r for r in found.rows if r.quantity == "base_temperature" and r.design in designs]
    return percent(sum(map(what, own)) / sum(r.figures for r in own))


def _claims(found: Calibration) -> Markup:
    """Return how often a base temperature was claimed, where the data hold one and where they do not."""
    at = {r.design: r for r in found.rows if r.quantity == "base_temperature"}
    heads = (
        "design",
        "the data hold it",
        "value claimed",
        "bracket",
        "neither",
        "brackets that hold the truth",
    )
    told = [d for d in found.run["designs"] if d["identified"] is not None]
    lines = (_claim(at[d["name"]], d["identified"]) for d in told)
    return grid.grid(heads, lines, "How often a base temperature is claimed")


def _claim(r: Row, identified: bool) -> list[object]:
    neither = r.figures - r.estimated - r.bracketed
    holding = percent(r.holding) if r.bracketed else Markup("")
    shares = (percent(n / r.figures) for n in (r.estimated, r.bracketed, neither))
    return [r.design, "yes" if identified else "no", *shares, holding]

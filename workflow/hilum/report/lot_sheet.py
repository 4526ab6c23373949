"""The sheet of a lot in words: seed mass, moisture and the agreement of replicates, each beside what is tolerated."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from markupsafe import Markup

from hilum.analyses.estimate import Estimate
from hilum.diagnosis.agreement import (
    GerminationTest,
    finding,
    germination_tests,
    worth_drawing,
)
from hilum.markup import address, escape
from hilum.report import grid
from hilum.report.diagnosed import Group
from hilum.report.numbers import interval, number


@dataclass(frozen=True)
class Sheets:
    """The sheets of all lots as read back from disk: `facts` by lot, and every estimate."""

    estimates: Sequence[Estimate]
    facts: Mapping[str, Mapping[str, Any]]

    @cached_property
    def _by_lot(self) -> dict[str, dict[str, Estimate]]:
        found: dict[str, dict[str, Estimate]] = {}
        for estimate in self.estimates:
            found.setdefault(estimate.lot, {})[estimate.quantity] = estimate
        return found

    def of_lot(self, lot: str, groups: Sequence[Group]) -> dict[str, Any] | None:
        """Return table, findings and remarks of a lot, None where nothing is known; `groups` are those of its diagnosis."""
        own, facts = self._by_lot[lot], self.facts[lot]
        tests = germination_tests(groups)
        lines = [*_mass(own, facts), *_moisture(own, facts)]
        if not lines and not tests:
            return None
        heads = ["what", "figure", "from"]
        return {
            "table": grid.grid(heads, lines, f"Sheet of lot {lot}") if lines else None,
            "agreement": _agreement(facts),
            # a figure has it as its title
            "dishes": finding(tests) if tests and not worth_drawing(tests) else None,
            "missing": dict.fromkeys(e.needs for e in own.values() if e.needs),
            "remarks": _remarks(facts, [test for test in tests if not test.within]),
        }


def _mass(own: Mapping[str, Estimate], facts: Mapping[str, Any]) -> list[list[object]]:
    mass, spread = own["thousand_seed_mass"], own["mass_variation"]
    if mass.status != "estimated":
        return []
    of = facts["mass"]
    each = of["seeds_each"]
    what = (
        f"{of['replicates']} seeds, one by one"
        if each == 1
        else f"{of['replicates']} × {each} seeds"
    )
    return [
        ["thousand-seed mass", interval(mass), what],
        ["its coefficient of variation", interval(spread), what],
    ]


def _moisture(own: Mapping[str, Estimate], facts: Mapping[str, Any]) -> list[list[object]]:
    dried, given = facts["moisture"], facts["given"]
    lines: list[list[object]] = []
    for name, basis in (("wet", "wet basis"), ("dry", "dry basis")):
        what, found = f"moisture, {basis}", own[f"moisture_{name}"]
        if dried:
            lines.append([what, interval(found), f"{dried['samples']} samples dried"])
        elif given:
            shown = number(given[name], "%")
            lines.append([what, shown, "lots.csv, as typed" if name == "wet" else "lots.csv"])
    return lines


def _agreement(facts: Mapping[str, Any]) -> list[Markup]:
    """Return whether replicates of seed mass and determinations of moisture agree, with what is tolerated."""
    made, mass, dried = [], facts["mass"], facts["moisture"]
    if mass and mass["agrees"] is not None:
        agree, lies = ("agree", "within") if mass["agrees"] else ("disagree", "beyond")
        made.append(
            Markup(
                "The replicates of the seed mass {}: their coefficient of variation lies {} the {} tolerated."
            ).format(agree, lies, number(mass["tolerated_cv"], "%"))
        )
    if dried:
        made.append(
            Markup(
                "The moisture determinations {}: they differ by {} points, and up to {} are tolerated."
            ).format(
                "agree" if dried["agrees"] else "disagree",
                # determinations are reported to a tenth, and differences to a hundredth
                number(dried["apart"], half_width=0.2),
                number(dried["tolerated"]),
            )
        )
    return made


def _remarks(facts: Mapping[str, Any], apart: Sequence[GerminationTest]) -> list[object]:
    """Return what to do where replicates disagree; `apart` are the tests whose dishes do."""
    made: list[object] = []
    if facts["mass"] and facts["mass"]["agrees"] is False:
        made.append(
            "The replicates of the seed mass differ by more than is tolerated: weigh eight more, and look for chaff, broken "
            "seeds or a miscount."
        )
    if facts["moisture"] and not facts["moisture"]["agrees"]:
        made.append(
            "The moisture determinations differ by more than is tolerated: repeat them, and use no figure of these."
        )
    if typed := facts["typed_apart"]:
        made.append(
            f"lots.csv says {number(typed['typed'], '%')} moisture, drying says {number(typed['dried'], '%', half_width=0.1)}, further apart "
            f"than the {number(typed['tolerated'], '%')} tolerated between determinations: the sheet goes by the drying. Correct lots.csv, or say "
            "under notes when each was true."
        )
    if apart:
        made.append(
            Markup(
                "Dishes of one test lie further apart than chance allows ({}): look for one that dried out, moulded or was counted "
                "wrongly, and repeat the test if none is found."
            ).format(Markup("; ").join(map(_linked, apart)))
        )
    return made


def _linked(test: GerminationTest) -> Markup:
    page = address("..", "experiments", f"{test.about['experiment']}.html")
    return Markup('<a href="{}">{}</a>').format(page, escape(test.name))

"""The sheet of a lot in words: seed mass, moisture and the agreement of replicates, each beside what is tolerated."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from markupsafe import Markup

from hilum.analyses.estimate import Estimate
from hilum.diagnosis.words import place
from hilum.report import grid
from hilum.report.diagnosed import Group
from hilum.report.markup import address, escape
from hilum.report.numbers import interval, number

# of more tests than these only those whose dishes disagree have a line of their own
_TESTS = 10
_AGREE = {True: "yes", False: "no", None: ""}


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
        """Return table and remarks of a lot, None where there is no figure to show; `groups` are those of its diagnosis."""
        own, facts = self._by_lot[lot], self.facts[lot]
        tests = [(group, one) for group in groups for one in group["replicates"]]
        lines = [*_mass(own, facts), *_moisture(own, facts), *_sown(tests)]
        if not lines:
            return None
        heads = ["what", "figure", "from", "differ by", "tolerated", "agree"]
        return {
            "table": grid.grid(heads, lines, f"Sheet of lot {lot}"),
            "missing": dict.fromkeys(e.needs for e in own.values() if e.needs),
            "remarks": _remarks(facts, apart=not all(one["within"] for _, one in tests)),
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
    tolerated = "" if of["tolerated_cv"] is None else number(of["tolerated_cv"], "%")
    return [
        ["thousand-seed mass", interval(mass), what, "", "", ""],
        [
            "its coefficient of variation",
            interval(spread),
            what,
            "",
            tolerated,
            _AGREE[of["agrees"]],
        ],
    ]


def _moisture(own: Mapping[str, Estimate], facts: Mapping[str, Any]) -> list[list[object]]:
    dried, given = facts["moisture"], facts["given"]
    lines: list[list[object]] = []
    for name, basis in (("wet", "wet basis"), ("dry", "dry basis")):
        what, found = f"moisture, {basis}", own[f"moisture_{name}"]
        if dried:
            about: list[object] = ["", "", ""]
            if name == "wet":
                # determinations are reported to a tenth, and differences to a hundredth
                apart = number(dried["apart"], "%", half_width=0.2)
                about = [apart, number(dried["tolerated"], "%"), _AGREE[dried["agrees"]]]
            lines.append([what, interval(found), f"{dried['samples']} samples dried", *about])
        elif given:
            shown = number(given[name], "%")
            lines.append(
                [what, shown, "lots.csv, as typed" if name == "wet" else "lots.csv", "", "", ""]
            )
    return lines


def _sown(tests: Sequence[tuple[Group, Mapping[str, Any]]]) -> list[list[object]]:
    """Return a line for each germination test; of many only those whose dishes disagree, and how many agree."""
    shown = [pair for pair in tests if not pair[1]["within"]] if len(tests) > _TESTS else tests
    lines = [_test(*pair) for pair in shown]
    rest = len(tests) - len(shown)
    return [*lines, [f"germinated, {rest} other tests", "", "", "", "", "yes"]] if rest else lines


def _test(group: Group, one: Mapping[str, Any]) -> list[object]:
    page = address("..", "experiments", f"{one['experiment']}.html")
    where = ", ".join(part for part in (group["treatment"], place(group)) if part)
    rule = "7 CFR 201.55(a)" if one["published"] else "theory"
    return [
        Markup('germinated, <a href="{}">{}</a>').format(page, escape(where)),
        number(one["mean"], "fraction"),
        f"{one['dishes']} × {int(one['seeds'])} seeds",
        number(one["range"], "fraction"),
        Markup("{} ({})").format(number(one["tolerated"], "fraction"), rule),
        _AGREE[one["within"]],
    ]


def _remarks(facts: Mapping[str, Any], *, apart: bool) -> list[str]:
    """Return what to do where replicates disagree."""
    made = []
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
            "Dishes of one test lie further apart than chance allows: look for one that dried out, moulded or was counted "
            "wrongly, and repeat the test if none is found."
        )
    return made

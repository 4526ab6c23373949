"""Stored seed on the page of its lot: one table of all that was sown after storage, and the groups in full below a fold."""

from __future__ import annotations

import re
from collections.abc import Sequence

from markupsafe import Markup

from hilum.diagnosis.words import CAUSES, place
from hilum.markup import escape
from hilum.report import grid
from hilum.report.diagnosed import Group, anchor, interval_of

# so few stand among the others
_FEW = 2
_DAYS = re.compile(r"(?:^|, )stored ([\d.e+]+) d\b")


def days(group: Group) -> float:
    """Return for how many days the seeds of a group were stored, 0 where they were not."""
    found = _DAYS.search(group["condition"])
    return float(found.group(1)) if found else 0.0


def apart(groups: Sequence[Group]) -> tuple[list[Group], list[Group]]:
    """Return the groups that a page tells one by one, and those of stored seed to be folded away."""
    stored = [group for group in groups if days(group) > 0]
    if len(stored) <= _FEW:
        return list(groups), []
    return [group for group in groups if days(group) == 0], stored


def table(groups: Sequence[Group]) -> Markup:
    """Return a line for each group of stored seed, by treatment and time."""
    order = list(dict.fromkeys(group["treatment"] for group in groups))
    lines = [
        [
            Markup('<a href="#{}">{}</a>').format(anchor(group), escape(group["treatment"])),
            escape(place(group)),
            interval_of(group["fates"]["germinated"]),
            escape(" or ".join(CAUSES[cause] for cause in group["named"]))
            or "nearly all germinated",
        ]
        for group in sorted(groups, key=lambda g: (order.index(g["treatment"]), days(g)))
    ]
    return grid.grid(
        ["seeds", "where", "germinated", "why the others did not"], lines, "Seed sown after storage"
    )

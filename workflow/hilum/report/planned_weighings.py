"""The part of a plan's page on seeds that are weighed while they soak."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from markupsafe import Markup

from hilum.plan.advised.reweighed import Reweighed, Told
from hilum.plan.advised.weighing import Calls
from hilum.plan.shown import weighing_chart, words
from hilum.report import grid
from hilum.report.numbers import GAP, number, with_unit

_NOTED = 0.01  # of a half-width; less is no gain


def calls(rows: Sequence[Calls]) -> Markup:
    """Return the table of how seeds would be called, empty without any."""
    if not rows:
        return Markup("")
    return grid.grid(
        ["experiment", "seeds", "told wrongly", "wanted", "simulated", "uncertain", "simulated "],
        (
            [
                row.experiment,
                row.treatment,
                words.of_thousand(row.wrong),
                "" if row.wanted is None else words.of_thousand(row.wanted),
                f"{words.of_thousand(float(row.wrong_simulated.mean()))}{'' if row.agrees else ' (differs)'}",
                words.of_thousand(row.uncertain),
                words.of_thousand(float(row.uncertain_simulated.mean())),
            ]
            for row in rows
        ),
        "Seeds told wrongly, and seeds left uncertain",
    )


def main_calls(rows: Sequence[Calls]) -> list[dict[str, Any]]:
    """Return the answer for each treatment of which so many may be told wrongly."""
    return [
        {
            "treatment": row.treatment,
            "wrong": words.of_thousand(row.wrong),
            "uncertain": words.of_thousand(row.uncertain),
            "wanted": "" if row.wanted is None else words.of_thousand(row.wanted),
            "enough": row.enough,
        }
        for row in rows
    ]


def advice(one: Reweighed, figures: Mapping[str, Markup]) -> dict[str, Any]:
    """Return what would tell more of the coats of one lot."""
    narrowest = min(one.steps, key=lambda step: step[1].half_width)
    fewest = min(one.steps, key=lambda step: step[1].wrong)
    at, told = one.added
    narrowest_at, narrow = min(one.points, key=lambda point: point[1].half_width)
    return {
        "lot": one.lot,
        "now": _half(one.now),
        "now_wrong": words.of_thousand(one.now.wrong),
        "narrowest": (narrowest[0], _half(narrowest[1])),
        "fewest": (fewest[0], words.of_thousand(fewest[1].wrong)),
        "at": number(at, "h"),
        "at_wrong": words.of_thousand(told.wrong),
        "at_half": _half(told),
        "narrows": narrow.half_width < (1 - _NOTED) * one.now.half_width,
        "narrowest_at": number(narrowest_at, "h"),
        "narrowest_half": _half(narrow),
        "planned": words.hours(one.planned),
        "best": words.hours(one.best),
        "best_wrong": words.of_thousand(one.best_told.wrong),
        "best_half": _half(one.best_told),
        "as_planned": one.best == one.planned,
        "longest": number(one.longest_h, "h"),
        "steps": [(says, _half(step), words.of_thousand(step.wrong)) for says, step in one.steps],
        "figure": figures[weighing_chart.name(one)],
    }


def _half(told: Told) -> Markup:
    scale, unit = words.shown("fraction")
    return with_unit(f"±{GAP}{words.rounded(scale * told.half_width)}", unit)

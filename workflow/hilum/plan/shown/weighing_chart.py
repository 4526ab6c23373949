"""The chart of weighings: seeds told wrongly, against the hour of one more weighing."""

from __future__ import annotations

import altair as alt

from hilum import specification
from hilum.analyses.condition import number
from hilum.figure import PALETTE, Figure
from hilum.plan.advised.reweighed import Reweighed
from hilum.plan.shown.words import of_thousand

_HEIGHT = 230
_UNIT = "of 1000 seeds"


def name(advice: Reweighed) -> str:
    """Return the name of the figure of a lot."""
    return f"{advice.experiment}-{advice.lot}-weighing-added"


def figure(advice: Reweighed) -> Figure:
    """Return the chart of one more weighing."""
    rows = [
        {
            "weighed": at,
            "told wrongly": float(f"{1000 * told.wrong:.3g}"),
            "half-width": round(100 * told.half_width, 2),
        }
        for at, told in advice.points
    ]
    base = alt.Chart(specification.data(rows))
    x = alt.X("weighed:Q", title="hour of one more weighing (h)", scale=alt.Scale(type="log"))
    y = alt.Y(
        "told wrongly:Q", title=f"told wrongly ({_UNIT})", scale=alt.Scale(domainMin=0, zero=True)
    )
    tips = [
        alt.Tooltip("weighed:Q", title="h"),
        alt.Tooltip("told wrongly:Q", format=".2~r"),
        alt.Tooltip("half-width:Q", title="half-width (points)", format=".2~f"),
    ]
    planned = alt.Chart(specification.data([{"at": hour} for hour in advice.planned if hour]))
    now = alt.Chart(specification.data([{"now": 1000 * advice.now.wrong}]))
    spec = alt.layer(
        base.mark_line(point=True).encode(x=x, y=y, tooltip=tips),
        planned.mark_tick(thickness=2, size=14, color=PALETTE[1]).encode(
            x="at:Q", y=alt.value(_HEIGHT - 7)
        ),
        now.mark_rule(strokeDash=[6, 3], opacity=0.8).encode(y="now:Q"),
    ).properties(height=_HEIGHT)
    at, told = advice.added
    said = f"Fewest with one at {number(at)} h: {of_thousand(told.wrong)}."
    return Figure(
        name=name(advice),
        title=f"What one more weighing would do for the seeds of {advice.lot}",
        caption=f"{said} Short marks: weighings planned. Dashed: as planned, {of_thousand(advice.now.wrong)}.",
        description=f"Line of the seeds told wrongly, {_UNIT}, against the hour of one more weighing. {said}",
        spec=specification.of(spec),
        rows=rows,
        units={"weighed": "h", "told wrongly": _UNIT, "half-width": "points"},
    )

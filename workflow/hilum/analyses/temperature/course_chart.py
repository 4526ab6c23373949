"""The chart of a course: its temperature above, the germination expected along it below."""

from __future__ import annotations

import altair as alt

from hilum import specification
from hilum.analyses.condition import number
from hilum.analyses.rounding import percent, shown
from hilum.analyses.temperature.along import ExpectedAlong
from hilum.figure import PALETTE, Figure

Row = dict[str, object]


def figure(name: str, of: str, course: ExpectedAlong, confidence: float) -> Figure:
    """Return the figure of one course for one series."""
    value, low, high = (
        shown(100 * share[-1]) for share in (course.germinated, course.low, course.high)
    )
    end = number(round(course.days[-1], 1))
    degrees = [moment.temperature for moment in course.temperatures]
    told = f"{value} % ({low} to {high} %) of the seeds sown should germinate within {end} days"
    return Figure(
        name=name,
        title=f"What to expect along a course: {course.name}{of}",
        caption=f"Along this course {told}. Band: {percent(confidence)}, for the mean of many dishes. Dotted: the coolest "
        "and the warmest temperature tested.",
        description=f"Above, temperature over {end} days, from {shown(min(degrees), 1)} to {shown(max(degrees), 1)} °C; below, the "
        f"germination expected along it: {told}.",
        spec=_spec(course),
        rows=[
            {
                "time": round(d, 3),
                "germinated": round(100 * g, 1),
                "low": round(100 * lo, 1),
                "high": round(100 * hi, 1),
            }
            for d, g, lo, hi in zip(
                course.days, course.germinated, course.low, course.high, strict=True
            )
        ],
        units={"time": "d", "germinated": "%", "low": "%", "high": "%"},
    )


def _across(course: ExpectedAlong, title: str | None) -> alt.X:
    scale = alt.Scale(domain=[0, course.days[-1]], nice=False)
    return alt.X("days:Q", title=title, scale=scale)


def _spec(course: ExpectedAlong) -> Row:
    panels = alt.vconcat(_temperature(course), _germination(course), spacing=12)
    return specification.of(panels)


def _temperature(course: ExpectedAlong) -> alt.LayerChart | alt.FacetChart:
    up = alt.Y("temperature:Q", title="temperature (°C)", scale=alt.Scale(zero=False))
    told = [
        alt.Tooltip("days:Q", title="days", format=".4~r"),
        alt.Tooltip("temperature:Q", title="temperature (°C)", format=".1f"),
    ]
    line = alt.Chart(specification.data(map(vars, course.temperatures))).mark_line(color=PALETTE[1])
    ends = [{"temperature": degrees} for degrees in course.tested]
    tested = alt.Chart(specification.data(ends)).mark_rule(
        strokeDash=[2, 3], color="currentColor", opacity=0.7
    )
    layered = alt.layer(line.encode(_across(course, None), up, tooltip=told), tested.encode(y=up))
    return layered.properties(height=130)


def _germination(course: ExpectedAlong) -> alt.LayerChart | alt.FacetChart:
    names = ("days", "germinated", "low", "high")
    cells = zip(*([0, *getattr(course, name)] for name in names), strict=True)
    values = [dict(zip(names, row, strict=True)) for row in cells]
    across = _across(course, "time since sowing (d)")
    up = alt.Y(
        "germinated:Q",
        title="germinated, of the seeds sown",
        axis=specification.shares(),
        scale=alt.Scale(domain=[0, 1]),
    )
    told = [alt.Tooltip("days:Q", title="days", format=".4~r")] + [
        alt.Tooltip(f"{name}:Q", title=name, format=specification.SHARE) for name in names[1:]
    ]
    chart = alt.Chart(specification.data(values))
    layered = alt.layer(
        chart.mark_area(opacity=0.16, line=False).encode(across, alt.Y("low:Q"), alt.Y2("high:Q")),
        chart.mark_line().encode(across, up, tooltip=told),
    )
    return layered.properties(height=230)

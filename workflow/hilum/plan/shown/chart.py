"""Charts of a plan: half-widths by dishes and seeds, power, and what another temperature would do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import altair as alt
import numpy as np

from hilum import specification
from hilum.analyses.condition import number
from hilum.analyses.quantities import QUANTITIES
from hilum.analyses.rounding import percent
from hilum.figure import PALETTE, Figure
from hilum.plan.advised.advice import Advice
from hilum.plan.expected.prospect import Prospect
from hilum.plan.expected.sizes import Size
from hilum.plan.model import Power, Worked
from hilum.plan.shown import weighing_chart
from hilum.plan.shown.words import added_name, points, rounded, shown, told

_HEIGHT = 230
_WHOLE = alt.Axis(format="d", tickMinStep=1)
_LESSON = "More dishes help more than more seeds in each, since seeds of one dish are alike."
_LESSONS = {
    "impermeable_fraction": "Two dishes are taken to differ as guessed. From three on their own spread counts, which few dishes show "
    "so badly that limits widen at first; from then on more dishes help more than more seeds in each."
}
_MOST_TIMES = 4.0  # the narrowest half-width; what is wider leaves no room for the others


def figures(worked: Worked) -> list[Figure]:
    """Return the figures of a plan, in the order of its page."""
    return [
        *_sizes(worked),
        *_powers(worked),
        *map(_added, worked.advice),
        *map(weighing_chart.figure, worked.weighings),
    ]


def _sizes(worked: Worked) -> Iterator[Figure]:
    """Yield one figure for each quantity of an experiment, of the seeds of which it would be known worst."""
    groups: dict[tuple[str, str], list[Prospect]] = {}
    for prospect in worked.prospects:
        if not prospect.why:
            groups.setdefault((prospect.experiment, prospect.quantity), []).append(prospect)
    for (experiment, quantity), own in groups.items():
        worst = max(own, key=lambda p: p.half_width)
        rows = [
            size
            for size in worked.sizes
            if (size.experiment, size.quantity) == (experiment, quantity)
            and size.treatment == told(worst)
            and np.isfinite(size.half_width)
        ]
        if rows:
            yield _of_sizes(worked, worst, rows)


def _of_sizes(worked: Worked, prospect: Prospect, sizes: Sequence[Size]) -> Figure:
    one = next(e for e in worked.plan.experiments if e.experiment == prospect.experiment)
    title = QUANTITIES[prospect.quantity].title
    scale, unit = shown(prospect.unit)
    rows = [
        {
            "dishes": s.dishes,
            "seeds": str(s.seeds),
            "half-width": float(f"{scale * s.half_width:.4g}"),
        }
        for s in sizes
    ]
    wanted = None if prospect.wanted is None else scale * prospect.wanted
    planned = {
        "dishes": one.dishes,
        "seeds": str(one.seeds),
        "half-width": scale * prospect.half_width,
    }
    said = f"{one.dishes} dishes of {one.seeds}: ± {rounded(scale * prospect.half_width)} {unit}"
    return Figure(
        name=f"{prospect.experiment}-{prospect.quantity}".replace("_", "-"),
        title=f"Expected half-width: {title}, {told(prospect)}",
        caption=f"{said} (the square)."
        + ("" if wanted is None else f" Dashed: wanted, ± {rounded(wanted)} {unit}.")
        + f" {_LESSONS.get(prospect.quantity, _LESSON)}",
        description=f"Lines of the expected half-width of {title} against the number of dishes, one for each number of seeds "
        f"in a dish. {said}.",
        spec=_lines(rows, f"half-width ({unit})", planned, wanted),
        rows=rows,
        units={"half-width": unit},
    )


def _lines(
    rows: list[dict[str, Any]], title: str, planned: dict[str, Any], wanted: float | None
) -> dict[str, Any]:
    top = min(max(r["half-width"] for r in rows), _MOST_TIMES * planned["half-width"])
    order = _by_number(rows)
    base = alt.Chart(specification.data([r for r in rows if r["half-width"] <= top * 1.001]))
    x = alt.X("dishes:Q", title="dishes", axis=_WHOLE)
    y = alt.Y("half-width:Q", title=title, scale=alt.Scale(domain=[0, top]))
    colour = alt.Color("seeds:N", title="seeds in a dish", sort=order)
    tips = ["dishes:Q", "seeds:N", alt.Tooltip("half-width:Q", format=".3~r")]
    lines = base.mark_line().encode(x=x, y=y, color=colour)
    points = base.mark_point().encode(x=x, y=y, color=colour, tooltip=tips)
    here = (
        alt.Chart(specification.data([planned]))
        .mark_point(shape="square", size=140, filled=False, strokeWidth=2, color="currentColor")
        .encode(x=x, y=y, tooltip=tips)
    )
    return specification.of(
        alt.layer(lines, points, here, *_rules("y", wanted)).properties(height=_HEIGHT)
    )


def _by_number(rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """Return the numbers of seeds as text, smallest first."""
    return sorted({str(row["seeds"]) for row in rows}, key=int)


def _rules(channel: str, at: float | None) -> list[alt.Chart]:
    if at is None:
        return []
    rule = alt.Chart(specification.data([{"at": at}])).mark_rule(strokeDash=[6, 3], opacity=0.8)
    return [rule.encode(y="at:Q") if channel == "y" else rule.encode(x="at:Q")]


def _powers(worked: Worked) -> Iterator[Figure]:
    for experiment in dict.fromkeys(p.experiment for p in worked.powers):
        own = [p for p in worked.powers if p.experiment == experiment]
        one = next(e for e in worked.plan.experiments if e.experiment == experiment)
        yield _of_powers(experiment, own, worked.plan.power_of(one))


def _of_powers(experiment: str, powers: Sequence[Power], wanted: float) -> Figure:
    first = powers[0]
    rows = [
        {"dishes": p.dishes, "seeds": str(p.seeds), "found": round(100 * p.power, 1)}
        for p in powers
    ]
    order = _by_number(rows)
    base = alt.Chart(specification.data(rows))
    x = alt.X("dishes:Q", title="dishes of each treatment", axis=_WHOLE)
    y = alt.Y("found:Q", title="found (% of studies)", scale=alt.Scale(domain=[0, 100]))
    colour = alt.Color("seeds:N", title="seeds in a dish", sort=order)
    tips = ["dishes:Q", "seeds:N", alt.Tooltip("found:Q", format=".0f")]
    spec = alt.layer(
        base.mark_line().encode(x=x, y=y, color=colour),
        base.mark_point().encode(x=x, y=y, color=colour, tooltip=tips),
        *_rules("y", 100 * wanted),
    ).properties(height=_HEIGHT)
    difference = points(first.difference)
    return Figure(
        name=f"{experiment}-power",
        title=f"How often a difference of {difference} would be found",
        caption=f"Two treatments, one with {percent(first.share)} germinated; a difference is found where its interval leaves "
        f"out 0. Dashed: wanted, {percent(wanted)}.",
        description=f"Lines of the share of studies that find a difference of {difference} in final germination, against the "
        "number of dishes, one for each number of seeds in a dish.",
        spec=specification.of(spec),
        rows=rows,
        units={"found": "%"},
    )


def _added(advice: Advice) -> Figure:
    """Return the half-width with dishes more at each place."""
    prospect, unit = advice.prospect, advice.unit
    rows = [
        {"place": at, "half-width": float(f"{wide:.4g}")}
        for at, wide in advice.points
        if np.isfinite(wide)
    ]
    now = None if prospect.why else prospect.half_width
    best = min(rows, key=lambda r: r["half-width"], default=None)
    said = (
        "No one place would do."
        if best is None
        else f"Narrowest with dishes at {number(best['place'])} {unit}: ± {rounded(best['half-width'])} {prospect.unit}."
    )
    title = QUANTITIES[prospect.quantity].title
    return Figure(
        name=added_name(prospect),
        title=f"What more dishes would do for {title} of {told(prospect)}",
        caption=f"{said} Short marks: places planned."
        + ("" if now is None else f" Dashed: as planned, ± {rounded(now)} {prospect.unit}."),
        description=f"Line of the expected half-width of {title} against the {advice.axis}. {said}",
        spec=_places(advice, rows, now),
        rows=rows,
        units={"place": unit, "half-width": prospect.unit},
    )


def _places(advice: Advice, rows: list[dict[str, Any]], now: float | None) -> dict[str, Any]:
    base = alt.Chart(specification.data(rows))
    near = alt.Scale(zero=False)
    x = alt.X("place:Q", title=f"{advice.axis} ({advice.unit})", scale=near)
    y = alt.Y("half-width:Q", title=f"half-width ({advice.prospect.unit})", scale=near)
    tips = [alt.Tooltip("place:Q", title=advice.unit), alt.Tooltip("half-width:Q", format=".3~r")]
    marks = alt.Chart(specification.data([{"at": float(t)} for t in advice.places]))
    ticks = marks.mark_tick(thickness=2, size=14, color=PALETTE[1])
    spec = alt.layer(
        base.mark_line(point=True).encode(x=x, y=y, tooltip=tips),
        ticks.encode(x="at:Q", y=alt.value(_HEIGHT - 7)),
        *_rules("y", now),
    )
    return specification.of(spec.properties(height=_HEIGHT))

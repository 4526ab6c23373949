"""Charts of buoyancy: every look at every seed, and what floating says of live and dead seeds at each hour."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import altair as alt

from hilum import specification
from hilum.analyses.buoyancy.view import Group, Looks, View
from hilum.analyses.buoyancy.worth_chart import hours_axis, worth
from hilum.analyses.condition import number
from hilum.analyses.estimate import Estimate
from hilum.analyses.rounding import with_ends
from hilum.figure import LOOKS, Figure

# colour and shape of each fate; a sunken seed has a small mark
_LOOK = {
    "alive": (LOOKS["germinated"].colour, "circle"),
    "dead": (LOOKS["dead"].colour, "cross"),
    "not known": (LOOKS["not told"].colour, "diamond"),
}
_MOST_SEEDS = 120  # rows: more would melt into a patch
_ROW, _LOWEST, _HIGHEST = 9, 110, 640
Row = dict[str, object]


def figures(view: View, estimates: Sequence[Estimate]) -> list[Figure]:
    """Return for each sample the traces of its seeds, and the worth of the test where fates are known."""
    made = []
    for place, group in enumerate(view.groups, start=1):
        own = [e for e in estimates if (e.lot, e.treatment) == (group.lot, group.treatment)]
        if group.traces:
            made.append(_traces(place, group, own))
        if group.alive and group.dead:
            made.append(worth(place, group, own))
    return made


def _traces(place: int, group: Group, own: Sequence[Estimate]) -> Figure:
    shown = _shown(group.traces)
    part = "" if len(shown) == group.seeds else f" {len(shown)} of {group.seeds} seeds drawn."
    told = _finding(group, own)
    return Figure(
        name=f"floats-{place}",
        title=f"Who floats, and until when: {group.lot}, {group.treatment}",
        caption=f"{told} Each row is one seed: large marks where it floated, small ones where it had sunk.{part}",
        description=f"A row of looks for each seed over time in water, by fate. {told}",
        spec=_spec(shown),
        rows=[row for trace in group.traces for row in _table(trace)],
        units={"in water": "h"},
    )


def _finding(group: Group, own: Sequence[Estimate]) -> str:
    seeds, last = group.seeds, group.hours[-1].hour
    floated = group.hours[0]
    parts = [f"{floated.floated} of {floated.looked} seeds float at {number(floated.hour)} h"]
    if len(group.hours) > 1:
        parts.append(f"{group.still_floating} of {seeds} still float at their last look")
    if group.came_up_again:
        live = group.live_came_up_again
        parts.append(f"{group.came_up_again} came up again after sinking ({live} alive)")
    half = next((e for e in own if e.quantity == "sinking_t50"), None)
    if half is not None and half.value is not None:
        by = with_ends(half.value, half.low, half.high)[0]
        parts.append(f"half have sunk for good by {by} h of {number(last)} h")
    return "; ".join(parts) + "."


def _shown(traces: Sequence[Looks]) -> Sequence[Looks]:
    """Return the traces to draw: all, or as many as can be told apart, evenly over their order."""
    if len(traces) <= _MOST_SEEDS:
        return traces
    step = len(traces) / _MOST_SEEDS
    return [traces[int(i * step)] for i in range(_MOST_SEEDS)]


def _table(trace: Looks) -> list[Row]:
    same: Row = {"seed": trace.seed, "fate": trace.fate}
    return [
        same | {"in water": hour, "floats": "yes" if up else "no"}
        for hour, up in zip(trace.hours, trace.floats, strict=True)
    ]


def _floating(trace: Looks) -> list[Row]:
    """Return the stretches from one look to the next at both of which a seed floated."""
    return [
        {"fate": trace.fate, "in water": hour, "end": end}
        for (hour, up), (end, still_up) in pairwise(zip(trace.hours, trace.floats, strict=True))
        if up and still_up
    ]


def _spec(traces: Sequence[Looks]) -> dict[str, object]:
    rows = [look | {"row": row} for row, trace in enumerate(traces) for look in _table(trace)]
    stretches = [{"row": row} | s for row, trace in enumerate(traces) for s in _floating(trace)]
    fates = [fate for fate in _LOOK if any(trace.fate == fate for trace in traces)]
    colours, shapes = zip(*(_LOOK[fate] for fate in fates), strict=True)
    colour = alt.Color("fate:N", title=None, scale=alt.Scale(domain=fates, range=list(colours)))
    shape = alt.Shape("fate:N", title=None, scale=alt.Scale(domain=fates, range=list(shapes)))
    x = hours_axis(sorted({hour for trace in traces for hour in trace.hours}))
    y = alt.Y(
        "row:Q",
        title="seeds, the last to sink on top",
        axis=alt.Axis(labels=False, ticks=False, grid=False),
        scale=alt.Scale(domain=[-1, len(traces)], nice=False),
    )
    told = [
        alt.Tooltip("seed:N", title="seed"),
        alt.Tooltip("fate:N", title="fate"),
        alt.Tooltip("in water:Q", title="time in water (h)", format=".5~r"),
        alt.Tooltip("floats:N", title="floats"),
    ]
    points = alt.Chart(specification.data(rows)).encode(x, y, colour, tooltip=told)
    lines = alt.Chart(specification.data(stretches)).encode(x, y, colour, x2="end:Q")
    layers = [
        *([lines.mark_rule(strokeWidth=1.5, opacity=0.5)] if stretches else []),
        points.transform_filter("datum.floats == 'no'")
        .mark_point(size=9, filled=True, opacity=0.8)
        .encode(shape=shape),
        points.transform_filter("datum.floats == 'yes'")
        .mark_point(size=38, filled=True, opacity=1)
        .encode(shape=shape),
    ]
    height = min(max(_ROW * len(traces), _LOWEST), _HIGHEST)
    return specification.of(alt.layer(*layers).properties(height=height))

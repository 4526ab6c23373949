"""Charts of seedlings: the leaves of each over time, against the band of its siblings; its pause is in pause_chart."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import altair as alt

from hilum import specification
from hilum.analyses.condition import number
from hilum.analyses.estimate import Estimate
from hilum.analyses.seedlings.pause_chart import Row, pause
from hilum.analyses.seedlings.view import Course, Group, View
from hilum.figure import LOOKS, PALETTE, Figure

# colour, width and opacity of a trace; what draws the eye is drawn last
KINDS = {
    "like its siblings": (PALETTE[0], 1.2, 0.45),
    "died": (LOOKS["dead"].colour, 1.2, 0.8),
    "later than 95 %": (PALETTE[5], 2.0, 0.95),
    "later than chance explains": (PALETTE[1], 2.5, 1.0),
}
_MOST_SEEDLINGS = 150
_APART = 0.5  # of a leaf: traces of one leaf number lie beside each other


def figures(view: View, estimates: Sequence[Estimate]) -> list[Figure]:
    """Return for each lot and treatment the traces of its seedlings, and their pauses where they have one in common."""
    made = []
    for place, group in enumerate(view.groups, start=1):
        own = [e for e in estimates if (e.lot, e.treatment) == (group.lot, group.treatment)]
        if any(seedling.days for seedling in group.seeds):
            made.append(_traces(place, group, own))
        if group.verdict in ("pause", "not_resumed"):
            made.append(pause(place, group, own))
    return made


def kind(seedling: Course) -> str:
    """Return as what a seedling is drawn."""
    if seedling.state == "died":
        return "died"
    return "like its siblings" if seedling.later == "no" else f"later {seedling.later}"


def _traces(place: int, group: Group, own: Sequence[Estimate]) -> Figure:
    shown = _shown(group.seeds)
    part = "" if len(shown) == group.seedlings else f" {len(shown)} of them drawn."
    told = _finding(group)
    band = _band(group, own)
    bars = (
        " Bars: within them nine of ten seedlings open that leaf; the tick is the median."
        if band
        else ""
    )
    if any(row["open"] for row in band):
        bars += " A bar that ends in an arrow reaches so far at least: the slowest have not opened that leaf yet."
    return Figure(
        name=f"leaves-{place}",
        title=f"Leaf by leaf: {group.lot}, {group.treatment}",
        caption=f"{told}{part} Each line is one seedling, set a little apart from the others; leaves above the top are not drawn.{bars}",
        description=f"Leaves of each seedling over the days since germination. {told}",
        spec=_spec(shown, band, group.most),
        rows=[row for seedling in group.seeds for row in _table(seedling)],
        units={"since germination": "d"},
    )


def _finding(group: Group) -> str:
    parts = [f"{group.seedlings} seedlings, followed for {number(group.last_d)} d"]
    if group.leafless:
        parts.append(f"{group.leafless} without a leaf")
    if group.died:
        parts.append(f"{group.died} died")
    late = len(group.late) + len(group.strictly_late)
    parts.append(f"{late} later than 95 % of their siblings" if late else "none late")
    return ", ".join(parts) + "."


def _shown(seedlings: Sequence[Course]) -> Sequence[Course]:
    """Return the seedlings to draw: all, or as many as can be told apart and all that are late."""
    if len(seedlings) <= _MOST_SEEDLINGS:
        return seedlings
    step = len(seedlings) / _MOST_SEEDLINGS
    chosen = {int(i * step) for i in range(_MOST_SEEDLINGS)}
    return [s for i, s in enumerate(seedlings) if i in chosen or s.later != "no"]


def _seen(seedling: Course) -> list[tuple[float, int]]:
    """Return its leaves by days; a dead seedling has those of the last look at which it lived."""
    seen = list(zip(seedling.days, seedling.leaves, strict=True))
    if seedling.died_d is None:
        return seen
    return [*seen, (seedling.died_d, seedling.leaves[-1] if seedling.leaves else 0)]


def _table(seedling: Course) -> list[Row]:
    return [
        {
            "seedling": seedling.seedling,
            "since germination": day,
            "leaves": leaves,
            "is": kind(seedling),
        }
        for day, leaves in _seen(seedling)
    ]


def _band(group: Group, own: Sequence[Estimate]) -> list[Row]:
    """Return the band of each leaf number of which it is known; `open` where only the least is known of its end."""
    at = {(e.quantity, e.at): e for e in own}
    rows: list[Row] = []
    for leaves in range(1, group.most + 1):
        told = [at.get((f"leaf_{q}", float(leaves))) for q in ("t5", "t50", "t95")]
        low, middle, high = (e.value if e else None for e in told)
        least = told[2].low if told[2] else None
        ended = high is not None
        # the half-way mark is the surest of the three: an end before it says less
        end = high if ended else max(least or 0.0, middle or 0.0)
        if low is not None and middle is not None and end:
            rows.append({"leaves": leaves, "low": low, "middle": middle, "high": end})
            rows[-1]["open"] = not ended
    return rows


def _spec(shown: Sequence[Course], band: Sequence[Row], most: int) -> dict[str, object]:
    stretches: list[Row] = []
    ends: list[Row] = []
    for i, seedling in enumerate(shown):
        apart = _APART * ((i + 0.5) / len(shown) - 0.5)
        told: Row = {"seedling": seedling.seedling, "is": kind(seedling)}
        points = [(0.0, 0), *_seen(seedling)]
        corners = [points[0]]
        for (_, before), (day, leaves) in pairwise(points):
            corners += [(day, before), (day, leaves)]
        stretches += [
            told | {"day": day, "leaves": leaves, "height": leaves + apart, "order": n}
            for n, (day, leaves) in enumerate(corners)
        ]
        if seedling.died_d is not None:
            ends.append(told | {"day": seedling.died_d, "height": points[-1][1] + apart})
    x = alt.X("day:Q", title="days since germination", scale=alt.Scale(domainMin=0, nice=False))
    axis = alt.Axis(values=list(range(most + 1)), format="d", grid=False)
    scale = alt.Scale(domain=[-0.4, most + 0.4], nice=False)
    y = alt.Y("height:Q", title="leaves", axis=axis, scale=scale)
    layers = [*_bars(band), *_lines(stretches, x, y), *_crosses(ends, x, y)]
    height = min(max(60 * (most + 1), 160), 460)
    return specification.of(alt.layer(*layers).properties(height=height))


def _bars(band: Sequence[Row]) -> list[alt.Chart]:
    if not band:
        return []
    base = alt.Chart(specification.data(band)).encode(
        y=alt.Y("leaves:Q"),
        tooltip=[
            alt.Tooltip("leaves:Q", title="leaves"),
            alt.Tooltip("low:Q", title="5 % by (d)", format=".3~r"),
            alt.Tooltip("middle:Q", title="half by (d)", format=".3~r"),
            alt.Tooltip("high:Q", title="95 % by (d), or later", format=".3~r"),
        ],
    )
    wide = base.mark_rule(strokeWidth=16, opacity=0.25, color=PALETTE[2])
    tick = base.mark_tick(thickness=2, size=24, opacity=1, color=PALETTE[2])
    layers = [wide.encode(x="low:Q", x2="high:Q"), tick.encode(x="middle:Q")]
    if any(row["open"] for row in band):
        arrow = base.transform_filter("datum.open").mark_point(
            shape="triangle-right", size=120, filled=True, opacity=0.6, color=PALETTE[2]
        )
        layers.append(arrow.encode(x="high:Q"))
    return layers


def _lines(stretches: Sequence[Row], x: alt.X, y: alt.Y) -> list[alt.Chart]:
    kinds = [k for k in KINDS if any(row["is"] == k for row in stretches)]
    colours = [KINDS[k][0] for k in kinds]
    colour = alt.Color("is:N", title=None, scale=alt.Scale(domain=kinds, range=colours))
    base = alt.Chart(specification.data(stretches)).encode(
        x,
        y,
        colour,
        detail="seedling:N",
        order="order:Q",
        tooltip=[
            alt.Tooltip("seedling:N", title="seedling"),
            alt.Tooltip("is:N", title="it is"),
            alt.Tooltip("day:Q", title="days since germination", format=".5~r"),
            alt.Tooltip("leaves:Q", title="leaves"),
        ],
    )
    return [
        base.transform_filter(f"datum.is == '{k}'").mark_line(
            strokeWidth=KINDS[k][1], opacity=KINDS[k][2], strokeJoin="round", clip=True
        )
        for k in kinds
    ]


def _crosses(ends: Sequence[Row], x: alt.X, y: alt.Y) -> list[alt.Chart]:
    if not ends:
        return []
    base = alt.Chart(specification.data(ends)).encode(x, y)
    return [
        base.mark_point(
            shape="cross", angle=45, size=70, filled=True, clip=True, color=KINDS["died"][0]
        )
    ]

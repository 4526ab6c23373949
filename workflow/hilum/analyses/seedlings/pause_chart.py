"""Chart of the pause: between which lengths that of each seedling lies, against the band of its siblings."""

from __future__ import annotations

from collections.abc import Sequence

import altair as alt

from hilum import specification
from hilum.analyses.condition import number
from hilum.analyses.estimate import Estimate
from hilum.analyses.seedlings import words
from hilum.analyses.seedlings.view import Course, Group
from hilum.figure import LOOKS, PALETTE, Figure

_OVER, _STILL, _DIED = "has grown on", "still in it", "died in it"
_COLOURS = {_OVER: PALETTE[0], _STILL: PALETTE[1], _DIED: LOOKS["dead"].colour}
_MOST_ROWS = 120
_ROW, _LOWEST, _HIGHEST = 11, 120, 640
Row = dict[str, object]


def pause(place: int, group: Group, own: Sequence[Estimate]) -> Figure:
    """Return the pauses of the seedlings of one lot and treatment, the longest on top."""
    paused = [s for s in group.seeds if s.pause_at_least_d is not None]
    rows = [_row(s) for s in sorted(paused, key=_order)]
    told = _finding(group, sum(row["is"] == _OVER for row in rows))
    return Figure(
        name=f"pause-{place}",
        title=f"The pause at {words.leaves(group.leaves)}: {group.lot}, {group.treatment}",
        caption=f"{told} Each row is one seedling: its pause ended somewhere within the bar, or goes on beyond the arrow."
        f"{_shade(own)}",
        description=f"The pause of each seedling, between two lengths. {told}",
        spec=_spec(_shown(rows), own),
        rows=rows,
        units={"at least": "d", "at most": "d"},
    )


def _finding(group: Group, over: int) -> str:
    """Return what became of the seedlings; those that died after their pause have grown on before."""
    parts = [f"{over} of {group.seedlings} seedlings have grown on"]
    if group.longest_so_far_d is not None:
        so_far = number(group.longest_so_far_d)
        one = group.in_pause == 1
        parts.append(
            f"{group.in_pause} {'is' if one else 'are'} still in it, {'' if one else 'one '}for {so_far} d at least"
        )
    if group.died_in_pause:
        parts.append(f"{group.died_in_pause} died in it")
    return "; ".join(parts) + "."


def _shade(own: Sequence[Estimate]) -> str:
    if _value(own, "pause_t5") is None or _value(own, "pause_t95") is None:
        return ""
    return " Shaded: nine of ten pauses end within it; the line is the median."


def _value(own: Sequence[Estimate], quantity: str) -> float | None:
    return next((e.value for e in own if e.quantity == quantity), None)


def _row(seedling: Course) -> Row:
    end = seedling.pause_at_most_d
    is_ = _OVER if end is not None else _DIED if seedling.state == "died" else _STILL
    return {
        "seedling": seedling.seedling,
        "at least": seedling.pause_at_least_d,
        "at most": end,
        "is": is_,
    }


def _order(seedling: Course) -> tuple[bool, float, float]:
    end = seedling.pause_at_most_d
    return end is None, seedling.pause_at_least_d or 0.0, end or 0.0


def _shown(rows: Sequence[Row]) -> Sequence[Row]:
    if len(rows) <= _MOST_ROWS:
        return rows
    step = len(rows) / _MOST_ROWS
    return [rows[int(i * step)] for i in range(_MOST_ROWS)]


def _spec(rows: Sequence[Row], own: Sequence[Estimate]) -> dict[str, object]:
    drawn = [row | {"row": i} for i, row in enumerate(rows)]
    names = [name for name in _COLOURS if any(row["is"] == name for row in drawn)]
    colours = [_COLOURS[name] for name in names]
    scale = alt.Scale(domain=names, range=colours)
    # bars and arrows share the legend, so its swatches are neither
    legend = alt.Legend(symbolType="square", symbolOpacity=1)
    colour = alt.Color("is:N", title=None, scale=scale, legend=legend)
    x = alt.X("at least:Q", title="days of pause", scale=alt.Scale(domainMin=0, nice=True))
    y = alt.Y(
        "row:Q",
        title="seedlings, those still in it on top",
        axis=alt.Axis(labels=False, ticks=False, grid=False),
        scale=alt.Scale(domain=[-1, len(drawn)], nice=False),
    )
    told = [
        alt.Tooltip("seedling:N", title="seedling"),
        alt.Tooltip("at least:Q", title="at least (d)", format=".4~r"),
        alt.Tooltip("at most:Q", title="at most (d)", format=".4~r"),
        alt.Tooltip("is:N", title="it"),
    ]
    layers = _band(own)
    for over in (True, False):
        part = [row for row in drawn if (row["is"] == _OVER) == over]
        base = alt.Chart(specification.data(part)).encode(x, y, colour, tooltip=told)
        if part and over:
            layers.append(base.mark_rule(strokeWidth=5, opacity=0.75).encode(x2="at most:Q"))
        elif part:
            layers.append(base.mark_point(shape="triangle-right", size=60, filled=True, opacity=1))
    height = min(max(_ROW * len(drawn), _LOWEST), _HIGHEST)
    return specification.of(alt.layer(*layers).properties(height=height))


def _band(own: Sequence[Estimate]) -> list[alt.Chart]:
    low, middle, high = (_value(own, f"pause_{q}") for q in ("t5", "t50", "t95"))
    if low is None or high is None:
        return []
    base = alt.Chart(specification.data([{"low": low, "middle": middle, "high": high}]))
    return [
        base.mark_rect(opacity=0.15, color=PALETTE[2]).encode(x="low:Q", x2="high:Q"),
        base.mark_rule(strokeWidth=2, color=PALETTE[2]).encode(x="middle:Q"),
    ]

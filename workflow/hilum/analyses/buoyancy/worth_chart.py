"""Chart of the worth of the float test: how many live and dead seeds float, and what floating and sinking foretell."""

from __future__ import annotations

from collections.abc import Sequence

import altair as alt

from hilum import specification
from hilum.analyses.buoyancy.view import Group
from hilum.analyses.condition import number
from hilum.analyses.estimate import Estimate
from hilum.figure import LOOKS, Figure

_OF_FATES, _OF_CALLS = "Of live and of dead seeds", "Of floating and of sunken seeds"
_ALIVE, _DEAD = LOOKS["germinated"].colour, LOOKS["dead"].colour
# quantity: panel, name, colour, shape, and a shift that keeps the two intervals of an hour apart
_SERIES = {
    "sensitivity": (_OF_FATES, "dead seeds that float", _DEAD, "cross", -4),
    "live_thrown_away": (_OF_FATES, "live seeds that float", _ALIVE, "circle", 4),
    "predictive_value_floating": (
        _OF_CALLS,
        "floating seeds that are dead",
        _DEAD,
        "square",
        -4,
    ),
    "predictive_value_sinking": (
        _OF_CALLS,
        "sunken seeds that are alive",
        _ALIVE,
        "diamond",
        4,
    ),
}


def worth(place: int, group: Group, own: Sequence[Estimate]) -> Figure:
    """Return the measures of the test at each hour with their intervals."""
    measures = [e for e in own if e.quantity in _SERIES and e.value is not None]
    told = _finding(group)
    return Figure(
        name=f"worth-{place}",
        title=f"What floating says: {group.lot}, {group.treatment}",
        caption=f"{told} Bars: intervals. A test that tells live from dead has the two lines of the first panel far apart.",
        description=f"Shares of live and dead seeds that float, and predictive values, by time in water. {told}",
        spec=_spec(measures),
        rows=[_percent(e) for e in measures],
        units={"in water": "h", "value": "%", "low": "%", "high": "%"},
    )


def _finding(group: Group) -> str:
    hours = [h for h in group.hours if h.live]
    ends = hours[:1] if len(hours) == 1 else [hours[0], hours[-1]]
    parts = [f"{h.live_floated} of {h.live} live seeds at {number(h.hour)} h" for h in ends]
    return f"Throwing away what floats would have cost {', '.join(parts)}."


def _row(e: Estimate) -> dict[str, object]:
    panel, share, *_ = _SERIES[e.quantity]
    return {
        "panel": panel,
        "share": share,
        "quantity": e.quantity,
        "in water": e.at,
        "value": e.value,
        "low": e.low,
        "high": e.high,
    }


def _percent(e: Estimate) -> dict[str, object]:
    shares = {name: round(100 * getattr(e, name), 2) for name in ("value", "low", "high")}
    return {"share": _SERIES[e.quantity][1], "in water": e.at} | shares


def _spec(measures: Sequence[Estimate]) -> dict[str, object]:
    names = [series[1] for series in _SERIES.values()]
    colours, shapes = ([series[i] for series in _SERIES.values()] for i in (2, 3))
    colour = alt.Color("share:N", title=None, scale=alt.Scale(domain=names, range=colours))
    shape = alt.Shape("share:N", title=None, scale=alt.Scale(domain=names, range=shapes))
    x = hours_axis(sorted({e.at for e in measures if e.at is not None}))
    scale = alt.Scale(domain=[0, 1])
    y = alt.Y("value:Q", title="share of the seeds", scale=scale, axis=specification.shares())
    told = [
        alt.Tooltip("share:N", title="share"),
        alt.Tooltip("in water:Q", title="time in water (h)", format=".3~r"),
        *(
            alt.Tooltip(f"{key}:Q", title=key, format=specification.SHARE)
            for key in ("value", "low", "high")
        ),
    ]
    layers = []
    for quantity, (*_, shift) in _SERIES.items():
        one = alt.Chart().transform_filter(f"datum.quantity == '{quantity}'")
        base = one.encode(x, color=colour, tooltip=told)
        ends = base.encode(y=alt.Y("low:Q", scale=scale), y2="high:Q")
        layers += [
            ends.mark_rule(xOffset=shift, strokeWidth=1.5, opacity=0.8),
            base.mark_line(xOffset=shift, strokeWidth=1.5).encode(y),
            base.mark_point(xOffset=shift, size=45, filled=True, opacity=1).encode(y, shape=shape),
        ]
    chart = alt.layer(*layers, data=specification.data(_row(e) for e in measures)).properties(
        height=230
    )
    facet = alt.Facet("panel:N", title=None, sort=[_OF_FATES, _OF_CALLS])
    return specification.of(chart.facet(facet, columns=2))


def hours_axis(hours: Sequence[float]) -> alt.X:
    """Return the axis of time in water; looks crowd into the first hours, so that it is drawn like a logarithm."""
    return alt.X(
        "in water:Q",
        title="time in water (h)",
        scale=alt.Scale(
            type="symlog", constant=1, nice=False, padding=14, domain=[hours[0], hours[-1]]
        )
        if len(hours) > 1
        else alt.Scale(zero=False),
        axis=alt.Axis(values=list(hours), format=".5~r", labelOverlap=True, grid=False),
    )

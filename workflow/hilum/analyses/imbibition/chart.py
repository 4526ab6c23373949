"""Charts of imbibition: the uptake of each seed with the curve of the imbibing ones, and the calls."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import altair as alt

from hilum import specification
from hilum.analyses.condition import number
from hilum.analyses.estimate import Estimate
from hilum.analyses.imbibition.view import Group, Uptake, View
from hilum.analyses.rounding import percent
from hilum.figure import DASHES, LOOKS, PALETTE, Figure, Look

_CALLS = ("impermeable", "uncertain", "imbibed")
_TOGETHER = "weighed together"
_LOOK = {
    "impermeable": LOOKS["no water got in"],
    "uncertain": LOOKS["not told"],
    "imbibed": LOOKS["water got in"],
    _TOGETHER: Look(PALETTE[2], DASHES[3]),
}
_INK = "currentColor"
_MOST_POINTS = 1500  # weighings drawn as points: beyond, the lines alone show more
_LINE_HEIGHT = 44  # px, of the bar of one group
_DAYS_FROM_H = 96.0  # a longer test is drawn in days
Row = dict[str, object]


def figures(view: View, estimates: Sequence[Estimate]) -> list[Figure]:
    """Return one figure of uptake for each lot, and one of the calls where seeds were weighed singly."""
    lots = list(dict.fromkeys(seed.lot for seed in view.seeds))
    made = [_uptake(place, lot, view) for place, lot in enumerate(lots, start=1)]
    singly = [group for group in view.groups if group.calls]
    return [*made, _calls(singly, estimates)] if singly else made


def _uptake(place: int, lot: str, view: View) -> Figure:
    seeds = [seed for seed in view.seeds if seed.lot == lot]
    groups = [group for group in view.groups if group.lot == lot]
    unit, scale = _clock(groups)
    return Figure(
        name=f"uptake-{place}",
        title=f"Uptake of water by {lot}",
        caption=_caption(groups),
        description=f"Uptake of water over soaking time for {lot}. {_told(groups)}",
        spec=_uptake_spec(seeds, groups, unit, scale),
        rows=[row for seed in seeds for row in _weighings(seed, scale)],
        units={"soaked": unit, "uptake": "%"},
    )


def _clock(groups: Sequence[Group]) -> tuple[str, float]:
    long = max(group.last_h for group in groups) > _DAYS_FROM_H
    return ("d", 24.0) if long else ("h", 1.0)


def _weighings(seed: Uptake, scale: float) -> list[Row]:
    return [
        {
            "seed": seed.seed,
            "treatment": seed.treatment,
            "call": seed.call,
            "soaked": hour / scale,
            "uptake": round(uptake, 2),
        }
        for hour, uptake in zip(seed.hours, seed.uptake_pct, strict=True)
    ]


def _uptake_spec(seeds: Sequence[Uptake], groups: Sequence[Group], unit: str, scale: float) -> Row:
    rows = [{"kind": "seed"} | row for seed in seeds for row in _weighings(seed, scale)]
    with_points = len(rows) <= _MOST_POINTS
    rows += [row for group in groups for row in _band_rows(group, scale)]
    calls = [call for call in _LOOK if any(seed.call == call for seed in seeds)]
    chart = alt.layer(*_layers(calls, unit, with_points), data=specification.data(rows))
    treatments = list(dict.fromkeys(group.treatment for group in groups))
    if len(treatments) == 1:
        return specification.of(chart.properties(height=320))
    facet = alt.Facet("treatment:N", title=None, sort=treatments)
    panels = chart.properties(height=210).facet(facet, columns=2)
    # a shared axis would also stand under the place that an odd number of panels leaves empty
    return specification.of(panels.resolve_axis(x="independent"))


def _layers(calls: Sequence[str], unit: str, with_points: bool) -> list[alt.Chart]:
    colours, dashes = zip(*((_LOOK[c].colour, _LOOK[c].dash) for c in calls), strict=True)
    legend = alt.Legend(symbolType="stroke", symbolOpacity=1)
    colour = alt.Color(
        "call:N", title=None, scale=alt.Scale(domain=calls, range=list(colours)), legend=legend
    )
    dash = alt.StrokeDash(
        "call:N", title=None, scale=alt.Scale(domain=calls, range=list(dashes)), legend=legend
    )
    x = alt.X("soaked:Q", title=f"time in water ({unit})", scale=alt.Scale(nice=False))
    y = alt.Y("uptake:Q", title="uptake, % of the mass before soaking")
    told = [
        alt.Tooltip("seed:N", title="seed"),
        alt.Tooltip("call:N", title="call"),
        alt.Tooltip("soaked:Q", title=f"time in water ({unit})", format=".3~f"),
        alt.Tooltip("uptake:Q", title="uptake (%)", format=".1f"),
    ]
    of_seeds = alt.Chart().transform_filter("datum.kind == 'seed'")
    lines = of_seeds.mark_line(opacity=0.75, strokeWidth=1.2).encode(
        x, y, colour, dash, detail="seed:N", tooltip=told
    )
    points = of_seeds.mark_point(size=14, opacity=0.8).encode(x, y, colour, tooltip=told)
    fitted = alt.Chart().transform_filter("datum.kind == 'curve'").encode(x)
    band = fitted.mark_area(opacity=0.18, line=False, color=_INK).encode(
        y=alt.Y("low:Q"), y2="high:Q"
    )
    curve = fitted.mark_line(color=_INK, strokeWidth=2.5).encode(y)
    return [band, lines, *([points] if with_points else []), curve]


def _band_rows(group: Group, scale: float) -> list[Row]:
    band = group.band
    if not band:
        return []
    return [
        {
            "kind": "curve",
            "treatment": group.treatment,
            "soaked": hour / scale,
            "uptake": uptake,
            "low": low,
            "high": high,
        }
        for hour, uptake, low, high in zip(
            band.hours, band.uptake, band.low, band.high, strict=True
        )
    ]


def _caption(groups: Sequence[Group]) -> str:
    drawn = any(group.band for group in groups)
    lines = " Thick lines with bands: the pooled curve of seeds that imbibed from the start."
    return f"{_told(groups)}{lines if drawn else ''} Each thin line is one {_thing(groups)}."


def _thing(groups: Sequence[Group]) -> str:
    if all(group.together for group in groups):
        return "lot of seeds weighed together"
    both = any(group.together or group.beside for group in groups)
    return "seed or weighed lot" if both else "seed"


def _told(groups: Sequence[Group]) -> str:
    """Return in words how many seeds of each treatment were found impermeable."""
    parts = [
        f"{group.treatment}: {group.calls.impermeable} of {group.seeds} seeds impermeable"
        + (f", {group.calls.uncertain} uncertain" if group.calls.uncertain else "")
        if group.calls
        else f"{group.treatment}: {group.seeds} seeds weighed together"
        for group in groups
    ]
    last = max(group.last_h for group in groups)
    return f"Through {number(last)} h in water, {'; '.join(parts)}."


def _calls(groups: Sequence[Group], estimates: Sequence[Estimate]) -> Figure:
    names = {(g.lot, g.treatment): _name(g, groups) for g in groups}
    fractions = [
        e
        for e in estimates
        if e.quantity == "impermeable_fraction" and (e.lot, e.treatment) in names
    ]
    shares = [row for group in groups for row in _shares(group, names)]
    intervals = [_interval(e, names) for e in fractions]
    told = "; ".join(_counts(group, names) for group in groups)
    return Figure(
        name="calls",
        title="What the seeds were called",
        caption=f"{_finding(fractions, names)} Bars: seeds called impermeable, uncertain or imbibed. "
        "Lines below: the impermeable fraction with its interval.",
        description=f"Stacked shares of seeds by call. {told}.",
        spec=_calls_spec(shares, intervals, list(names.values())),
        rows=[
            {"seeds": row["seeds"], "call": row["call"], "number": row["number"]} for row in shares
        ],
        units={},
    )


def _name(group: Group, groups: Sequence[Group]) -> str:
    one_lot = len({other.lot for other in groups}) == 1
    return group.treatment if one_lot else f"{group.lot}, {group.treatment}"


def _numbers(group: Group) -> dict[str, int]:
    return {call: getattr(group.calls, call) for call in _CALLS}


def _shares(group: Group, names: Mapping[tuple[str, str], str]) -> list[Row]:
    return [
        {
            "seeds": names[group.lot, group.treatment],
            "call": call,
            "number": count,
            "share": count / group.seeds,
            "order": order,
        }
        for order, (call, count) in enumerate(_numbers(group).items())
    ]


def _interval(estimate: Estimate, names: Mapping[tuple[str, str], str]) -> Row:
    return {
        "seeds": names[estimate.lot, estimate.treatment],
        "value": estimate.value,
        "low": estimate.low,
        "high": estimate.high,
    }


def _counts(group: Group, names: Mapping[tuple[str, str], str]) -> str:
    parts = (f"{count} {call}" for call, count in _numbers(group).items() if count)
    return f"{names[group.lot, group.treatment]}: {', '.join(parts)}"


def _finding(fractions: Sequence[Estimate], names: Mapping[tuple[str, str], str]) -> str:
    told = [e for e in fractions if e.value is not None]
    if not told:
        return "No impermeable fraction could be told."
    most = max(told, key=lambda e: e.value or 0.0)
    least = min(told, key=lambda e: e.value or 0.0)
    ends = [most] if most is least else [most, least]
    words = (f"{percent(e.value or 0)} in {names[e.lot, e.treatment]}" for e in ends)
    return f"Impermeable: {', '.join(words)}."


def _calls_spec(shares: list[Row], intervals: list[Row], order: Sequence[str]) -> Row:
    calls = [c for c in _CALLS if any(row["call"] == c and row["number"] for row in shares)]
    scale = alt.Scale(domain=calls, range=[_LOOK[call].colour for call in calls])
    x = alt.X(
        "share:Q",
        stack="zero",
        title="share of the seeds weighed",
        scale=alt.Scale(domain=[0, 1]),
        axis=specification.shares(),
    )
    y = alt.Y("seeds:N", title=None, sort=list(order), axis=alt.Axis(labelLimit=260))
    bars = (
        alt.Chart(specification.data([row for row in shares if row["number"]]))
        .mark_bar(height={"band": 0.45}, yOffset=-5)
        .encode(
            x=x,
            y=y,
            order="order:Q",
            color=alt.Color("call:N", title=None, scale=scale),
            tooltip=[
                alt.Tooltip("seeds:N", title="seeds"),
                alt.Tooltip("call:N", title="call"),
                alt.Tooltip("number:Q", title="number"),
                alt.Tooltip("share:Q", title="share", format=specification.SHARE),
            ],
        )
    )
    # a height in steps would be told in the browser's console: a chart that fits its width cannot have one
    height = _LINE_HEIGHT * len(order)
    return specification.of(
        alt.layer(bars, *_interval_layers(intervals, y)).properties(height=height)
    )


def _interval_layers(intervals: list[Row], y: alt.Y) -> list[alt.Chart]:
    base = alt.Chart(specification.data(intervals)).encode(y=y)
    told = [
        alt.Tooltip("seeds:N", title="seeds"),
        *(
            alt.Tooltip(f"{key}:Q", title=key, format=specification.SHARE)
            for key in ("value", "low", "high")
        ),
    ]
    ends = base.transform_filter("isValid(datum.low)")
    return [
        ends.mark_rule(yOffset=12, strokeWidth=1.6).encode(x="low:Q", x2="high:Q", tooltip=told),
        ends.mark_tick(yOffset=12, size=9, thickness=1.6).encode(x="low:Q", tooltip=told),
        ends.mark_tick(yOffset=12, size=9, thickness=1.6).encode(x="high:Q", tooltip=told),
        base.transform_filter("isValid(datum.value)")
        .mark_point(yOffset=12, size=60, opacity=1, color=_LOOK["impermeable"].colour)
        .encode(x="value:Q", tooltip=told),
    ]

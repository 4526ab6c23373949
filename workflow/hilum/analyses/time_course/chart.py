"""Charts of the time course: germination over time with the fitted curves, and the fates at the end."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

from hilum import specification
from hilum.analyses import dish_chart
from hilum.analyses.condition import number
from hilum.analyses.estimate import Estimate
from hilum.analyses.naming import PARTS, Naming
from hilum.analyses.rounding import percent
from hilum.figure import DASHES, LOOKS, PALETTE, Figure

_DAYS_FROM_H = 96.0  # a longer test is drawn in days
_FATES = {
    "germinated": "germinated",
    "hard": "hard",
    "fresh": "fresh",
    "dead": "dead, in any way",
    "unscored": "not scored",
}
_FATE_COLOURS = [
    LOOKS[k].colour for k in ("germinated", "no water got in", "fresh", "dead", "not told")
]
_COLOUR_OF = dict(zip(_FATES.values(), _FATE_COLOURS, strict=True))
_MOST_TOGETHER = 4  # curves of different temperatures in one panel; more bands hide each other
Group = Mapping[str, Any]


def figures(drawing: Mapping[str, Any], estimates: Sequence[Estimate]) -> list[Figure]:
    """Return one figure of the time course for each lot, one of the fates where assessed, and one of all dishes."""
    named = Naming(estimates)
    counted = {
        (e.lot, e.treatment, e.temperature_c, e.condition): e
        for e in estimates
        if e.quantity == "germinated" and e.status == "estimated"
    }
    made = []
    lots = dict.fromkeys(group["lot"] for group in drawing["groups"])
    for place, lot in enumerate(lots, start=1):
        own = [g for g in drawing["groups"] if g["lot"] == lot]
        # named beside those that nobody has inspected yet, which are not drawn
        drawn = [pair for pair in zip(own, _names(own), strict=True) if pair[0]["end_h"] > 0]
        if drawn:
            groups, names = zip(*drawn, strict=True)
            ends = [counted.get(tuple(g[part] for part in PARTS)) for g in groups]
            made.append(_course(place, lot, groups, names, ends, drawing["family"]))
    fates = _fate_rows(drawing["groups"], named)
    if any(row["share"] > 0 for row in fates if row["fate"] != "germinated"):
        made.append(_fates(fates))
    return [*made, *dish_chart.figures(drawing["dishes"], named)]


def _course(
    place: int,
    lot: str,
    groups: Sequence[Group],
    names: Sequence[tuple[str, str]],
    ends: Sequence[Estimate | None],
    family: str,
) -> Figure:
    """Return the figure of a lot; `ends` are the shares counted by the last inspection, with their intervals."""
    unit, scale = _clock(groups)
    rows = [
        {"series": series, "panel": panel} | row
        for group, end, (series, panel) in zip(groups, ends, names, strict=True)
        for row in [*_points(group, scale), *_counted(end, group, _lane(series, names), scale)]
    ]
    since = "sowing" if all(g["phase"] == 1 for g in groups) else "sowing or the last change"
    return Figure(
        name=f"germination-{place}",
        title=f"Germination of {lot}",
        caption=_caption(groups, names, family),
        description=_description(lot, groups, names),
        spec=_course_spec(rows, names, f"time since {since} ({unit})", unit),
        rows=[
            row
            for group, end, name in zip(groups, ends, names, strict=True)
            for row in _table(group, end, name, scale)
        ],
        units={"time": unit} | dict.fromkeys(("germinated", "fitted", *_ENDS), "%"),
    )


def _clock(groups: Sequence[Group]) -> tuple[str, float]:
    long = max(g["end_h"] for g in groups) > _DAYS_FROM_H
    return ("d", 24.0) if long else ("h", 1.0)


def _names(groups: Sequence[Group]) -> list[tuple[str, str]]:
    """Return series and panel of each group: what differs is the series where colours suffice."""
    parts = [(g["treatment"], _place(g)) for g in groups]
    treatments, places = (list(dict.fromkeys(part)) for part in zip(*parts, strict=True))
    if len(treatments) == 1 and len(places) <= _MOST_TOGETHER:
        return [(place or treatment, "") for treatment, place in parts]
    if len(parts) <= _MOST_TOGETHER and len(places) > 1:
        return [(f"{treatment}, {place}" if place else treatment, "") for treatment, place in parts]
    if len(treatments) <= len(PALETTE):
        return [(treatment, place if len(places) > 1 else "") for treatment, place in parts]
    return [(place or "all", treatment) for treatment, place in parts]


def _place(group: Group) -> str:
    degrees = group["temperature_c"]
    warm = "" if degrees is None else f"{number(degrees)} °C"
    return ", ".join(part for part in (warm, group["condition"]) if part)


def _points(group: Group, scale: float) -> list[dict[str, Any]]:
    """Return what is drawn of a group: its dishes' steps, its own, the fitted curve and the band."""
    rows: list[dict[str, Any]] = []
    for step in group["steps"]:
        rows += _steps("dish", step["dish"], step["hours"], step["fraction"], scale)
    rows += _steps("seen", "all dishes", group["mean"]["hours"], group["mean"]["fraction"], scale)
    curve = group["curve"]
    rows += [
        {
            "kind": "curve",
            "dish": "",
            "time": hour / scale,
            "germinated": y,
            "low": low,
            "high": high,
        }
        for hour, y, low, high in zip(*(curve[k] for k in _CURVE), strict=True)
    ]
    return rows


_CURVE = ("hours", "fraction", "low", "high")
# the ends of the band, and of the interval of what was counted
_ENDS = ("fitted from", "fitted to", "counted from", "counted to")
# of the time of the test: how far right of the last inspection what was counted stands, and each line's beside another's
_ASIDE = 0.025


def _lane(series: str, names: Sequence[tuple[str, str]]) -> int:
    return list(dict.fromkeys(name for name, _ in names)).index(series)


def _counted(end: Estimate | None, group: Group, lane: int, scale: float) -> list[dict[str, Any]]:
    """Return the share counted by the last inspection, right of it, so that its bar hides no band."""
    if end is None:
        return []
    at = group["end_h"] / scale * (1 + _ASIDE * (lane + 1))
    ends = {"germinated": end.value, "low": end.low, "high": end.high}
    return [{"kind": "counted", "dish": "", "time": at} | ends]


def _steps(
    kind: str, dish: str, hours: Sequence[float], fraction: Sequence[float], scale: float
) -> list[dict[str, Any]]:
    pairs = [(0.0, 0.0), *zip(hours, fraction, strict=True)]
    return [
        {"kind": kind, "dish": dish, "time": hour / scale, "germinated": y} for hour, y in pairs
    ]


def _course_spec(
    rows: list[dict[str, Any]], names: Sequence[tuple[str, str]], title: str, unit: str
) -> dict[str, Any]:
    series = list(dict.fromkeys(name for name, _ in names))
    colours = alt.Scale(domain=series, range=_cycled(PALETTE, len(series)))
    dashes = alt.Scale(domain=series, range=_cycled(DASHES, len(series)))
    legend = alt.Legend(symbolType="stroke", symbolOpacity=1) if len(series) > 1 else None
    colour = alt.Color("series:N", title=None, sort=series, scale=colours, legend=legend)
    dash = alt.StrokeDash("series:N", title=None, sort=series, scale=dashes, legend=legend)
    x = alt.X("time:Q", title=title, scale=alt.Scale(nice=False))
    y = alt.Y(
        "germinated:Q",
        title="germinated, of the seeds sown",
        scale=alt.Scale(domain=[0, 1]),
        axis=specification.shares(),
    )
    told = [
        alt.Tooltip("series:N", title="seeds"),
        alt.Tooltip("time:Q", title=f"time ({unit})", format=".3~f"),
        alt.Tooltip("germinated:Q", title="germinated", format=specification.SHARE),
    ]
    ends = [
        alt.Tooltip(f"{k}:Q", title=title, format=specification.SHARE)
        for k, title in (("low", "from"), ("high", "to"))
    ]
    counted = alt.Chart().encode(color=colour, tooltip=[told[0], told[2], *ends])
    counted = counted.transform_filter("datum.kind == 'counted'")
    steps = alt.Chart().mark_line(interpolate="step-after").encode(x, y, colour)
    fitted = alt.Chart().encode(x, color=colour).transform_filter("datum.kind == 'curve'")
    layers = (
        fitted.mark_area(opacity=0.14, line=False).encode(y=alt.Y("low:Q"), y2="high:Q"),
        steps.mark_line(interpolate="step-after", opacity=0.22, strokeWidth=1)
        .encode(detail="dish:N")
        .transform_filter("datum.kind == 'dish'"),
        steps.mark_line(interpolate="step-after", opacity=0.55, strokeWidth=1).transform_filter(
            "datum.kind == 'seen'"
        ),
        fitted.mark_line().encode(y, strokeDash=dash, tooltip=told + ends),
        alt.Chart()
        .mark_point(size=30, filled=True, opacity=0.9)
        .encode(x, y, colour, tooltip=told)
        .transform_filter("datum.kind == 'seen' && datum.time > 0"),
        counted.mark_rule(strokeWidth=2, clip=False).encode(x, alt.Y("low:Q"), y2="high:Q"),
        counted.mark_point(size=70, filled=True, opacity=1).encode(x, y),
    )
    chart = alt.layer(*layers, data=specification.data(rows))
    panels = list(dict.fromkeys(panel for _, panel in names))
    if len(panels) > 1:
        facet = alt.Facet("panel:N", title=None, sort=panels)
        # a time axis of its own for each panel: a shared one is also drawn below a place that stays empty
        many = chart.properties(height=200).facet(facet, columns=2).resolve_axis(x="independent")
        return specification.of(many)
    return specification.of(chart.properties(height=320))


def _cycled(values: Sequence[Any], length: int) -> list[Any]:
    return [values[i % len(values)] for i in range(length)]


def _final(group: Group) -> float:
    return float(group["mean"]["fraction"][-1])


def _caption(groups: Sequence[Group], names: Sequence[tuple[str, str]], family: str) -> str:
    alike = len({series for series, _ in names}) == 1
    told = [
        f"{_named(series, panel, alike)} {percent(_final(group))}"
        for group, (series, panel) in zip(groups, names, strict=True)
    ]
    if len(told) > 4:
        order = sorted(range(len(groups)), key=lambda i: _final(groups[i]))
        told = [told[order[0]], told[order[-1]]]
        finding = f"Germinated by the last inspection: from {told[0]} to {told[1]}."
    else:
        finding = f"Germinated by the last inspection: {'; '.join(told)}."
    drawn = any(group["curve"]["hours"] for group in groups)
    lines = (
        f"Lines with bands: what such dishes do on average, by the fitted {family} curve. "
        if drawn
        else ""
    )
    return (
        f"{finding} Dots with bars, right: that share with the interval of the table. {lines}Points and steps: all dishes together; "
        "faint steps: each dish."
    )


def _named(series: str, panel: str, alike: bool) -> str:
    """Return what tells a group from the others: its panel, and its line where panels have several."""
    return panel if panel and alike else ", ".join(part for part in (panel, series) if part)


def _description(lot: str, groups: Sequence[Group], names: Sequence[tuple[str, str]]) -> str:
    told = []
    for group, name in zip(groups, names, strict=True):
        what = ", ".join(part for part in name if part)
        half = next(
            (
                hour
                for hour, y in zip(group["mean"]["hours"], group["mean"]["fraction"], strict=True)
                if _final(group) and y >= _final(group) / 2
            ),
            None,
        )
        when = "" if half is None else f", half of them by {number(half)} hours"
        told.append(f"{what}: {percent(_final(group))} germinated{when}")
    return f"Germinated fraction of {lot} over time. {'; '.join(told)}."


def _table(
    group: Group, end: Estimate | None, name: tuple[str, str], scale: float
) -> list[dict[str, Any]]:
    curve = group["curve"]
    rows = []
    for hour, seen in zip(group["mean"]["hours"], group["mean"]["fraction"], strict=True):
        row = {"seeds": ", ".join(p for p in name if p), "time": hour / scale}
        row |= {"germinated": round(100 * seen, 2)}
        for key, part in zip(("fitted", *_ENDS[:2]), _CURVE[1:], strict=True):
            value = _at(hour, curve["hours"], curve[part]) if curve["hours"] else None
            row[key] = None if value is None else round(100 * value, 2)
        rows.append(row)
    if end is not None and rows:
        told = zip(_ENDS[2:], (end.low, end.high), strict=True)
        rows[-1] |= {key: round(100 * value, 2) for key, value in told if value is not None}
    return rows


def _at(hour: float, hours: Sequence[float], values: Sequence[float | None]) -> float | None:
    """Return the drawn curve at an hour, on the straight line between its points; None where it has no end."""
    after = next((i for i, h in enumerate(hours) if h >= hour), len(hours) - 1)
    before = max(after - 1, 0)
    here, there = values[before], values[after]
    if here is None or there is None or before == after:
        return there
    share = (hour - hours[before]) / (hours[after] - hours[before])
    return here + min(share, 1.0) * (there - here)


def _fate_rows(groups: Sequence[Group], named: Naming) -> list[dict[str, Any]]:
    """Return the share of each fate in the groups that were assessed, as they are stacked."""
    return [
        {"seeds": named(group), "fate": words, "share": group["fates"][fate], "order": order}
        for group in groups
        if group["fates"]
        for order, (fate, words) in enumerate(_FATES.items())
        if fate != "unscored" or group["fates"][fate] > 0
    ]


def _fates(rows: Sequence[Mapping[str, Any]]) -> Figure:
    seeds = list(dict.fromkeys(row["seeds"] for row in rows))
    shares: dict[str, list[str]] = {}
    for row in rows:
        shares.setdefault(row["seeds"], []).append(f"{percent(row['share'])} {row['fate']}")
    told = "; ".join(f"{name}: {', '.join(parts)}" for name, parts in shares.items())
    hardest = max(seeds, key=lambda s: _share(rows, s, "hard"))
    hard = _share(rows, hardest, "hard")
    finding = (
        f"Most hard seeds: {percent(hard)} in {hardest}."
        if hard
        else "No seed stayed hard to the end."
    )
    return Figure(
        name="fates",
        title="What became of the seeds",
        caption=f"{finding} Shares of the seeds sown, at the end of the test.",
        description=f"Stacked shares of the seeds sown. {told}.",
        spec=_fates_spec(rows, seeds),
        rows=[
            {"seeds": r["seeds"], "fate": r["fate"], "share": round(100 * r["share"], 2)}
            for r in rows
        ],
        units={"share": "%"},
    )


def _share(rows: Sequence[Mapping[str, Any]], seeds: str, fate: str) -> float:
    return next(float(r["share"]) for r in rows if r["seeds"] == seeds and r["fate"] == fate)


def _fates_spec(rows: Sequence[Mapping[str, Any]], seeds: Sequence[str]) -> dict[str, Any]:
    present = {row["fate"] for row in rows}
    words = [word for word in _FATES.values() if word in present]
    base = alt.Chart(specification.data([dict(row) for row in rows])).encode(
        x=alt.X(
            "share:Q",
            stack="zero",
            title="share of the seeds sown",
            scale=alt.Scale(domain=[0, 1]),
            axis=specification.shares(),
        ),
        y=alt.Y("seeds:N", title=None, sort=list(seeds), axis=alt.Axis(labelLimit=260)),
        order="order:Q",
    )
    bars = base.mark_bar(height={"band": 0.7}).encode(
        color=alt.Color(
            "fate:N",
            title=None,
            sort=words,
            scale=alt.Scale(domain=words, range=[_COLOUR_OF[w] for w in words]),
        ),
        tooltip=[
            alt.Tooltip("seeds:N", title="seeds"),
            alt.Tooltip("fate:N", title="fate"),
            alt.Tooltip("share:Q", title="share", format=specification.SHARE),
        ],
    )
    return specification.of(bars.properties(height=30 * len(seeds)))

"""Chart of scarification: what became of the seeds at each dose, the fitted curves, the best and its window."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise

import altair as alt

from hilum import specification
from hilum.analyses.condition import number
from hilum.analyses.estimate import Estimate
from hilum.analyses.rounding import percent, with_ends
from hilum.analyses.scarification import residual_chart
from hilum.analyses.scarification.view import DoseSeries, Group, View
from hilum.figure import LOOKS, PALETTE, Figure

_FATES = {
    "normal": "germinated normally",
    "abnormal": "abnormal",
    "fresh": "fresh",
    "dead": "dead, in any way",
    "hard": "hard",
}
_COLOURS = (
    LOOKS["germinated"].colour,
    PALETTE[0],
    LOOKS["fresh"].colour,
    LOOKS["dead"].colour,
    LOOKS["no water got in"].colour,
)
_LINE = PALETTE[1]
_FULL, _WIDEST = 0.62, 0.02  # half a bar at most: of the smallest gap between doses, of the axis
_CROWDED = 0.035  # of the axis: doses closer than this are drawn on a root scale
_GERMINATED, _NOT_HARD = "germinated normally, fitted", "not hard, fitted"


def figures(view: View, estimates: Sequence[Estimate]) -> list[Figure]:
    """Return one figure for each series whose seeds were assessed, and one of its dishes or baths against the curves."""
    made: list[Figure] = []
    for place, series in enumerate(view.series, start=1):
        if series.groups and series.doses:
            made.append(_figure(place, series, [e for e in estimates if _is_of(e, series)]))
            made += residual_chart.figures(place, series)
    return made


def _is_of(e: Estimate, series: DoseSeries) -> bool:
    key = ("lot", "treatment", "temperature_c", "condition")
    return all(getattr(e, part) == getattr(series, part) for part in key)


def _figure(place: int, series: DoseSeries, own: Sequence[Estimate]) -> Figure:
    named = {e.quantity: e for e in own if e.quantity != "harmed"}
    finding = _finding(series, named)
    curves = " Lines: fitted shares." if series.curve else ""
    return Figure(
        name=f"fates-by-dose-{place}",
        title=f"Fates of {series.lot} after {series.treatment}",
        caption=f"{finding} Bars: what became of the seeds sown at each dose.{curves}",
        description=f"Stacked shares of the seeds sown, by dose. {finding} {_told(series)}.",
        spec=_spec(series, named),
        rows=[_row(series, group) for group in series.groups],
        units={"dose": series.unit} | dict.fromkeys(_FATES.values(), "%"),
    )


def _finding(series: DoseSeries, named: Mapping[str, Estimate]) -> str:
    unit = series.unit
    dosed = [g for g in series.groups if g.kind == "dose"]
    best = named.get(series.quantity)
    top = max(dosed, key=lambda g: g.normal)
    if best is None or best.value is None:
        return (
            f"Of the doses tried, most seeds germinated normally after {number(top.dose)} {unit}: "
            f"{percent(top.normal)}; where the best lies is not settled."
            if top.normal
            else "No treated seed germinated normally."
        )
    most = named["germination_at_best"].value or 0.0
    ends = [_end(named[name]) for name in ("window_low", "window_high")]
    window = f", within five points of that {_between(*ends)} {unit}" if any(ends) else ""
    drawn = "Upright line: the best; shaded: within five points of it."
    return f"Best, by the fitted curve, after {_end(best)} {unit}: {percent(most)} germinate normally{window}. {drawn}"


def _between(low: str, high: str) -> str:
    return f"from {low} to {high}" if low and high else f"from {low}" if low else f"up to {high}"


def _end(e: Estimate) -> str:
    return with_ends(e.value, e.low, e.high, e.unit)[0]


def _label(series: DoseSeries, group: Group) -> str:
    return f"{number(group.dose)} {series.unit}" if group.kind == "dose" else group.kind


def _told(series: DoseSeries) -> str:
    return "; ".join(
        f"{_label(series, group)}: "
        + ", ".join(f"{percent(share)} {fate}" for fate, share in _shares(group).items() if share)
        for group in series.groups
    )


def _shares(group: Group) -> dict[str, float]:
    return {words: getattr(group, fate) for fate, words in _FATES.items()}


def _row(series: DoseSeries, group: Group) -> dict[str, object]:
    shares = {fate: round(100 * share, 2) for fate, share in _shares(group).items()}
    return {"seeds": _label(series, group), "dose": group.dose, "sown": group.seeds} | shares


def _spec(series: DoseSeries, named: Mapping[str, Estimate]) -> dict[str, object]:
    highest = max(series.doses)
    doses = sorted({0.0, *series.doses})
    gap = min(b - a for a, b in pairwise(doses)) / highest
    # doses that crowd near 0 are drawn on a root scale
    power = 0.5 if gap < _CROWDED else 1.0
    gap = min(b**power - a**power for a, b in pairwise(doses)) / highest**power
    half = min(_FULL * gap / 2, _WIDEST) * highest**power
    # seeds opened by hand stand beside the doses: they have none
    beside = (highest**power * 1.1) ** (1 / power)
    groups = [(beside if g.kind == "opened by hand" else g.dose, g) for g in series.groups]
    has_hand = any(at == beside for at, _ in groups)
    domain = [
        _moved(0.0, -1.5 * half, power),
        _moved(beside if has_hand else highest, 1.5 * half, power),
    ]
    scale = alt.Scale(type="pow", exponent=power, domain=domain, nice=False, zero=False)
    by_hand = f"datum.value > {1.05 * highest} ? 'by hand' : format(datum.value, '~r')"
    ticks = [*doses, *([beside] if has_hand else [])]
    axis = alt.Axis(values=ticks, labelExpr=by_hand, labelOverlap=True, grid=False)
    x = alt.X("x:Q", title=f"{series.treatment} ({series.unit})", scale=scale, axis=axis)
    bars = _bars(series, groups, x, lambda at, side: _moved(at, side * half, power))
    layers = [*_window(series, named, x), *bars, *_lines(series, x), *_best(series, named, x)]
    return specification.of(alt.layer(*layers).properties(height=320))


def _moved(x: float, by: float, power: float) -> float:
    """Return the dose that lies `by` beside another on the drawn scale."""
    to = x**power + by
    return float(abs(to) ** (1 / power) * (1 if to > 0 else -1))


def _y(name: str) -> alt.Y:
    return alt.Y(
        f"{name}:Q",
        title="share of the seeds sown",
        scale=alt.Scale(domain=[0, 1]),
        axis=specification.shares(),
    )


def _bars(
    series: DoseSeries,
    groups: Sequence[tuple[float, Group]],
    x: alt.X,
    edge: Callable[[float, int], float],
) -> list[alt.Chart]:
    rows = []
    for at, group in groups:
        base = 0.0
        for fate, share in _shares(group).items():
            top = base + share
            named = {"seeds": _label(series, group), "fate": fate, "share": share}
            sides = {"x": edge(at, -1), "right": edge(at, 1)}
            rows.append(named | sides | {"base": base, "top": min(top, 1.0)})
            base = top
    order = list(_FATES.values())
    colour = alt.Color(
        "fate:N", title=None, sort=order, scale=alt.Scale(domain=order, range=_COLOURS)
    )
    told = [
        alt.Tooltip("seeds:N", title="seeds"),
        alt.Tooltip("fate:N", title="fate"),
        alt.Tooltip("share:Q", title="share", format=specification.SHARE),
    ]
    bars = alt.Chart(specification.data(rows)).mark_rect(opacity=0.85)
    return [bars.encode(x=x, x2="right:Q", y=_y("base"), y2="top:Q", color=colour, tooltip=told)]


def _lines(series: DoseSeries, x: alt.X) -> list[alt.Chart]:
    curve = series.curve
    if not curve:
        return []
    rows = [
        {"line": line, "x": dose, "share": share}
        for line, shares in ((_GERMINATED, curve.germinated), (_NOT_HARD, curve.permeable))
        for dose, share in zip(curve.dose, shares, strict=True)
    ]
    names = [_GERMINATED, _NOT_HARD]
    dashes = alt.Scale(domain=names, range=[[1, 0], [6, 3]])
    legend = alt.Legend(symbolType="stroke", symbolStrokeColor=_LINE)
    dash = alt.StrokeDash("line:N", title=None, sort=names, scale=dashes, legend=legend)
    told = [
        alt.Tooltip("line:N", title="line"),
        alt.Tooltip("x:Q", title=series.unit, format=".3~r"),
        alt.Tooltip("share:Q", title="share", format=specification.SHARE),
    ]
    # one colour that no bar has, so that neither line is lost in front of them
    lines = alt.Chart(specification.data(rows)).mark_line(strokeWidth=2.5, color=_LINE)
    return [lines.encode(x=x, y=_y("share"), strokeDash=dash, tooltip=told)]


def _window(series: DoseSeries, named: Mapping[str, Estimate], x: alt.X) -> list[alt.Chart]:
    best = named.get(series.quantity)
    if best is None or best.value is None:
        return []
    low, high = named["window_low"].value, named["window_high"].value
    row = {"x": low or 0.0, "end": high or max(series.doses)}
    told = [
        alt.Tooltip("x:Q", title="window from", format=".3~r"),
        alt.Tooltip("end:Q", title="to", format=".3~r"),
    ]
    band = alt.Chart(specification.data([row])).mark_rect(opacity=0.13, color=_COLOURS[0])
    return [band.encode(x=x, x2="end:Q", tooltip=told)]


def _best(series: DoseSeries, named: Mapping[str, Estimate], x: alt.X) -> list[alt.Chart]:
    best = named.get(series.quantity)
    if best is None or best.value is None:
        return []
    told = [alt.Tooltip("x:Q", title=f"best ({series.unit})", format=".3~r")]
    rule = alt.Chart(specification.data([{"x": best.value}])).mark_rule(
        color=_COLOURS[0], strokeWidth=2
    )
    return [rule.encode(x=x, tooltip=told)]

"""Charts of the response to temperature: rates, germination over thermal time and over time, what to expect."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import altair as alt

from hilum import specification
from hilum.analyses import dish_chart
from hilum.analyses.condition import number
from hilum.analyses.estimate import Estimate
from hilum.analyses.naming import Naming
from hilum.analyses.rounding import GAP, percent, short, shown, with_ends
from hilum.analyses.temperature import course_chart
from hilum.analyses.temperature.germinated import AfterWarmth, Dish, Germinated
from hilum.analyses.temperature.prediction import Expected
from hilum.analyses.temperature.rates import Rate
from hilum.analyses.temperature.view import FittedGroup, Group, View
from hilum.figure import DASHES, PALETTE, SHAPES, Figure

_INK = "currentColor"
_DAY = 24.0
_NEAR = 0.3  # °C; a logged chamber is never at just the degree that the slider says
Row = dict[str, object]
# colour, shape and dash of each temperature
Looks = Mapping[str, tuple[str, str, Sequence[int]]]


def figures(view: View, estimates: Sequence[Estimate]) -> list[Figure]:
    """Return the figures of each series that could be fitted (rates, thermal time, time, what to expect), and of all dishes."""
    groups, confidence = view.groups, view.confidence
    looks = _looks(groups)
    made = []
    for place, group in enumerate(groups, start=1):
        if not isinstance(group, FittedGroup):
            continue
        of = _of(group) if len(groups) > 1 else ""
        made.append(_rates(place, of, group))
        if group.thermal_time:
            made.append(_thermal_time(place, of, group, looks))
        made.append(_germination(place, of, group, looks))
        if group.prediction:
            made.append(_prediction(place, of, group, group.prediction, confidence))
        made += [
            course_chart.figure(f"course-{place}-{i}", of, course, confidence)
            for i, course in enumerate(group.courses, start=1)
        ]
    dishes = [dish for group in groups if isinstance(group, FittedGroup) for dish in group.dishes]
    rows = [vars(dish) for dish in dishes]
    return [*made, *dish_chart.figures(rows, _dish_names(dishes, estimates))]


def _dish_names(
    dishes: Sequence[Dish], estimates: Sequence[Estimate]
) -> Callable[[dish_chart.Dish], str]:
    """Return what names the seeds of a dish: its temperature, and its series where there are several."""
    named = Naming(estimates)
    several = len({(d.lot, d.treatment, d.condition) for d in dishes}) > 1

    def name(dish: dish_chart.Dish) -> str:
        degrees = f"{number(dish['temperature_c'])} °C"
        return f"{named(dict(dish) | {'temperature_c': None})}, {degrees}" if several else degrees

    return name


def _of(group: Group) -> str:
    parts = (group.lot, group.treatment, group.condition)
    return ", " + ", ".join(part for part in parts if part)


# Rates


def _rates(place: int, of: str, group: FittedGroup) -> Figure:
    curve = [_daily(row) for row in group.curve if row.rate > 0]
    told = _base_words(group)
    return Figure(
        name=f"rates-{place}",
        title=f"Germination rate and temperature{of}",
        caption=f"{told} Points: single dishes; lines: {_fit_words(group)}.",
        description=f"Germination rate, one divided by days, against temperature. {told} "
        f"{_range_words(group)}",
        spec=_rates_spec([_daily(row) for row in group.rates], curve, group),
        rows=[
            {
                "temperature": r.temperature,
                "germinated": _share_name(r.share),
                "rate": round(r.rate * _DAY, 5),
            }
            for r in group.rates
        ],
        units={"temperature": "°C", "rate": "1/d"},
    )


def _daily(rate: Rate) -> Row:
    """Return a rate, with its limits where it is fitted, for a day instead of an hour."""
    row = vars(rate)
    rates = {
        k: None if row[k] is None else row[k] * _DAY for k in ("rate", "low", "high") if k in row
    }
    return row | rates | {"who": _share_name(rate.share)}


def _share_name(share: float) -> str:
    return f"to {percent(share)} of the germinable seeds"


def _base_words(group: FittedGroup) -> str:
    base = group.base
    value, low, high = with_ends(base.value, base.low, base.high)
    if base.status == "estimated":
        return f"The line meets zero at {value} °C (between {low} and {high} °C)."
    if low and high:
        return f"The line may meet zero anywhere from {low} to {high} °C."
    if high:
        return f"The line may meet zero anywhere below {high} °C."
    return group.reason or "The data do not tell where the rate becomes zero."


def _fit_words(group: FittedGroup) -> str:
    if group.base.status == "bracketed":
        return f"one of the many {group.shape} responses that fit"
    return f"the fitted {group.shape} response, with a band around the rate to half"


def _range_words(group: Group) -> str:
    live = [r for r in group.regimes if r.germinated]
    return (
        f"Seeds germinated at {len(live)} of {len(group.regimes)} temperatures, "
        f"from {live[0].label} to {live[-1].label}."
    )


def _rates_spec(points: list[Row], curve: list[Row], group: FittedGroup) -> Row:
    names = list(dict.fromkeys(str(row["who"]) for row in curve))
    colour = alt.Color(
        "who:N",
        title="rate",
        sort=names,
        scale=alt.Scale(domain=names, range=PALETTE[: len(names)]),
        legend=alt.Legend(columns=1, symbolOpacity=1),
    )
    shape = alt.Shape(
        "who:N", sort=names, scale=alt.Scale(domain=names, range=SHAPES[: len(names)]), title="rate"
    )
    base_low = group.base.low
    coolest = min(group.coolest, group.coolest if base_low is None else base_low - 0.5)
    domain = [coolest, max(rate.temperature for rate in group.curve if rate.rate > 0)]
    scale = alt.Scale(domain=domain, nice=False, zero=False)
    x = alt.X("temperature:Q", title="temperature (°C)", scale=scale)
    y = alt.Y("rate:Q", title="germination rate (1/d)")
    told = [
        alt.Tooltip("who:N", title="rate"),
        alt.Tooltip("temperature:Q", title="temperature (°C)", format=".1f"),
        alt.Tooltip("rate:Q", title="rate (1/d)", format=".3f"),
    ]
    fitted = alt.Chart(specification.data(curve)).encode(x, color=colour)
    seen = alt.Chart(specification.data(points))
    half = [row for row in curve if row["low"] is not None]
    layers = [
        fitted.mark_line().encode(y, tooltip=told),
        seen.mark_point(filled=True, opacity=0.75).encode(x, y, colour, shape, tooltip=told),
        *_base_marks(group, coolest),
    ]
    if half:
        band = alt.Chart(specification.data(half)).mark_area(opacity=0.16, line=False)
        layers.insert(0, band.encode(x, alt.Y("low:Q"), alt.Y2("high:Q"), color=colour))
    return specification.of(alt.layer(*layers).properties(height=320))


def _base_marks(group: FittedGroup, coolest: float) -> list[alt.Chart]:
    """Return the interval of the base temperature, drawn on the axis."""
    base = group.base
    if base.high is None:
        return []
    low = coolest if base.low is None else base.low
    row = {"low": low, "high": base.high, "zero": 0, "told": _base_words(group)}
    chart = alt.Chart(specification.data([row | {"value": base.value}]))
    told = alt.Tooltip("told:N", title="base temperature")
    at = alt.Y("zero:Q")
    marks = [
        chart.mark_rule(strokeWidth=6, opacity=0.55, color=_INK).encode(
            alt.X("low:Q"), at, alt.X2("high:Q"), tooltip=told
        )
    ]
    if base.value is not None:
        marks.append(
            chart.mark_point(size=90, filled=True, color=_INK, shape="diamond").encode(
                alt.X("value:Q"), at, tooltip=told
            )
        )
    return marks


# Germination over thermal time and over time


def _thermal_time(place: int, of: str, group: FittedGroup, looks: Looks) -> Figure:
    seen = [r for r in group.thermal_time if r.kind == "seen"]
    half = next(
        r.thermal_time for r in group.thermal_time if r.kind == "fitted" and r.germinated >= 0.5
    )
    sure = group.base.status == "estimated"
    note = "" if sure else " Another base would stretch or squeeze the axis."
    told = (
        f"Half of the germinable seeds need about {short(half)} °C h."
        if sure
        else "Thermal time is counted from one of the many bases that fit, so no amount can be read off."
    )
    return Figure(
        name=f"thermal-time-{place}",
        title=f"Germination over thermal time{of}",
        caption=f"{told} More than 100 % is more than the fit allows for. Where temperatures lie on one curve, warmth above the base is all that "
        f"tells them apart.{note}",
        description="Germinated fraction of the germinable seeds against hours times degrees above the base, all "
        f"temperatures together with the fitted curve. {told}",
        spec=_curves_spec(
            group.thermal_time,
            looks,
            x=("thermal_time", "thermal time (°C h)", 1.0),
            y="germinated, of the germinable seeds",
            together=True,
        ),
        rows=[
            {
                "temperature": r.regime,
                "thermal time": round(r.thermal_time, 1),
                "germinated": round(100 * r.germinated, 1),
            }
            for r in seen
        ],
        units={"thermal time": "°C h", "germinated": "%"},
    )


def _germination(place: int, of: str, group: FittedGroup, looks: Looks) -> Figure:
    rows = group.germination
    seen = [r for r in rows if r.kind == "seen"]
    unit, scale = ("d", _DAY) if max(r.hours for r in rows) > 4 * _DAY else ("h", 1.0)
    shares = {r.label: r.germinated / r.seeds for r in group.regimes}
    told = "; ".join(f"{label} {percent(share)}" for label, share in shares.items())
    return Figure(
        name=f"germination-{place}",
        title=f"Germination at each temperature{of}",
        caption=f"Germinated by the last inspection: {told}. Points: all dishes of a temperature; lines: "
        "one fit for all temperatures.",
        description=f"Germinated fraction of the seeds sown over time, one curve for each temperature. {told}.",
        spec=_curves_spec(
            rows,
            looks,
            x=("hours", f"time since sowing ({unit})", scale),
            y="germinated, of the seeds sown",
            together=False,
        ),
        rows=[
            {
                "temperature": r.regime,
                "time": round(r.hours / scale, 3),
                "germinated": round(100 * r.germinated, 1),
            }
            for r in seen
        ],
        units={"time": unit, "germinated": "%"},
    )


def _curves_spec(
    rows: Sequence[Germinated | AfterWarmth],
    looks: Looks,
    *,
    x: tuple[str, str, float],
    y: str,
    together: bool,
) -> Row:
    """Return points and curves; `together` draws one curve for all in the page's own colour."""
    column, title, scale = x
    values = [vars(row) | {"x": getattr(row, column) / scale} for row in rows]
    present = {row.regime for row in rows}
    names = [name for name in looks if name in present]
    colours, shapes, dashes = (
        alt.Scale(domain=names, range=list(part))
        for part in zip(*(looks[name] for name in names), strict=True)
    )
    # a dash around a mark of the legend would fray it
    legend = alt.Legend(title="temperature", symbolStrokeWidth=0, symbolOpacity=1)
    colour = alt.Color("regime:N", sort=names, scale=colours, legend=legend)
    shape = alt.Shape("regime:N", sort=names, scale=shapes, legend=legend)
    across = alt.X("x:Q", title=title, scale=alt.Scale(nice=False))
    up = alt.Y("germinated:Q", title=y, axis=specification.shares())
    told = [
        alt.Tooltip("regime:N", title="temperature"),
        alt.Tooltip("x:Q", title=title, format=".4~r"),
        alt.Tooltip("germinated:Q", title="germinated", format=specification.SHARE),
    ]
    data = specification.data(values)
    seen = alt.Chart(data).transform_filter("datum.kind == 'seen'")
    fitted = alt.Chart(data).transform_filter("datum.kind == 'fitted'")
    if together:
        line = fitted.mark_line(color=_INK, opacity=0.8).encode(across, up)
    else:
        dash = alt.StrokeDash("regime:N", sort=names, scale=dashes, legend=legend)
        line = fitted.mark_line().encode(across, up, colour, dash)
    points = seen.mark_point(filled=True, opacity=0.8, size=38)
    layered = alt.layer(line, points.encode(across, up, colour, shape, tooltip=told))
    return specification.of(layered.properties(height=320))


def _looks(groups: Sequence[Group]) -> dict[str, tuple[str, str, list[int]]]:
    """Return colour, shape and dash of each temperature of an experiment, the same in every chart of its page."""
    degrees = {r.label: r.temperature for group in groups for r in group.regimes}
    names = sorted(degrees, key=lambda label: degrees[label])
    return {
        # colours repeat after six, so shapes and dashes then move on by one
        name: (PALETTE[i % len(PALETTE)], SHAPES[_later(SHAPES, i)], DASHES[_later(DASHES, i)])
        for i, name in enumerate(names)
    }


def _later(values: Sequence[object], place: int) -> int:
    return (place + place // len(values)) % len(values)


# What to expect


def _prediction(
    place: int, of: str, group: FittedGroup, found: Expected, confidence: float
) -> Figure:
    first = _shown_first(group, found)
    row = found.temperatures.index(first)
    days = found.sowing.days
    cells = [found.days.index(day) for day in days]
    told = "; ".join(
        f"{percent(found.germinated[row][c])} by day {number(d)}"
        for c, d in zip(cells, days, strict=True)
    )
    last = cells[-1]
    value, low, high = (
        shown(100 * k[row][last]) for k in (found.germinated, found.low, found.high)
    )
    return Figure(
        name=f"prediction-{place}",
        title=f"What to expect at a constant temperature{of}",
        caption=f"As printed, at {number(first)} °C: {value} % ({low} to {high} %) of the seeds sown should germinate within "
        f"{number(days[-1])} days. The slider chooses other temperatures; the figures in the picture follow it. Band: {percent(confidence)}, for the mean of many "
        "dishes. Points: dishes tested at that temperature.",
        description=f"Germination expected over time at {number(first)} °C: {told}. Other temperatures are in the table.",
        spec=_prediction_spec(group, found, first, (last, days[-1])),
        rows=_prediction_rows(found),
        units={"temperature": "°C", "time": "d", "germinated": "%", "low": "%", "high": "%"},
    )


def _shown_first(group: Group, found: Expected) -> float:
    """Return the tested temperature in the middle of those that germinated, or one as near as the grid has it."""
    tested = [r.temperature for r in group.regimes if r.germinated]
    middle = tested[len(tested) // 2]
    return float(min(found.temperatures, key=lambda t: abs(t - middle)))


def _prediction_rows(found: Expected) -> list[Row]:
    return [
        {
            "temperature": t,
            "time": d,
            "germinated": round(100 * g, 1),
            "low": round(100 * low, 1),
            "high": round(100 * high, 1),
        }
        for t, *own in zip(found.temperatures, found.germinated, found.low, found.high, strict=True)
        for d, g, low, high in zip(found.days, *own, strict=True)
    ]


def _prediction_spec(
    group: FittedGroup, found: Expected, first: float, last: tuple[int, float]
) -> Row:
    """Return a chart whose slider picks one curve; each temperature is one row, unfolded when it is picked.

    `last` is the place of a day among those of the curve, and the day: what is expected by then stands in the picture.
    """
    curves = [
        {
            "t": t,
            "days": [0, *found.days],
            "germinated": [0, *g],
            "low": [0, *lo],
            "high": [0, *hi],
        }
        for t, g, lo, hi in zip(
            found.temperatures, found.germinated, found.low, found.high, strict=True
        )
    ]
    at = alt.param(
        name="at",
        value=first,
        bind=alt.binding_range(
            min=found.temperatures[0],
            max=found.temperatures[-1],
            step=1,
            name="temperature (°C) ",
        ),
    )
    picked = alt.Chart(specification.data(curves)).transform_filter("datum.t == at")
    columns = ["days", "germinated", "low", "high"]
    curve = picked.transform_flatten([*columns], as_=[*columns])
    seen = alt.Chart(specification.data(_seen_at(group, found.days[-1])))
    across = alt.X(
        "days:Q",
        title="time since sowing (d)",
        scale=alt.Scale(domain=[0, found.days[-1]], nice=False),
    )
    up = alt.Y(
        "germinated:Q",
        title="germinated, of the seeds sown",
        axis=specification.shares(),
        scale=alt.Scale(domain=[0, 1]),
    )
    told = [alt.Tooltip("days:Q", title="days", format=".4~r")] + [
        alt.Tooltip(f"{name}:Q", title=name, format=specification.SHARE) for name in columns[1:]
    ]
    value, low, high = (f"format(100 * datum.{name}[{last[0] + 1}], '.0f')" for name in columns[1:])
    said = f"datum.t + ' °C: ' + {value} + '{GAP}% by day {number(last[1])} (' + {low} + ' to ' + {high} + '{GAP}%)'"
    label = picked.transform_calculate(told=said).mark_text(
        align="left", baseline="top", fontSize=15, fontWeight="bold"
    )
    layered = alt.layer(
        curve.mark_area(opacity=0.16, line=False, interpolate="monotone").encode(
            across, alt.Y("low:Q"), alt.Y2("high:Q")
        ),
        curve.mark_line(interpolate="monotone").encode(across, up, tooltip=told),
        seen.transform_filter(f"abs(datum.t - at) < {_NEAR}")
        .mark_point(filled=True, opacity=0.8, color=PALETTE[1], shape="square")
        .encode(across, up, tooltip=told[:2]),
        label.encode(x=alt.value(10), y=alt.value(6), text="told:N"),
    )
    return specification.of(layered.add_params(at).properties(height=300))


def _seen_at(group: FittedGroup, last: float) -> list[Row]:
    """Return what germinated at the tested temperatures, to the last of the days drawn."""
    degrees = {r.label: r.temperature for r in group.regimes}
    return [
        {
            "t": degrees[row.regime],
            "days": row.hours / _DAY,
            "germinated": row.germinated,
        }
        for row in group.germination
        if row.kind == "seen" and 0 < row.hours <= last * _DAY
    ]

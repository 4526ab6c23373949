"""Chart of dishes against their curves: observed against fitted, the picked dish over time, and two maps of dishes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

import altair as alt

from hilum import specification
from hilum.figure import PALETTE, Figure
from hilum.stats.residuals import LIMIT

Dish = Mapping[str, Any]
Row = dict[str, Any]
_Panel = alt.LayerChart | alt.FacetChart
_INK = "currentColor"
_DAYS_FROM_H = 96.0  # a longer test is drawn in days
_MOST_POINTS = 500  # about; more inspections hide each other, and slow a page
_IN_A_ROW = 8  # dishes; more would have no room for their figures
_CELL = 36  # px
_PICKS = "picks"  # how the names of views begin in which a click picks a dish
_CHANCE = 0.0455  # of |z| > 2
# how a dish is marked by its residual
MARKS = {
    f"above +{LIMIT:g}": (PALETTE[1], "triangle-up"),
    f"within ±{LIMIT:g}": (PALETTE[0], "circle"),
    f"below \N{MINUS SIGN}{LIMIT:g}": (PALETTE[4], "triangle-down"),
    "cannot be told": (_INK, "cross"),
}
_TITLE = "residual of a dish"
_PARTS = {"number": "how many germinated", "time": "how soon"}
_OVER, _WITHIN, _UNDER, _UNKNOWN = MARKS


def figures(dishes: Sequence[Dish], named: Callable[[Dish], str]) -> list[Figure]:
    """Return the figure of all dishes of an experiment, none where no curve has two; `named` says what seeds are called."""
    told = [d for d in dishes if d["number"] is not None or d["time"] is not None]
    if not told:
        return []
    shown = [dict(d) | {"of": named(d)} for d in dishes]
    worst = max(told, key=_farthest)["dish"]
    unit, scale = _clock(shown)
    return [
        Figure(
            name="dishes",
            title="Each dish against its curve",
            caption=f"{finding(told, _PARTS)} Drawn bold: {worst}, which lies farthest off, with its curve dashed; pick another "
            "in the list, in a map or in the table. Residuals are standardised as if seeds were independent of each other.",
            description=f"Observed against fitted germination of {len(shown)} dishes, the picked dish over time, and two "
            f"maps of residuals, one for how many seeds germinated and one for how soon. {finding(told, _PARTS)}",
            spec=_spec(shown, worst, unit, scale),
            rows=[row for d in shown for row in _inspections(d, scale)],
            table=[_line(d) for d in shown],
            units={"time": unit, "germinated": "%", "fitted": "%"},
            pick="dish",
        )
    ]


def _clock(dishes: Sequence[Dish]) -> tuple[str, float]:
    long = max((h for d in dishes for h in d["hours"]), default=0) > _DAYS_FROM_H
    return ("d", 24.0) if long else ("h", 1.0)


def _farthest(dish: Dish) -> float:
    return max(abs(float(dish[part] or 0)) for part in ("number", "time"))


def _outside(dishes: Sequence[Dish], part: str) -> tuple[int, int]:
    known = [d[part] for d in dishes if d[part] is not None]
    return sum(abs(r) > LIMIT for r in known), len(known)


def finding(dishes: Sequence[Dish], parts: Mapping[str, str], what: str = "dishes") -> str:
    """Return how many dishes lie outside ±2 in each of two parts, against what chance alone leaves there."""
    (one, n), (other, m) = (_outside(dishes, part) for part in parts)
    said, then = parts.values()
    chance = max(n, m) * _CHANCE
    # a Poisson count of this mean lies beyond two of its standard deviations once in forty times
    usual = max(one, other) <= chance + 2 * chance**0.5
    judged = (
        "no more than chance alone leaves there"
        if usual
        else f"more than chance alone leaves there: {what} differ, for which intervals are widened, or the curve misses "
        "their course"
    )
    return (
        f"{one} of {n} {what} lie outside ±{LIMIT:g} in {said}, {other} of {m} in {then}; by chance about "
        f"{chance:.0f} of each would. That is {judged}."
    )


def verdict(residual: float | None) -> str:
    """Return which of MARKS a residual gets."""
    if residual is None:
        return _UNKNOWN
    return _OVER if residual > LIMIT else _UNDER if residual < -LIMIT else _WITHIN


def signed(residual: float | None) -> str:
    """Return a residual with its sign, to a tenth; next to ±2 to a hundredth, so that it says on which side it lies."""
    if residual is None:
        return "–"
    near = f"{abs(residual):.1f}" == f"{LIMIT:.1f}"
    return f"{residual:+.{2 if near else 1}f}".replace("-", "\N{MINUS SIGN}")


def _who(dish: Dish) -> Row:
    chamber = {"chamber": dish["chamber"]} if dish["chamber"] else {}
    return {"dish": dish["dish"], "seeds": dish["of"]} | chamber


def _line(dish: Dish) -> Row:
    """Return a dish as a line of the table on the page."""
    seen, fitted = (100 * dish[k][-1] if dish[k] else None for k in ("seen", "fitted"))
    told = {"germinated": seen, "fitted": fitted}
    told = {k: v if v is None else round(v, 1) for k, v in told.items()}
    return (
        _who(dish)
        | {"sown": int(dish["seeds"])}
        | told
        | {"how many": signed(dish["number"]), "how soon": signed(dish["time"])}
    )


def _inspections(dish: Dish, scale: float) -> list[Row]:
    """Return all that is drawn of a dish, for the file."""
    lines = zip(dish["hours"], dish["seen"], dish["fitted"], strict=True)
    rest = {part: "" if dish[part] is None else round(dish[part], 3) for part in ("number", "time")}
    return [
        _who(dish)
        | {"time": hour / scale, "germinated": round(100 * y, 2), "fitted": round(100 * f, 2)}
        | {"residual of how many": rest["number"], "residual of how soon": rest["time"]}
        for hour, y, f in lines
    ]


# the chart


def _spec(dishes: Sequence[Dish], worst: str, unit: str, scale: float) -> Row:
    picked = alt.selection_point(
        name="picked",
        fields=["dish"],
        on="click",
        toggle=False,
        empty=False,
        bind=alt.binding_select(options=[d["dish"] for d in dishes], name="dish "),
        value=[{"dish": worst}],
    )
    courses = specification.data(_courses(dishes, scale))
    maps = specification.data(_places(dishes))
    beside = alt.hconcat(_observed(courses, picked), _over_time(courses, maps, picked, unit))
    below = alt.hconcat(
        _map(maps, picked, "number", "how many: + is more than fitted"),
        _map(maps, picked, "time", "how soon: + is later than fitted"),
    )
    spec = specification.of(alt.vconcat(beside, below))
    # every view in which a dish can be clicked; altair itself would warn of a selection that is added twice
    spec["params"][0]["views"] = list(_named(spec))
    return spec


def _named(part: Any) -> Iterator[str]:
    """Yield the names of the views that pick, however altair numbered them."""
    if isinstance(part, list):
        for one in part:
            yield from _named(one)
    elif isinstance(part, Mapping):
        if str(part.get("name", "")).startswith(_PICKS):
            yield part["name"]
        for key in ("vconcat", "hconcat", "layer"):
            yield from _named(part.get(key))


def _courses(dishes: Sequence[Dish], scale: float) -> list[Row]:
    """Return one row for each dish with its inspections in lists; `dotted` are those that have a point of their own."""
    step = max(-(-sum(len(d["hours"]) for d in dishes) // _MOST_POINTS), 1)
    return [
        {
            "dish": dish["dish"],
            "time": [0, *(round(h / scale, 4) for h in dish["hours"])],
            "seen": [0, *dish["seen"]],
            "fitted": [0, *dish["fitted"]],
            "dotted": [0, *(int(i % step == 0) for i in reversed(range(len(dish["hours"]))))],
        }
        for dish in dishes
    ]


def _places(dishes: Sequence[Dish]) -> list[Row]:
    """Return where each dish stands on the maps: in its chamber, else among its seeds, in the order of dishes.csv."""
    by_chamber = any(d["chamber"] for d in dishes)
    count: dict[str, int] = {}
    rows = []
    for dish in dishes:
        row = (dish["chamber"] or "no chamber") if by_chamber else dish["of"]
        count[row] = count.get(row, 0) + 1
        line, column = divmod(count[row] - 1, _IN_A_ROW)
        told = {part: signed(dish[part]) for part in ("number", "time")}
        rows.append(
            {
                "dish": dish["dish"],
                "of": dish["of"],
                "row": f"{row} ({line + 1})" if line else row,
                "column": column + 1,
                "number": told["number"],
                "time": told["time"],
                "number_is": verdict(dish["number"]),
                "time_is": verdict(dish["time"]),
                "words": f"{dish['dish']}: how many {told['number']}, how soon {told['time']}",
            }
        )
    return rows


def _unfolded(courses: alt.InlineData) -> alt.Chart:
    names = ["time", "seen", "fitted", "dotted"]
    return alt.Chart(courses).transform_flatten([*names], as_=[*names])


def _observed(courses: alt.InlineData, picked: alt.Parameter) -> _Panel:
    share = specification.shares()
    x = alt.X("fitted:Q", title="fitted, of the seeds sown", axis=share)
    y = alt.Y("seen:Q", title="observed, of the seeds sown", axis=share)
    whole = specification.data([{"fitted": 0, "seen": 0}, {"fitted": 1, "seen": 1}])
    told = [
        "dish:N",
        *(alt.Tooltip(f"{k}:Q", format=specification.SHARE) for k in ("seen", "fitted")),
    ]
    dotted = _unfolded(courses).transform_filter("datum.dotted")
    points = dotted.mark_point(filled=True, size=16, opacity=0.45, aria=False)
    mine = _unfolded(courses).transform_filter(picked)
    return alt.layer(
        alt.Chart(whole).mark_line(color=_INK, strokeDash=[4, 3], strokeWidth=1).encode(x, y),
        points.encode(x, y, tooltip=told).properties(name=f"{_PICKS}_observed").add_params(picked),
        mine.mark_line(color=PALETTE[1], point={"size": 45, "color": PALETTE[1]}).encode(
            x, y, order="time:Q"
        ),
    ).properties(height=240)


def _over_time(
    courses: alt.InlineData, maps: alt.InlineData, picked: alt.Parameter, unit: str
) -> _Panel:
    x = alt.X("time:Q", title=f"time ({unit})", scale=alt.Scale(nice=False))
    y = alt.Y("seen:Q", title="germinated, of the seeds sown", axis=specification.shares())
    every = _unfolded(courses).mark_line(interpolate="step-after", opacity=0.4, strokeWidth=0.8)
    mine = _unfolded(courses).transform_filter(picked)
    label = alt.Chart(maps).transform_filter(picked)
    return alt.layer(
        every.encode(x, y, detail="dish:N"),
        mine.mark_line(strokeDash=[6, 3], color=_INK).encode(x, alt.Y("fitted:Q")),
        mine.mark_line(interpolate="step-after", strokeWidth=2.5, color=PALETTE[1]).encode(x, y),
        label.mark_text(align="left", baseline="bottom", fontWeight="bold").encode(
            x=alt.value(0), y=alt.value(-6), text="words:N"
        ),
    ).properties(height=240)


def _map(maps: alt.InlineData, picked: alt.Parameter, part: str, title: str) -> _Panel:
    marks = list(MARKS)
    x = alt.X("column:O", title=title, axis=alt.Axis(labels=False, ticks=False, domain=False))
    y = alt.Y("row:N", title=None, sort=None, axis=alt.Axis(labelLimit=130))
    colours, shapes = (
        alt.Scale(domain=marks, range=list(looks)) for looks in zip(*MARKS.values(), strict=True)
    )
    told = [
        "dish:N",
        alt.Tooltip("of:N", title="seeds"),
        alt.Tooltip(f"{part}:N", title="residual"),
    ]
    base = alt.Chart(maps).encode(x, y)
    return alt.layer(
        base.mark_point(filled=True, size=85, yOffset=-6, opacity=1)
        .encode(
            color=alt.Color(f"{part}_is:N", title=_TITLE, sort=marks, scale=colours),
            shape=alt.Shape(f"{part}_is:N", title=_TITLE, sort=marks, scale=shapes),
            tooltip=told,
        )
        .properties(name=f"{_PICKS}_{part}"),
        base.mark_text(dy=9, fontSize=10).encode(text=f"{part}:N"),
        # around the mark alone: its figure below stays legible
        base.mark_point(
            size=230, yOffset=-6, shape="circle", filled=False, color=_INK, strokeWidth=1.5
        ).transform_filter(picked),
    ).properties(height=alt.Step(_CELL))

"""Chart of storage: seeds alive at each test, the fitted fall with its band, and crops in the same store."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

from hilum import specification
from hilum.analyses.estimate import Estimate
from hilum.analyses.quantities import DAYS_A_MONTH
from hilum.analyses.rounding import percent, short, with_ends
from hilum.analyses.storage.view import Store, View
from hilum.figure import DASHES, PALETTE, SHAPES, Figure

_TESTED, _BEYOND = "fitted, as far as tested", "beyond the tests"
_CROP_COLOUR = "#808080"  # neither a seed's colour nor the ground's, light or dark


def figures(view: View, estimates: Sequence[Estimate]) -> list[Figure]:
    """Return a figure for each lot in each store, with all its treatments."""
    places: dict[tuple[Any, ...], list[Store]] = {}
    for store in view.stores:
        if store.units:
            place = (store.lot, store.temperature_c, store.condition)
            places.setdefault(place, []).append(store)
    return [
        _figure(count, stores, estimates) for count, stores in enumerate(places.values(), start=1)
    ]


def _figure(count: int, stores: Sequence[Store], estimates: Sequence[Estimate]) -> Figure:
    one = stores[0]
    finding = " ".join(_finding(store, estimates) for store in stores)
    crops, start = _crops(stores)
    lines = (
        " Curves: fitted shares with their band, broken beyond the last test."
        if _curves(stores)
        else ""
    )
    grey = (
        f" Grey, for comparison: {', '.join(crops)} with the same start as {start}, in the same store, by the published equation."
        if crops
        else ""
    )
    return Figure(
        name=f"viability-{count}",
        title=f"Seeds of {one.lot} alive in store",
        caption=f"{finding} Points: seeds shown alive in each dish or sample.{lines}{grey}",
        description=f"Share of seeds alive over months of storage. {finding} {_told(stores)}",
        spec=_spec(stores),
        rows=[*(row for store in stores for row in _table(store)), *_crop_rows(crops)],
        units={"stored": "months", "alive": "%", "expected": "%", "low": "%", "high": "%"},
    )


def _finding(store: Store, estimates: Sequence[Estimate]) -> str:
    key = ("lot", "treatment", "temperature_c", "condition")
    half = next(
        (
            e
            for e in estimates
            if e.quantity == "half_viability_period"
            and all(getattr(e, part) == getattr(store, part) for part in key)
        ),
        None,
    )
    if half is None or half.status == "not_identified":
        return f"{store.treatment}: no half-viability period can be given."
    if half.value is not None:
        value, low, high = with_ends(
            _in_months(half.value), _in_months(half.low), _in_months(half.high), "months"
        )
        return f"{store.treatment}: half are dead after {value} months ({low} to {high} months)."
    if half.high is None:
        return f"{store.treatment}: half are alive beyond {_months(half.low or 0.0)} months."
    return f"{store.treatment}: half are dead before {_months(half.high)} months."


def _in_months(days: float | None) -> float | None:
    return None if days is None else days / DAYS_A_MONTH


def _months(days: float) -> str:
    return short(days / DAYS_A_MONTH, 2)


def _told(stores: Sequence[Store]) -> str:
    told = []
    for store in stores:
        seeds, alive = (
            {d: sum(getattr(u, part) for u in store.units if u.days == d) for d in _times(store)}
            for part in ("seeds", "alive")
        )
        shares = (f"{_months(d)} months {percent(alive[d] / seeds[d])}" for d in seeds)
        told.append(f"{store.treatment}: {', '.join(shares)}.")
    return " ".join(told)


def _times(store: Store) -> list[float]:
    return sorted({u.days for u in store.units})


def _table(store: Store) -> list[dict[str, Any]]:
    seen = [
        {
            "treatment": store.treatment,
            "what": "test",
            "stored": round(u.days / DAYS_A_MONTH, 2),
            "seeds": u.seeds,
            "alive": round(100 * u.alive / u.seeds, 1),
        }
        for u in store.units
    ]
    drawn = [
        {
            "treatment": store.treatment,
            "what": "curve" if c.days <= store.last else "curve, beyond the tests",
            "stored": round(c.days / DAYS_A_MONTH, 2),
        }
        | {
            name: round(100 * getattr(c, part), 1)
            for name, part in (("expected", "share"), ("low", "low"), ("high", "high"))
        }
        for c in store.curve[::5]
    ]
    return seen + drawn


def _curves(stores: Sequence[Store]) -> list[dict[str, Any]]:
    """Return the points of all curves; the last test stands in both parts, so that they meet."""
    rows = []
    for store in stores:
        for c in store.curve:
            row = {"treatment": store.treatment, "months": c.days / DAYS_A_MONTH} | {
                part: getattr(c, part) for part in ("share", "low", "high")
            }
            rows += [row | {"part": _TESTED}] if c.days <= store.last else []
            rows += [row | {"part": _BEYOND}] if c.days >= store.last else []
    return rows


Crops = Mapping[str, Sequence[Mapping[str, Any]]]


def _crops(stores: Sequence[Store]) -> tuple[Crops, str]:
    """Return the lines of crops, and the treatment whose start they have: the first, as in the table of the page.

    Treated seed stands first: hard seed is outside the equation.
    """
    given = [s for s in stores if s.reference.crops]
    if not given:
        return {}, ""
    own = given[0].reference
    lines = {
        crop.crop: [
            {
                "crop": crop.crop,
                "months": days / DAYS_A_MONTH,
                "share": share,
            }
            for days, share in zip(own.days, crop.share, strict=True)
        ]
        for crop in own.crops
    }
    return lines, str(given[0].treatment)


def _crop_rows(crops: Crops) -> list[dict[str, Any]]:
    return [
        {
            "treatment": name,
            "what": "crop, published equation",
            "stored": round(point["months"], 2),
            "expected": round(100 * point["share"], 1),
        }
        for name, points in crops.items()
        for point in points[::5]
    ]


def _spec(stores: Sequence[Store]) -> dict[str, Any]:
    treatments = list(dict.fromkeys(s.treatment for s in stores))
    colour = alt.Color(
        "treatment:N",
        title=None,
        sort=treatments,
        scale=alt.Scale(domain=treatments, range=_cycled(PALETTE, len(treatments))),
        legend=alt.Legend(symbolOpacity=1),
    )
    shape = alt.Shape(
        "treatment:N",
        title=None,
        sort=treatments,
        scale=alt.Scale(domain=treatments, range=_cycled(SHAPES, len(treatments))),
    )
    layers = [*_of_crops(stores), *_of_curves(stores, colour), *_of_units(stores, colour, shape)]
    return specification.of(alt.layer(*layers).properties(height=320))


def _cycled(values: Sequence[Any], count: int) -> list[Any]:
    return [values[i % len(values)] for i in range(count)]


def _x() -> alt.X:
    return alt.X("months:Q", title="months in store", scale=alt.Scale(nice=False))


def _y(name: str = "share") -> alt.Y:
    return alt.Y(
        f"{name}:Q",
        title="share of the seeds alive",
        scale=alt.Scale(domain=[0, 1]),
        axis=specification.shares(),
    )


def _of_units(stores: Sequence[Store], colour: alt.Color, shape: alt.Shape) -> list[alt.Chart]:
    rows = [
        {
            "treatment": store.treatment,
            "months": u.days / DAYS_A_MONTH,
            "share": u.alive / u.seeds,
            "seeds": u.seeds,
        }
        for store in stores
        for u in store.units
    ]
    told = [
        alt.Tooltip("treatment:N", title="treatment"),
        alt.Tooltip("months:Q", title="months in store", format=".3~r"),
        alt.Tooltip("share:Q", title="alive", format=specification.SHARE),
        alt.Tooltip("seeds:Q", title="seeds"),
    ]
    points = alt.Chart(specification.data(rows)).encode(
        x=_x(), y=_y(), color=colour, shape=shape, tooltip=told
    )
    return [points.mark_point(filled=True, size=42, opacity=0.75)]


def _of_curves(stores: Sequence[Store], colour: alt.Color) -> list[alt.Chart]:
    rows = _curves(stores)
    if not rows:
        return []
    parts = [_TESTED, _BEYOND]
    dash = alt.StrokeDash(
        "part:N",
        title=None,
        sort=parts,
        scale=alt.Scale(domain=parts, range=[DASHES[0], DASHES[1]]),
        legend=None,  # the caption says it, and the legend would not fit a narrow screen
    )
    told = [
        alt.Tooltip("treatment:N", title="treatment"),
        alt.Tooltip("months:Q", title="months in store", format=".3~r"),
        alt.Tooltip("share:Q", title="expected alive", format=specification.SHARE),
        alt.Tooltip("low:Q", title="at least", format=specification.SHARE),
        alt.Tooltip("high:Q", title="at most", format=specification.SHARE),
    ]
    base = alt.Chart(specification.data(rows)).encode(x=_x(), color=colour)
    band = base.mark_area(opacity=0.16).encode(y=_y("low"), y2="high:Q", detail="part:N")
    line = base.mark_line(strokeWidth=2.5).encode(y=_y(), strokeDash=dash, tooltip=told)
    return [band, line]


def _of_crops(stores: Sequence[Store]) -> list[alt.Chart]:
    crops, _ = _crops(stores)
    if not crops:
        return []
    told = [
        alt.Tooltip("crop:N", title="crop"),
        alt.Tooltip("months:Q", title="months in store", format=".3~r"),
        alt.Tooltip("share:Q", title="alive, by the equation", format=specification.SHARE),
    ]
    rows = [row for points in crops.values() for row in points]
    ends = [points[-1] for points in crops.values()]
    lines = alt.Chart(specification.data(rows)).encode(
        x=_x(), y=_y(), detail="crop:N", tooltip=told
    )
    names = alt.Chart(specification.data(ends)).encode(x=_x(), y=_y(), text="crop:N")
    return [
        lines.mark_line(strokeWidth=1.5, strokeDash=DASHES[2], color=_CROP_COLOUR),
        names.mark_text(align="right", baseline="top", dx=-4, dy=4),
    ]

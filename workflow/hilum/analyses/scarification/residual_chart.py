"""Chart of each dish or bath of a dose series against the curves fitted to all of them."""

from __future__ import annotations

from collections.abc import Sequence

import altair as alt

from hilum import specification
from hilum.analyses.condition import number
from hilum.analyses.dish_chart import MARKS, finding, signed, verdict
from hilum.analyses.scarification.view import DoseSeries, FittedUnit
from hilum.figure import Figure
from hilum.stats.residuals import LIMIT

_PARTS = {"not_hard": "how many were not hard", "germinated": "how many germinated normally"}
_INK = "currentColor"
_TITLE = "residual"
# the unit stands in the title
_SHORT = "datum.label == 'untreated' ? '0' : datum.label == 'opened by hand' ? 'by hand' : split(datum.label, ' ')[0]"
_STEP = 3.0  # the axis reaches at least this far beyond 0
Row = dict[str, object]


def figures(place: int, series: DoseSeries) -> list[Figure]:
    """Return the figure of one series, none where no curve was fitted or no dose has two dishes or baths."""
    units = series.units
    doses = [(u.kind, u.dose) for u in units]
    if not units or len(set(doses)) == len(doses):
        return []
    what = "baths and dishes" if series.by_bath else "dishes"
    told = finding([u.residuals for u in units], _PARTS, what)
    one = "bath or dish" if series.by_bath else "dish"
    return [
        Figure(
            name=f"residuals-by-dose-{place}",
            title=f"Each {one} of {series.lot} against the curves, {series.treatment}",
            caption=f"{told} Dashed lines: ±{LIMIT:g}. Residuals are standardised as if seeds were independent of each other.",
            description=f"Residuals of {len(units)} {what} by dose, one panel for how many were not hard, and one for how "
            f"many germinated normally. {told}",
            spec=_spec(series),
            rows=[_line(u, series.unit) for u in units],
            units={"not hard": "%", "not hard, fitted": "%"}
            | {"germinated": "%", "germinated, fitted": "%"},
        )
    ]


def _label(unit: FittedUnit, measured_in: str) -> str:
    return f"{number(unit.dose)} {measured_in}" if unit.kind == "dose" else unit.kind


def _line(unit: FittedUnit, measured_in: str) -> Row:
    """Return a dish or bath as a line of the table behind the figure."""
    shares = {
        "not hard": unit.not_hard_seen,
        "not hard, fitted": unit.not_hard_fitted,
        "germinated": unit.germinated_seen,
        "germinated, fitted": unit.germinated_fitted,
    }
    return (
        {"unit": unit.unit, "dose": _label(unit, measured_in), "sown": unit.sown}
        | {k: "" if share is None else round(100 * share, 2) for k, share in shares.items()}
        | {f"residual of {said}": signed(unit.residuals[part]) for part, said in _PARTS.items()}
    )


def _ordered(units: Sequence[FittedUnit], measured_in: str) -> list[str]:
    """Return the labels from no treatment over the doses to seeds opened by hand."""
    last = max(u.dose for u in units) + 1
    by_place = {
        _label(u, measured_in): u.dose
        if u.kind == "dose"
        else (last if u.kind == "opened by hand" else 0.0)
        for u in units
    }
    return sorted(by_place, key=lambda label: by_place[label])


def _spec(series: DoseSeries) -> Row:
    units, measured_in = series.units, series.unit
    order = _ordered(units, measured_in)
    known = [abs(r) for u in units for r in u.residuals.values() if r is not None]
    most = max([_STEP, *known]) + 0.3
    panels = [_panel(series, part, said, order, most) for part, said in _PARTS.items()]
    return specification.of(alt.vconcat(*panels))


def _panel(
    series: DoseSeries, part: str, said: str, order: Sequence[str], most: float
) -> alt.LayerChart | alt.FacetChart:
    rows = [
        {
            "unit": u.unit,
            "dose": _label(u, series.unit),
            "seen": getattr(u, f"{part}_seen"),
            "fitted": getattr(u, f"{part}_fitted"),
            "residual": u.residuals[part],
            "is": verdict(u.residuals[part]),
        }
        for u in series.units
        if u.residuals[part] is not None
    ]
    marks = [m for m in MARKS if m != "cannot be told"]
    colours, shapes = (
        alt.Scale(domain=marks, range=list(looks))
        for looks in zip(*(MARKS[m] for m in marks), strict=True)
    )
    x = alt.X(
        "dose:N",
        title=f"{series.treatment} ({series.unit})",
        sort=list(order),
        axis=alt.Axis(labelAngle=0, labelExpr=_SHORT, labelOverlap="greedy"),
    )
    y = alt.Y(
        "residual:Q",
        title="residual",
        scale=alt.Scale(domain=[-most, most]),
        axis=alt.Axis(tickCount=5),
    )
    told = [
        alt.Tooltip("unit:N", title="dish or bath"),
        alt.Tooltip("dose:N", title="dose"),
        alt.Tooltip("seen:Q", title="observed", format=specification.SHARE),
        alt.Tooltip("fitted:Q", title="fitted", format=specification.SHARE),
        alt.Tooltip("residual:Q", title="residual", format="+.2f"),
    ]
    points = (
        alt.Chart(specification.data(rows))
        .mark_point(filled=True, size=60, opacity=0.85)
        .encode(
            x,
            y,
            color=alt.Color("is:N", title=_TITLE, sort=marks, scale=colours),
            shape=alt.Shape("is:N", title=_TITLE, sort=marks, scale=shapes),
            tooltip=told,
        )
    )
    limits = specification.data([{"residual": end} for end in (-LIMIT, LIMIT)])
    zero = specification.data([{"residual": 0.0}])
    rules = alt.Chart(limits).mark_rule(color=_INK, strokeDash=[4, 3], opacity=0.7).encode(y=y)
    middle = alt.Chart(zero).mark_rule(color=_INK, opacity=0.7).encode(y=y)
    # seeds opened by hand stand on both axes, though how many of them are hard is no part of the curve
    kept = (
        alt.Chart(specification.data([{"dose": d} for d in order])).mark_point(opacity=0).encode(x)
    )
    return alt.layer(kept, middle, rules, points).properties(title=said, height=150)

"""Chart of the germination tests of a lot: each dish a dot at its germinated share, on the range that chance allows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

from hilum import specification
from hilum.analyses.rounding import percent
from hilum.diagnosis.agreement import (
    GerminationTest,
    finding,
    germination_tests,
    tested_place,
    worth_drawing,
)
from hilum.figure import GREY, LOOKS, Figure

_ROW = 50  # px: a line of words, and below it the dishes
# in rows, from the top of each
_WORDS, _TOP, _MIDDLE, _BOTTOM = 0.2, 0.4, 0.66, 0.92
_DOT = 46  # square px
# of all seeds: dots nearer than this hide each other on a narrow screen, and stand above each other
_APART = 0.024
_STEP, _REACH = 0.16, 0.36
_ROOM_FOR_FIGURES = 170  # px at the right of a test's name
Row = dict[str, Any]


def figures(groups: Sequence[Mapping[str, Any]]) -> list[Figure]:
    """Return the figure of a lot's germination tests, none where no test has to be drawn."""
    tests = germination_tests(groups)
    drawn = worth_drawing(tests)
    if not drawn:
        return []
    return [
        Figure(
            name="dishes",
            title=finding(tests),
            caption=_caption(tests, drawn, tested_place(groups)),
            description=f"{finding(tests)} {' '.join(_told(test) for test in drawn)}",
            spec=_spec(drawn),
            rows=[row for test in drawn for row in _dishes(test)],
            table=[_line(test) for test in drawn],
            units={"germinated": "%", "mean": "%", "differ by": "points", "tolerated": "points"},
        )
    ]


def _caption(tests: Sequence[GerminationTest], drawn: Sequence[GerminationTest], usual: str) -> str:
    said = "Dots: dishes, at the share of their seeds that germinated. Line: their mean. Shaded: how far apart chance lets the dishes of a test lie."
    place = f" At {usual} where nothing else is said." if usual else ""
    rest = len(tests) - len(drawn)
    others = f" Not drawn: tests whose dishes agree ({rest})." if rest else ""
    return f"{said}{place}{others}"


def _told(test: GerminationTest) -> str:
    shares = ", ".join(percent(share) for share in test.about["germinated"])
    return f"{test.name}: {shares}; {_figures(test)}."


def _figures(test: GerminationTest) -> str:
    """Return how far the dishes of a test lie apart, and how far they may."""
    width, tolerated = test.points
    return f"{width} points apart, {tolerated} tolerated" if test.about["range"] else "all alike"


def _line(test: GerminationTest) -> Row:
    """Return a test as a line of the table on the page."""
    about = test.about
    width, tolerated = test.points
    return {
        "seeds": test.name,
        "experiment": about["experiment"],
        "dishes": f"{len(about['dishes'])} × {int(about['seeds'])} seeds",
        "mean": round(100 * about["mean"], 1),
        "differ by": width,
        "tolerated": tolerated,
        "by": "7 CFR 201.55(a)" if about["published"] else "theory",
        "agree": about["within"],
    }


def _dishes(test: GerminationTest) -> list[Row]:
    """Return the dishes of a test with all numbers that are drawn of them, for the file."""
    about = test.about
    whole = {
        "mean": round(100 * about["mean"], 2),
        "differ by": round(100 * about["range"], 2),
        "tolerated": round(100 * about["tolerated"], 2),
    }
    return [
        {"seeds": test.name, "experiment": about["experiment"], "dish": dish}
        | {"sown": int(about["seeds"]), "germinated": round(100 * share, 2)}
        | whole
        for dish, share in zip(about["dishes"], about["germinated"], strict=True)
    ]


# the chart


def _ends(about: Mapping[str, Any]) -> tuple[float, float]:
    """Return where the tolerated range begins and ends: around the mean, moved to where dishes can lie, and do if they agree.

    Three dishes at 90 % and one at 78 % may differ by 12 points, though the last lies 9 from their mean.
    """
    width, shares = about["tolerated"], about["germinated"]
    start = about["mean"] - width / 2
    if about["within"]:
        start = min(max(start, max(shares) - width), min(shares))
    start = max(min(start, 1 - width), 0.0)
    return start, min(start + width, 1.0)


def _offsets(shares: Sequence[float]) -> list[float]:
    """Return how far above or below the middle of its row each dot stands, so that none hides another."""
    found = [0.0] * len(shares)
    for heap in _heaps(shares):
        levels: list[int] = []
        ends: list[float] = []  # the last dot of each level
        for i in heap:
            free = (n for n, end in enumerate(ends) if shares[i] - end >= _APART)
            level = next(free, len(ends))
            ends[level : level + 1] = [shares[i]]
            levels.append(level)
        step = min(_STEP, _REACH / max(len(ends) - 1, 1))
        for i, level in zip(heap, levels, strict=True):
            found[i] = (level - (len(ends) - 1) / 2) * step
    return found


def _heaps(shares: Sequence[float]) -> list[list[int]]:
    """Return the dots in the order of their shares, those together of which each hides a part of the next."""
    heaps: list[list[int]] = []
    for i in sorted(range(len(shares)), key=lambda i: shares[i]):
        if heaps and shares[i] - shares[heaps[-1][-1]] < _APART:
            heaps[-1].append(i)
        else:
            heaps.append([i])
    return heaps


def _spec(tests: Sequence[GerminationTest]) -> Row:
    x = alt.X(
        "share:Q",
        title="germinated, of the seeds sown",
        axis=alt.Axis(format=specification.SHARE, grid=True, tickCount=5),
        scale=alt.Scale(domain=[0, 1]),
    )
    down = alt.Scale(domain=[len(tests), 0], nice=False)

    def y(field: str) -> alt.Y:
        return alt.Y(f"{field}:Q", axis=None, scale=down)

    base = alt.Chart(specification.data([_row(i, test) for i, test in enumerate(tests)]))
    dots = alt.Chart(specification.data([d for i, t in enumerate(tests) for d in _dots(i, t)]))
    told = [
        alt.Tooltip("seeds:N", title="seeds"),
        alt.Tooltip("dish:N", title="dish"),
        alt.Tooltip("share:Q", title="germinated", format=specification.SHARE),
    ]
    name = base.mark_text(
        align="left", limit=alt.ExprRef(f"width - {_ROOM_FOR_FIGURES}"), aria=False
    )
    bold = alt.ExprRef("datum.within ? 'normal' : 'bold'")
    figures = base.mark_text(align="right", fontWeight=bold, aria=False)
    chart = alt.layer(
        base.mark_rect(color=GREY, fillOpacity=0.22, stroke=GREY, strokeWidth=1, aria=False).encode(
            x=alt.X("from:Q"), x2="to:Q", y=y("top"), y2="bottom:Q"
        ),
        base.mark_rule(strokeWidth=1, strokeOpacity=0.6, aria=False).encode(
            x=alt.X("mean:Q"), y=y("top"), y2="bottom:Q"
        ),
        dots.mark_point(
            size=_DOT,
            shape="circle",
            fill=LOOKS["germinated"].colour,
            stroke="currentColor",
            strokeWidth=0.7,
            opacity=1,
        ).encode(x, y("y"), tooltip=told, description="told:N"),
        name.encode(x=alt.value(0), y=y("words"), text="label:N"),
        figures.encode(x=alt.value("width"), y=y("words"), text="figures:N"),
    )
    return specification.of(chart.properties(height=_ROW * len(tests)))


def _row(i: int, test: GerminationTest) -> Row:
    low, high = _ends(test.about)
    return {
        "label": test.label,
        "figures": _figures(test),
        "within": test.within,
        "from": low,
        "to": high,
        "mean": test.about["mean"],
        "words": i + _WORDS,
        "top": i + _TOP,
        "bottom": i + _BOTTOM,
    }


def _dots(i: int, test: GerminationTest) -> list[Row]:
    about = test.about
    offsets = _offsets(about["germinated"])
    return [
        {
            "seeds": test.name,
            "dish": dish,
            "share": share,
            "y": i + _MIDDLE + offset,
            "told": f"dish {dish} of {test.name}: {percent(share)} germinated",
        }
        for dish, share, offset in zip(about["dishes"], about["germinated"], offsets, strict=True)
    ]

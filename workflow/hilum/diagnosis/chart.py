"""Chart of the diagnosis: of the seeds sown, what germinated and what held back the others."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

from hilum import specification
from hilum.analyses.rounding import GAP, shown
from hilum.diagnosis import words
from hilum.diagnosis.causes import CAUSES, MIXED
from hilum.figure import GREY, LOOKS, PALETTE, Figure, ink_on

TITLES = {"germinated": "germinated", **words.CAUSES}
_COLOURS = (
    LOOKS["germinated"].colour,
    LOOKS["no water got in"].colour,
    LOOKS["dead"].colour,
    LOOKS["harmed"].colour,
    GREY,
    PALETTE[0],
    LOOKS["fresh"].colour,
    "transparent",
)
_INKS = {part: ink_on(colour) for part, colour in zip(TITLES, _COLOURS, strict=True)}
_LABELLED = 30  # px; a narrower part has no room for its figure
_BAR = 22
Group = Mapping[str, Any]


def figures(groups: Sequence[Group]) -> list[Figure]:
    """Return the figure of a lot, none where no seeds of it were sown."""
    sown = [group for group in groups if group["sown"]]
    return [_of_lot(sown[0]["lot"], sown)] if sown else []


def name(group: Group) -> str:
    """Return the name of a group within its lot."""
    return ", ".join(part for part in (group["treatment"], words.place(group)) if part)


def _of_lot(lot: str, groups: Sequence[Group]) -> Figure:
    rows = [row for group in groups for row in _parts(group)]
    return Figure(
        name="causes",
        title=f"What became of the seeds of {lot}, and why",
        caption=_caption(groups),
        description=f"Stacked bars, one for each treatment and place of lot {lot}: the share of the seeds that "
        "germinated, and the share that each cause held back. The numbers drawn stand in the table.",
        spec=_spec(rows, [name(g) for g in groups]),
        rows=[_table(group, cause) for group in groups for cause in (*CAUSES, *MIXED)],
        units={"at least": "%", "at most": "%", "low": "%", "high": "%"},
    )


def _caption(groups: Sequence[Group]) -> str:
    usual = words.usual_place(groups)
    told: dict[str, list[str]] = {}
    for group in groups:
        if len(group["named"]) == 1:
            where = words.place(group)
            other = f" at {where}" if where and where != usual else ""
            told.setdefault(group["named"][0], []).append(f"{group['treatment']}{other}")
    said = "; ".join(f"{TITLES[cause]} ({', '.join(of)})" for cause, of in told.items())
    main = f"Main cause where one explains most of what failed: {said}. " if said else ""
    place = f"At {usual} where nothing else is said. " if said and usual else ""
    return (
        f"{main}{place}Coloured: germinated, and causes that have a figure; open: seeds whose cause is not told apart. "
        "Figures that add up to more than the seeds, since each is an estimate, are drawn narrower. Fresh seeds that a test "
        "showed to be dead are dead seed. Intervals are in the table."
    )


def _parts(group: Group) -> list[dict[str, Any]]:
    """Return the parts of a group's bar; it is as long as all its seeds, whatever the figures of the parts add up to."""
    shares = _drawn(group)
    rows, start, whole = [], 0.0, max(sum(shares.values()), 1.0)
    for order, (part, share) in enumerate(shares.items()):
        end = start + share / whole
        rows.append(
            {
                "seeds": name(group),
                "part": TITLES[part],
                "ink": _INKS[part],
                "order": order,
                "share": share,
                "label": f"{shown(100 * _told(group, part, share))}{GAP}%",
                "start": start,
                "end": end,
            }
        )
        start = end
    return rows


def _drawn(group: Group) -> dict[str, float]:
    """Return the share of what germinated, of each cause that has a figure, and of what is left.

    A cause that is a bracket has none: its seeds are not told apart.
    """
    causes = group["causes"]
    found = {
        cause: causes[cause]["least"] if words.settled(causes[cause]) else 0.0
        for cause in (*CAUSES, MIXED[0])
    }
    left = 1.0 - group["germinated"] - sum(found.values())
    return {"germinated": group["germinated"], **found, MIXED[1]: max(left, 0.0)}


def _told(group: Group, part: str, share: float) -> float:
    """Return the figure of a part as the table has it."""
    return share if part in ("germinated", MIXED[1]) else words.figure(group["causes"][part])


def _table(group: Group, cause: str) -> dict[str, Any]:
    bounds = group["causes"][cause]
    return {
        "seeds": name(group),
        "cause": TITLES[cause],
        "at least": round(100 * bounds["least"], 1),
        "at most": round(100 * bounds["most"], 1),
        "low": round(100 * bounds["low"], 1),
        "high": round(100 * bounds["high"], 1),
    }


def _spec(rows: list[dict[str, Any]], names: Sequence[str]) -> dict[str, Any]:
    drawn = [row for row in rows if row["share"] > 0]
    parts = [title for title in TITLES.values() if title in {row["part"] for row in drawn}]
    colours = dict(zip(TITLES.values(), _COLOURS, strict=True))
    y = alt.Y("seeds:N", title=None, sort=list(dict.fromkeys(names)), axis=alt.Axis(labelLimit=230))
    told = [
        alt.Tooltip("seeds:N", title="seeds"),
        alt.Tooltip("part:N", title="what became of them"),
        alt.Tooltip("share:Q", title="share", format=specification.SHARE),
    ]
    bars = (
        alt.Chart()
        .mark_bar(height=_BAR - 6, stroke="currentColor", strokeWidth=0.6)
        .encode(
            y=y,
            x=alt.X(
                "start:Q",
                title="of the seeds sown",
                axis=specification.shares(),
                scale=alt.Scale(domain=[0, 1]),
            ),
            x2="end:Q",
            color=alt.Color(
                "part:N",
                title=None,
                sort=parts,
                scale=alt.Scale(domain=parts, range=[colours[p] for p in parts]),
            ),
            tooltip=told,
        )
    )
    # a figure lies on its bar, and would keep the pointer from it
    labels = (
        alt.Chart()
        .mark_text(fontSize=11, aria=False)
        .encode(
            y=y,
            x="middle:Q",
            text="label:N",
            fill=alt.Fill("ink:N", scale=None),
            tooltip=told,
        )
        .transform_filter(
            f"datum.share * width >= {_LABELLED} && datum.part != '{TITLES['unresolved']}'"
        )
        .transform_calculate(middle="(datum.start + datum.end) / 2")
    )
    chart = alt.layer(bars, labels, data=specification.data(drawn)).properties(
        height=(_BAR + 4) * len(dict.fromkeys(names))
    )
    return specification.of(chart)

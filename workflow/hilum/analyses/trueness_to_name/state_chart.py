"""Chart of a trait that is no number: how many specimens have each state, and which states are published."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import altair as alt

from hilum import specification
from hilum.analyses.trueness_to_name.measured import fold
from hilum.analyses.trueness_to_name.view import Published, States
from hilum.figure import PALETTE, Figure

_ROW, _MARGIN = 26, 20
Row = dict[str, str]


def of_states(
    place: int, name: str, own: Mapping[str, States], told: Sequence[Published]
) -> Figure:
    """Return the share of each state in each lot, beside the states that each taxon has."""
    rows = [row for pair in own.items() for row in _of_lot(*pair)]
    spelled = {fold(row["state"]): row["state"] for row in rows}
    rows += [row for taxon in told for row in _of_taxon(taxon, spelled)]
    finding = "; ".join(
        f"{lot} " + ", ".join(f"{s.state} {s.specimens} of {t.specimens}" for s in t.states)
        for lot, t in own.items()
    )
    published = "; ".join(f"{p.taxon} {' or '.join(p.states)}" for p in told)
    said = (
        f"Seen: {finding}. Published: {published}."
        if told
        else f"Seen: {finding}. Nothing is published."
    )
    return Figure(
        name=f"trait-{place}",
        title=f"{name[0].upper()}{name[1:]}: seen and published",
        caption=f"{said} Numbers are specimens, squares are published states.",
        description=f"A grid of states: how many specimens of each lot have it, and which taxa. {said}",
        spec=_spec(name, rows),
        rows=[{k: row[k] for k in ("what", "state", "told")} for row in rows],
    )


def _of_lot(lot: str, trait: States) -> list[Row]:
    return [
        {
            "what": f"lot {lot}",
            "state": s.state,
            "told": f"{s.specimens} of {trait.specimens}",
            "kind": "seen",
        }
        for s in trait.states
    ]


def _of_taxon(told: Published, spelled: Mapping[str, str]) -> list[Row]:
    return [
        {
            "what": told.taxon,
            "state": spelled.get(fold(state), state),
            "told": "published",
            "kind": "published",
        }
        for state in told.states
    ]


def _spec(name: str, rows: Sequence[Row]) -> dict[str, object]:
    order = list(dict.fromkeys(row["what"] for row in rows))
    states = list(dict.fromkeys(row["state"] for row in rows))
    x = alt.X(
        "state:N", title=name, sort=states, axis=alt.Axis(labelAngle=0, labelLimit=140, grid=True)
    )
    y = alt.Y("what:N", title=None, sort=order, axis=alt.Axis(labelLimit=220))
    base = alt.Chart(specification.data(rows)).encode(
        x, y, tooltip=[alt.Tooltip(f"{k}:N", title=k) for k in ("what", "state", "told")]
    )
    squares = base.transform_filter("datum.kind == 'published'").mark_point(
        shape="square", size=120, filled=True, opacity=0.85, color=PALETTE[0]
    )
    counts = base.transform_filter("datum.kind == 'seen'").mark_text(fontSize=12, fontWeight="bold")
    chart = alt.layer(squares, counts.encode(text="told:N"))
    return specification.of(chart.properties(width="container", height=_ROW * len(order) + _MARGIN))

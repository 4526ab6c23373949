"""Charts of trueness to name: what was measured above what is published, trait by trait."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import altair as alt

from hilum import specification
from hilum.analyses.estimate import Estimate
from hilum.analyses.trueness_to_name.state_chart import of_states
from hilum.analyses.trueness_to_name.view import Numbers, Published, States, View
from hilum.figure import PALETTE, Figure

_ROW, _MARGIN = 26, 20
_MOST_DOTS = 400
_KINDS = {"measured": PALETTE[1], "published": PALETTE[0]}


def figures(view: View, estimates: Sequence[Estimate]) -> list[Figure]:  # noqa: ARG001
    """Return a figure for each trait that was measured: the specimens of each lot, and the ranges of each taxon."""
    names = dict.fromkeys(t.trait for lot in view.lots for t in lot.traits)
    made = []
    for place, name in enumerate(names, start=1):
        own = [(lot.lot, t) for lot in view.lots for t in lot.traits if t.trait == name]
        told = [p for p in view.published if p.trait == name]
        numbers = {lot: t for lot, t in own if isinstance(t, Numbers)}
        states = {lot: t for lot, t in own if isinstance(t, States)}
        made.append(
            _of_numbers(place, name, numbers, told)
            if numbers
            else of_states(place, name, states, told)
        )
    return made


def _of_numbers(
    place: int, name: str, own: Mapping[str, Numbers], told: Sequence[Published]
) -> Figure:
    unit = next(iter(own.values())).unit
    finding = _finding(own, told, unit)
    return Figure(
        name=f"trait-{place}",
        title=f"{name[0].upper()}{name[1:]}: measured and published",
        caption=f"{finding} Each dot is a specimen; bars are published ranges as printed, which say nothing of how often a size occurs.",
        description=f"Dots of the measured {name} for each lot, above bars of the ranges published. {finding}",
        spec=_spec(name, unit, own, told),
        rows=[*(_lot_row(*pair) for pair in own.items()), *map(_taxon_row, told)],
        units={"smallest": unit, "median": unit, "largest": unit},
    )


def _finding(own: Mapping[str, Numbers], told: Sequence[Published], unit: str) -> str:
    lots = "; ".join(
        f"{lot} {t.smallest:g} to {t.largest:g} {unit} ({t.specimens} specimens)"
        for lot, t in own.items()
    )
    taxa = "; ".join(f"{p.taxon} {p.low:g} to {p.high:g}" for p in told)
    return (
        f"Measured: {lots}. Published: {taxa}."
        if taxa
        else f"Measured: {lots}. Nothing is published."
    )


def _lot_row(lot: str, trait: Numbers) -> dict[str, object]:
    return {
        "what": f"lot {lot}",
        "specimens": trait.specimens,
        "smallest": trait.smallest,
        "median": round(trait.median, 6),
        "largest": trait.largest,
        "source": "measured here",
    }


def _taxon_row(told: Published) -> dict[str, object]:
    return {
        "what": told.taxon,
        "specimens": None,
        "smallest": told.low,
        "median": None,
        "largest": told.high,
        "source": told.source,
    }


def _spec(
    name: str, unit: str, own: Mapping[str, Numbers], told: Sequence[Published]
) -> dict[str, object]:
    order = [*(f"lot {lot}" for lot in own), *(p.taxon for p in told)]
    x = alt.X("value:Q", title=f"{name} ({unit})", scale=alt.Scale(zero=False, padding=12))
    y = alt.Y("what:N", title=None, sort=order, axis=alt.Axis(labelLimit=220))
    colour = alt.Color(
        "kind:N", title=None, scale=alt.Scale(domain=list(_KINDS), range=list(_KINDS.values()))
    )
    dots = alt.Chart(specification.data([d for pair in own.items() for d in _dots(*pair)])).encode(
        x, y, colour, yOffset=alt.YOffset("lane:Q", scale=alt.Scale(domain=[-1, 1])), tooltip=[
            alt.Tooltip("what:N", title="lot"), alt.Tooltip("value:Q", title=f"{name} ({unit})", format=".5~r"),
        ]
    )  # fmt: skip
    layers = [dots.mark_point(size=26, filled=True, opacity=0.85)]
    if told:
        bars = [{"what": p.taxon, "value": p.low, "end": p.high, "kind": "published"} for p in told]
        layers.insert(
            0,
            alt.Chart(specification.data(bars))
            .mark_bar(height=9, opacity=0.85)
            .encode(
                x,
                y,
                colour,
                x2="end:Q",
                tooltip=[
                    alt.Tooltip("what:N", title="taxon"),
                    alt.Tooltip("value:Q", title=f"from ({unit})", format=".5~r"),
                    alt.Tooltip("end:Q", title=f"to ({unit})", format=".5~r"),
                ],
            ),
        )
    return specification.of(alt.layer(*layers).properties(height=_ROW * len(order) + _MARGIN))


def _dots(lot: str, trait: Numbers) -> list[dict[str, object]]:
    """Return the specimens in three lanes, so that equal ones do not hide each other; of very many an even choice."""
    values = sorted(trait.values)
    step = max(len(values) / _MOST_DOTS, 1)
    chosen = [values[int(i * step)] for i in range(int(len(values) / step))]
    return [
        {"what": f"lot {lot}", "value": v, "kind": "measured", "lane": (i % 3 - 1) * 0.5}
        for i, v in enumerate(chosen)
    ]

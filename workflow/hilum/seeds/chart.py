"""Chart of every seed that was followed by itself: its uptake over time, picked from the table or picking in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import altair as alt

from hilum import specification
from hilum.figure import DASHES, LOOKS, Figure
from hilum.seeds.rows import Seed

# what the fate of a seed says, in the colours of all charts; of two that share one the dash differs
_LOOKS = {
    "germinated": LOOKS["germinated"],
    "closed coat": LOOKS["no water got in"],
    "closed coat or dead seed": replace(LOOKS["no water got in"], dash=DASHES[2]),
    "water got in, not followed further": LOOKS["water got in"],
    "another dormancy or conditions": LOOKS["fresh"],
    "dead seed": LOOKS["dead"],
    "dead seed or harmed by the treatment": LOOKS["harmed"],
    "not told apart": LOOKS["not told"],
}
# lines beyond this number hide each other, and slow a page
MOST_DRAWN = 600


def figure(seeds: Sequence[Seed]) -> Figure | None:
    """Return the figure, None where no seed was weighed twice."""
    drawn = [seed for seed in seeds if len(seed.hours) > 1]
    if not drawn:
        return None
    shown = drawn[:MOST_DRAWN]
    left = len(drawn) - len(shown)
    closed = sum(seed.call == "impermeable" for seed in drawn)
    told = sum(bool(seed.call) for seed in drawn)
    finding = f"Of {told} weighed seeds, {closed} surely took up no water. " if told else ""
    more = f" The first {MOST_DRAWN} seeds are drawn; the table has {left} more." if left else ""
    return Figure(
        name="curves",
        title="Every seed that was weighed by itself",
        caption=f"{finding}One line is one seed; click it to find the seed in the table.{more}",
        description="Uptake of water over soaking time, one line for each seed, coloured by what its fate says. The "
        "table below has a row for each seed.",
        spec=_spec(shown),
        rows=[
            {
                "seed": s.seed,
                "lot": s.lot,
                "treatment": s.treatment,
                "soaked": hour,
                "uptake": uptake,
            }
            for s in shown
            for hour, uptake in zip(s.hours, s.uptake, strict=True)
        ],
        units={"soaked": "h", "uptake": "%"},
    )


def _spec(seeds: Sequence[Seed]) -> dict[str, Any]:
    rows = [
        {
            "key": f"{s.experiment}/{s.seed}",
            "seed": s.seed,
            "lot": s.lot,
            "treatment": s.treatment,
            "says": s.says,
            "soaked": hour,
            "uptake": uptake,
        }
        for s in seeds
        for hour, uptake in zip(s.hours, s.uptake, strict=True)
    ]
    says = list(dict.fromkeys(seed.says for seed in seeds))
    looks = [_LOOKS[said] for said in says]
    # the page's script sets these: what the filters above the table say, and the seed under the pointer or focus
    filters = [alt.param(name=f"only_{name}", value="") for name in ("lot", "treatment", "says")]
    marked = alt.param(name="marked", value="")
    picked = alt.selection_point(name="picked", fields=["key"], on="click", empty=False)
    is_marked = "datum.key === marked"
    chart = (
        alt.Chart(specification.data(rows))
        .mark_line(interpolate="linear")
        .encode(
            x=alt.X("soaked:Q", title="soaked (h)"),
            y=alt.Y("uptake:Q", title="uptake (% of the mass before soaking)"),
            detail="key:N",
            color=alt.Color(
                "says:N",
                title=None,
                sort=says,
                scale=alt.Scale(domain=says, range=[look.colour for look in looks]),
            ),
            strokeDash=alt.StrokeDash(
                "says:N",
                title=None,
                sort=says,
                scale=alt.Scale(domain=says, range=[look.dash for look in looks]),
            ),
            # the width of a line is its size
            size=alt.condition(is_marked, alt.value(4), alt.value(1.4)),
            opacity=alt.condition(f"marked === '' || {is_marked}", alt.value(0.75), alt.value(0.2)),
            tooltip=[
                alt.Tooltip("seed:N", title="seed"),
                alt.Tooltip("lot:N", title="lot"),
                alt.Tooltip("treatment:N", title="treatment"),
                alt.Tooltip("says:N", title="what its fate says"),
            ],
        )
        .add_params(*filters, marked, picked)
        .properties(height=320)
    )
    for name in ("lot", "treatment", "says"):
        chart = chart.transform_filter(f"only_{name} === '' || datum.{name} === only_{name}")
    return specification.of(chart)

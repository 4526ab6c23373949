"""What is read aloud of a chart: what the tooltip of a mark tells, and not where the mark begins."""

import re

import altair as alt

from hilum import specification
from hilum.figure import Figure
from hilum.report import render

GAP = "\N{NO-BREAK SPACE}"
ROWS = [
    {"seeds": "intact", "start": 0.0, "end": 0.05, "share": 0.05, "note, short": None},
    {"seeds": "intact", "start": 0.05, "end": 0.9, "share": 0.85, "note, short": 'said "so"'},
]


def _aloud(chart):
    figure = Figure(name="f", title="", caption="", description="", spec=specification.of(chart))
    drawn = render.picture(render.specification(figure))
    found = re.findall(r'aria-label="([^"]*)"', drawn)
    return [label for label in found if "axis" not in label and label != "F"]


def _bars():
    told = [
        alt.Tooltip("seeds:N"),
        alt.Tooltip("share:Q", title="of the seeds sown", format=specification.SHARE),
        alt.Tooltip("note, short:N"),
    ]
    base = alt.Chart(specification.data(ROWS)).encode(y="seeds:N", tooltip=told)
    return base, base.mark_bar().encode(x="start:Q", x2="end:Q")


def test_a_bar_says_its_share_and_not_where_it_begins():
    assert _aloud(_bars()[1]) == [
        f"seeds: intact; of the seeds sown: 5{GAP}%",
        f"seeds: intact; of the seeds sown: 85{GAP}%; note, short: said &quot;so&quot;",
    ]


def test_a_line_says_which_one_it_is_and_what_repeats_another_mark_is_silent():
    base, bars = _bars()
    line = base.mark_line().encode(x="start:Q", y="share:Q")
    repeats = base.mark_rule().encode(x="start:Q", x2="end:Q", tooltip=alt.value(None))
    bare = alt.Chart(specification.data(ROWS)).mark_rule().encode(x="start:Q", x2="end:Q")
    assert _aloud(line) == ["seeds: intact"]
    assert _aloud(bars + bare) == _aloud(bars)
    assert _aloud(bars + repeats) == _aloud(bars)

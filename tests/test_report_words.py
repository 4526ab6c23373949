"""Numbers and names on a page: the digits that an interval allows, and no markup from a table."""

import re
from dataclasses import fields, replace

import altair as alt
import markdown
import pytest
from hypothesis import given
from hypothesis import strategies as st
from jinja2 import UndefinedError

from hilum import specification
from hilum.analyses.estimate import COLUMNS, MEANINGS, Estimate
from hilum.analyses.quantities import QUANTITIES
from hilum.analyses.rounding import decimals, percent, shown
from hilum.diagnosis.words import CAUSES
from hilum.figure import Figure
from hilum.markup import escape, ours
from hilum.report import diagnosed, glossary, grid, origin, pages, render, seed_table
from hilum.report import words as word_list
from hilum.report.formulas import formulas, unbroken
from hilum.report.numbers import alike, interval, number
from hilum.report.plain_formulas import typed
from hilum.report.theme import steady
from hilum.seeds.rows import Seed
from hilum.stats.families import FAMILIES
from hilum.stats.response import SHAPES

GAP = "\N{NO-BREAK SPACE}"
FIGURE = Figure(name="f", title="F", caption="", description="", spec={})


def _estimate(value, low, high, unit, status="estimated", quantity="t50"):
    needs = "" if status == "estimated" else "more temperatures"
    return Estimate(
        quantity=quantity,
        value=value,
        low=low,
        high=high,
        unit=unit,
        status=status,
        method="m",
        needs=needs,
    )


@pytest.mark.parametrize(
    ("half_width", "places"),
    # the examples of the rule itself: 0.827 ± 0.119 → 0.83 ± 0.12, 0.827 ± 0.367 → 0.8 ± 0.4
    # (Review of Particle Physics, introduction, section 5.3; from memory)
    [(0.119, 2), (0.367, 1), (0.0354, 3), (0.0356, 2), (0.96, 1), (12.0, 0), (140.0, -1)],
)
def test_digits_follow_the_rule_of_the_particle_data_group(half_width, places):
    assert decimals(half_width) == places


@pytest.mark.parametrize(
    ("estimate", "text"),
    [
        (_estimate(10.234, 9.81, 10.66, "°C"), "10.2 °C (9.8 to 10.7 °C)"),
        (_estimate(0.623, 0.55, 0.69, "fraction"), "62 % (55 to 69 %)"),
        (_estimate(1962.0, 1700.0, 2300.0, "°C h"), "1960 °C h (1700 to 2300 °C h)"),
        (
            _estimate(-0.04, -0.16, 0.08, "fraction", quantity="difference"),
            "−4 points (−16 to 8 points)",
        ),
        # value and ends have the same decimals, and a share has none unless it is known to less than a percent
        (_estimate(0.0, 0.0, 0.036, "fraction"), "0 % (0 to 4 %)"),
        (_estimate(0.04, 0.011, 0.138, "fraction"), "4 % (1 to 14 %)"),
        (_estimate(0.9999, 0.607, 1.0, "fraction"), "100 % (61 to 100 %)"),
        (_estimate(0.953, 0.949, 0.958, "fraction"), "95.3 % (94.9 to 95.8 %)"),
        (_estimate(27.31, 23.8, 32.6, "months"), "27 months (24 to 33 months)"),
        (_estimate(None, 41.83, None, "months", "bracketed"), "above 42 months"),
        (_estimate(None, None, 0.1234, "fraction", "bracketed"), "below 12 %"),
        (_estimate(0.0, 0.0, 2.31, "%/h"), "0.0 %/h (0.0 to 2.3 %/h)"),
        # an end of 5 % is not told as 10 %, however little the interval says
        (_estimate(1.0, 0.0513, 1.0, "fraction"), "100 % (5 to 100 %)"),
        (_estimate(None, 0.0513, 1.0, "fraction", "bracketed"), "between 5 and 100 %"),
        (_estimate(1.8, 1.2, 2.7, "ratio"), "1.8 (1.2 to 2.7)"),
        # the narrow side of a lopsided interval is not rounded away by the wide one
        (_estimate(2050.0, 1330.0, 14820.0, "mg"), "2100 mg (1300 to 14800 mg)"),
        # a test of germination that takes three days and more is told in days
        (_estimate(205.0, 133.0, 250.0, "h"), "8.5 d (5.5 to 10.4 d)"),
        (_estimate(40.0, 30.0, 60.0, "h"), "40 h (30 to 60 h)"),
        (_estimate(None, 7.13, 11.4, "°C", "bracketed"), "between 7.1 and 11.4 °C"),
        (_estimate(None, None, 11.4, "°C", "bracketed"), "below 11.4 °C"),
        (_estimate(None, 3.3, None, "°C", "bracketed"), "above 3.3 °C"),
        (_estimate(None, None, None, "°C", "not_identified"), "not identified"),
        # an end next to nothing says nothing; no number has an exponent
        (_estimate(None, 1.32e-12, None, "d", "bracketed"), "anywhere above 0 d"),
        (_estimate(None, 1.32e-12, 7.2, "d", "bracketed"), "below 7.2 d"),
        (_estimate(None, None, 1.32e-12, "d", "bracketed"), "below 0.0001 d"),
        (_estimate(None, 2.5e15, None, "d", "bracketed"), "above 2500000000000000 d"),
        (_estimate(1e-12, 0.0, 3e-12, "d"), "below 0.0001 d (0 to below 0.0001 d)"),
        (_estimate(1.0, 1.0, 1.0, "yes/no"), "yes"),
    ],
)
def test_an_estimate_stands_in_a_sentence(estimate, text):
    assert interval(estimate).replace(GAP, " ") == text


def test_two_percentages_differ_by_points():
    apart = _estimate(-0.23, -0.34, -0.12, "fraction", quantity="difference")
    assert interval(apart).replace(GAP, " ") == "−23 points (−34 to −12 points)"
    share = _estimate(0.23, 0.12, 0.34, "fraction")
    assert interval(share).replace(GAP, " ") == "23 % (12 to 34 %)"


def test_times_beside_each_other_have_one_unit_where_most_are_told_in_days():
    days, short = (
        [*(_estimate(v, v - 9, v + 9, "h") for v in (120, 144))],
        _estimate(60, 55, 66, "h"),
    )
    assert interval(short).replace(GAP, " ") == "60 h (55 to 66 h)"
    unit = alike([*days, short])["t50"]
    assert interval(short, unit).replace(GAP, " ") == "2.50 d (2.29 to 2.75 d)"
    assert "t50" not in alike([short, short, *days[:1]]), "most are told in hours: each in its own"
    assert "t50" not in alike([*days, _estimate(20, 18, 22, "h")]), (
        "less than a day is no number of days"
    )


def test_a_number_without_an_interval_has_three_digits_and_no_empty_ones():
    shown = [number(v) for v in (0.0234, 0.95, 12345.6, -3.2, 0.0)]
    assert shown == ["0.0234", "0.95", "12300", "−3.2", "0"]
    assert number(0.95, "fraction").replace(GAP, " ") == "95 %"
    assert [number(v) for v in (1.2e-7, -3e-12, 1e22)] == [
        "below 0.0001",
        "above −0.0001",
        "1" + 22 * "0",
    ]


def test_a_table_shows_no_exponent_and_shares_in_whole_percent():
    assert [grid.cell(v) for v in ("6.3541e-36", "3e-40", "0.0123456", 3.744e-10)] == [
        "below 0.0001",
        "below 0.0001",
        "0.01235",
        "below 0.0001",
    ]
    assert grid.cell(48.333, "%") == "48"
    assert grid.cell("1e5") == "1e5", "a name"


@given(st.floats(min_value=-1e12, max_value=1e12), st.floats(min_value=0, max_value=1e6))
def test_no_number_has_an_exponent(value, half_width):
    for text in (
        number(value, "h", half_width=half_width),
        number(value, "fraction"),
        grid.cell(value),
    ):
        assert not re.search(r"\de", text)


def test_charts_write_numbers_as_sentences_do():
    """Axes had `95%100%` and bars `85%` beside the `85 %` of sentences."""
    rows = [{"share": share, "which": str(share)} for share in (0.0, 0.85)]
    bars = alt.Chart(specification.data(rows)).mark_bar()
    bars = bars.encode(alt.X("share:Q", axis=specification.shares()), alt.Y("which:N"))
    drawn = render.picture(render.specification(replace(FIGURE, spec=specification.of(bars))))
    said = re.findall(r">([^<>]*\d[^<>]*%)<", drawn)
    assert f"80{GAP}%" in said
    assert all(re.fullmatch(rf"\d+{GAP}%", label) for label in said)


def test_a_half_is_rounded_away_from_zero_wherever_it_is_told():
    """Halves went to the even number in sentences and up in charts: 81 % in one and 80 % in the other, of one share."""
    seeds = 200
    for count in (
        1,
        29,
        161,
        177,
        181,
    ):  # each leaves half a percent; 100 × 29 / 200 falls short of it in binary
        up = f"{(count + 1) // 2} %"
        assert percent(count / seeds) == up
        told = number(count / seeds, "fraction", half_width=0.05)
        assert told.replace(GAP, " ") == up
    assert [shown(x, 1) for x in (0.25, -0.25, -0.04)] == ["0.3", "−0.3", "0.0"]
    assert shown(1450.0, -2) == "1500"


@given(st.text(max_size=40))
def test_no_text_becomes_markup(text):
    """Markdown shows any text as it is: no tag, no link, no emphasis, no list comes of it."""
    made = markdown.markdown(escape(text), extensions=["attr_list", "md_in_html", "tables"])
    assert made.removeprefix("<p>").removesuffix("</p>").strip() == escape(text).strip()


@given(st.text(alphabet="*_`[](){}<>#!|-+=~^:.1 \\&$\"'", max_size=12))
def test_no_combination_of_marks_becomes_markup(text):
    made = markdown.markdown(f"{escape(text)}x {escape(text)}", extensions=["tables", "def_list"])
    assert made.startswith("<p>")
    assert made.count("<") == 2


def test_signals_and_turned_text_are_made_visible():
    assert escape("a\x02b\u202ec") == "a\N{REPLACEMENT CHARACTER}b\N{REPLACEMENT CHARACTER}c"


def test_formulas_become_mathml_and_written_dollars_stay():
    made = markdown.markdown(formulas("the rate\n$1/t$ falls"), extensions=["md_in_html"])
    assert re.fullmatch(r"<p>the rate\n<span[^>]*><math.*</math></span> falls</p>", made)
    assert "<math" not in formulas(str(escape("5 $ or $ 6")))
    # a line of the code may end within a formula, and a paragraph may not
    assert "$" not in formulas("with $F(t) = G -\n\\theta/t$ of the seeds")
    assert "<math" not in formulas("5 $ or\n\n6 $")


@pytest.mark.parametrize(
    ("latex", "text"),
    [
        (r"F(t) = G\,F_0((\ln t - \ln t_{50})/\sigma)", "F(t) = G · F0((ln t − ln t50)/σ)"),
        (r"\log_{10}\sigma = K_E - C_Q t^2", "log10 σ = K_E − C_Q t²"),
        (r"n\ln(1 + t^2/(n-1))", "n ln(1 + t²/(n−1))"),
        (r"c\,t^2_\nu", "c · t²_ν"),
        (r"\sqrt{1 - h}", "√(1 − h)"),
        (r"\frac{\operatorname{logit} G}{2}", "(logit G)/(2)"),
    ],
)
def test_a_formula_is_copied_as_people_type_it(latex, text):
    assert typed(latex) == text
    assert f'alttext="{text}"' in formulas(f"${latex}$").replace("&#95;", "_")


def test_a_formula_that_cannot_be_typed_ends_the_run():
    with pytest.raises(ValueError, match=r"\\oint cannot be typed; add it to"):
        typed(r"\oint f")


def test_a_figure_and_its_sign_stay_on_one_line():
    assert unbroken("11 % at 10 °C") == "11\N{NO-BREAK SPACE}% at 10\N{NO-BREAK SPACE}°C"
    assert unbroken("8 seeds, a %") == "8 seeds, a %"


def test_a_missing_number_is_an_error():
    render = pages.environment().from_string
    with pytest.raises(UndefinedError):
        render("{{ estimates.t50 }}").render(estimates={})
    with pytest.raises(ValueError, match="missing value"):
        render("{{ value }}").render(value=None)


def test_numbered_names_do_not_depend_on_earlier_charts():
    def spec(number_):
        name = f"param_{number_}"
        return {
            "params": [{"name": name, "views": [f"view_{number_ + 3}"]}],
            "encoding": {"opacity": {"condition": {"param": name}}},
            "datasets": {"d": [{"lot": "param_7"}]},
        }

    assert steady(spec(7)) == steady(spec(40))
    assert steady(spec(40))["datasets"] == {"d": [{"lot": "param_7"}]}


def test_a_line_beyond_the_axes_leaves_the_plot_its_room():
    """A bracket without a lower end was drawn as a rule far outside, and the plot was 0 px wide."""
    points = [{"x": 20, "y": 1}, {"x": 30, "y": 2}]
    x = {"field": "x", "type": "quantitative", "scale": {"domain": [19, 31]}}
    figure = Figure(
        name="f",
        title="F",
        caption="C.",
        description="D",
        spec={
            "layer": [
                {"data": {"values": points}, "mark": "point", "encoding": {"x": x}},
                {
                    "data": {"values": [{"low": -80, "high": -5}]},
                    "mark": "rule",
                    "encoding": {
                        "x": {"field": "low", "type": "quantitative"},
                        "x2": {"field": "high"},
                    },
                },
            ]
        },
    )
    picture = render.picture(render.specification(figure))
    assert float(re.search(r"translate\((-?[\d.]+),", picture).group(1)) < 100


def test_every_column_of_the_estimates_is_explained():
    assert tuple(MEANINGS) == COLUMNS


def test_every_column_of_the_seeds_is_explained():
    assert tuple(seed_table.COLUMNS) == tuple(field.name for field in fields(Seed))


def _rows(start, **cells):
    length = len(next(iter(cells.values())))
    return [
        {"line": str(start + i), **{name: values[i] for name, values in cells.items()}}
        for i in range(length)
    ]


def test_raw_lines_are_found_by_name_by_dish_and_by_seed():
    lot, acid = ["dune"] * 3, ["acid", "acid", "none"]
    found = origin.behind(
        {
            "counts": _rows(2, dish=["a", "b", "a", "c", "b"]),
            "dishes": _rows(
                2, dish=["a", "b", "c"], lot=lot, treatment=acid, temperature_c=["5", "20", "5"]
            ),
            "outcomes": _rows(7, dish=["a", ""], seed=["", "s1"]),
            "weighings": _rows(2, seed=["s1"], lot=["dune"], treatment=["wet"]),
            "viability": _rows(2, lot=["dune"], treatment=[""]),
        }
    )
    told = {(one.treatment, one.temperature): one.lines for one in found}
    assert told == {
        ("acid", "5"): {"counts.csv": [2, 4], "dishes.csv": [2], "outcomes.csv": [7]},
        ("acid", "20"): {"counts.csv": [3, 6], "dishes.csv": [3]},
        ("none", "5"): {"counts.csv": [5], "dishes.csv": [4]},
        ("wet", ""): {"outcomes.csv": [8], "weighings.csv": [2]},
    }
    # colder first, and treatments share one anchor whatever the temperature
    assert list(told)[:2] == [("acid", "5"), ("acid", "20")]
    told_at = origin.anchors(found)
    assert list(told_at.values()) == ["rows-dune-acid", "rows-dune-none", "rows-dune-wet"]
    # what other pages link to
    assert told_at["dune", "wet"] == origin.anchor("dune", "wet")


def test_names_that_read_alike_have_anchors_of_their_own():
    found = [origin.Behind(lot, "wet", "") for lot in ("dune 1", "dune-1", "dune")]
    assert len(set(origin.anchors(found).values())) == 3
    # "rows" is where the section itself is
    assert "rows" not in origin.anchors([origin.Behind("砂", "水", "")]).values()


def test_measured_specimens_have_a_lot_and_no_treatment():
    traits = [
        {"line": line, "specimen": "m", "lot": "dune", "trait": "width"} for line in ("2", "3")
    ]
    found = origin.behind({"traits": traits})
    assert origin.anchors(found) == {("dune", ""): "rows-dune"}
    made = origin.table(found, ["raw"])
    assert "<td>2 to 3</td>" in made
    assert "treatment" not in made


def test_lines_that_follow_on_one_another_are_one_stretch():
    one = origin.Behind("dune", "acid", "", {"counts.csv": [3, 2, 4, 9, 11, 12]})
    assert "<td>2 to 4, 9, 11 to 12</td>" in origin.table([one], ["raw"])
    many = origin.Behind("dune", "acid", "", {"counts.csv": list(range(2, 40, 2))})
    assert "14, 16 and on, 19 lines" in origin.table([many], ["raw"])


def test_a_word_is_linked_where_it_is_first_used_in_running_text():
    page = (
        "# Thermal time\n\n[thermal time](x) `thermal time` <b title='thermal time'>\n"
        "<table><td>thermal time</td></table>\n\nThe thermal\ntime of **fresh** seeds: thermal time."
    )
    for text in (page, ours(page)):
        made = glossary.linked(text, "g.html")
        assert made.count("<a ") == 2
        assert re.search(
            r'The <a class="word" href="g.html#word-thermal-time" title="Hours times[^"]*">thermal\ntime</a> of '
            r'\*\*<a class="word" href="g.html#word-fresh"[^>]*>fresh</a>\*\* seeds: thermal time\.$',
            made,
        )
        assert re.sub(r'<a class="word"[^>]*>|</a>', "", made) == page


def test_the_head_of_a_table_is_linked_and_its_cells_are_not():
    made = glossary.linked("<table><th>t50</th> <td>viability</td></table> viability", "g.html")
    assert made.count("<a ") == 2
    assert re.search("<th><a [^>]*>t50</a></th> <td>viability</td></table> <a ", made)


def test_the_longer_word_is_linked_and_no_part_of_a_word():
    made = glossary.linked(
        "another dormancy or conditions; freshly; a viability-test; Youden’s index", "g"
    )
    told = re.findall(r'href="g#([^"]*)"[^>]*>([^<]*)', made)
    assert told == [
        ("word-another-dormancy-or-conditions", "another dormancy or conditions"),
        ("youden-s-index", "Youden’s index"),
    ]


def test_the_glossary_knows_every_cause_fate_family_and_response():
    named = " ".join([*word_list.CAUSES, *word_list.FATES, *word_list.WORDS])
    for word in CAUSES.values():
        assert word in word_list.CAUSES
    for word in (*diagnosed.FATES.values(), *(f.name.replace("_", "-") for f in FAMILIES), *SHAPES):
        assert all(part in named.lower() for part in word.lower().split(" or ")), word


def test_every_link_to_the_glossary_has_its_place_there_once():
    page = pages.page(
        "glossary",
        confidence=0.95,
        calibrated=True,
        fates=word_list.FATES,
        causes=word_list.CAUSES,
        all_words=word_list.WORDS,
        place=glossary.anchor,
        quantities=QUANTITIES,
    )
    places = re.findall(r'<dt id="([^"]*)"', page)
    assert len(set(places)) == len(places)
    assert {term.anchor for term in glossary.terms().values()} <= set(places)


def test_a_heading_tells_its_unit_once():
    shown = re.sub("<[^>]*>", "", grid.heading("last_seen_floating_h", "h"))
    assert shown == "last seen floating (h)"
    assert re.sub("<[^>]*>", "", grid.heading("elapsed_d")) == "elapsed d"

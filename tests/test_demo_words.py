"""Words and numbers as the pages of the demo print them: one form everywhere, and nothing that is meant for developers."""

import csv
import html
import re
from pathlib import Path

import pytest

from hilum.analyses.rounding import with_ends

WORKFLOW = Path(__file__).parent.parent
TEMPLATES = [
    *(WORKFLOW / "site/templates").glob("*.jinja"),
    *(WORKFLOW / "workflow/hilum/analyses").glob("*/page.md.jinja"),
]


@pytest.fixture(scope="module")
def pages(demo):
    """Return the Markdown of every page of the demo by its name, entities of marks as the marks themselves."""
    folder = demo / "results/strandline/pages"
    return {
        str(p.relative_to(folder)): html.unescape(p.read_text(encoding="utf-8"))
        for p in [*folder.rglob("*.md"), folder / "sources.bib"]
    }


def test_no_page_nor_template_says_what_is_from_memory(pages):
    for name, text in pages.items():
        assert not re.search(r"from\s+memory", text, re.IGNORECASE), name
    for template in TEMPLATES:
        assert "from memory" not in template.read_text(encoding="utf-8").lower(), template


def test_no_page_shows_a_formula_as_it_was_written_for_the_press(pages):
    for name, text in pages.items():
        seen = re.sub(r'<math alttext="[^"]*"', "<math", text)
        assert not re.search(r"\$|\\[a-z]+|\\,", seen), name


_INTERVAL = re.compile(r"(−?[\d.]+)\s?[^\s()]*(?: h)? ?\((−?[\d.]+) to (−?[\d.]+)")


def _seen(text):
    """Return the words of a page without its tags, pictures' descriptions among them."""
    told = re.sub(r"<math\b.*?</math>", "", text, flags=re.DOTALL)
    described = " ".join(re.findall(r'alt="([^"]*)"', told))
    cells = re.sub(r"</?t[dh]\b[^>]*>", "|", told)
    return re.sub(r"<[^>]*>", "", cells) + described


def test_value_and_ends_have_the_same_decimals_and_no_number_has_an_exponent(pages):
    found = 0
    for name, text in pages.items():
        seen = _seen(text)
        assert not re.search(r"\d%", seen), name
        # hashes are no numbers
        assert not re.search(r"(?<![0-9a-f])\d(\.\d+)?[eE][-−+]?\d+(?![0-9a-f])", seen), name
        for ends in _INTERVAL.findall(seen):
            found += 1
            assert len({len(n.partition(".")[2]) for n in ends}) == 1, (name, ends)
    assert found > 100


def test_charts_leave_the_form_of_shares_to_one_place(demo):
    files = (demo / "results/strandline/charts").rglob("*.js")
    told = [t for f in files if (t := f.read_text(encoding="utf-8")).startswith("hilumChart(")]
    formats = {f for text in told for f in re.findall(r'"format":"([^"]*%)"', text)}
    assert formats == {".0%"}
    assert all(r'"percent":"\u00a0%"' in text for text in told)
    assert not any(re.search(r'"format":"[^"]*[egs]"', text) for text in told)


def test_one_base_temperature_has_one_form_on_its_page(pages, demo):
    """It was 10.45 °C in one table, and 10.5 °C in another and below the chart."""
    path = demo / "results/strandline/estimates/temperatures/temperature.csv"
    with path.open(encoding="utf-8", newline="") as file:
        base = next(r for r in csv.DictReader(file) if r["quantity"] == "base_temperature")
    value, low, high = with_ends(*(float(base[end]) for end in ("value", "low", "high")))
    page = pages["experiments/temperatures.md"].replace("\N{NO-BREAK SPACE}", " ")
    assert page.count(f"The line meets zero at {value} °C (between {low} and {high} °C).") == 2
    assert f"{value} °C</td> <td>chosen</td>" in page
    assert f"the base temperature is {value} °C ({low} to {high} °C)" in re.sub("<[^>]*>", "", page)

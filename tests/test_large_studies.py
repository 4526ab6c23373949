"""What keeps a study of a thousand experiments quick: nothing is read twice, and nothing is lost by it."""

import json
import re

import altair as alt
import pytest
from altair.utils import schemapi

from hilum import specification
from hilum.report import grid
from hilum.steps import aside, search

# the first row of a table, whose words the index would hold one after the other
ROW = re.compile(r"<tbody><tr>(.*?)</tr>")


def test_tables_are_set_aside_and_put_back_whole(tmp_path):
    hostile = grid.grid(["a"], [["<!--table 0-->"], ["</table>"], ["\\1"]], "<!--table 1-->")
    other = grid.grid(["b"], [["2"]], "Other", "1 more row")
    text = f"# Title\n\n{hostile}\n\nWords.\n\n{other}\n"
    for room in ("experiments", "lots", "."):
        (tmp_path / room).mkdir(exist_ok=True)
        (tmp_path / room / "page.md").write_text(text, encoding="utf-8")
    tables = aside.take(tmp_path)
    assert len(tables) == 4
    # home and the pages to read keep theirs
    assert (tmp_path / "page.md").read_text(encoding="utf-8") == text
    for room in ("experiments", "lots"):
        page = tmp_path / room / "page.md"
        assert "<table" not in page.read_text(encoding="utf-8")
        page.rename(page.with_suffix(".html"))
    aside.put_back(tmp_path, tables)
    for room in ("experiments", "lots"):
        assert (tmp_path / room / "page.html").read_text(encoding="utf-8") == text


def test_the_site_has_every_table_and_its_search_reads_none_of_an_experiment(demo):
    results = demo / "results/strandline"
    index = (results / "site/search/search_index.js").read_text(encoding="utf-8")
    pages = [p for room in aside.ROOMS for p in sorted((results / f"pages/{room}").glob("*.md"))]
    assert len(pages) > 9
    for page in pages:
        html = results / "site" / page.relative_to(results / "pages").with_suffix(".html")
        shown, told = html.read_text(encoding="utf-8"), page.read_text(encoding="utf-8")
        assert shown.count('<table class="sheet') == told.count('<table class="sheet') > 0, page
        assert "<!--table" not in shown
    rows = [re.sub("<[^>]*>", "", row) for p in pages for row in ROW.findall(p.read_text("utf-8"))]
    long = [row for row in rows if len(row) > 30]
    assert len(long) > 20
    assert not [row for row in long if row in index]
    # those of the pages to read are there
    dictionary = (results / "pages/dictionary.md").read_text(encoding="utf-8")
    assert re.sub("<[^>]*>", "", ROW.findall(dictionary)[0])[:20] in index


def test_a_large_site_has_an_entry_for_each_page_and_small_ones_all(tmp_path):
    answer = (
        "<p>Does water get in? <strong>1 &lt; 2</strong> in " + "many " * 200 + "words &amp;</p>"
    )
    docs = [
        {"location": "experiments/a.html", "title": "A &lt;b&gt;", "text": "<p>Its words</p>"},
        {"location": "experiments/a.html#imbibition", "title": "Imbibition", "text": answer},
        {"location": "experiments/a.html#rows", "title": "Rows", "text": "never told"},
        {"location": "lots/b.html", "title": "B", "text": "alone"},
        {"location": "methods.html", "title": "Methods", "text": "whole"},
        {"location": "methods.html#x", "title": "X", "text": "as it was"},
    ]
    folder = tmp_path / "search"
    folder.mkdir()
    index = json.dumps({"config": {"lang": ["en"]}, "docs": docs})
    (folder / "search_index.json").write_text(index, encoding="utf-8")
    (folder / "search_index.js").write_text(f"var __index = {index}", encoding="utf-8")
    search.shorten(tmp_path, ["experiments"])
    text = (folder / "search_index.json").read_text(encoding="utf-8")
    assert (folder / "search_index.js").read_text(encoding="utf-8") == f"var __index = {text}"
    made = json.loads(text)
    assert made["config"] == {"lang": ["en"]}
    first, *rest = made["docs"]
    assert rest == docs[3:]
    assert (first["location"], first["title"]) == ("experiments/a.html", "A &lt;b&gt;")
    assert first["text"].startswith("<p>Its words</p> <p>Does water get in? 1 &lt; 2 in many many")
    assert first["text"].endswith("many</p> <p>Imbibition, Rows</p>")
    assert len(first["text"]) < 600


def _chart() -> alt.VConcatChart:
    rows = specification.data([{"x": 1, "y": 2.5, "of": "a"}, {"x": 2, "y": 3.5, "of": "b"}])
    pick = alt.selection_point(name="picked", fields=["of"], empty=False)
    base = alt.Chart(rows).encode(alt.X("x:Q", title=None), y="y:Q", tooltip=["of:N"])
    points = base.mark_point(filled=True).add_params(pick).properties(name="points")
    lines = base.mark_line(strokeDash=[4, 2]).transform_filter(pick)
    layers = alt.layer(points, lines).properties(height=200)
    return alt.vconcat(alt.hconcat(layers, base.mark_bar()), base.mark_rule())


def test_quick_copies_make_the_same_charts():
    slow = specification.of(_chart())
    with specification.unchecked():
        quick = specification.of(_chart())
    assert quick == slow


def test_altair_copies_by_itself_again_afterwards():
    copier = schemapi._deep_copy
    with pytest.raises(ZeroDivisionError), specification.unchecked():
        assert schemapi._deep_copy is not copier
        raise ZeroDivisionError
    assert schemapi._deep_copy is copier

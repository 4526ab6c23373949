"""Every analysis can be told and drawn: from its own truth, under names that try to become markup."""

import json
import re

import markdown
import numpy as np
import pytest

from hilum import analyses
from hilum.analyses import view
from hilum.analyses.estimate import Fit
from hilum.analyses.quantities import INDICES, QUANTITIES
from hilum.markup import slug
from hilum.report import pages, render
from hilum.report.results import Experiment, Result
from hilum.settings import Settings
from hilum.steps import written
from tests.nursery import HOSTILE

NAMED = ("lot", "treatment", "seed", "dish", "specimen", "taxon", "trait", "state")


def _renamed(tables):
    """Return the tables with every name followed by markup."""
    return {
        name: {
            column: np.array([f"{v} {HOSTILE} *x* [y](javascript:z)" if v else "" for v in values])
            if column in NAMED
            else values
            for column, values in table.items()
        }
        for name, table in tables.items()
    }


def _result(name, tables, settings) -> Result:
    fitted: Fit = analyses.model(name).fit(tables, settings=settings, rng=np.random.default_rng(1))
    drawing = json.dumps(written.rounded(fitted.drawing), allow_nan=False)
    return Result(
        name=name,
        about=analyses.describe(name),
        estimates=fitted.estimates,
        read_drawing=lambda: view.read(name, json.loads(drawing)),
        rows={
            table: [{k: written.cell(v) for k, v in r.items()} for r in rows]
            for table, rows in fitted.rows.items()
        },
    )


@pytest.fixture(scope="module", params=analyses.names())
def result(request):
    model = analyses.model(request.param)
    tables = model.simulate(model.TRUTH, rng=np.random.default_rng(2))
    return _result(request.param, _renamed(tables), Settings(study="."))


def _figures(result):
    return analyses.chart(result.name).figures(result.drawing, result.estimates)


def _page(result, question="", times=1, **chosen):
    experiment = Experiment(
        name="one",
        about={
            "title": "One",
            "question": question,
            "source": "",
            "person": "",
            "dates": "",
            "licence": "",
            "accepted": [],
        },
        results=(result,) * times,
        treatments=[],
        raw_files=(),
        checked_files=(),
        estimate_files=(),
    )
    figures = {
        f.name: render.html(f, ["..", "charts", "one"], f"{result.name}-{f.name}")
        for f in _figures(result)
    }
    settings = Settings(study=".", **chosen)
    text = pages.experiment_page(experiment, {result.name: figures}, settings)
    return markdown.markdown(text, extensions=["attr_list", "def_list", "md_in_html", "tables"])


def test_its_page_answers_and_says_what_it_cannot_tell_and_what_comes_next(result):
    made = _page(result)
    for words in ('class="answer"', "What this cannot tell", "What to do next"):
        start = made.index(words) + len(words)
        told = re.sub("<[^>]+>", "", made[start : start + 3000]).strip()
        assert len(told) > 20


def test_a_page_asks_one_question_unless_it_has_several_analyses(monkeypatch):
    monkeypatch.setattr(render, "html", lambda *_: "")  # the pictures cost, and ask nothing
    model = analyses.model("trueness_to_name")
    tables = model.simulate(model.TRUTH, rng=np.random.default_rng(2))
    result = _result("trueness_to_name", tables, Settings(study="."))
    own = result.about.question

    def questions(asked, times=1):
        found = re.findall('<p class="question">(.*?)</p>', _page(result, asked, times))
        return [re.sub("<[^>]+>", "", question) for question in found]

    assert questions("") == [own]
    assert questions("Does it?") == ["Does it?"]
    assert questions("Does it?", times=2) == ["Does it?", own, own]


def test_every_column_of_its_further_tables_is_described(result):
    for table, rows in result.rows.items():
        described = result.about.tables[table]
        assert all(list(row) == list(described.columns) for row in rows)
        for name, column in described.columns.items():
            assert column.says.endswith("."), name
            # a column named by its unit says that unit
            ends = {"_h": "h", "_d": "d", "_c": "°C", "_pct": "%", "_c_h": "°C h"}
            longest = max((e for e in ends if name.endswith(e)), key=len, default="")
            assert not longest or column.unit == ends[longest], name


def test_indices_of_germination_stand_on_a_page_only_where_the_settings_ask_for_them(
    result, monkeypatch
):
    monkeypatch.setattr(render, "html", lambda *_: "")
    own = [q for group in INDICES.values() for q in group]
    have = {e.quantity for e in result.estimates} & set(own)
    assert have == (set(own) if result.name == "time_course" else set())

    def told(page):
        found = {
            q: page.find(f'<a href="../glossary.html#{slug(QUANTITIES[q].title)}"') for q in own
        }
        return {q: place for q, place in found.items() if place >= 0}

    off, on = _page(result), _page(result, germination_indices=True)
    says = "the setting <code>germination_indices</code> shows them here."
    assert told(off) == {}
    assert (says in off, says in on) == (bool(have), False)
    assert set(told(on)) == have
    if have:
        # each below the words that say what it tells of a lot
        for words, group in INDICES.items():
            place = on.index(f"{words.capitalize()}:")
            assert all(place < told(on)[q] for q in group)
            assert {q for q in own if told(on)[q] < place} == set(own[: own.index(group[0])])


def test_no_name_becomes_markup(result):
    made = _page(result)
    assert "<script" not in made
    assert not re.search(r'href="javascript', made)
    assert "<em>x</em>" not in made
    assert "&amp;#" not in made, "something was escaped twice"


def test_no_number_is_missing(result):
    text = re.sub("<[^>]+>", " ", _page(result))
    assert not re.search(r"\b(None|nan|inf|undefined)\b", text)


def test_its_figures_say_what_they_show_and_can_be_drawn(result):
    made = _figures(result)
    assert made
    assert len({f.name for f in made}) == len(made)
    for figure in made:
        assert figure.title
        assert figure.caption.endswith(".")
        assert len(figure.description) > 20
        assert figure.rows
        picture = render.picture(render.specification(figure))
        assert "mark-" in picture
        assert "NaN" not in picture

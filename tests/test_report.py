"""The report: pages and pictures from results, kept while nothing changed, the same bytes anywhere."""

import hashlib
import html
import json
import os
import re
import subprocess
import sys
from pathlib import Path
from urllib.parse import unquote

import pytest

from hilum import commit
from hilum.analyses.estimate import Fit
from hilum.report import render
from hilum.steps import fit, publish, report
from tests import nursery


@pytest.fixture
def swelling(tmp_path):
    folder = nursery.swelling(tmp_path / "analyses")
    nursery.register(folder)
    yield folder
    nursery.forget(folder)


@pytest.fixture
def made(tmp_path, swelling):  # noqa: ARG001
    study, settings = nursery.study(tmp_path)
    report.run(study, settings)
    return study, settings


def _page(study, name="experiments/soaking"):
    return (study.pages / f"{name}.md").read_text(encoding="utf-8")


def test_the_answer_stands_before_chart_limits_and_next_step(made):
    page = re.sub("</?a[^>]*>", "", _page(made[0]))
    order = ["are impermeable.", "<figure", "What this cannot tell", "What to do next", "Details"]
    places = [page.index(words) for words in order]
    assert places == sorted(places)


def test_a_figure_has_picture_table_text_alternative_and_downloads(made):
    study, _ = made
    page = _page(study)
    assert page.count('<figure class="chart"') == 2
    assert 'alt="Uptake over soaking time, one line for each seed."' in page
    for end in ("svg", "js", "csv"):
        assert (study.charts / "soaking" / f"swelling-curves.{end}").stat().st_size > 100
    head = (study.charts / "soaking" / "swelling-curves.csv").read_text(encoding="utf-8")
    assert head.startswith("seed,hours (h),uptake (%)\n")


def test_a_picture_carries_its_own_font_and_takes_the_ink_of_the_page(made):
    picture = (made[0].charts / "soaking" / "swelling-curves.svg").read_text(encoding="utf-8")
    assert "data:font/woff2;base64," in picture
    assert "currentColor" in picture
    families = set(re.findall(r'font-family="([^"]*)"', picture))
    assert families == {"Hilum Sans, sans-serif"}


def test_home_tells_the_main_cause_with_its_interval_and_says_what_was_not_tested(made):
    home = _page(made[0], "index")
    assert "closed coat" in home
    assert "70\N{NO-BREAK SPACE}% (60 to 80\N{NO-BREAK SPACE}%)" in re.sub("<[^>]*>", "", home)
    assert "was not tested" in home
    assert "Chip the seeds that did not swell." in home
    assert 'href="experiments/%C3%B1and%C3%BA%20soak.html' in home


def test_the_page_of_a_lot_draws_its_dishes_in_its_sheet(made):
    page = _page(made[0], nursery.LOT_PAGE)
    figure = page.index('<figure class="chart" id="lot-dishes"')
    assert page.index("## Lot sheet") < figure < page.index("Tolerances: between replicates")
    assert page.index('<figure class="chart" id="lot-causes"') < page.index("## Lot sheet")
    assert "20 points where 12 are tolerated" in page


def test_invented_data_are_marked(made):
    for name in ("index", "methods", "experiments/soaking"):
        assert "<strong>invented</strong>" in _page(made[0], name)


def test_cautions_come_from_the_treatments(made):
    assert "acid into water" in _page(made[0]).lower()
    assert "[Acid](#acid)" in _page(made[0], "cautions")
    assert "scald" not in _page(made[0])


def test_accepted_faults_are_told(made):
    assert "left out. Why: &#95;dropped&#95;" in _page(made[0])


def test_settings_and_provenance_name_no_path(made):
    study, _ = made
    for name in ("settings", "provenance"):
        assert str(study.raw.parent) not in _page(study, name)
    assert re.search("<td>study</td> <td[^>]*>nursery</td>", _page(study, "settings"))


def _times(folder):
    return {p.name: p.stat().st_mtime_ns for p in folder.rglob("*") if p.is_file()}


def test_what_did_not_change_is_kept_and_what_changed_is_drawn_anew(made):
    study, settings = made
    before = {name: _times(study.charts / name) for name in ("soaking", "ñandú soak")}
    drawing = study.estimates / "soaking" / "swelling.json"
    points = json.loads(drawing.read_text(encoding="utf-8"))
    points["points"][0]["uptake"] = 3.0
    drawing.write_text(json.dumps(points), encoding="utf-8")
    report.run(study, settings)
    assert _times(study.charts / "ñandú soak") == before["ñandú soak"]
    assert _times(study.charts / "soaking") != before["soaking"]


def test_an_experiment_that_left_the_study_leaves_the_report(made):
    study, settings = made
    for file in (study.checked / "soaking").iterdir():
        file.unlink()
    (study.checked / "soaking").rmdir()
    report.run(study, settings)
    assert not (study.charts / "soaking").exists()
    assert not (study.pages / "experiments" / "soaking.md").exists()


def test_the_site_has_its_downloads_and_nothing_for_a_server(made):
    study, settings = made
    publish.run(study, settings)
    names = {p.relative_to(study.site).as_posix() for p in study.site.rglob("*")}
    assert "data/ñandú soak/raw/weighings.csv" in names
    assert "data/soaking/estimates/swelling_seeds.csv" in names
    assert not [n for n in names if n.endswith((".map", "404.html", ".key", "/key"))]
    assert not [n for n in names if n.startswith("sitemap")]


def test_a_table_brings_its_file_and_the_meaning_of_its_columns(made):
    page, dictionary = _page(made[0]), _page(made[0], "dictionary")
    for file, columns in (("swelling", "estimates"), ("swelling_seeds", "swelling-seeds")):
        assert f'href="../data/soaking/estimates/{file}.csv" download' in page
        assert f'href="../dictionary.html#{columns}"' in page
        assert f"{{ #{columns} }}" in dictionary
    assert "One row is one seed." in page


def test_a_column_that_nobody_described_ends_the_run(tmp_path, swelling):  # noqa: ARG001
    row = {"seed": "s1", "p_impermeable": 0.5}
    fit._write(tmp_path, "swelling", Fit((), {}, {"seeds": [row]}))
    assert (tmp_path / "swelling_seeds.csv").read_text() == "seed,p_impermeable\ns1,0.5\n"
    with pytest.raises(ValueError, match="colour"):
        fit._write(tmp_path, "swelling", Fit((), {}, {"seeds": [{**row, "colour": "brown"}]}))


def test_the_methods_are_those_of_this_run(made):
    study, settings = made
    page = _page(study, "methods").replace("\N{NO-BREAK SPACE}", " ")
    assert "Intervals are 95 % intervals." in page
    assert "(Bonferroni, 95 % together)" in page
    assert "## Swelling { #swelling }" in page
    assert "## Imbibition" not in page
    assert 'href="#source-invented-1901"' in page
    assert "<math" in page
    report.run(study, settings.model_copy(update={"confidence": 0.9}))
    page = _page(study, "methods").replace("\N{NO-BREAK SPACE}", " ")
    assert "Intervals are 90 % intervals; how often they hold the truth was counted at 95 %" in page
    assert "(Bonferroni, 90 % together)" in page


def test_the_methods_bring_entries_for_the_software_and_each_source(made):
    study, settings = made
    entries = (study.pages / "sources.bib").read_text(encoding="utf-8")
    for key in ("@software{hilum,", "@misc{invented-1901,", "@article{wilson-1927,"):
        assert key in entries
    publish.run(study, settings)
    shown = (study.site / "methods.html").read_text(encoding="utf-8")
    block = html.unescape(re.search(r"<pre class=.entries.*?<code>(.*?)</code>", shown, re.S)[1])
    assert block.strip() == entries.strip()
    assert (study.site / "sources.bib").read_text(encoding="utf-8") == entries


def test_an_estimate_leads_to_the_raw_lines_it_came_from(made):
    page = _page(made[0])
    estimates, rows = page.split("## Rows behind the figures")
    place = re.search('<a href="#(rows-[^"]+)">rows</a>', estimates)[1]
    assert f'<span id="{place}">dune' in rows
    assert ">2 to 5</td>" in rows
    assert 'href="../data/soaking/raw/weighings.csv" download>weighings.csv' in rows
    assert 'href="../data/lots.csv" download' in rows
    assert 'href="data/soaking/raw/weighings.csv" download' in _page(made[0], "provenance")


def test_a_confidence_that_is_not_the_one_of_the_run_stands_beside_its_interval(made):
    study, settings = made
    other = "At 95\N{NO-BREAK SPACE}% confidence"
    assert other not in _page(study)
    report.run(study, settings.model_copy(update={"confidence": 0.9}))
    assert f"{other}. two temperatures below 15\N{NO-BREAK SPACE}°C" in _page(study)


def _links(page):
    for link in re.findall(r'(?:href|src|data-script)="([^"]+)', page.read_text(encoding="utf-8")):
        assert not re.match(r"[a-z]+:", link), f"{page.name} leads to the net: {link}"
        path, _, anchor = unquote(html.unescape(link)).partition("#")
        yield (page.parent / path if path else page), anchor


def test_every_link_of_the_site_leads_somewhere(made):
    study, settings = made
    publish.run(study, settings)
    for page in study.site.rglob("*.html"):
        for target, anchor in _links(page):
            assert target.exists(), f"{page.name} leads nowhere: {target}"
            if anchor:
                there = f'id="{anchor}"' in target.read_text(encoding="utf-8")
                assert there, f"{page.name}: {target.name} has no {anchor}"


def test_the_last_good_site_survives_a_failed_build(made):
    study, settings = made
    publish.run(study, settings)
    good = _times(study.site)
    with (study.pages / "index.md").open("a", encoding="utf-8") as home:
        home.write("\n[nowhere](nowhere.md)\n")
    with pytest.raises(SystemExit):
        publish.run(study, settings)
    assert _times(study.site) == good
    assert [p.name for p in study.results.glob(".docs*")] == []


def test_a_run_killed_while_it_swapped_loses_nothing(made):
    study, settings = made
    publish.run(study, settings)
    good = _times(study.site)
    study.site.rename(study.site.with_name(".site.old"))
    (study.pages / "index.md").write_text("[nowhere](nowhere.md)", encoding="utf-8")
    with pytest.raises(SystemExit):
        publish.run(study, settings)
    assert _times(study.site) == good


ELSEWHERE = """
import sys
from pathlib import Path
sys.path.insert(0, sys.argv[1])
from tests import nursery
from hilum import commit
from hilum.steps import publish, report
folder = Path(sys.argv[2])
commit.of_code = lambda: "one"
nursery.register(nursery.swelling(folder / "analyses"))
made = nursery.study(folder)
report.run(*made)
publish.run(*made)
"""


def _hashes(folder):
    files = sorted(p for p in folder.rglob("*") if p.is_file())
    return {
        p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest() for p in files
    }


def test_one_commit_gives_the_same_bytes_in_another_folder_time_zone_and_locale(
    made, tmp_path, monkeypatch
):
    study, settings = made
    monkeypatch.setattr(commit, "of_code", lambda: "one")
    report.run(study, settings)
    publish.run(study, settings)
    other = tmp_path / "somewhere else"
    place = {"TZ": "Asia/Kathmandu", "LC_ALL": "C", "PYTHONHASHSEED": "7"}
    repository = Path(__file__).parent.parent
    subprocess.run(
        [sys.executable, "-c", ELSEWHERE, str(repository), str(other)],
        env=os.environ | place,
        check=True,
    )
    again = _hashes(other / "results" / "nursery")
    mine = _hashes(study.results)
    # the key also names the code of the analyses, whose folder is another one
    different = {n for n in mine if mine[n] != again.get(n)}
    assert mine.keys() == again.keys()
    assert different == set()


def test_many_experiments_are_reached_from_home_and_not_listed_at_the_side(made, monkeypatch):
    study, settings = made
    monkeypatch.setattr(publish, "LISTED", 1)
    publish.run(study, settings)
    home = (study.site / "index.html").read_text(encoding="utf-8")
    assert 'class="md-nav__link"' in home
    assert not re.search(r'href="experiments/soaking.html" class="md-nav__link', home)
    assert 'href="experiments/soaking.html' in home


def test_a_picture_has_the_same_bytes_whatever_was_drawn_before():
    line = {"mark": {"type": "line", "clip": True}, "data": {"values": [{"x": 1}, {"x": 2}]}}
    spec = {**line, "encoding": {"x": {"field": "x"}, "y": {"field": "x"}}}
    first, second = render.picture(spec), render.picture(spec)
    assert 'id="clip1"' in first
    assert first == second

"""How a run and its sources are cited: from CITATION.cff and the sources' own texts, nothing added."""

import re
import subprocess
import tomllib
from importlib.metadata import version
from pathlib import Path

import pytest
import yaml

from hilum import analyses, commit
from hilum.analyses import Source
from hilum.diagnosis import about as diagnosing
from hilum.report import citing, pages
from hilum.report.titles import TITLES
from hilum.settings import Settings
from hilum.study import CITATION

CFF = yaml.safe_load(CITATION.read_text(encoding="utf-8"))
SOURCES = [s for name in analyses.names() for s in analyses.describe(name).sources]
SOURCES += diagnosing.SOURCES


def test_an_article_keeps_what_its_text_says_and_gets_nothing_more():
    source = Source(
        key="Invented 2006",
        text="Ranal M.A., Santana D.G. de (2006). Revista Brasileira de Botânica 29:1–11: indices.",
        doi="10.1/x_y",
        from_memory="",
    )
    assert citing.bibtex(source) == (
        "@article{invented-2006,\n"
        "  author = {Ranal, M.A. and Santana, D.G. de},\n"
        "  year = {2006},\n"
        "  journal = {Revista Brasileira de Botânica},\n"
        "  volume = {29},\n"
        "  pages = {1--11},\n"
        "  note = {indices},\n"
        "  doi = {10.1/x\\_y},\n"
        "}"
    )


def test_a_text_that_is_no_article_stands_as_it_is():
    text = "Code of Federal Regulations, title 7 & more."
    made = citing.bibtex(Source(key="7 CFR", text=text, from_memory=""))
    assert made == "@misc{7-cfr,\n  note = {Code of Federal Regulations, title 7 \\& more.},\n}"


@pytest.mark.parametrize("source", SOURCES, ids=lambda s: s.key)
def test_each_source_of_an_analysis_is_read_in_full(source):
    made = citing.bibtex(source)
    if "Code of Federal Regulations" in source.text:
        return
    assert made.startswith("@article{")
    year = re.search(r"\d{4}$", source.key).group()
    assert f"year = {{{year}}}" in made
    authors = re.search(r"author = {(.*)}", made).group(1).split(" and ")
    assert all(re.fullmatch(r"[^,]+, \w\..*", author) for author in authors), authors


def test_what_of_a_source_nobody_looked_up_is_known_to_developers_and_not_printed():
    told = Source(key="A 1", text="A B. (1981). C 2:3–4: limits.", from_memory="pages")
    assert citing.reference(told) == "A B. (1981). C 2:3–4: limits."
    assert "note = {limits}" in citing.bibtex(told)
    (once,) = citing.each_once([told, told])
    assert once.from_memory == "pages"
    equation = {s.key: s.from_memory for s in SOURCES if s.key.startswith("Ellis and Roberts")}
    assert equation == {
        "Ellis and Roberts 1980": "volume, pages, equation and constants",
        "Ellis and Roberts 1981": "volume, pages and constants",
    }
    # looked up: what has a DOI, and the law
    read = {s.key for s in SOURCES if not s.from_memory}
    assert read == {s.key for s in SOURCES if s.doi or "Code of Federal" in s.text}


def test_one_key_is_one_source():
    told = {}
    for source in SOURCES:
        where = source.text.split(": ")[0].rstrip(".")
        assert told.setdefault(source.key, where) == where


def test_a_source_of_several_analyses_stands_once_with_all_its_uses():
    told = ("B. (1). C 2:3–4: limits.", "B. (1). C 2:3–4.", "B. (1). C 2:3–4: a test.")
    sources = [Source(key="B", text=text) for text in told]
    once = citing.each_once([*sources, Source(key="A", text="A text.")])
    assert [s.text for s in once] == ["A text.", "B. (1). C 2:3–4: limits; a test."]


def test_a_release_is_cited_by_year_and_doi_and_anything_else_says_that_it_is_none():
    cff = {**CFF, "version": "1.2.3", "date-released": "2031-05-06", "doi": "10.1/abc"}
    released = citing.citation(cff, commit="a" * 40, released=True)
    assert released.text == (
        "The Hilum authors (2031). Hilum: a reproducible workflow for seed-dormancy trials. "
        "Version 1.2.3. doi:10.1/abc"
    )
    assert "note" not in released.bibtex
    changed = citing.citation(cff, commit=f"{'a' * 40}, with changes not committed", released=False)
    state = f"not a release: commit {'a' * 40}, with changes not committed"
    assert f"Version 1.2.3 ({state})." in changed.text
    assert f"note = {{N{state[1:]}}}" in changed.bibtex
    assert "2031" not in changed.text + changed.bibtex
    assert "10.1/abc" not in changed.text + changed.bibtex
    copied = citing.citation(cff, commit="not under version control", released=False)
    assert "(not a release: not under version control)" in copied.text


def test_people_and_groups_are_told_apart():
    cff = {
        **CFF,
        "authors": [{"family-names": "Inv Ented", "given-names": "A."}, {"name": "Group"}],
    }
    made = citing.citation(cff, commit="c", released=True)
    assert "author = {Inv Ented, A. and {Group}}" in made.bibtex


def test_citation_and_package_name_one_version():
    project = tomllib.loads((CITATION.parent / "pyproject.toml").read_text(encoding="utf-8"))
    assert CFF["version"] == project["project"]["version"] == version("hilum")


def _git(folder: Path, *words: str) -> None:
    who = ["-c", "user.name=nobody", "-c", "user.email=nobody@example.org"]
    subprocess.run(["git", "-C", str(folder), *who, *words], check=True, capture_output=True)


def test_only_the_tagged_commit_without_changes_is_a_release(tmp_path, monkeypatch):
    monkeypatch.setattr(commit, "SITE", tmp_path / "site")
    assert not commit.is_release()
    (tmp_path / "site").mkdir()
    page = tmp_path / "site" / "page"
    page.write_text("one")
    _git(tmp_path, "init")
    _git(tmp_path, "add", ".")
    _git(tmp_path, "commit", "-m", "one")
    assert not commit.is_release()
    _git(tmp_path, "tag", f"v{version('hilum')}")
    assert commit.is_release()
    page.write_text("two")
    assert not commit.is_release()


@pytest.mark.parametrize("name", analyses.names())
def test_a_method_is_told_with_the_settings_of_the_run(name):
    usual = Settings(study=".")
    other = Settings(
        study=".",
        confidence=0.9,
        equivalence_margin=0.15,
        dish_correlation_when_unknown=0.02,
        sowing_confidence=0.8,
        seedlings_wanted=(7,),
    )
    text = analyses.describe(name).method
    made = {s: re.sub(r"\s+", " ", pages.method(text, s)) for s in (usual, other)}
    for setting, told in TOLD.get(name, {}).items():
        for settings, words in zip((usual, other), told, strict=True):
            assert words in made[settings].replace("\N{NO-BREAK SPACE}", " "), setting
    assert "{{" not in made[other]


TOLD = {
    "time_course": {
        "equivalence_margin": ("a margin of 10 %", "a margin of 15 %"),
        "dish_correlation_when_unknown": ("correlation of 0.05 was", "correlation of 0.02 was"),
    },
    "temperature": {
        "sowing_confidence": ("with 95 % probability", "with 80 % probability"),
        "seedlings_wanted": ("number (10, 50, 100)", "number (7)"),
    },
    "imbibition": {"confidence": ("reaches 95 %, otherwise", "reaches 90 %, otherwise")},
    "scarification": {"dish_correlation_when_unknown": ("of 0.05 was", "of 0.02 was")},
}


def test_a_source_is_listed_with_its_title_where_that_is_known():
    known = Source(
        key="Wilson 1927",
        text="Wilson E.B. (1927). Journal of the American Statistical Association 22:209–212: limits.",
        doi="10.1/x",
        from_memory="",
    )
    assert citing.reference(known) == (
        "Wilson E.B. (1927). Probable inference, the law of succession, and statistical inference. Journal of the "
        "American Statistical Association 22:209–212: limits. doi:10.1/x"
    )
    title = "{{Probable inference, the law of succession, and statistical inference}}"
    assert f"  title = {title}," in citing.bibtex(known)
    other = Source(key="Nobody 1900", text="Nobody A. (1900). A Journal 1:2–3.")
    assert citing.reference(other) == other.text
    assert "title" not in citing.bibtex(other)


def test_every_title_belongs_to_a_source():
    cited = {s.key for name in analyses.names() for s in analyses.describe(name).sources}
    assert set(TITLES) <= cited

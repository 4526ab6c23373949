"""The site in a real browser, from a disk: nothing is fetched, charts live, nothing is cut off."""

import contextlib
import re
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest
from playwright.sync_api import expect, sync_playwright

from hilum.steps import publish, report
from tests import nursery

pytestmark = pytest.mark.browser
# What Chromium says of a request it gave up because the page was left, as a page's icon may be:
# no event of a page waits for it. A file that is missing gives another word, and is looked for.
LEFT = "net::ERR_ABORTED"
SWITCHES = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
PAGES = (
    "index",
    "experiments/soaking",
    "experiments/ñandú soak",
    nursery.LOT_PAGE,
    "seeds",
    "start",
    "glossary",
    "dictionary",
    "methods",
    "cautions",
    "settings",
    "provenance",
)


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    folder = tmp_path_factory.mktemp("a place with späces")
    analyses = nursery.swelling(folder / "analyses")
    nursery.register(analyses)
    study, settings = nursery.study(folder)
    report.run(study, settings)
    publish.run(study, settings)
    nursery.forget(analyses)
    return study.site


@pytest.fixture(scope="module")
def browser():
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=SWITCHES)
        yield chromium
        chromium.close()


def _on_disk(url):
    return Path(unquote(urlsplit(url).path)).exists()


@contextlib.contextmanager
def opened(browser, site, name, **options):
    """Open a page, and hold at the end that it asked for nothing off the disk and had no error."""
    context = browser.new_context(**options)
    page = context.new_page()
    asked, complaints = [], []
    page.on("request", lambda r: asked.append(r.url))
    page.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda e: complaints.append(str(e)))
    page.on("requestfailed", lambda r: complaints.append(r.url) if r.failure != LEFT else None)
    page.goto((site / f"{name}.html").as_uri())
    yield page
    context.close()
    assert [u for u in asked if u.startswith("file:") and not _on_disk(u)] == []
    assert [u for u in asked if not u.startswith(("file:", "data:", "blob:"))] == []
    assert complaints == []


def _all_charts(page):
    figures = page.locator("figure.chart")
    for i in range(figures.count()):
        figures.nth(i).scroll_into_view_if_needed()
        expect(figures.nth(i).locator(".chart-live svg")).to_be_visible()
    return figures.count()


@pytest.mark.parametrize("name", PAGES)
def test_every_page_opens_and_fits_its_screen(browser, site, name):
    with opened(browser, site, name, viewport={"width": 390, "height": 844}) as page:
        expect(page.locator("h1")).to_be_visible()
        _all_charts(page)
        fits = "document.documentElement.scrollWidth <= innerWidth"
        assert page.evaluate(fits)
        page.set_viewport_size({"width": 1280, "height": 844})
        # the drawer of the narrow page first slides away
        page.wait_for_function(fits)


def test_a_live_chart_takes_the_place_of_the_picture_and_shows_its_marks(browser, site):
    with opened(browser, site, "experiments/soaking") as page:
        assert _all_charts(page) == 2
        first = page.locator("figure.chart").first
        expect(first.locator(".chart-still")).to_be_hidden()
        assert first.locator(".mark-line path").count() == 3
        box = first.locator(".chart-live svg").bounding_box()
        assert box["width"] > 500
        name = first.locator(".chart-live").get_attribute("aria-label")
        assert name == "Uptake over soaking time, one line for each seed."


def test_a_chart_follows_the_width_of_its_window(browser, site):
    with opened(browser, site, "experiments/soaking") as page:
        _all_charts(page)
        page.set_viewport_size({"width": 500, "height": 800})
        chart = page.locator("figure.chart .chart-live svg").first
        page.wait_for_function("document.querySelector('.chart-live svg').clientWidth < 500")
        assert chart.bounding_box()["width"] <= 500


def test_the_figure_on_a_bar_shows_what_the_bar_shows(browser, site):
    with opened(browser, site, nursery.LOT_PAGE) as page:
        _all_charts(page)
        tip = page.locator("#vg-tooltip-element")
        figure = page.locator("figure.chart .chart-live .mark-text.role-mark text").first
        # the page's head would lie over it
        figure.evaluate("mark => mark.scrollIntoView({block: 'center'})")
        figure.hover()
        expect(tip).to_contain_text("what became of them")
        expect(tip).to_contain_text(figure.text_content())
        bars = page.locator("figure.chart .chart-live [aria-roledescription=bar]")
        said = [bars.nth(i).get_attribute("aria-label") for i in range(bars.count())]
        assert all(re.search(r"share: \d+\s%$", label) for label in said), said


def test_names_from_tables_stay_text(browser, site):
    for name in ("index", "experiments/soaking"):
        with opened(browser, site, name) as page:
            _all_charts(page)
            assert nursery.HOSTILE in page.locator("main").inner_text()
            assert "taken" not in page.title() or nursery.HOSTILE in page.title()
            assert page.locator("img[src='x'], a[href^='javascript']").count() == 0
    with opened(browser, site, "experiments/soaking") as page:
        _all_charts(page)
        page.locator(".chart-live .mark-symbol path").nth(1).hover()
        tip = page.locator("#vg-tooltip-element")
        expect(tip).to_contain_text("onerror")
        assert tip.locator("img").count() == 0


@pytest.mark.parametrize(("word", "hit"), [("imbibition", "How to read"), ("swelling", "Soaking")])
def test_search_finds_a_word_without_a_server(browser, site, word, hit):
    with opened(browser, site, "index") as page:
        page.locator("input.md-search__input").click()
        page.keyboard.type(word, delay=20)
        expect(page.locator(".md-search-result__list")).to_contain_text(hit)
        assert page.locator(".md-search-result__item img[src='x']").count() == 0


def test_the_palette_turns_charts_with_the_page(browser, site):
    ink = "getComputedStyle(document.querySelector('.chart-live .role-axis-label text')).fill"
    with opened(browser, site, "experiments/soaking", color_scheme="light") as page:
        _all_charts(page)
        light = page.evaluate(ink)
        page.locator("label[for=__palette_1]").click()
        expect(page.locator("body")).to_have_attribute("data-md-color-scheme", "slate")
        assert page.evaluate(ink) != light
        # and the space bar turns them back
        page.locator("#__palette_1").press(" ")
        expect(page.locator("body")).to_have_attribute("data-md-color-scheme", "default")
        assert page.evaluate(ink) == light
        assert page.evaluate("document.activeElement.id") == "__palette_0"


def test_pictures_and_files_can_be_taken_along(browser, site):
    with opened(browser, site, "experiments/soaking") as page:
        _all_charts(page)
        for label, ending in (("PNG", "swelling-curves.png"), ("Chart", "swelling-curves.vl.json")):
            with page.expect_download() as waited:
                page.locator("figure.chart button", has_text=label).first.click()
            assert waited.value.suggested_filename == ending
            assert waited.value.path().stat().st_size > 1000


def test_methods_are_copied_with_formulas_on_one_line(browser, site):
    copied = "document.addEventListener('copy', e => { window.copied = e.clipboardData.getData('text/plain') })"
    with opened(browser, site, "methods") as page:
        page.evaluate("navigator.clipboard.writeText = async (words) => { window.copied = words }")
        page.locator("button", has_text="Copy the text").click()
        expect(page.locator(".copy-here")).to_contain_text("Copied.")
        button = page.evaluate("window.copied")
        page.evaluate(copied)
        page.evaluate(
            "getSelection().selectAllChildren(document.querySelector('h2#swelling + .paste'))"
        )
        page.keyboard.press("Control+c")
        marked = page.evaluate("window.copied")
    for words in (button, marked):
        assert "Masses followed m(t) = m0 + a · t50 (Invented 1901)." in words
        assert "\\" not in words
        assert not [line for line in words.splitlines() if len(line) == 1]
    assert button.startswith("Data\n\nSeeds of ")


def test_without_scripts_the_still_picture_is_there(browser, site):
    with opened(browser, site, "experiments/soaking", java_script_enabled=False) as page:
        expect(page.locator(".chart-still").first).to_be_visible()


def test_paper_takes_the_still_picture_and_the_light_palette(browser, site):
    ground = "getComputedStyle(document.body).getPropertyValue('--md-default-bg-color')"
    with opened(browser, site, "experiments/soaking", color_scheme="dark") as page:
        _all_charts(page)
        dark = page.evaluate(ground)
        page.emulate_media(media="print", color_scheme="dark")
        assert page.evaluate(ground) == "#fff" != dark
        expect(page.locator(".chart-still").first).to_be_visible()
        expect(page.locator(".chart-live").first).to_be_hidden()


def test_on_paper_no_table_is_cut_off(browser, site):
    """Tables in an opened fold kept their height on paper, and their rows ran over what came below."""
    heights = (
        "[...document.querySelectorAll('details .scroll')].map(t => getComputedStyle(t).maxHeight)"
    )
    with opened(browser, site, "experiments/soaking") as page:
        assert "none" not in page.evaluate(heights)
        page.emulate_media(media="print")
        assert set(page.evaluate(heights)) == {"none"}


def test_an_opened_fold_runs_on_to_the_next_sheet(browser, site):
    """Folds were kept whole, and each sheet of a lot's page stayed half empty."""
    breaks = "[...document.querySelectorAll('details')].map(e => getComputedStyle(e).breakInside)"
    with opened(browser, site, "experiments/soaking") as page:
        page.emulate_media(media="print")
        assert set(page.evaluate(breaks)) == {"auto"}


# where a dash of a line begins, near its middle: a click in a gap falls through
IN_A_DASH = """(line) => {
  const period = line.getAttribute("stroke-dasharray").split(",").reduce((sum, part) => sum + +part, 0);
  const along = Math.floor(line.getTotalLength() / 2 / period) * period + period / 8;
  const at = line.getPointAtLength(along).matrixTransform(line.getScreenCTM());
  return [at.x, at.y];
}"""


def test_seeds_are_filtered_and_chosen_in_the_table_and_in_the_chart(browser, site):
    with opened(browser, site, "seeds") as page:
        chart = page.locator("figure.chart.is-live")
        chart.wait_for()
        rows = page.locator(".seeds tbody tr")
        expect(rows).to_have_count(4)  # two seeds in each of two experiments
        expect(rows.first).to_contain_text("<img src=x")  # a hostile name stays text
        page.locator(".filters").get_by_label("search").fill("s2")
        expect(rows).to_have_count(2)
        page.locator(".filters").get_by_label("search").fill("")
        lines = chart.locator("g.mark-line path[aria-roledescription]")
        widths = lambda: {e.get_attribute("stroke-width") for e in lines.all()}  # noqa: E731
        assert widths() == {"1.4"}
        rows.nth(1).hover()
        expect(chart.locator("path[stroke-width='4']")).to_have_count(1)
        page.mouse.move(0, 0)
        lines.first.scroll_into_view_if_needed()
        page.mouse.click(*lines.first.evaluate(IN_A_DASH))
        expect(rows).to_have_count(1)
        page.get_by_role("button", name="all seeds").click()
        expect(rows).to_have_count(4)


def test_the_choice_of_seeds_stands_in_the_address_and_a_seed_leads_to_its_raw_lines(browser, site):
    with opened(browser, site, "seeds") as page:
        words, rows = (
            page.locator(".filters").get_by_label("search"),
            page.locator(".seeds tbody tr"),
        )
        words.fill("s2")
        expect(rows).to_have_count(2)
        page.reload()
        expect(words).to_have_value("s2")
        expect(rows).to_have_count(2)
        page.goto(rows.first.locator("a").evaluate("(link) => link.href"))
        assert page.evaluate("document.querySelector(':target').textContent").startswith("dune")


def test_seeds_stand_on_the_page_without_scripts(browser, site):
    with opened(browser, site, "seeds", java_script_enabled=False) as page:
        expect(page.locator(".seeds tbody tr")).to_have_count(4)
        expect(page.locator("img.chart-still")).to_be_visible()

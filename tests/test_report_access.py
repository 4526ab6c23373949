"""The demo's report for people who read it by ear, by keyboard, or in either palette."""

from importlib.resources import files

import pytest
from playwright.sync_api import expect, sync_playwright

pytestmark = pytest.mark.browser
# axe-core's rules of WCAG 2.2 and good practice
AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def browser():
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(
            executable_path="/usr/bin/chromium", args=["--no-sandbox", "--disable-gpu"]
        )
        yield chromium
        chromium.close()


def _pages(site):
    return sorted(p.relative_to(site) for p in site.rglob("*.html"))


@pytest.mark.parametrize(
    ("palette", "width", "rules"),
    # the palettes differ in their colours alone
    [("light", 1280, {}), ("dark", 390, {"runOnly": ["color-contrast", "link-in-text-block"]})],
)
def test_axe_finds_nothing_on_any_page_and_none_scrolls_sideways(
    browser, demo, palette, width, rules
):
    site = demo / "results/strandline/site"
    context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=palette)
    found = []
    for name in _pages(site):
        page = context.new_page()
        page.goto((site / name).as_uri())
        page.evaluate("for (const d of document.querySelectorAll('details')) d.open = true")
        for figure in page.locator("figure.chart").all():
            figure.scroll_into_view_if_needed()
            expect(figure).to_have_class("chart is-live")
        page.evaluate(AXE)
        faults = page.evaluate("(rules) => axe.run(rules).then((seen) => seen.violations)", rules)
        found += [(str(name), f["id"], f["nodes"][0]["html"][:120]) for f in faults]
        if not page.evaluate("document.documentElement.scrollWidth <= innerWidth"):
            found.append((str(name), "scrolls sideways", ""))
        page.close()
    context.close()
    assert found == []


def test_without_scripts_and_on_paper_every_figure_has_its_picture_caption_and_numbers(
    browser, demo
):
    site = demo / "results/strandline/site"
    # the width of a sheet of A4 at 96 px to the inch
    context = browser.new_context(
        viewport={"width": 794, "height": 1123}, java_script_enabled=False
    )
    page = context.new_page()
    for name in (n for n in _pages(site) if n.parent.name in ("experiments", "lots", "")):
        page.goto((site / name).as_uri())
        for figure in page.locator("figure.chart").all():
            still = figure.locator("img.chart-still")
            expect(still).to_be_visible()
            assert still.evaluate("(img) => img.decode().then(() => img.naturalWidth)") > 100
            assert len(still.get_attribute("alt")) > 20
            assert figure.locator("figcaption").inner_text().count(".") >= 1
            ends = [a.get_attribute("href")[-4:] for a in figure.locator("a[download]").all()]
            assert ends[:2] == [".svg", ".csv"]
            # a table that is too long for the page leads to its file once more
            assert set(ends[2:]) <= {".csv"}
            assert figure.locator("details tbody tr").count() > 0
        page.emulate_media(media="print")
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), name
        page.emulate_media(media="screen")
    context.close()


def test_the_keyboard_alone_reads_a_page(browser, demo):
    page = browser.new_page()
    page.goto((demo / "results/strandline/site/seeds.html").as_uri())
    page.locator("figure.chart.is-live").wait_for()
    names = []
    for _ in range(60):
        page.keyboard.press("Tab")
        name = page.evaluate(
            "(e => (e.getAttribute('aria-label') || e.textContent || e.tagName).trim().slice(0, 40))"
            "(document.activeElement)"
        )
        seen = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        names.append((name, seen))
    reached = {name for name, _ in names}
    assert not any("Initializing search" in name for name in reached)  # the list of hits is closed
    assert "Skip to content" in reached
    assert any("The numbers drawn" in name for name in reached)
    assert any(name.startswith("all") for name in reached)  # a filter
    page.close()


def test_curve_map_table_and_list_of_dishes_follow_each_other(browser, demo):
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.goto((demo / "results/strandline/site/experiments/temperatures.html").as_uri())
    figure = page.locator("#temperature-dishes")
    figure.scroll_into_view_if_needed()
    expect(figure).to_have_class("chart is-live")
    chosen, told = figure.locator("select"), figure.locator(".chart-live svg")
    figure.locator("summary").click()
    pressed = figure.locator("button.pick[aria-pressed=true]")
    # with the keyboard in the list: curve and table follow
    chosen.focus()
    page.keyboard.press("Home")
    expect(told).to_contain_text("t10-a: how many")
    expect(pressed).to_have_text("t10-a")
    # with the keyboard in the table: curve and list follow
    figure.get_by_role("button", name="t15-b").press("Enter")
    expect(told).to_contain_text("t15-b: how many")
    assert chosen.evaluate("(list) => list.selectedOptions[0].text") == "t15-b"
    # with the pointer on a map, and the pick outlives a change of the window's width
    figure.locator("g[class*=picks_number] path").nth(10).click()
    third = figure.locator("button.pick").nth(10).text_content()
    expect(told).to_contain_text(f"{third}: how many")
    page.set_viewport_size({"width": 390, "height": 900})
    page.wait_for_function("document.querySelector('#temperature-dishes svg').clientWidth < 400")
    expect(pressed).to_have_text(third)
    expect(told).to_contain_text(f"{third}: how many")
    page.close()


@pytest.mark.parametrize(
    ("words", "hit"), [("24-intact-01", "Seeds"), ("Fieller", "Methods"), ("drift-19", "drift-19")]
)
def test_search_finds_a_seed_a_method_and_a_lot(browser, demo, words, hit):
    page = browser.new_page()
    page.goto((demo / "results/strandline/site/index.html").as_uri())
    page.locator("input.md-search__input").click()
    page.keyboard.type(words, delay=20)
    expect(page.locator(".md-search-result__list")).to_contain_text(hit)
    page.close()


def test_home_and_lot_bring_the_caution_on_planting_out_where_sowings_are_told(demo):
    site = demo / "results/strandline/site"

    def warns(name):
        return "sowing and planting out" in (site / name).read_text(encoding="utf-8").lower()

    assert warns("index.html")
    assert warns("lots/drift-24.html")  # sown at temperatures, with the seeds to sow
    assert warns("experiments/temperatures.html")
    assert not warns("experiments/acid.html")


# what a study may grow to, and what a page may weigh before it reads slowly from a disk
EXPERIMENTS, SITE_MB, PAGE_KB = 50, 60, 300
# what a site has once, however many experiments
ONCE = ("assets", "calibration", "charts/vega.js", "index.html", "dictionary.html", "glossary.html")


def _bytes(place):
    return sum(p.stat().st_size for p in [place, *place.rglob("*")] if p.is_file())


def test_pages_are_light_and_a_study_of_fifty_experiments_keeps_to_its_size(demo):
    """The demo's experiments are of ordinary size; `python -m tests.bench.scale 50` builds such a study."""
    site = demo / "results/strandline/site"
    heavy = {
        p.name: p.stat().st_size for p in site.rglob("*.html") if p.stat().st_size > PAGE_KB * 1e3
    }
    assert heavy == {}
    once = sum(_bytes(site / name) for name in ONCE)
    each = (_bytes(site) - once) / len(list((site / "experiments").glob("*.html")))
    assert once + EXPERIMENTS * each < SITE_MB * 1e6

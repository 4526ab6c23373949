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
    ("palette", "rules"),
    # the palettes differ in their colours alone
    [("light", {}), ("dark", {"runOnly": ["color-contrast", "link-in-text-block"]})],
)
def test_axe_finds_nothing_on_any_page(browser, demo, palette, rules):
    site = demo / "results/strandline/site"
    context = browser.new_context(viewport={"width": 1280, "height": 900}, color_scheme=palette)
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
        page.close()
    context.close()
    assert found == []


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

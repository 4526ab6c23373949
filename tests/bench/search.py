"""How soon a search over a large site answers, opened from a disk: from the first key to the first hit."""

import time
from pathlib import Path

from playwright.sync_api import sync_playwright

WANTED_S = 2.0
WORD = "exp-0003"


def seconds(site: Path, word: str = WORD) -> float:
    """Return the seconds from the first key to the first hit that the reader sees, the reading of the index included."""
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(
            executable_path="/usr/bin/chromium", args=["--no-sandbox", "--disable-gpu"]
        )
        page = chromium.new_page()
        page.set_default_timeout(120_000)
        page.goto((site / "index.html").as_uri())
        page.locator("input.md-search__input").click()
        start = time.monotonic()
        page.keyboard.type(word)
        page.locator(".md-search-result__item", has_text=word).first.wait_for()
        took = time.monotonic() - start
        chromium.close()
    return took

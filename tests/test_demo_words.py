"""Words and numbers as the pages of the demo print them: one form everywhere, and nothing that is meant for developers."""

import html
import re
from pathlib import Path

import pytest

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

"""Formulas of a page, written in LaTeX by our own hand, as MathML and as text to copy; and figures that keep their units."""

from __future__ import annotations

import html
import re
from functools import cache

from latex2mathml.converter import convert
from markupsafe import Markup

from hilum.markup import ours
from hilum.report.plain_formulas import typed

# display formulas first; a dollar written by a person was made an entity before this is used
# and one may stand at the end of a line
_FORMULA = re.compile(r"\$\$([^$]+)\$\$|\$((?:[^$\n]|\n(?!\n))+)\$")

# a figure and its unit stay on one line; between them stands a space that does not break
_UNIT = re.compile(r"(?<=\d) (?=%|°C)")


@cache
def formula(latex: str, display: str = "inline") -> Markup:
    """Return a LaTeX formula as MathML, which browsers draw without a script, and as text, which is what is copied."""
    text = html.escape(typed(latex))
    made = convert(latex.strip(), display=display).replace("<math ", f'<math alttext="{text}" ', 1)
    # Markdown would take a star or an underscore inside it for emphasis
    plain = made.replace("*", "&#42;").replace("_", "&#95;").replace("\n", "")
    # and a formula at the start of a line for a block of its own, if it stood there bare
    return ours(plain if display == "block" else f'<span class="formula">{plain}</span>')


def formulas(markdown: str) -> Markup:
    """Return Markdown of our own with its `$…$` and `$$…$$` as MathML."""

    def drawn(match: re.Match[str]) -> str:
        block, inline = match.groups()
        return formula(block, "block") if block else formula(inline)

    return ours(_FORMULA.sub(drawn, markdown))


def unbroken(text: str) -> str:
    """Return a page's text in which no line breaks between a figure and its sign of per cent or degrees."""
    return _UNIT.sub("\N{NO-BREAK SPACE}", text)

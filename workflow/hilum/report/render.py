"""A figure as a reader gets it: a still picture first, the live chart in its place, the numbers below."""

from __future__ import annotations

import base64
import csv
import io
import json
import re
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

import vl_convert
from markupsafe import Markup

from hilum.figure import Figure
from hilum.markup import address, escape, slug
from hilum.report.grid import columns_of, of_rows
from hilum.report.letters import put_back, stand_ins
from hilum.report.theme import FONT, fitted, themed
from hilum.study import SITE

FONTS = SITE / "assets" / "fonts"


def specification(figure: Figure) -> dict[str, Any]:
    """Return the Vega-Lite specification of a figure with theme, width and text alternative."""
    return {**fitted(themed(figure.spec)), "description": figure.description}


def as_json(value: object) -> str:
    """Return JSON that is the same for the same content, and safe inside a script."""
    return json.dumps(value, sort_keys=True, allow_nan=False, separators=(",", ":"))


def script(key: str, spec: Mapping[str, Any]) -> str:
    """Return the small script that brings a chart's specification: a page from a disk cannot fetch."""
    return f"hilumChart({as_json(key)},{as_json(spec)});\n"


# an identifier where it is given, and where it is used
_COUNTED = re.compile(r'(?:(?<=id=")|(?<=url\(#)|(?<=href="#))(?:clip|gradient_)\d+')


@cache
def _face() -> str:
    font = base64.b64encode((FONTS / "HilumSans-Picture.woff2").read_bytes()).decode()
    source = f"url(data:font/woff2;base64,{font}) format('woff2')"
    return f"<style>@font-face{{font-family:'{FONT}';src:{source}}}</style>"


@cache
def _register_fonts() -> None:
    vl_convert.register_font_directory(str(FONTS))


def _counted_anew(svg: str) -> str:
    """Return the picture with its clips and gradients numbered from 1.

    They are counted over a whole process, so the bytes would depend on which pictures came before.
    """
    found = dict.fromkeys(_COUNTED.findall(svg))
    names = {old: f"{old.rstrip('0123456789')}{i}" for i, old in enumerate(found, start=1)}
    return _COUNTED.sub(lambda m: names[m.group()], svg)


def picture(spec: Mapping[str, Any]) -> str:
    """Return the figure as SVG that carries its own font, and so looks the same everywhere."""
    _register_fonts()
    svg = _counted_anew(_drawn(spec))
    head, rest = svg.split(">", 1)
    return f"{head}>{_face()}{rest}\n"


def _drawn(spec: Mapping[str, Any]) -> str:
    """Return the figure as SVG, measured with no other font than ours."""
    text = as_json(spec)
    # nearly every figure is plain
    names = stand_ins(json.dumps(spec, ensure_ascii=False)) if "\\u" in text else {}
    if not names:
        return vl_convert.vegalite_to_svg(dict(spec))
    within = "".join(names.get(c, c) for c in json.dumps(spec, ensure_ascii=False))
    return put_back(vl_convert.vegalite_to_svg(json.loads(within)), names)


def engine_runs() -> bool:
    """Return whether the engine that draws pictures was started in this process."""
    return _register_fonts.cache_info().currsize > 0


@cache
def library() -> str:
    """Return vega, vega-lite and vega-embed as one script that leaves only `hilumVega` behind."""
    _register_fonts()
    bundle = vl_convert.javascript_bundle("window.hilumVega = {vegaEmbed};")
    return f"(function () {{\n{bundle}\n}})();\n"


def library_key() -> str:
    """Return what the library depends on."""
    return f"vl-convert-python {version('vl-convert-python')}"


def as_csv(figure: Figure) -> str:
    """Return the numbers drawn as CSV, units in the names."""
    columns = columns_of(figure.rows)
    names = [f"{c} ({figure.units[c]})" if figure.units.get(c) else c for c in columns]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(names)
    writer.writerows([row.get(c, "") for c in columns] for row in figure.rows)
    return text.getvalue()


def write_csv(path: Path, rows: Sequence[Mapping[str, Any]]) -> None:
    """Write rows as CSV, all with the columns of the first."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def files(folder: Path, seen: Sequence[str], figure: Figure, analysis: str) -> Markup:
    """Write the files of one figure, and return it as page markup; `seen` is their folder as its page sees it."""
    key, spec = f"{analysis}-{figure.name}", specification(figure)
    for end, text in (("svg", picture(spec)), ("js", script(key, spec)), ("csv", as_csv(figure))):
        (folder / f"{key}.{end}").write_text(text, encoding="utf-8", newline="\n")
    return html(figure, seen, key)


# a number and the unit that a line end would part it from
_GAP = re.compile(r"(?<=\d) (?=(?:°C|%|h|d|min|mg)\b|%|°C)")


def _together(words: str) -> str:
    return _GAP.sub("\N{NO-BREAK SPACE}", words)


def html(figure: Figure, folder: Sequence[str], key: str) -> Markup:
    """Return the figure as it stands on a page; its files lie in `folder`, seen from that page."""
    files = {end: address(*folder, f"{key}.{end}") for end in ("svg", "js", "csv")}
    shown = figure.table or figure.rows
    numbers = of_rows(shown, figure.units, f"Numbers drawn: {figure.title}", files["csv"])
    pick = Markup(' data-pick="{}"').format(escape(figure.pick)) if figure.pick else Markup("")
    return Markup(
        '<figure class="chart" id="{anchor}" data-script="{js}" data-key="{key}"{pick}>'
        '<p class="chart-title">{title}</p>'
        '<div class="chart-view" tabindex="0" role="region" aria-label="{title}">'
        '<img class="chart-still" src="{svg}" alt="{description}"></div>'
        "<figcaption>{caption} "
        '<span class="downloads">Download: <a href="{svg}" download>SVG</a> · '
        '<a href="{csv}" download>CSV</a></span></figcaption>'
        '<details data-search-exclude="true"><summary>The numbers drawn</summary>{numbers}'
        "</details></figure>"
    ).format(
        anchor=slug(key),
        key=escape(key),
        title=escape(figure.title),
        description=escape(figure.description),
        caption=escape(_together(figure.caption)),
        numbers=numbers,
        pick=pick,
        **files,
    )

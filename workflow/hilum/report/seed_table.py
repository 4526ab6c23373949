"""The table of single seeds: its first rows stand on the page, all of them in a script that filters and turns pages."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict

from markupsafe import Markup

from hilum.markup import address, escape, ours
from hilum.report import grid, origin
from hilum.report.numbers import percent
from hilum.report.render import as_json
from hilum.seeds.rows import Seed

# what a page holds without scripts
SHOWN = 100
# the columns of seeds.csv
COLUMNS = {
    "experiment": "The folder of the experiment.",
    "seed": "The seed, as named in weighings.csv.",
    "lot": "The seed lot.",
    "treatment": "The treatment.",
    "hours": "Hours of soaking of its weighings, with spaces between; empty where it has no mass before soaking.",
    "uptake": "Uptake at those hours, % of the mass before soaking.",
    "floats": "F where it floated and S where it had sunk, look by look.",
    "fate": "What became of it, or the dish that it was sown in; empty where nobody looked.",
    "says": "What its own fate tells of the cause; the words of the glossary.",
    "p_impermeable": "Probability that no water got in by the last weighing, from 0 to 1.",
    "call": "impermeable or imbibed where that is as probable as the confidence asks, else uncertain.",
    "onset": "Hours at which water began to get in, with limits; empty where it may not have.",
}
# what the fates say, as it follows a number of seeds
_COUNTED = {
    "germinated": "germinated",
    "closed coat": "stayed behind a closed coat",
    "closed coat or dead seed": "let no water in, alive or dead",
    "water got in, not followed further": "took up water, with no later look",
    "another dormancy or conditions": "took up water and stayed alive without germinating",
    "dead seed": "dead, empty or damaged by insects or mould",
    "dead seed or harmed by the treatment": "dead, empty or damaged, perhaps by the treatment",
    "not told apart": "tell no cause",
}
_WIDTH, _HEIGHT = 84, 22  # of a small curve, in pixels
_STEP = 20.0  # of its upper edge, % of uptake


def _cells(seed: Seed, full: float) -> dict[str, Markup]:
    return {
        "seed": _name(seed),
        "lot": escape(seed.lot),
        "treatment": escape(seed.treatment),
        "uptake": curve(seed, full),
        "floats (F) or sinks (S)": escape(seed.floats),
        "fate": escape(seed.fate),
        "what it says": escape(seed.says),
        "P(impermeable)": escape(_chance(seed)),
        "water got in at (h)": escape(_onset(seed)),
    }


def _told(seeds: Sequence[Seed]) -> list[str]:
    """Return the columns in which any seed has an entry."""
    cells = [_cells(seed, _STEP) for seed in seeds]
    return [name for name in cells[0] if any(own[name] for own in cells)]


def highest(seeds: Sequence[Seed]) -> float:
    """Return the uptake at the upper edge of all small curves, %: no seed goes beyond it."""
    most = max((uptake for seed in seeds for uptake in seed.uptake), default=0.0)
    return _STEP * max(math.ceil(most / _STEP), 1)


def answer(seeds: Sequence[Seed]) -> str:
    """Return how many seeds came to each end, in one sentence."""
    says = [seed.says for seed in seeds]
    parts = [f"{says.count(name)} {words}" for name, words in _COUNTED.items() if name in says]
    many = f"{len(seeds)} seed{'s' if len(seeds) > 1 else ''}"
    return f"Of {many} of all lots and treatments: {'; '.join(parts)}."


def table(seeds: Sequence[Seed]) -> Markup:
    """Return the first rows as a table."""
    full = highest(seeds)
    left = len(seeds) - SHOWN
    note = f"{left} more seeds: turn the pages above, or download seeds.csv." if left > 0 else ""
    heads = _told(seeds)
    lines = (
        [cells[name] for name in heads] for cells in (_cells(seed, full) for seed in seeds[:SHOWN])
    )
    return grid.grid(heads, lines, "Seeds", note)


def _name(seed: Seed) -> Markup:
    page = address("experiments", f"{seed.experiment}.html")
    lines = origin.anchor(seed.lot, seed.treatment)
    return Markup('<a href="{}#{}">{}</a>').format(page, lines, escape(seed.seed))


def _chance(seed: Seed) -> str:
    return str(percent(float(seed.p_impermeable))) if seed.p_impermeable else ""


def _onset(seed: Seed) -> str:
    if not seed.onset.startswith("0 ("):
        return seed.onset
    # few weighings leave open whether it was late: the limits say so
    return seed.onset.replace("0 (0 to 0)", "from the start").replace("0 (", "from the start (")


def curve(seed: Seed, full: float) -> Markup:
    """Return the uptake of a seed as a small curve, from 0 to `full` %; empty where it was not weighed twice."""
    if len(seed.hours) < 2:
        return Markup("")
    last = max(seed.hours) or 1.0
    points = " ".join(
        f"{_WIDTH * hour / last:.0f},{_HEIGHT * (1 - min(max(uptake / full, 0), 1)):.0f}"
        for hour, uptake in zip(seed.hours, seed.uptake, strict=True)
    )
    return ours(
        f'<svg class="spark" viewBox="0 -1 {_WIDTH} {_HEIGHT + 2}" role="img" aria-label="to {seed.uptake[-1]:g} %">'
        f'<polyline points="{points}"/></svg> {seed.uptake[-1]:g} %'
    )


def script(seeds: Sequence[Seed], most: int) -> str:
    """Return the first rows, and no more than `most`, as a script: a page from a disk cannot fetch."""
    heads, full = _told(seeds), highest(seeds)
    rows = [
        {
            "key": f"{s.experiment}/{s.seed}",
            "lot": s.lot,
            "treatment": s.treatment,
            "says": s.says,
            "words": " ".join((s.seed, s.lot, s.treatment, s.fate, s.says)).lower(),
            "cells": [str(cells[name]) for name in heads],
        }
        for s in seeds[:most]
        for cells in [_cells(s, full)]
    ]
    return f"hilumSeeds({as_json(rows).replace('<', chr(92) + 'u003c')});\n"


def as_rows(seeds: Sequence[Seed]) -> list[dict[str, object]]:
    """Return all seeds as rows of a table to take along."""
    rows = []
    for seed in seeds:
        row = asdict(seed)
        row["hours"], row["uptake"] = (
            " ".join(f"{x:g}" for x in row[n]) for n in ("hours", "uptake")
        )
        rows.append(row)
    return rows

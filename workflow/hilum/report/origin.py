"""Which lines of the raw tables stand behind the figures of some seeds."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby

from markupsafe import Markup

from hilum.markup import address, escape, slug
from hilum.report import grid
from hilum.report.results import Row

# stretches of lines named in a cell; the file has them all
_SHOWN = 8
Group = tuple[str, str, str]  # lot, treatment, temperature


@dataclass(frozen=True)
class Behind:
    """The lines of each raw table, as a spreadsheet counts, that tell of one lot and treatment at one temperature."""

    lot: str
    treatment: str
    temperature: str
    lines: dict[str, list[int]] = field(default_factory=dict)


def behind(tables: Mapping[str, Sequence[Row]]) -> list[Behind]:
    """Return the raw lines of each group of seeds, from the checked tables of an experiment by name.

    A row belongs to the lot and treatment that it names itself, or to those of its dish or seed.
    """
    dishes = {row["dish"]: _named(row) for row in tables.get("dishes", ())}
    seeds = {row["seed"]: _named(row) for row in tables.get("weighings", ())}
    found: dict[Group, Behind] = {}
    for name, rows in tables.items():
        for row in rows:
            group = _group(row, dishes, seeds)
            if group:
                one = found.setdefault(group, Behind(*group))
                one.lines.setdefault(f"{name}.csv", []).append(int(row["line"]))
    return [found[group] for group in sorted(found, key=_order)]


def _named(row: Row) -> Group:
    return row["lot"], row.get("treatment", ""), row.get("temperature_c", "")


def _group(row: Row, dishes: Mapping[str, Group], seeds: Mapping[str, Group]) -> Group | None:
    # a measured specimen has a lot, but no treatment
    if row.get("lot") and row.get("treatment", "none"):
        return _named(row)
    return dishes.get(row.get("dish", "")) or seeds.get(row.get("seed", ""))


def _order(group: Group) -> tuple[str, str, float]:
    return group[0], group[1], float(group[2] or "-inf")


def anchors(found: Iterable[Behind]) -> dict[tuple[str, str], str]:
    """Return where the table tells of each lot and treatment; of names that read alike the later ones have a number."""
    keys = dict.fromkeys((one.lot, one.treatment) for one in found)
    # the heading of the table has the first
    taken = {anchor("", "")}
    told = {}
    for number, key in enumerate(keys, start=1):
        name = anchor(*key)
        told[key] = f"{name}--{number}" if name in taken else name
        taken.add(name)
    return told


def anchor(lot: str, treatment: str) -> str:
    """Return where the page of an experiment tells of the lines of a lot and treatment, for links from other pages."""
    return slug("rows", lot, treatment)


def table(found: Sequence[Behind], folder: Sequence[str]) -> Markup:
    """Return the table of all groups; `folder` holds the raw files, seen from the page."""
    files = sorted({file for one in found for file in one.lines})
    warm = any(one.temperature for one in found)
    treated = any(one.treatment for one in found)
    heads = [
        "lot",
        *(["treatment"] if treated else []),
        *(["temperature"] if warm else []),
        *(_link(folder, f) for f in files),
    ]
    lines = []
    places = anchors(found)
    for (lot, treatment), own in groupby(found, key=lambda one: (one.lot, one.treatment)):
        mark = Markup('<span id="{}">{}</span>').format(places[lot, treatment], escape(lot))
        for one in own:
            degrees = [escape(f"{one.temperature} °C" if one.temperature else "")] if warm else []
            cells = (_stretches(one.lines.get(file, ())) for file in files)
            what = [treatment] if treated else []
            lines.append([mark, *what, *degrees, *cells])
            mark = escape(lot)
    return grid.grid(heads, lines, "Lines of the raw tables")


def _link(folder: Sequence[str], file: str) -> Markup:
    return Markup('<a href="{}" download>{}</a>').format(address(*folder, file), escape(file))


def _stretches(lines: Sequence[int]) -> str:
    """Return lines as `2 to 37, 55`."""
    told = [f"{a} to {b}" if b > a else f"{a}" for a, b in _runs(sorted(lines))]
    more = f" and on, {len(lines)} lines" if len(told) > _SHOWN else ""
    return ", ".join(told[:_SHOWN]) + more


def _runs(lines: Sequence[int]) -> Iterator[tuple[int, int]]:
    # lines that follow on one another keep their distance to a count
    for _, run in groupby(enumerate(lines), key=lambda pair: pair[1] - pair[0]):
        own = [line for _, line in run]
        yield own[0], own[-1]

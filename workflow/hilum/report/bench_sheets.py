"""The sheets of a plan for the bench: what to fill, what to count on which day and where, as one HTML file to print."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from hilum.plan.asked.design import Plan
from hilum.plan.asked.experiments import Soaking
from hilum.plan.laid_out import sheets, weighed
from hilum.plan.laid_out.layout import Standing, confounded
from hilum.report.cautions import hazards_of
from hilum.report.words import FATES
from hilum.study import SITE
from hilum.tables import TABLES

# rows of a column and columns of a page, so that a sheet fits on A4 and on Letter
_COUNTS = (38, 2)
_SCORES = (38, 1)
_WEIGHINGS = (38, 2)
_FILLING = (38, 1)
_LABELS = 24
# not those of the machine's language
_WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)


@dataclass(frozen=True)
class Sheet:
    """One sheet of paper: `columns` are rows of cells side by side, `heads` what stands above each."""

    title: str
    about: str
    heads: Sequence[str]
    columns: Sequence[Sequence[Sequence[str]]]
    part: str = ""


def html(plan: Plan, standing: Sequence[Standing]) -> str:
    """Return the sheets of a plan as a page of its own, which needs no other file."""
    steps = [{"method": t.method, "agent": t.agent} for t in plan.by_name.values()]
    soakings = [e for e in plan.experiments if isinstance(e, Soaking)]
    days = _days(plan, standing)
    return (
        _environment()
        .get_template("sheets.html.jinja")
        .render(
            plan=plan,
            invented="invented" in plan.source.lower(),
            hazards=hazards_of(steps),
            confounded=confounded(plan, standing),
            words=list(_words(plan)),
            days=len(days),
            sheets=[
                *_filling(plan, standing),
                *_samples(plan),
                *(s for one in soakings for s in _weighings(plan, one)),
                *(s for day in days for s in _day(plan, day)),
            ],
            labels=list(_pages(_labels(plan, standing), _LABELS)),
        )
    )


@cache
def _environment() -> Environment:
    return Environment(
        loader=FileSystemLoader(SITE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


# what the boxes are for


def _words(plan: Plan) -> Iterator[tuple[str, str]]:
    """Yield the words of the boxes with what they mean, as the dictionary and the glossary have them."""
    for column in TABLES["counts"].columns:
        if column.name in ("germinated", "removed", "removed_as"):
            yield column.title, column.description
    used = {fate for one in plan.counted.values() for fate in sheets.FATES[one.ends_with]}
    for name, word in FATES.items():
        if name == "germinated" or used & {part.replace("-", "_") for part in name.split(", ")}:
            yield name, word.says
    if any(one.ends_with == "cutting" for one in plan.counted.values()):
        yield "alive", TABLES["outcomes"].column("alive").description


# days


@dataclass(frozen=True)
class _Day:
    """A day after the first sowing, and the dishes that are looked at, each with its days since its own sowing."""

    number: float
    date: date | None
    dishes: Sequence[tuple[Standing, float]]


def _days(plan: Plan, standing: Sequence[Standing]) -> list[_Day]:
    found: dict[float, list[tuple[Standing, float]]] = {}
    for dish in sheets.by_place(standing):
        for hour in plan.counted[dish.experiment].inspections.hours:
            day = round((dish.stored_d or 0.0) + hour / 24, 6)
            found.setdefault(day, []).append((dish, hour / 24))
    return [
        _Day(day, None if plan.sow_on is None else plan.sow_on + timedelta(days=day), dishes)
        for day, dishes in sorted(found.items())
    ]


def _called(number: float, on: date | None) -> str:
    return f"Day {number:g}{f', {_dated(on)}' if on else ''}"


def _dated(on: date) -> str:
    return f"{_WEEKDAYS[on.weekday()]} {on.day} {_MONTHS[on.month - 1]} {on.year}"


def _day(plan: Plan, day: _Day) -> Iterator[Sheet]:
    """Yield the sheets of a day: what to count, and for dishes that end what is left."""
    title = _called(day.number, day.date)
    rows = [(_where(dish), dish.dish, "", "", "") for dish, _ in day.dishes]
    yield from _sheets(
        title,
        "Count the seeds that germinated since the inspection before, write 0 where there were none, and take them out.",
        ("place", "dish", "germinated", "removed", "why"),
        rows,
        _COUNTS,
    )
    for ends, fates in sheets.FATES.items():
        ending = [
            dish
            for dish, at in day.dishes
            if (one := plan.counted[dish.experiment]).ends_with == ends
            and at == one.inspections.last_d
        ]
        alive = ("hard alive", "fresh alive") if ends == "cutting" else ()
        heads = ("place", "dish", *(fate.replace("_", " ") for fate in fates), *alive)
        rows_left = [(_where(d), d.dish, *("" for _ in heads[2:])) for d in ending]
        if fates and ending:
            how = "Press each seed" if ends == "scoring" else "Cut each hard and fresh seed"
            yield from _sheets(
                f"{title}: what is left",
                f"The last day of these dishes. {how}, and give every seed that is left one fate; 0 where there were none.",
                heads,
                rows_left,
                _SCORES,
            )


def _where(dish: Standing) -> str:
    return f"{dish.chamber} · shelf {dish.shelf} · {dish.position}"


def _bath(dish: Standing) -> str:
    return dish.batch.removeprefix(f"{dish.treatment} ")


# filling and weighing


def _filling(plan: Plan, standing: Sequence[Standing]) -> Iterator[Sheet]:
    """Yield the order in which dishes are filled, with what goes into each."""
    together: dict[tuple[str, float], list[Standing]] = {}
    for dish in standing:
        together.setdefault((dish.experiment, dish.stored_d or 0.0), []).append(dish)
    for (experiment, days), own in together.items():
        kept = f" after {days:g} days of storage" if days else ""
        on = None if plan.sow_on is None else plan.sow_on + timedelta(days=days)
        heads = ["dish", "lot", "treatment", "bath", "seeds", "place", "filled by, at"]
        rows = [[d.dish, d.lot, d.treatment, _bath(d), str(d.seeds), _where(d), ""] for d in own]
        if not any(d.batch for d in own):
            for row in (heads, *rows):
                del row[3]
        yield from _sheets(
            f"Filling the dishes of {experiment}{kept}{f', {_dated(on)}' if on else ''}",
            "Fill the dishes in this order, from the well-mixed lot, and put each to its place. The order was drawn: do not sort it.",
            heads,
            rows,
            _FILLING,
        )


def _weighings(plan: Plan, one: Soaking) -> Iterator[Sheet]:
    """Yield a sheet for each weighing, the dry one first, with the vessel that each seed is taken from."""
    seeds = weighed.seeds(plan, one)
    for hour in one.hours:
        title = "dry" if hour == 0 else f"after {hour:g} h in water"
        about = (
            "Number the seeds as they come out of the bag, weigh each dry, after its treatment and drying back."
            if hour == 0
            else "Take each seed out, blot it, weigh it, and put it back. Write the hour if it was another."
        )
        rows = [(s.seed, s.batch, "", "") for s in seeds]
        yield from _sheets(
            f"Weighing {one.experiment}, {title}",
            f"{about} The balance shows {one.balance_mg:g} mg.",
            ("seed", "vessel", "mass, mg", "radicle"),
            rows,
            _WEIGHINGS,
        )


def _samples(plan: Plan) -> Iterator[Sheet]:
    """Yield a sheet for viability tests, and one for samples that are dried."""
    tests = [test for own in sheets.viability(plan).values() for test in own]
    yield from _sheets(
        "Viability tests",
        "Test these samples of untreated seed before anything is done to the lot. Alive, dead and empty add up to the seeds tested.",
        ("sample", "method", "seeds", "alive", "dead", "empty"),
        [
            (*(str(t[c]).replace("_", " ") for c in ("sample", "method", "seeds")), "", "", "")
            for t in tests
        ],
        _SCORES,
    )
    yield from _sheets(
        "Moisture of the lots",
        "Weigh the empty container with its lid, then with the seeds, and again after drying and cooling in a desiccator.",
        ("lot", "sample", "container, g", "before drying, g", "after drying, g"),
        [(str(d["lot"]), str(d["sample"]), "", "", "") for d in sheets.moisture(plan)],
        _SCORES,
    )


# paper


def _pages(rows: Sequence[Any], size: int) -> Iterator[Sequence[Any]]:
    for start in range(0, len(rows), size):
        yield rows[start : start + size]


def _sheets(
    title: str,
    about: str,
    heads: Sequence[str],
    rows: Sequence[Sequence[str]],
    fits: tuple[int, int],
) -> Iterator[Sheet]:
    """Yield as many sheets as the rows need."""
    length, columns = fits
    papers = -(-len(rows) // (length * columns))
    # sheets and columns of the same length, so that none is left with a few rows
    even = -(-len(rows) // (papers * columns)) if papers else 1
    pages = list(_pages(list(_pages(rows, even)), columns))
    for number, page in enumerate(pages, 1):
        part = f"{number} of {len(pages)}" if len(pages) > 1 else ""
        yield Sheet(title, about, heads, page, part)


def _labels(plan: Plan, standing: Iterable[Standing]) -> list[Mapping[str, str]]:
    """Return what stands on the label of each dish: not its treatment, so that nobody counts what they expect."""
    return [
        {
            "dish": dish.dish,
            "place": _where(dish),
            "sown": sheets.sown_at(plan, dish)[:10],
        }
        for dish in standing
    ]

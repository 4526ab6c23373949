"""What is to be done at the bench: dishes to inspect, seeds to weigh, stored seeds to take out and sow.

A `Task` is a row that nobody filled in yet. An `Agenda` puts tasks together by what is done, experiment, day and place.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal

Kind = Literal["inspect", "weigh", "sow", "take from the store and sow"]


@dataclass(frozen=True, kw_only=True)
class Task:
    """One dish or seed and what is to be done with it: `at` in the time of its study, none where that is not known.

    `after` says how long after the beginning that is, `place` where the dish stands.
    """

    experiment: str
    kind: Kind
    name: str
    place: str
    after: str
    at: datetime | None


@dataclass(frozen=True, kw_only=True)
class Group:
    """Tasks that are done together: `names` of dishes or seeds at one place."""

    experiment: str
    kind: Kind
    place: str
    after: str
    at: datetime | None
    names: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Agenda:
    """Groups of tasks by when they are due; those `undated` have no known beginning."""

    today: date
    days: int
    overdue: tuple[Group, ...]
    now: tuple[Group, ...]
    coming: tuple[Group, ...]
    undated: tuple[Group, ...]
    later: int


def agenda(tasks: Iterable[Task], *, today: date, days: int) -> Agenda:
    """Return tasks by when they are due: of what is overdue the first miss of each, and what comes within `days`."""
    known = list(tasks)
    dated = [t for t in known if t.at is not None]
    last = today + timedelta(days=days)
    return Agenda(
        today=today,
        days=days,
        overdue=_grouped(_first([t for t in dated if _day(t) < today])),
        now=_grouped([t for t in dated if _day(t) == today]),
        coming=_grouped([t for t in dated if today < _day(t) <= last]),
        undated=_grouped(_first([t for t in known if t.at is None])),
        later=len([t for t in dated if _day(t) > last]),
    )


def _day(task: Task) -> date:
    assert task.at is not None  # noqa: S101
    return task.at.date()


def _first(tasks: Sequence[Task]) -> list[Task]:
    """Return the first task of each dish or seed, in the order given where there is no time."""
    found: dict[tuple[str, str, str], Task] = {}
    for task in tasks:
        key = task.experiment, task.kind, task.name
        before = found.setdefault(key, task)
        if task.at and before.at and task.at < before.at:
            found[key] = task
    return list(found.values())


def _grouped(tasks: Iterable[Task]) -> tuple[Group, ...]:
    found: dict[tuple[object, ...], list[Task]] = {}
    for task in tasks:
        key = task.experiment, task.kind, task.at, _by_number(task.place), task.after
        found.setdefault(key, []).append(task)
    made = [
        Group(
            experiment=own[0].experiment,
            kind=own[0].kind,
            place=own[0].place,
            after=own[0].after,
            at=own[0].at,
            names=tuple(sorted({t.name for t in own}, key=_by_number)),
        )
        for own in found.values()
    ]
    return tuple(sorted(made, key=_order))


def _order(group: Group) -> tuple[object, ...]:
    # zones differ between experiments: days first, then clock times
    when = "" if group.at is None else group.at.isoformat()
    place = _by_number(group.place)
    return when[:10], group.kind, group.experiment, when[10:], _by_number(group.after), place


def _by_number(name: str) -> tuple[tuple[int, str], ...]:
    """Return what sorts d2 before d10."""
    return tuple((int(p), "") if p.isdigit() else (-1, p) for p in re.split(r"(\d+)", name))


# in words


def lines(found: Agenda, *, clock: str) -> Iterator[str]:
    """Yield an agenda as text; `clock` is the zone of its hours."""
    yield f"{found.today:%A} {found.today} ({clock})"
    yield ""
    parts = (found.overdue, found.now, found.coming, found.undated)
    if not any(parts):
        yield _nothing(found)
        return
    if found.overdue:
        yield "Overdue"
        yield from _told(found.overdue, found.today)
        yield "  What was missed cannot be counted afterwards: look now, fill in the row of today, and take the rows of days on"
        yield "  which nobody looked out of the table."
        yield ""
    yield "Today" if found.now else "Nothing is due today."
    yield from _told(found.now, found.today)
    yield ""
    if found.coming:
        yield f"In the next {found.days} days" if found.days != 1 else "Tomorrow"
        yield from _counted(found.coming, found.today)
        yield ""
    if found.undated:
        yield "Next, at a time that no table tells"
        yield from _told(found.undated, found.today)
        yield ""
    if found.later:
        yield f"Later: {found.later} more rows to fill in."


def _nothing(found: Agenda) -> str:
    if found.later:
        return (
            f"Nothing is due today or in the next {found.days} days; {found.later} rows come later."
        )
    return "Nothing is due: every inspection and weighing that stands in the tables is filled in."


def _told(groups: Sequence[Group], today: date) -> Iterator[str]:
    head = ""
    for group in groups:
        new = f"  {_when(group, today)}{group.experiment}: {group.kind}, {group.after}"
        if new != head:
            yield new
        head = new
        many = f"{len(group.names)} {_noun(group, len(group.names))}"
        yield f"    {group.place}{': ' if group.place else ''}{many}: {', '.join(_runs(group.names))}"


def _counted(groups: Sequence[Group], today: date) -> Iterator[str]:
    """Yield a line for all that is done together: which dishes, stands in the lines of its own day."""
    many: dict[str, list[Group]] = {}
    for group in groups:
        head = f"  {_when(group, today)}{group.experiment}: {group.kind}, {group.after}"
        many.setdefault(head, []).append(group)
    for head, own in many.items():
        count = sum(len(group.names) for group in own)
        yield f"{head}: {count} {_noun(own[0], count)}"


def _noun(group: Group, count: int) -> str:
    noun, plural = ("seed", "seeds") if group.kind == "weigh" else ("dish", "dishes")
    return noun if count == 1 else plural


def _when(group: Group, today: date) -> str:
    if group.at is None:
        return ""
    day = group.at.date()
    if day == today:
        return f"{group.at:%H:%M}  "
    if day < today:
        late = (today - day).days
        return f"since {day}, {late} day{'s' if late > 1 else ''} ago  "
    return f"{day:%a} {day} {group.at:%H:%M}  "


def _runs(names: Sequence[str]) -> Iterator[str]:
    """Yield names, three and more in a row as one: `s1 to s9`."""
    start = 0
    while start < len(names):
        end = start
        while end + 1 < len(names) and _follows(names[end], names[end + 1]):
            end += 1
        if end - start >= 2:
            yield f"{names[start]} to {names[end]}"
        else:
            yield from names[start : end + 1]
        start = end + 1


def _follows(one: str, other: str) -> bool:
    a, b = (re.fullmatch(r"(.*?)(\d+)", name) for name in (one, other))
    return bool(a and b and a[1] == b[1] and int(b[2]) == int(a[2]) + 1)

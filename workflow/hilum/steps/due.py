"""`make due`: what is to be inspected, weighed or sown today, what is overdue, and what comes next.

`python -m hilum.steps.due config/config.yaml [day [days]]`. It reads raw tables as they stand: rows with a planned time in which
nothing was measured yet. It writes nothing, and a study with faults is told to `make check`.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np

from hilum import settings
from hilum.plan.running import due
from hilum.plan.running.due import Kind, Task
from hilum.settings import SettingsFault
from hilum.steps import benches
from hilum.steps.benches import Bench, Dish
from hilum.study import Study
from hilum.tables import awaited
from hilum.tables.ledger import Sheet
from hilum.visible import visible

_DAYS, _MOST_DAYS = 7, 1000
_YEARS = range(1900, 2101)
_DAY = 86400.0  # s
_HOURS_TOLD = 72.0  # up to here times since the beginning are told in hours


def run(study: Study, today: date | None = None, days: int = _DAYS) -> Iterator[str]:
    """Yield what is due at the study's bench; `today` is the day of its clocks where none is given."""
    found = list(benches.benches(study))
    zones = {bench.zone for bench in found if "counts" in bench.sheets}
    clock = next(iter(zones)) if len(zones) == 1 else UTC
    day = today or datetime.now(clock).date()
    first = _first_sowings(found)
    tasks = [task for bench in found for task in _tasks(bench, day, first)]
    yield from due.lines(due.agenda(tasks, today=day, days=days), clock=str(clock))
    for bench in found:
        yield from _unknown(bench)
        yield from _how_dated(bench, first)
    if any(sheet.torn or sheet.bad.any() for bench in found for sheet in bench.sheets.values()):
        yield "Some rows cannot be read, and may be due as well: run `make check`."


def _tasks(bench: Bench, today: date, first: _Sowings) -> Iterator[Task]:
    dishes = dict(benches.dishes(bench))
    if "counts" in bench.sheets:
        yield from _inspections(bench, bench.sheets["counts"], dishes, today)
    if "weighings" in bench.sheets:
        yield from _weighings(bench, dishes, first)


# dishes


def _inspections(
    bench: Bench, sheet: Sheet, dishes: dict[str, Dish], today: date
) -> Iterator[Task]:
    waiting = awaited.awaited(sheet)
    begun = {bench.text(sheet, "dish", row) for row in np.flatnonzero(~waiting).tolist()}
    rows: dict[str, list[float]] = {}
    for row in np.flatnonzero(waiting).tolist():
        name, hours = bench.text(sheet, "dish", row), _hours(bench, sheet, row)
        if name in dishes and not np.isnan(hours):
            rows.setdefault(name, []).append(hours)
    for name in rows.keys() - _scored(bench):
        dish, hours_ = dishes[name], rows[name]
        at = bench.moment(_starts(dish, dishes))
        if at is None:
            continue
        past = at.date() < today
        if name not in begun and not (past and dish.is_sown):
            yield _sowing(bench, name, dish, at)
        if dish.is_sown or not past:
            for hours in hours_:
                yield _task(bench, "inspect", name, dish.place, _after(hours), _later(at, hours))


def _scored(bench: Bench) -> set[str]:
    """Return the dishes whose seeds left over were scored: nobody looks at them any more."""
    sheet = bench.sheets.get("outcomes")
    if sheet is None:
        return set()
    rows = range(len(sheet.lines))
    return {
        bench.text(sheet, "dish", row)
        for row in rows
        if not np.isnan(bench.number(sheet, "seeds", row))
    }


def _hours(bench: Bench, sheet: Sheet, row: int) -> float:
    days = bench.number(sheet, "elapsed_d", row)
    return bench.number(sheet, "elapsed_h", row) if np.isnan(days) else 24 * days


def _later(at: datetime, hours: float) -> datetime:
    # a day is a day on the clock of the bench, also where summer time begins
    days, rest = divmod(hours, 24)
    return at + timedelta(days=days, hours=rest)


def _starts(dish: Dish, dishes: dict[str, Dish]) -> float:
    """Return when a dish is sown: as written, or so many days after fresh seeds like it."""
    if dish.is_sown or np.isnan(dish.stored_d):
        return dish.sown_at
    fresh = [
        d.sown_at - _DAY * np.nan_to_num(d.stored_d)
        for d in dishes.values()
        if d.alike == dish.alike and d.is_sown
    ]
    return min(fresh) + _DAY * dish.stored_d if fresh else float("nan")


def _sowing(bench: Bench, name: str, dish: Dish, at: datetime) -> Task:
    """Return the sowing of a dish."""
    stored = not np.isnan(dish.stored_d) and dish.stored_d > 0
    kind: Kind = "take from the store and sow" if stored else "sow"
    after = f"day {dish.stored_d:g} of storage" if stored else "day 0"
    return _task(bench, kind, name, dish.place, after, at)


# seeds


# when fresh seeds of a lot and treatment were first sown, in any experiment, in seconds since 1970
_Sowings = dict[tuple[str, str], float]


def _first_sowings(all_benches: Sequence[Bench]) -> _Sowings:
    """Return when fresh seeds of each lot and treatment were first sown in the study."""
    first: _Sowings = {}
    for dish in (dish for bench in all_benches for _, dish in benches.dishes(bench)):
        if dish.is_sown and not dish.stored_d > 0:
            seeds = (dish.alike[0], dish.alike[1])
            first[seeds] = min(first.get(seeds, dish.sown_at), dish.sown_at)
    return first


def _waiting(bench: Bench) -> Iterator[tuple[Sheet, int, float]]:
    """Yield the sheet, the row and the hours in water of each weighing to come."""
    sheet = bench.sheets["weighings"]
    for row in np.flatnonzero(awaited.awaited(sheet)).tolist():
        hours = bench.number(sheet, "soaked_h", row)
        if not np.isnan(hours):
            yield sheet, row, hours


def _wetted(
    bench: Bench, sheet: Sheet, row: int, dishes: dict[str, Dish], first: _Sowings
) -> float:
    """Return when a seed goes into the water: as its dish is sown, or without a dish as others of its lot and treatment are."""
    dish = bench.text(sheet, "dish", row)
    if dish:
        return dishes[dish].sown_at if dish in dishes else float("nan")
    seeds = (bench.text(sheet, "lot", row), bench.text(sheet, "treatment", row))
    return first.get(seeds, float("nan"))


def _weighings(bench: Bench, dishes: dict[str, Dish], first: _Sowings) -> Iterator[Task]:
    for sheet, row, hours in _waiting(bench):
        starts = _wetted(bench, sheet, row, dishes, first)
        after = "dry" if hours == 0 else f"after {hours:g} h in water"
        place = bench.text(sheet, "batch", row) or bench.text(sheet, "treatment", row)
        name = bench.text(sheet, "seed", row)
        yield _task(bench, "weigh", name, place, after, bench.moment(starts + 3600 * hours))


def _how_dated(bench: Bench, first: _Sowings) -> Iterator[str]:
    """Yield which seeds to be weighed name no dish, how their weighings were dated, or that they could not be."""
    if "weighings" not in bench.sheets:
        return
    dated, undated = set[str](), set[str]()
    for sheet, row, _ in _waiting(bench):
        if not bench.text(sheet, "dish", row):
            known = not np.isnan(_wetted(bench, sheet, row, {}, first))
            (dated if known else undated).add(bench.text(sheet, "seed", row))
    if dated:
        yield (
            f"{bench.name}: {_seeds(dated)} to be weighed, in no dish, are dated as if they went into the water when seeds of the same lot "
            "and treatment were first sown. Where that was another hour, count from it."
        )
    if undated:
        yield (
            f"{bench.name}: {_seeds(undated)} to be weighed, in no dish, cannot be dated: no seeds of the same lot and treatment have "
            "sown_at in a dishes.csv. Count from the hour at which they go into the water."
        )


def _seeds(names: set[str]) -> str:
    return f"{len(names)} seed{'' if len(names) == 1 else 's'}"


def _task(bench: Bench, kind: Kind, name: str, place: str, after: str, at: datetime | None) -> Task:
    return Task(experiment=bench.name, kind=kind, name=name, place=place, after=after, at=at)


def _after(hours: float) -> str:
    return f"{hours:g} h" if hours % 24 and hours <= _HOURS_TOLD else f"day {hours / 24:.4g}"


def _unknown(bench: Bench) -> Iterator[str]:
    """Yield which dishes have inspections to come, but no beginning to count from."""
    sheet, dishes = bench.sheets.get("counts"), dict(benches.dishes(bench))
    if sheet is None:
        return
    waiting = {
        bench.text(sheet, "dish", row) for row in np.flatnonzero(awaited.awaited(sheet)).tolist()
    }
    lacking = sorted(
        name
        for name in waiting - _scored(bench)
        if name in dishes and np.isnan(_starts(dishes[name], dishes))
    )
    if lacking:
        yield (
            f"{bench.name}: {len(lacking)} dish{'es' if len(lacking) > 1 else ''} with inspections to come cannot be dated: "
            "fill in sown_at in dishes.csv once they are sown."
        )


def _day(word: str) -> date:
    try:
        day = date.fromisoformat(word)
    except ValueError as error:
        raise SettingsFault(f"TODAY is {word}; write a day as 2026-12-01.") from error
    if day.year not in _YEARS:
        raise SettingsFault(f"TODAY is {word}; a day from {_YEARS[0]} to {_YEARS[-1]} was meant.")
    return day


def _number(word: str) -> int:
    if not word.isdecimal() or int(word) > _MOST_DAYS:
        raise SettingsFault(f"DAYS is {word}; write a whole number up to {_MOST_DAYS}.")
    return int(word)


def main(words: list[str]) -> int:
    """Return 0 whether or not something is due; else say what to change in the config file."""
    config, today, days = (*words, "", "")[:3]
    try:
        known = settings.load(Path(config))
        study = Study(raw=known.study, results=Path("results") / known.study.name)
        for line in run(study, _day(today) if today else None, _number(days or str(_DAYS))):
            print(visible(line))
    except SettingsFault as fault:
        print(fault, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

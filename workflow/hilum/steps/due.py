"""`make due`: what is to be inspected, weighed or sown today, what is overdue, and what comes next.

`python -m hilum.steps.due config/config.yaml [day [days]]`. It reads raw tables as they stand: rows with a planned time in which
nothing was measured yet. It writes nothing, and a study with faults is told to `make check`.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo
from pathlib import Path

import numpy as np

from hilum import settings
from hilum.plan.running import due
from hilum.plan.running.due import Kind, Task
from hilum.settings import SettingsFault
from hilum.steps import check
from hilum.study import Study
from hilum.tables import awaited, experiment, read, survey
from hilum.tables.ledger import Names, Sheet

_DAYS, _MOST_DAYS = 7, 1000
_DAY = 86400.0  # s
_HOURS_TOLD = 72.0  # up to here times since the beginning are told in hours


@dataclass(frozen=True)
class _Dish:
    """What dishes.csv says of a dish; times in seconds since 1970, nan where unknown."""

    place: str
    sown_at: float
    stored_d: float
    alike: tuple[str, ...]

    @property
    def is_sown(self) -> bool:
        """Return whether the day of sowing is written down."""
        return not np.isnan(self.sown_at)


@dataclass(frozen=True)
class _Bench:
    """The tables of one experiment and the zone of its clock times."""

    name: str
    zone: tzinfo
    sheets: dict[str, Sheet]
    names: Names

    def text(self, sheet: Sheet, column: str, row: int) -> str:
        """Return the text of a cell, empty where there is no such column."""
        return self.names.texts[int(sheet.columns[column][row])] if column in sheet.columns else ""

    def number(self, sheet: Sheet, column: str, row: int) -> float:
        """Return the number in a cell, nan where there is none."""
        return float(sheet.columns[column][row]) if column in sheet.columns else float("nan")

    def moment(self, seconds: float) -> datetime | None:
        """Return a time as the clock of the experiment shows it, None where it is not known."""
        return None if np.isnan(seconds) else datetime.fromtimestamp(round(seconds), self.zone)


def run(study: Study, today: date | None = None, days: int = _DAYS) -> Iterator[str]:
    """Yield what is due at the study's bench; `today` is the day of its clocks where none is given."""
    benches = list(_benches(study))
    zones = {bench.zone for bench in benches if "counts" in bench.sheets}
    clock = next(iter(zones)) if len(zones) == 1 else UTC
    day = today or datetime.now(clock).date()
    tasks = [task for bench in benches for task in _tasks(bench, day)]
    yield from due.lines(due.agenda(tasks, today=day, days=days), clock=str(clock))
    for bench in benches:
        yield from _unknown(bench)
    if any(sheet.torn or sheet.bad.any() for bench in benches for sheet in bench.sheets.values()):
        yield "Some rows cannot be read, and may be due as well: run `make check`."


def _benches(study: Study) -> Iterator[_Bench]:
    """Yield the experiments of a study."""
    found, names = survey.survey(study, check.shown(study.raw)), Names()
    for name, path in found.experiments.items():
        about, _ = experiment.read(path)
        zone = about and about.time_zone and experiment.zone(about.time_zone)
        sheets = {
            source.table.name: read.read(source, names, zone=zone or UTC)[0]
            for source in found.sources
            if source.experiment == name
        }
        yield _Bench(name, zone or UTC, sheets, names)


def _tasks(bench: _Bench, today: date) -> Iterator[Task]:
    dishes = dict(_dishes(bench))
    if "counts" in bench.sheets:
        yield from _inspections(bench, bench.sheets["counts"], dishes, today)
    if "weighings" in bench.sheets:
        yield from _weighings(bench, bench.sheets["weighings"], dishes)


def _dishes(bench: _Bench) -> Iterator[tuple[str, _Dish]]:
    sheet = bench.sheets.get("dishes")
    if sheet is None or "dish" not in sheet.columns:
        return
    for row in range(len(sheet.lines)):
        kinds = (bench.text(sheet, column, row) for column in ("lot", "treatment"))
        degrees = (bench.number(sheet, c, row) for c in ("temperature_c", "night_temperature_c"))
        yield (
            bench.text(sheet, "dish", row),
            _Dish(
                place=_place(bench, sheet, row),
                sown_at=bench.number(sheet, "sown_at", row),
                stored_d=bench.number(sheet, "stored_d", row),
                alike=(*kinds, *(f"{t:g}" for t in degrees)),
            ),
        )


def _place(bench: _Bench, sheet: Sheet, row: int) -> str:
    """Return where a dish stands: chamber and shelf, or at least its temperature."""
    told = [
        f"{column} {named}"
        for column in ("chamber", "shelf")
        if (named := bench.text(sheet, column, row))
    ]
    degrees = bench.number(sheet, "temperature_c", row)
    if not np.isnan(degrees) and not told:
        told.append(f"{degrees:g} °C")
    return ", ".join(told)


# dishes


def _inspections(
    bench: _Bench, sheet: Sheet, dishes: dict[str, _Dish], today: date
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


def _scored(bench: _Bench) -> set[str]:
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


def _hours(bench: _Bench, sheet: Sheet, row: int) -> float:
    days = bench.number(sheet, "elapsed_d", row)
    return bench.number(sheet, "elapsed_h", row) if np.isnan(days) else 24 * days


def _later(at: datetime, hours: float) -> datetime:
    # a day is a day on the clock of the bench, also where summer time begins
    days, rest = divmod(hours, 24)
    return at + timedelta(days=days, hours=rest)


def _starts(dish: _Dish, dishes: dict[str, _Dish]) -> float:
    """Return when a dish is sown: as written, or so many days after fresh seeds like it."""
    if dish.is_sown or np.isnan(dish.stored_d):
        return dish.sown_at
    fresh = [
        d.sown_at - _DAY * np.nan_to_num(d.stored_d)
        for d in dishes.values()
        if d.alike == dish.alike and d.is_sown
    ]
    return min(fresh) + _DAY * dish.stored_d if fresh else float("nan")


def _sowing(bench: _Bench, name: str, dish: _Dish, at: datetime) -> Task:
    """Return the sowing of a dish."""
    stored = not np.isnan(dish.stored_d) and dish.stored_d > 0
    kind: Kind = "take from the store and sow" if stored else "sow"
    after = f"day {dish.stored_d:g} of storage" if stored else "day 0"
    return _task(bench, kind, name, dish.place, after, at)


# seeds


def _weighings(bench: _Bench, sheet: Sheet, dishes: dict[str, _Dish]) -> Iterator[Task]:
    for row in np.flatnonzero(awaited.awaited(sheet)).tolist():
        hours, dish = (
            bench.number(sheet, "soaked_h", row),
            dishes.get(bench.text(sheet, "dish", row)),
        )
        if not np.isnan(hours):
            starts = float("nan") if dish is None else dish.sown_at
            after = "dry" if hours == 0 else f"after {hours:g} h in water"
            place = bench.text(sheet, "batch", row) or bench.text(sheet, "treatment", row)
            name = bench.text(sheet, "seed", row)
            yield _task(bench, "weigh", name, place, after, bench.moment(starts + 3600 * hours))


def _task(
    bench: _Bench, kind: Kind, name: str, place: str, after: str, at: datetime | None
) -> Task:
    return Task(experiment=bench.name, kind=kind, name=name, place=place, after=after, at=at)


def _after(hours: float) -> str:
    return f"{hours:g} h" if hours % 24 and hours <= _HOURS_TOLD else f"day {hours / 24:.4g}"


def _unknown(bench: _Bench) -> Iterator[str]:
    """Yield which dishes have inspections to come, but no beginning to count from."""
    sheet, dishes = bench.sheets.get("counts"), dict(_dishes(bench))
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
        return date.fromisoformat(word)
    except ValueError as error:
        raise SettingsFault(f"TODAY is {word}; write a day as 2026-12-01.") from error


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
            print(line)
    except SettingsFault as fault:
        print(fault, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

"""The bench of a study as its raw tables have it, read without a check: what is filled in, and what waits."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

import numpy as np

from hilum.steps import check
from hilum.study import Study
from hilum.tables import experiment, read, survey
from hilum.tables.ledger import Names, Sheet


@dataclass(frozen=True)
class Dish:
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
class Bench:
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


def benches(study: Study) -> Iterator[Bench]:
    """Yield the experiments of a study."""
    found, names = survey.survey(study, check.shown(study.raw)), Names()
    for name, data in found.experiments.items():
        about, _ = experiment.read(data)
        zone = about and about.time_zone and experiment.zone(about.time_zone)
        sheets = {
            source.table.name: read.read(source, names, zone=zone or UTC)[0]
            for source in found.sources
            if source.experiment == name
        }
        yield Bench(name, zone or UTC, sheets, names)


def dishes(bench: Bench) -> Iterator[tuple[str, Dish]]:
    """Yield the dishes of an experiment by name."""
    sheet = bench.sheets.get("dishes")
    if sheet is None or "dish" not in sheet.columns:
        return
    for row in range(len(sheet.lines)):
        kinds = (bench.text(sheet, column, row) for column in ("lot", "treatment"))
        degrees = (bench.number(sheet, c, row) for c in ("temperature_c", "night_temperature_c"))
        yield (
            bench.text(sheet, "dish", row),
            Dish(
                place=_place(bench, sheet, row),
                sown_at=bench.number(sheet, "sown_at", row),
                stored_d=bench.number(sheet, "stored_d", row),
                alike=(*kinds, *(f"{t:g}" for t in degrees)),
            ),
        )


def _place(bench: Bench, sheet: Sheet, row: int) -> str:
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

"""Temperatures that look like degrees Fahrenheit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from hilum.tables import groups
from hilum.tables.doubts.told import by_sheet, figures, named, remark
from hilum.tables.groups import Marks
from hilum.tables.ledger import Ledger, Rows
from hilum.tables.sentences import Fault

# seeds of no plant germinate above 45 °C, and no cabinet for them is set there; 50 °F are 10 °C
TOO_WARM_C = 45.0
# ageing on purpose is done up to 45 °C and for some days, seed that is kept lies below a warm room's 35 °C
STORE_C, AGEING_D = 35.0, 60.0
# warmest sensible bath or layer of each method, °C
_WARMEST: Mapping[str, float] = {
    "cold_moist": 20.0,
    "warm_moist": TOO_WARM_C,
    "acid": 60.0,
    "growth_regulator": TOO_WARM_C,
    "freeze_thaw": TOO_WARM_C,
    "hot_water": 100.0,
    "dry_heat": 200.0,
}


def fahrenheit(ledger: Ledger) -> Iterator[Fault]:
    """Yield each file with temperatures at which no seed germinates or is kept."""
    dishes = ledger["dishes"]
    for column in ("temperature_c", "night_temperature_c"):
        yield from _told(dishes, column, dishes[column] > TOO_WARM_C, "seeds germinate below 45 °C")
    for table in ("dishes", "viability"):
        rows = ledger[table]
        warm = rows["stored_at_c"] > STORE_C
        kept = warm & ((rows["stored_d"] > AGEING_D) | (rows["stored_at_c"] > TOO_WARM_C + 5))
        yield from _told(rows, "stored_at_c", kept, "seeds are kept cooler than that")
    steps = ledger["treatments"]
    limit = np.full(len(steps), np.inf)
    for method, warmest in _WARMEST.items():
        limit[steps["method"] == ledger.names.code(method)] = warmest
    yield from _told(
        steps, "temperature_c", steps["temperature_c"] > limit, "too warm for this method"
    )
    yield from _moved(ledger)
    yield from _logged(ledger["chamber_log"], "chamber")
    yield from _logged(ledger["temperature_courses"], "course")


def _told(rows: Rows, column: str, marked: Marks, why: str) -> Iterator[Fault]:
    for found in by_sheet(rows, marked & ~rows.bad):
        values = rows[column][found]
        says = (
            f"{column} has {figures(values.tolist())}, and {why}: degrees Fahrenheit? "
            f"{values[0]:.10g} °F are {(values[0] - 32) / 1.8:.1f} °C; the column holds °C"
        )
        yield remark(rows, found, says, f"fahrenheit {column}")


def _moved(ledger: Ledger) -> Iterator[Fault]:
    events = ledger["events"]
    moved = (events["event"] == ledger.names.code("moved")) & (events["to"] > 0)
    warm = np.zeros(len(events), dtype=bool)
    for row in np.flatnonzero(moved):
        text = events.text("to", row)
        warm[row] = text.replace(".", "", 1).isdigit() and float(text) > TOO_WARM_C
    for found in by_sheet(events, warm):
        says = f"dishes moved to {named([events.text('to', r) for r in found])}: degrees Fahrenheit? `to` holds °C"
        yield remark(events, found, says, "fahrenheit to")


def _logged(rows: Rows, column: str) -> Iterator[Fault]:
    """Yield the chambers and courses whose middle temperature is none at which seeds germinate."""
    known = np.flatnonzero(rows.given("temperature_c") & (rows[column] > 0))
    if not len(known) or not (rows["temperature_c"][known] > TOO_WARM_C).any():
        return
    middle = groups.medians(rows[column][known], rows["temperature_c"][known])
    warm = known[middle > TOO_WARM_C]
    if len(warm):
        names = named([rows.names.texts[c] for c in np.unique(rows[column][warm]).tolist()])
        says = (
            f"{column} {names} was at {np.median(middle[middle > TOO_WARM_C]):.1f} half of the time, where no seed "
            "germinates: degrees Fahrenheit? temperature_c holds °C"
        )
        yield Fault(file=rows.sheets[0].source.shown, says=says)

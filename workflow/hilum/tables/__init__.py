"""The raw tables: one file for each, and how they are read, checked, stored and explained.

Imported by the fit step for `checked` alone, so nothing here imports pandas or pandera but `schema`.
"""

from __future__ import annotations

from types import ModuleType

from hilum.tables import (
    chamber_log,
    counts,
    dishes,
    events,
    lots,
    moisture,
    outcomes,
    reference_traits,
    stages,
    temperature_courses,
    traits,
    treatments,
    viability,
    weighings,
)
from hilum.tables.column import Level, Table

# in the order in which a reader meets them
MODULES: tuple[ModuleType, ...] = (
    lots,
    treatments,
    chamber_log,
    temperature_courses,
    reference_traits,
    moisture,
    weighings,
    dishes,
    counts,
    outcomes,
    viability,
    events,
    stages,
    traits,
)
TABLES: dict[str, Table] = {module.TABLE.name: module.TABLE for module in MODULES}


def of(level: Level) -> tuple[Table, ...]:
    """Return the tables that lie in the study folder, or those that lie in an experiment's."""
    return tuple(table for table in TABLES.values() if table.level == level)

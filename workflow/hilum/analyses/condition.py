"""The one function that spells the condition of a dish; `condition` is a key in every table."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

STORAGE = ("stored_d", "stored_at_c", "stored_moisture_pct")


def number(value: float) -> str:
    """Return a number as people write it: `12.5`, `20`."""
    return f"{value:g}"


def _temperature_words(row: Mapping[str, float | str]) -> str:
    if np.isnan(float(row["night_temperature_c"])):
        return ""
    hours = float(row["warm_h"])
    warm = "" if np.isnan(hours) else f" ({number(hours)} h warm)"
    return f"nights at {number(float(row['night_temperature_c']))} °C{warm}"


def _storage_words(row: Mapping[str, float | str]) -> str:
    days = float(row["stored_d"])
    if np.isnan(days):
        return ""
    words = store(float(row["stored_at_c"]), float(row["stored_moisture_pct"]))
    return " ".join(part for part in (f"stored {number(days)} d", words) if part)


def store(at_c: float, moisture_pct: float) -> str:
    """Return what a store was like, nan where that is not known: `at 5 °C, 7 % moisture`."""
    parts = (
        "" if np.isnan(at_c) else f"at {number(at_c)} °C",
        "" if np.isnan(moisture_pct) else f"{number(moisture_pct)} % moisture",
    )
    return ", ".join(part for part in parts if part)


def spell(row: Mapping[str, float | str]) -> str:
    """Return the condition of one dish in words, empty where it is plain.

    `row` holds the columns of a checked dish; the parts come in a fixed order, so that the same
    condition is always the same text.
    """
    parts = (
        _temperature_words(row),
        str(row["light"]),
        f"on {row['medium']}" if row["medium"] else "",
        _storage_words(row),
    )
    return ", ".join(part for part in parts if part)


def of_dishes(dishes: Mapping[str, np.ndarray]) -> np.ndarray:
    """Return the condition of each dish, shape (dishes,), as text."""
    names = ("night_temperature_c", "warm_h", "light", "medium", *STORAGE)
    rows = zip(*(dishes[name] for name in names), strict=True)
    return np.array([spell(dict(zip(names, row, strict=True))) for row in rows], dtype=str)


def then(before: str, event: str, to: str) -> str:
    """Return the condition after something was done to a dish: what it was, and what was done.

    `event` is opened, moved, agent_added or light_given; a move into another temperature is told by the
    temperature itself, so `to` is empty there.
    """
    what = {
        "opened": "after opening",
        "moved": f"after a move to {to}" if to else "after a move",
        "agent_added": f"after adding {to}" if to else "after adding an agent",
        "light_given": f"after light ({to})" if to else "after light",
    }[event]
    return f"{before}, {what}" if before else what

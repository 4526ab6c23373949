"""Durations of treatments that look like another unit of time."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

import numpy as np

from hilum.tables.doubts.told import by_sheet, named, remark
from hilum.tables.groups import Floats, Ints
from hilum.tables.ledger import Ledger, Rows
from hilum.tables.sentences import Fault, quoted

MINUTES: Mapping[str, float] = {"s": 1 / 60, "min": 1.0, "h": 60.0, "d": 1440.0}
# least and most minutes of a step of each method, by common practice: half a minute in acid opens nothing, a day leaves nothing;
# moist layers lie for days to seasons
_USUAL: Mapping[str, tuple[float, float]] = {
    "acid": (1.0, 14 * 60.0),
    "hot_water": (0.03, 3 * 1440.0),
    "sandpaper": (0.0, 240.0),
    "cold_moist": (1440.0, 730 * 1440.0),
    "warm_moist": (720.0, 730 * 1440.0),
}
# where the longest soak in acid of a whole study is as short as this, its minutes may be hours
ALL_SHORT_MIN = 8.0
_UNITS = {
    "s": "s",
    "sec": "s",
    "second": "s",
    "seconds": "s",
    "m": "min",
    "min": "min",
    "mins": "min",
}
_UNITS |= {
    "minute": "min",
    "minutes": "min",
    "h": "h",
    "hr": "h",
    "hrs": "h",
    "hour": "h",
    "hours": "h",
}
_UNITS |= {"d": "d", "day": "d", "days": "d"}
_TIME = re.compile(
    rf"(\d+(?:\.\d+)?)[ _-]?({'|'.join(sorted(_UNITS, key=len, reverse=True))})(?![a-z])",
    re.IGNORECASE,
)
_NUMBER = re.compile(r"(?<![\d.])\d+(?:\.\d+)?")


def durations(ledger: Ledger) -> Iterator[Fault]:
    """Yield the steps of treatments that took hardly as long as is written."""
    steps = ledger["treatments"]
    unit = np.array([MINUTES.get(t, np.nan) for t in _texts(steps, "duration_unit")], dtype=float)
    took = np.where(steps.bad, np.nan, steps["duration"] * unit)
    unlike = _unlike_names(steps, took)
    odd = unlike | _beyond(ledger, took)
    short = (steps["method"] == ledger.names.code("acid")) & (took > 0)
    if short.any() and took[short].max() <= ALL_SHORT_MIN:
        odd |= short
    for found in by_sheet(steps, odd):
        texts = [f"{steps.text('treatment', r)}: {_typed(steps, r)}" for r in found.tolist()]
        why = "its name says another" if unlike[found].all() else "hardly a duration of its method"
        says = f"duration of {named(texts)}, {why}: seconds, minutes, hours or days? duration_unit says which"
        yield remark(steps, found, says, "duration")


def _texts(steps: Rows, column: str) -> list[str]:
    return [steps.names.texts[code] for code in steps[column].tolist()]


def _typed(steps: Rows, row: int) -> str:
    return f"{steps['duration'][row]:.10g} {steps.text('duration_unit', row)}"


def _beyond(ledger: Ledger, took: Floats) -> np.ndarray:
    steps = ledger["treatments"]
    odd = np.zeros(len(steps), dtype=bool)
    for method, (least, most) in _USUAL.items():
        own = (steps["method"] == ledger.names.code(method)) & (took > 0)
        odd |= own & ((took < least) | (took > most))
    return odd


def _unlike_names(steps: Rows, took: Floats) -> np.ndarray:
    """Return the steps of treatments whose name tells another duration, as acid-4h or, among acid-30 and acid-60, acid-240."""
    odd = np.zeros(len(steps), dtype=bool)
    told: list[tuple[Ints, bool]] = []
    for code in np.unique(steps["treatment"][took > 0]).tolist():
        own = np.flatnonzero((steps["treatment"] == code) & (took > 0))
        name = steps.names.texts[code]
        times = [float(n) * MINUTES[_UNITS[u.lower()]] for n, u in _TIME.findall(name)]
        if times:
            odd[own] = not np.isclose(took[own][:, None], times, rtol=0.02).any()
        elif numbers := [float(n) for n in _NUMBER.findall(name)]:
            told.append((own, bool(np.isclose(steps["duration"][own][:, None], numbers).any())))
    # a number without a unit is a duration where most names have it so
    agree = sum(fits for _, fits in told)
    if agree >= 2 and agree > len(told) / 2:
        for own, fits in told:
            odd[own] |= not fits and _sixty_off(steps, own)
    return odd


def _sixty_off(steps: Rows, own: Ints) -> bool:
    """Return whether the number in the name is the duration in another unit of time."""
    numbers = [float(n) for n in _NUMBER.findall(quoted(steps.text("treatment", own[0])))]
    ratio = steps["duration"][own][:, None] / np.array([n or np.nan for n in numbers])
    return bool(
        np.isclose(ratio[..., None], [1 / 1440, 1 / 60, 1 / 24, 24, 60, 1440], rtol=0.02).any()
    )

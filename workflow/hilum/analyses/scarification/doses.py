"""Which treatments are doses of one thing: those that differ in one number of one step."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

# each coat is opened by hand, which leaves the embryo alone (common practice, no source)
BY_HAND = frozenset({"chipping", "filing"})
_MINUTES = {"s": 1 / 60, "min": 1.0, "h": 60.0, "d": 1440.0}
_BY = {"duration": "duration", "concentration": "strength", "temperature_c": "temperature"}


@dataclass(frozen=True)
class Step:
    """One step of a treatment; nan and empty where nothing was said. Durations are in minutes, or in strokes."""

    method: str
    position: str
    agent: str
    concentration: float
    concentration_unit: str
    duration: float
    duration_unit: str
    temperature_c: float


@dataclass(frozen=True)
class Series:
    """Treatments that are doses of one thing: `doses` by treatment, in `unit`; `by` is the column that differs.

    `fixed` says the other numbers in words, for series that would have the same name without them.
    """

    method: str
    by: str
    unit: str
    doses: Mapping[str, float]
    fixed: str

    @property
    def name(self) -> str:
        """Return what the series is called on pages."""
        what = "strokes" if self.unit == "strokes" else _BY[self.by]
        return f"{self.method.replace('_', ' ')} by {what}"

    @property
    def quantity(self) -> str:
        """Return the name of its best dose."""
        return "best_duration" if self.unit == "min" else "best_dose"


def steps_of(table: Mapping[str, np.ndarray] | None) -> dict[str, tuple[Step, ...]]:
    """Return the steps of each treatment, in order, without those of method none."""
    found: dict[str, list[tuple[float, Step]]] = {}
    if table is None:
        return {}
    names = (*Step.__dataclass_fields__, "treatment", "step")
    for row in zip(*(table[name] for name in names), strict=True):
        *parts, treatment, number = row
        made = found.setdefault(str(treatment), [])
        step = Step(*parts)
        if step.method != "none":
            made.append((float(number), _in_minutes(step)))
    return {
        name: tuple(s for _, s in sorted(made, key=lambda m: m[0])) for name, made in found.items()
    }


def _in_minutes(step: Step) -> Step:
    scale = _MINUTES.get(step.duration_unit)
    if scale is None:
        return step
    return replace(step, duration=round(step.duration * scale, 9), duration_unit="min")


def untreated(steps: Mapping[str, Sequence[Step]]) -> set[str]:
    """Return the treatments that do nothing."""
    return {name for name, made in steps.items() if not made}


def by_hand(steps: Mapping[str, Sequence[Step]]) -> set[str]:
    """Return the treatments that open each coat by hand and do nothing else."""
    return {name for name, made in steps.items() if made and all(s.method in BY_HAND for s in made)}


def series_of(steps: Mapping[str, Sequence[Step]]) -> list[Series]:
    """Return every dose series of two or more doses above 0, in the order of their first treatments."""
    found: dict[tuple[object, ...], dict[str, float]] = {}
    for name, made in steps.items():
        for place, step in enumerate(made):
            for by in _BY:
                dose = float(getattr(step, by))
                if np.isnan(dose):
                    continue
                rest = [s if i != place else _without(s, by) for i, s in enumerate(made)]
                found.setdefault((place, by, *map(repr, rest)), {})[name] = dose
    made_of = [_series(steps, key, doses) for key, doses in found.items()]
    kept = [s for s in made_of if len({d for d in s.doses.values() if d > 0}) > 1]
    kept = [s for s in kept if min(s.doses.values()) >= 0]
    names = [s.name for s in kept]
    return [
        s if names.count(s.name) == 1 else replace(s, method=f"{s.method} ({s.fixed})")
        for s in kept
    ]


def _without(step: Step, by: str) -> Step:
    if by == "duration":
        return replace(step, duration=-1.0)
    if by == "concentration":
        return replace(step, concentration=-1.0)
    return replace(step, temperature_c=-1.0)


def _series(
    steps: Mapping[str, Sequence[Step]], key: tuple[object, ...], doses: Mapping[str, float]
) -> Series:
    place, by = int(str(key[0])), str(key[1])
    step = steps[next(iter(doses))][place]
    unit = {
        "duration": step.duration_unit,
        "concentration": step.concentration_unit,
        "temperature_c": "°C",
    }[by]
    parts = [step.agent, *(_words(step, column) for column in _BY if column != by)]
    return Series(step.method, by, unit, dict(doses), ", ".join(p for p in parts if p))


def _words(step: Step, column: str) -> str:
    value = float(getattr(step, column))
    unit = {
        "duration": step.duration_unit,
        "concentration": step.concentration_unit,
        "temperature_c": "°C",
    }[column]
    return "" if np.isnan(value) else f"{value:g} {unit}"

"""Dishes of a finished study that an experiment of a plan adds to: those with the same seeds, in the same place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from hilum.analyses.estimate import Tables
from hilum.analyses.scarification import doses
from hilum.plan.asked.design import Plan
from hilum.plan.asked.experiments import Courses, Doses, Experiment, Soaking, Temperatures

_COUNTED = "Dishes sown before are counted in over temperatures, over durations in minutes, and of treatments beside each other."


@dataclass(frozen=True, kw_only=True)
class SownAlike:
    """Dishes of the same seeds, after so many `minutes` of a treatment (0 for none) or `opened` by hand, and the baths that they came from."""

    minutes: float
    opened: bool
    dishes: int
    seeds: float
    baths: int


@dataclass(frozen=True)
class Said:
    """What is counted in, in a sentence, and whether that is anything."""

    says: str
    counted: bool


def at_temperatures(plan: Plan, tables: Tables | None, treatment: str) -> dict[float, int]:
    """Return the dishes of a treatment at each constant temperature that a finished experiment had."""
    if tables is None:
        return {}
    dishes = tables["dishes"]
    own = _own(plan, tables) & (dishes["treatment"] == treatment)
    degrees, many = np.unique(dishes["temperature_c"][own], return_counts=True)
    return {float(t): int(n) for t, n in zip(degrees, many, strict=True) if not np.isnan(t)}


def side_by_side(plan: Plan, one: Courses, tables: Tables | None) -> dict[str, int]:
    """Return the dishes of each planned treatment at the planned temperature that a finished experiment had."""
    found = {t: at_temperatures(plan, tables, t).get(one.temperature_c, 0) for t in one.treatments}
    return {treatment: many for treatment, many in found.items() if many}


def at_durations(plan: Plan, one: Doses, tables: Tables | None) -> tuple[SownAlike, ...]:
    """Return the dishes at the planned temperature after durations of the planned method, untreated, and opened by hand."""
    if tables is None:
        return ()
    dishes, steps = tables["dishes"], doses.steps_of(tables.get("treatments"))
    plain, by_hand = doses.untreated(steps), doses.by_hand(steps)
    own = _own(plan, tables) & (dishes["temperature_c"] == one.temperature_c)
    sown, found = dishes["treatment"][own].tolist(), []
    durations = _durations(one, steps, sown)
    for name in dict.fromkeys(sown):
        minutes = 0.0 if name in plain | by_hand else durations.get(name)
        if minutes is not None:
            rows = own & (dishes["treatment"] == name)
            baths = set(dishes["batch"][rows].tolist()) - {""} if "batch" in dishes else set()
            found.append(
                SownAlike(
                    minutes=minutes,
                    opened=name in by_hand,
                    dishes=int(rows.sum()),
                    seeds=float(np.round(dishes["seeds"][rows].mean())),
                    baths=max(len(baths), 1),
                )
            )
    return tuple(sorted(found, key=lambda e: (e.opened, e.minutes)))


def _own(plan: Plan, tables: Tables) -> np.ndarray:
    """Return which dishes hold fresh seeds of the lot at a constant temperature."""
    dishes, lot = tables["dishes"], plan.guesses.lot
    own = np.isnan(dishes["night_temperature_c"]) & ~(dishes["stored_d"] > 0)
    return np.asarray(own if lot is None else own & (dishes["lot"] == lot))


def _durations(
    one: Doses, steps: Mapping[str, tuple[doses.Step, ...]], sown: Sequence[str]
) -> Mapping[str, float]:
    """Return the minutes of each treatment of the series of the planned method that most dishes were sown of."""
    series = [
        s.doses
        for s in doses.series_of(steps)
        if (s.by, s.unit) == ("duration", "min") and _is_planned(one, steps[next(iter(s.doses))])
    ]
    return max(series, key=lambda found: sum(name in found for name in sown), default={})


def _is_planned(one: Doses, steps: Sequence[doses.Step]) -> bool:
    """Return whether a treatment has the planned method and agent as its step in minutes; others may rinse or dry."""
    return any(
        step.method == one.method and one.agent in ("", step.agent) and step.duration_unit == "min"
        for step in steps
    )


# in words


def said(plan: Plan, one: Experiment, earlier: Mapping[str, Tables]) -> Said | None:
    """Return what is counted in of the experiment that a planned one adds to, or why nothing is; None where it adds to none."""
    name = one.adds_to
    if name is None:
        return None
    if not isinstance(one, Temperatures | Doses | Courses):
        what = "weighed seeds are" if isinstance(one, Soaking) else "a time of storage is"
        return _nothing(one, f"{what} planned without seeds of before. {_COUNTED}")
    if name not in earlier:
        there = f"it has {', '.join(earlier)}" if earlier else "give one as `study` under `guesses`"
        return _nothing(
            one,
            f"the finished study has no such experiment with dishes that were inspected ({there}).",
        )
    parts = _parts(plan, one, earlier[name])
    if not parts:
        at = "a constant temperature"
        at = at if isinstance(one, Temperatures) else f"{one.temperature_c:g} °C"
        return _nothing(one, f"it has no fresh seeds of the lot after these treatments at {at}.")
    alike = "" if isinstance(one, Doses) else "; with as many seeds in each as planned"
    return Said(
        f"For {one.experiment}, these dishes of {name} are counted in: {'; '.join(parts)}{alike}.",
        counted=True,
    )


def _nothing(one: Experiment, why: str) -> Said:
    return Said(
        f"For {one.experiment}, nothing of {one.adds_to} is counted in: {why}", counted=False
    )


def _parts(plan: Plan, one: Temperatures | Doses | Courses, tables: Tables) -> list[str]:
    if isinstance(one, Temperatures):
        found = {t: at_temperatures(plan, tables, t) for t in one.treatments}
        return [
            f"{treatment}, " + ", ".join(f"{n} at {t:g} °C" for t, n in own.items())
            for treatment, own in found.items()
            if own
        ]
    if isinstance(one, Courses):
        return [f"{n} of {t}" for t, n in side_by_side(plan, one, tables).items()]
    return [f"{e.dishes} {_after(e)}" for e in at_durations(plan, one, tables)]


def _after(dishes: SownAlike) -> str:
    if dishes.opened:
        return "opened by hand"
    return f"of {dishes.minutes:g} min" if dishes.minutes else "untreated"

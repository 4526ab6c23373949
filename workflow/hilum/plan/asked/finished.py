"""Best guesses out of a finished study: its estimates, and baths in its tables, fill in what a plan does not say."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from hilum.analyses.estimate import Estimate, Tables
from hilum.plan.asked.baths import bath_sd
from hilum.plan.asked.design import Plan
from hilum.settings import SettingsFault

# guess → the quantities that it is taken from, the first that was estimated, and what it is divided by
_OF_ALL: Mapping[str, tuple[Sequence[str], float]] = {
    "base_temperature_c": (("base_temperature",), 1.0),
    "thermal_time_50_c_h": (("thermal_time_50",), 1.0),
    "optimum_c": (("plateau_low", "optimum_temperature"), 1.0),
    "half_viability_d": (("half_viability_period",), 1.0),
    "uptake_pct": (("plateau_uptake",), 1.0),
    "half_uptake_h": (("half_time",), 1.0),
    # grams of a thousand seeds are milligrams of one
    "seed_mg": (("thousand_seed_mass",), 1.0),
}
_OF_TREATMENT: Mapping[str, tuple[Sequence[str], float]] = {
    "germinable": (("germinable_fraction", "germinated"), 1.0),
    "hard": (("hard", "impermeable_fraction"), 1.0),
    "t50_d": (("t50",), 24.0),
}
_ENDS = ("t10", "t90")
# a guessed share of exactly 0 or 1 would say that no seed could ever do otherwise
_LEAST, _MOST = 0.01, 0.99


def filled(
    plan: Plan, estimates: Iterable[Estimate], tables: Mapping[str, Tables] | None = None
) -> Plan:
    """Return the plan with each missing guess taken from the estimates of a finished study, and its tables by experiment.

    Raises SettingsFault where the study has several lots and the plan does not say which.
    """
    own = _of_lot(plan, [e for e in estimates if e.status == "estimated"])
    guesses = {
        name: value
        for name, source in _OF_ALL.items()
        if getattr(plan.guesses, name) is None and (value := _first(own, *source)) is not None
    }
    steepness = _steepness(own)
    if plan.guesses.slope is None and steepness is not None:
        guesses["slope"] = steepness
    differ = bath_sd(plan, tables or {})
    if plan.guesses.bath_sd is None and differ is not None:
        guesses["bath_sd"] = differ
    treatments = tuple(
        t.model_copy(
            update={
                name: value
                for name, source in _OF_TREATMENT.items()
                if getattr(t, name) is None
                and (value := _share(name, _first(_of_treatment(own, t.treatment), *source)))
                is not None
            }
        )
        for t in plan.treatments
    )
    update: dict[str, Any] = {
        "guesses": plan.guesses.model_copy(update=guesses),
        "treatments": treatments,
    }
    return Plan.model_validate(plan.model_dump() | _dumped(update))


def _dumped(update: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "guesses": update["guesses"].model_dump(),
        "treatments": [t.model_dump() for t in update["treatments"]],
    }


def _of_lot(plan: Plan, estimates: Sequence[Estimate]) -> list[Estimate]:
    lots = list(dict.fromkeys(e.lot for e in estimates if e.lot))
    wanted = plan.guesses.lot
    if wanted is None and len(lots) > 1:
        raise SettingsFault(
            f"{plan.name}: the finished study has the lots {', '.join(lots)}; say which under `guesses`: `lot: …`."
        )
    if wanted is not None and wanted not in lots:
        raise SettingsFault(f"{plan.name}: the finished study has no lot {wanted}.")
    return [e for e in estimates if wanted is None or e.lot == wanted]


def _of_treatment(estimates: Sequence[Estimate], treatment: str) -> list[Estimate]:
    return [e for e in estimates if e.treatment == treatment]


def _first(
    estimates: Sequence[Estimate], quantities: Sequence[str], divided_by: float
) -> float | None:
    """Return the middle value of the first quantity that was estimated."""
    for quantity in quantities:
        values = [e.value for e in estimates if e.quantity == quantity and e.value is not None]
        if values:
            return float(f"{float(np.median(values)) / divided_by:.4g}")
    return None


def _steepness(estimates: Sequence[Estimate]) -> float | None:
    """Return the slope of a log-logistic curve with the t10 and t90 of the study, 2·ln 9/ln(t90/t10), in the middle.

    The slopes that were estimated are those of other families too, each on a scale of its own.
    """
    times: dict[tuple[object, ...], dict[str, float]] = {}
    for e in estimates:
        if e.quantity in _ENDS and e.value is not None:
            key = (e.lot, e.treatment, e.temperature_c, e.condition)
            times.setdefault(key, {})[e.quantity] = e.value
    found = [
        2 * np.log(9) / np.log(own["t90"] / own["t10"])
        for own in times.values()
        if len(own) == len(_ENDS) and own["t90"] > own["t10"] > 0
    ]
    return float(f"{np.median(found):.4g}") if found else None


def _share(name: str, value: float | None) -> float | None:
    if value is None or name == "t50_d":
        return value
    return float(np.clip(value, 0.0 if name == "hard" else _LEAST, _MOST))

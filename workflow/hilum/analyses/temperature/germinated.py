"""What the charts of germination draw: each temperature over time and over thermal time, and each dish."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hilum.analyses import dish_fit
from hilum.analyses.temperature import classical, words
from hilum.analyses.temperature.choice import Choice
from hilum.analyses.temperature.series import Sown
from hilum.stats import response as curves
from hilum.stats import thermal
from hilum.stats.arrays import Array
from hilum.stats.residuals import Leverage
from hilum.stats.thermal import Series


@dataclass(frozen=True, kw_only=True)
class Germinated:
    """The share of the seeds sown at one temperature that germinated by so many hours, seen or fitted (`kind`)."""

    kind: str
    regime: str
    hours: float
    germinated: float


@dataclass(frozen=True, kw_only=True)
class AfterWarmth:
    """The share of the germinable seeds that germinated by a thermal time, °C h, seen or fitted (`kind`)."""

    kind: str
    regime: str
    thermal_time: float
    germinated: float


@dataclass(frozen=True, kw_only=True)
class Dish:
    """One dish beside its curve: shares by hours, seen and fitted, and residuals of how many and how soon."""

    lot: str
    treatment: str
    condition: str
    temperature_c: float
    dish: str
    chamber: str
    seeds: float
    hours: tuple[float, ...]
    seen: tuple[float, ...]
    fitted: tuple[float, ...]
    number: float | None
    time: float | None


def over_time(sown: Sown, choice: Choice) -> tuple[Germinated, ...]:
    """Return what germinated by each inspection at each temperature, and the fitted curve."""
    series = sown.series
    fraction = classical.fractions(choice, series)
    log_rate = _log_rate(choice, series)
    rows: list[Germinated] = []
    for regime, label in enumerate(words.labels(sown)):
        hours, share = _seen(series, regime)
        drawn = np.linspace(0, hours[-1], 49)
        curve = fraction[regime] * _reached(choice, log_rate[regime], drawn)
        rows += _points("seen", label, hours, share)
        rows += _points("fitted", label, drawn, curve)
    return tuple(rows)


def dishes(sown: Sown, choice: Choice) -> tuple[Dish, ...]:
    """Return the dishes beside the one fit of all temperatures; each dish takes up its part of the parameters."""
    model, parameters, series = choice.chosen.peak.model, choice.chosen.peak.parameters, sown.series
    log_rate, _ = thermal.log_rates(model, series, parameters)
    fraction = classical.fractions(choice, series)[series.regime]
    germinating = (series.germinated > 0)[series.regime]
    together = np.bincount(series.regime)[series.regime] if choice.free else len(fraction)
    leverage = Leverage(
        np.full(len(fraction), 1.0) / together,
        np.where(germinating, model.rate_parameters / max(germinating.sum(), 1), 1.0),
    )

    def reached(hours: Array) -> Array:
        rows = [_reached(choice, r, h) for r, h in zip(log_rate, hours, strict=True)]
        return np.asarray(fraction[:, None] * np.array(rows).reshape(hours.shape))

    of = {"lot": sown.lot, "treatment": sown.treatment, "condition": sown.condition}
    rows = dish_fit.held(sown.dish, sown.chamber, series.cells, reached, leverage, of)
    lists = ("hours", "seen", "fitted")
    return tuple(
        Dish(**row | {k: tuple(row[k]) for k in lists}, temperature_c=float(degrees))
        for row, degrees in zip(rows, sown.temperature, strict=True)
    )


def _points(kind: str, label: str, hours: Array, share: Array) -> list[Germinated]:
    return [
        Germinated(kind=kind, regime=label, hours=float(h), germinated=float(y))
        for h, y in zip(hours, share, strict=True)
    ]


def _log_rate(choice: Choice, series: Series) -> Array:
    """Return the log rate of each regime, −inf where nothing moves."""
    value, _ = thermal.log_rates(choice.chosen.peak.model, series, choice.chosen.peak.parameters)
    first = [int(np.flatnonzero(series.regime == r)[0]) for r in range(series.regimes)]
    return np.asarray(value[first])


def _reached(choice: Choice, log_rate: float, hours: Array) -> Array:
    """Return the share of the germinable seeds that the fit expects by each hour."""
    model, parameters = choice.chosen.peak.model, choice.chosen.peak.parameters
    share = np.zeros(len(hours))
    moving = (hours > 0) & np.isfinite(log_rate)
    sigma = np.exp(parameters[model.rate_parameters])
    z = (np.log(hours[moving]) + log_rate) / sigma if moving.any() else np.zeros(0)
    share[moving] = np.exp(model.family.log_cdf(z))
    return share


def _seen(series: Series, regime: int) -> tuple[Array, Array]:
    """Return the inspections of a regime, from 0, and the share of its seeds that had germinated by each."""
    mine = series.regime == regime
    end, count = series.cells.end_h[mine], series.cells.count[mine]
    hours = np.unique(end[end > series.cells.start_h[mine]])
    seeds = series.cells.seeds[mine].sum()
    share = [float(count[end <= h].sum() / seeds) for h in hours]
    return np.concatenate(([0.0], hours)), np.array([0.0, *share])


def over_thermal_time(sown: Sown, choice: Choice) -> tuple[AfterWarmth, ...]:
    """Return germination of the germinable seeds over thermal time: one curve for all temperatures."""
    model, parameters = choice.chosen.peak.model, choice.chosen.peak.parameters
    assert model.response is not None  # noqa: S101
    theta = float(curves.thermal_time(model.response, parameters[: model.rate_parameters]))
    if not np.isfinite(theta):
        return ()
    series, fraction = sown.series, classical.fractions(choice, sown.series)
    log_rate = _log_rate(choice, series)
    rows: list[AfterWarmth] = []
    for regime, label in enumerate(words.labels(sown)):
        hours, share = _seen(series, regime)
        if np.isfinite(log_rate[regime]) and fraction[regime] > 0:
            x = hours * np.exp(log_rate[regime]) * theta
            rows += _collapsed("seen", label, x, share / fraction[regime])
    # beyond three times the need of half the seeds nothing happens that a reader looks for
    rows = [row for row in rows if row.thermal_time <= 3 * theta]
    drawn = np.linspace(0, 3 * theta, 91)
    rows += _collapsed("fitted", "", drawn, _reached(choice, -np.log(theta), drawn))
    return tuple(rows)


def _collapsed(kind: str, label: str, x: Array, share: Array) -> list[AfterWarmth]:
    return [
        AfterWarmth(kind=kind, regime=label, thermal_time=float(t), germinated=float(y))
        for t, y in zip(x, share, strict=True)
    ]

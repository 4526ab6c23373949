"""What chart and page of storage draw and say: each lot and treatment in each store."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from hilum.analyses.printer import number_or_none
from hilum.analyses.quantities import DAYS_A_MONTH
from hilum.analyses.storage.falling import Falling
from hilum.analyses.storage.printed import claim, probit_at
from hilum.analyses.storage.reference import Reference, crops
from hilum.analyses.storage.words import FAR, NEARLY, span
from hilum.stats.arrays import Array

_POINTS = 41


@dataclass(frozen=True, kw_only=True)
class Unit:
    """Seeds that were tested together after so many days, of how many it is known or not that they were alive."""

    days: float
    seeds: float
    alive: float
    unknown: float


@dataclass(frozen=True, kw_only=True)
class Expected:
    """The share expected alive after so many days, with its limits."""

    days: float
    share: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Shape:
    """What the tests of the curve's shape say: p values against any distance from it, and against a bend alone."""

    anywhere: float
    bend: float
    slows: bool
    doubtful: bool


@dataclass(frozen=True, kw_only=True)
class Store:
    """One lot and treatment in one store; days as in the raw tables, `reach` the half-viability period in longest storages."""

    lot: str
    treatment: str
    temperature_c: float | None
    condition: str
    untreated: bool
    test: str
    at_c: float | None
    moisture_pct: float | None
    outcome: str
    last: float
    tested: str
    tested_months: float
    first: float
    reach: float | None
    sow_within: str
    one_each: bool
    assumed: bool
    times: int
    shape: Shape | None
    going_on: float
    undated: int
    unassessed: int
    unknown_share: float
    units: tuple[Unit, ...]
    curve: tuple[Expected, ...]
    reference: Reference


@dataclass(frozen=True, kw_only=True)
class View:
    """Every store of an experiment, and the months of storage that the page tells of."""

    stores: tuple[Store, ...]
    months: tuple[float, ...]
    days_a_month: float


def of(found: Sequence[Falling], months: Sequence[float], plain: set[str]) -> View:
    """Return what chart and page draw and say; `plain` are the treatments that leave seeds untreated."""
    stores = tuple(_store(one, months, plain) for one in found)
    return View(stores=stores, months=tuple(months), days_a_month=DAYS_A_MONTH)


def _store(found: Falling, months: Sequence[float], plain: set[str]) -> Store:
    kept, (lot, treatment, degrees, words) = found.kept, found.kept.key
    one = kept.units[-1]
    days = _days(found, months)
    half, p85 = (claim(found, name) for name in ("half_viability_period", "p85"))
    return Store(
        lot=lot,
        treatment=treatment,
        temperature_c=number_or_none(degrees),
        condition=words,
        untreated=treatment in plain,
        test=kept.test,
        at_c=number_or_none(one.at_c),
        moisture_pct=number_or_none(one.moisture_pct),
        outcome=found.outcome,
        last=kept.last,
        tested=span(kept.last),
        tested_months=NEARLY * kept.last / DAYS_A_MONTH,
        first=kept.times[0] if kept.times else 0.0,
        reach=number_or_none(half.value / kept.last if kept.last else np.nan),
        sow_within=span(min(p85.low, kept.last)) if p85.low > 0 and found.sure else "",
        one_each=bool(found.fits) and not kept.replicated,
        assumed=found.assumed,
        times=len(kept.times),
        shape=_shape(found),
        going_on=kept.going_on,
        undated=kept.undated,
        unassessed=kept.unassessed,
        unknown_share=kept.unknown_share,
        units=tuple(
            Unit(days=u.days, seeds=u.seeds, alive=u.alive, unknown=u.unknown) for u in kept.told
        ),
        curve=_curve(found, days),
        reference=crops(found, days),
    )


def _shape(found: Falling) -> Shape | None:
    """Return what the tests of the shape say, for a store whose curve was not refused."""
    shape = found.shape
    if shape is None or not found.sure:
        return None
    bend = shape.bend
    return Shape(anywhere=shape.anywhere, bend=bend.p, slows=bend.slows, doubtful=shape.doubtful)


def _days(found: Falling, months: Sequence[float]) -> Array:
    """Return the days at which the curve is drawn: through the tests, and on to the months asked for, as far as is claimed."""
    last = found.kept.last
    furthest = min(max(last, max(months) * DAYS_A_MONTH), FAR * NEARLY * last)
    return np.unique([*np.linspace(0.0, furthest, _POINTS), last])


def _curve(found: Falling, days: Array) -> tuple[Expected, ...]:
    if not found.sure or found.outcome == "rising":
        return ()
    return tuple(_expected(found, day) for day in days.tolist())


def _expected(found: Falling, day: float) -> Expected:
    ends = found.ends(probit_at(day))
    value, low, high = ndtr([found.value(probit_at(day)), ends.low, ends.high]).tolist()
    return Expected(days=day, share=value, low=low, high=high)

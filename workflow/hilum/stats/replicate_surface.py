"""The likelihood of many replicates of one temperature series, with all second derivatives, in closed form.

Replicates share dishes, temperatures and inspections and differ in their counts. With log-logistic times and
z = (ln t + ln R)/sigma a cell has P = G·S(z_start)·F(z_end)·(1 − exp(−(z_end − z_start))), so its logarithm falls into three
parts: one for each inspection at each temperature, log S; one for each ratio of neighbouring times, which knows of sigma
alone; and one that is linear in z. F' = F·S makes the rest; derived here, and held by differences in the tests.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from hilum.stats.families import Array
from hilum.stats.thermal import Series


@dataclass(frozen=True)
class Design:
    """What replicates of J dishes share: E inspections `log_h` at dishes `row`, C last looks, D steps of log time.

    `filled` (N,) are the cells that any replicate fills, numbered through (J, K); cell `filled[i]` ends at inspection
    `end[i]`, and those of `later` begin at `start`. `from_mean` (J,) is the distance of the mean temperature from the
    anchor, `from_coolest` that of the coolest. `linear` (2J + D, N) adds up cells: seeds of each dish, their log times at
    the end, and the seeds of each step.
    """

    filled: np.ndarray
    end: np.ndarray
    later: np.ndarray
    start: np.ndarray
    log_h: Array
    row: np.ndarray
    step: Array
    linear: Array
    looked: np.ndarray
    look_log_h: Array
    look_row: np.ndarray
    from_mean: Array
    from_coolest: Array

    @classmethod
    def of(cls, series: Series, anchor: float, filled: np.ndarray, looked: np.ndarray) -> Design:
        """Return the design of a series; `filled` (J·K,) and `looked` (J·M,) mark what holds seeds in any replicate."""
        cells, J = series.cells, len(series.regime)
        number, look = np.flatnonzero(filled), np.flatnonzero(looked)
        dish = number // cells.end_h.shape[1]
        start_h, end_h = cells.start_h.ravel()[number], cells.end_h.ravel()[number]
        later = np.flatnonzero(start_h > 0)
        seen = np.stack((np.append(dish, dish[later]), np.append(end_h, start_h[later])), axis=1)
        edge, at = np.unique(seen, axis=0, return_inverse=True)
        ratio, of_step = np.unique(np.log(end_h[later] / start_h[later]), return_inverse=True)
        member = np.eye(J)[:, dish]
        steps = np.zeros((len(ratio), len(number)))
        steps[of_step.ravel(), later] = 1.0
        return cls(
            filled=number,
            end=at.ravel()[: len(number)],
            later=later,
            start=at.ravel()[len(number) :],
            log_h=np.log(edge[:, 1]),
            row=edge[:, 0].astype(int),
            step=ratio,
            linear=np.concatenate((member, member * np.log(end_h), steps)),
            looked=look,
            look_log_h=np.log(cells.censor_h.ravel()[look]),
            look_row=look // cells.censor_h.shape[1],
            from_mean=(series.temperature * series.weight).sum(-1) - anchor,
            from_coolest=series.temperature.min(-1) - anchor,
        )


@dataclass(frozen=True)
class Counts:
    """Counts of b replicates as the likelihood needs them, the replicates along the last axis.

    `around` (E, b) are the seeds of the cells on either side of each inspection, `seeds` (J, b), `log_h` (J, b) and `stepped`
    (D, b) what `Design.linear` adds up, `left` (C, b) seeds that had not germinated at each last look.
    """

    around: Array
    seeds: Array
    log_h: Array
    stepped: Array
    left: Array

    @classmethod
    def of(cls, design: Design, count: Array, censored: Array) -> Counts:
        """Return the counts of replicates from `count` (b, J·K) and `censored` (b, J·M)."""
        cells = np.ascontiguousarray(count[:, design.filled].T, dtype=float)
        around = np.zeros((len(design.log_h), len(count)))
        around[design.end] = cells
        around[design.start] += cells[design.later]
        J = len(design.from_mean)
        seeds, log_h, stepped = np.split(design.linear @ cells, [J, 2 * J])
        left = np.ascontiguousarray(censored[:, design.looked].T, dtype=float)
        return cls(around, seeds, log_h, stepped, left)

    def take(self, which: np.ndarray) -> Counts:
        """Return the counts of some of the replicates."""
        return Counts(
            self.around[:, which],
            self.seeds[:, which],
            self.log_h[:, which],
            self.stepped[:, which],
            self.left[:, which],
        )


@dataclass(frozen=True)
class Curvature:
    """Gradient (4, b) and observed information (4, 4, b); `pull` (b,) is the slope in ln G.

    The log likelihood (b,) costs a logarithm for each inspection, and is worked out only where a climb ends.
    """

    gradient: Array
    information: Array
    pull: Array
    value: Callable[[], Array]


def curvature(design: Design, counts: Counts, point: Array) -> Curvature:
    """Return the likelihood at `point` (4, b), or (4, 1) for all: log rate, rise, log sigma, logit G.

    G may be exactly 1, its logit infinite: it is then no free parameter. nan where a temperature lies below the base.
    """
    log_rate, rise, log_sigma, logit = point
    a, odds = np.exp(-log_sigma), np.exp(-logit)
    G, lost = 1 / (1 + odds), odds / (1 + odds)
    d = design.from_mean[:, None]
    relative = 1 + rise * d
    moving = (1 + rise * design.from_coolest[:, None] > 0).all(0)
    log_rates = log_rate + np.log(np.where(moving, relative, np.nan))
    inside = _inspections(design, counts, log_rates, a)
    outside = _looks(design, counts, log_rates, a, G, lost)
    by_step = _steps(design, counts, a)
    U, Uy, V, Vy, Vyy = (i + o for i, o in zip(inside.moments, outside.moments, strict=True))
    T, Ty = outside.crossed
    total = counts.seeds.sum(0)
    pull = total - outside.pull
    tilt, slope = d / relative, a * U
    bend, with_sigma = a**2 * V, slope - a**2 * Vy
    gradient = np.stack(
        np.broadcast_arrays(
            slope.sum(0), (slope * tilt).sum(0), by_step[1] - a * Uy.sum(0), lost * pull
        )
    )
    in_sigma = (a**2 * Vyy - a * Uy).sum(0) - by_step[2]
    in_fraction = np.where(lost > 0, total * G * lost + outside.bend, 1.0)
    rows = (
        (bend.sum(0), (bend * tilt).sum(0), with_sigma.sum(0), -(a * T).sum(0)),
        (((bend + slope) * tilt**2).sum(0), (with_sigma * tilt).sum(0), -(a * T * tilt).sum(0)),
        (in_sigma, (a * Ty).sum(0)),
        (in_fraction,),
    )
    information = np.empty((4, *gradient.shape))
    for i, row in enumerate(rows):
        for j, entry in enumerate(row, start=i):
            information[i, j] = information[j, i] = entry

    def value() -> Array:
        return np.asarray(inside.value() + outside.value() + by_step[0] + total * np.log(G))

    return Curvature(gradient, information, pull, value)


@dataclass(frozen=True)
class _Part:
    """One part of the likelihood: its value (b,), when asked for, and, dish by dish, five moments (J, b) of its derivatives by z.

    They are Σu, Σuy, Σv, Σvy and Σvy² with u = dL/dz, v = −d²L/dz² and y = sigma·z. `crossed` are Σt and Σty with
    t = d²L/dz d logit G, `pull` minus the slope in ln G, and `bend` minus the second derivative in logit G.
    """

    value: Callable[[], Array]
    moments: tuple[Array, ...]
    crossed: tuple[Array, ...] = ()
    pull: Array | float = 0.0
    bend: Array | float = 0.0


def _inspections(design: Design, counts: Counts, log_rates: Array, a: Array) -> _Part:
    """Return the part of log S at each inspection, and of what is linear in z."""
    above = np.exp(a * (design.log_h[:, None] + log_rates[design.row])) + 1
    late = 1 / above
    by = counts.around * (1 - late)
    spread = by * late
    # inspections stand dish by dish, so each dish is a block of rows
    blocks = [
        slice(*ends)
        for ends in pairwise(np.searchsorted(design.row, np.arange(len(log_rates) + 1)))
    ]
    powers = np.stack((np.ones_like(design.log_h), design.log_h, design.log_h**2))
    UF, UFx = np.stack([powers[:2, block] @ by[block] for block in blocks], axis=1)
    V, Vx, Vxx = np.stack([powers[:, block] @ spread[block] for block in blocks], axis=1)
    U, Ux = counts.seeds - UF, counts.log_h - UFx

    def value() -> Array:
        linear = (a * (counts.log_h + log_rates * counts.seeds)).sum(0)
        return np.asarray(linear - (counts.around * np.log(above)).sum(0))

    return _Part(
        value,
        (
            U,
            Ux + log_rates * U,
            V,
            Vx + log_rates * V,
            Vxx + log_rates * (2 * Vx + log_rates * V),
        ),
    )


def _looks(
    design: Design, counts: Counts, log_rates: Array, a: Array, G: Array, lost: Array
) -> _Part:
    """Return the part of seeds that had not germinated when they were last seen: log(1 − G·F)."""
    y = design.look_log_h[:, None] + log_rates[design.look_row]
    S = 1 / (1 + np.exp(a * y))
    F = 1 - S
    left, stays = lost + G * S, G * F
    density = stays * S / left
    u, v = -density, density * (S - F) + density**2
    t, pull = -lost * density / left, stays / left
    of_dish = np.eye(len(log_rates))[:, design.look_row]
    n = counts.left
    return _Part(
        lambda: np.asarray((n * np.log(left)).sum(0)),
        tuple(of_dish @ (n * term) for term in (u, u * y, v, v * y, v * y**2)),
        tuple(of_dish @ (n * term) for term in (t, t * y)),
        (n * pull).sum(0),
        (n * lost * (pull * (1 - 2 * G) + lost * pull**2)).sum(0),
    )


def _steps(design: Design, counts: Counts, a: Array) -> tuple[Array, Array, Array]:
    """Return the part of log(1 − exp(−step/sigma)), with two derivatives by log sigma."""
    w = a * design.step[:, None]
    h = 1 / np.expm1(w)
    by = w * h
    terms = np.log(-np.expm1(-w)), -by, by * (1 - w * (1 + h))
    value, first, second = ((counts.stepped * term).sum(0) for term in terms)
    return value, first, second

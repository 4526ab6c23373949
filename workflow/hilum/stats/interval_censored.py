"""The likelihood of dish counts: seeds that germinated between two inspections, and those that did not.

A seed of dish j germinates by time t with probability G·F0((ln t − ln t50)/sigma): the germinable fraction G is
a part of the seeds, and those outside it never germinate, however long one waits. A seed that germinated
between two inspections counts with G·(F0(end) − F0(start)), one that had not germinated when it was last
seen with 1 − G·F0.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hilum.stats.arrays import Array
from hilum.stats.families import Family, ratio

# ln 0 as a number: no seed germinates before it is sown, and −inf would turn products into nan
_LOG_OF_ZERO = -1e6


@dataclass(frozen=True)
class Cells:
    """Counts of J dishes (or of J pooled curves), times in hours.

    `count` seeds germinated after `start_h` and not after `end_h`, arrays of shape (J, K); a row with fewer
    inspections is filled up with cells whose end is their start and whose count is 0. `censored` seeds had
    not germinated when they were last seen, at `censor_h`, shape (J, M); filled up with 0 seeds at 0 h. Keep
    the last inspection among `censor_h` also where all seeds germinated: it belongs to the design.
    """

    start_h: Array
    end_h: Array
    count: Array
    censor_h: Array
    censored: Array

    @property
    def germinated(self) -> Array:
        """Return the seeds that germinated, shape (J,)."""
        return np.asarray(self.count.sum(-1))

    @property
    def seeds(self) -> Array:
        """Return the seeds that entered, shape (J,)."""
        return np.asarray(self.germinated + self.censored.sum(-1))

    @property
    def last_h(self) -> Array:
        """Return the last inspection of each dish in hours, shape (J,)."""
        last_cell, last_look = self.end_h.max(-1, initial=0.0), self.censor_h.max(-1, initial=0.0)
        return np.asarray(np.maximum(last_cell, last_look))

    def take(self, dishes: np.ndarray) -> Cells:
        """Return the cells of some dishes: `dishes` holds indices or marks."""
        return Cells(
            self.start_h[dishes],
            self.end_h[dishes],
            self.count[dishes],
            self.censor_h[dishes],
            self.censored[dishes],
        )


@dataclass(frozen=True)
class DishTerms:
    """What each dish adds to the likelihood, with respect to its own (log t50, log sigma, G).

    `loglik` (…, J), `score` (…, J, 3), and the expected `information` (…, J, 3, 3) of a dish with these
    seeds and these inspections.
    """

    loglik: Array
    score: Array
    information: Array


def log_hours(hours: Array) -> Array:
    """Return ln(hours), with a finite stand-in for ln 0."""
    return np.where(hours > 0, np.log(np.where(hours > 0, hours, 1.0)), _LOG_OF_ZERO)


def log_survivor(z: Array, fraction: Array, family: Family) -> Array:
    """Return log(1 − G·F0(z)) as log((1 − G) + G·S0(z)), which does not cancel."""
    with np.errstate(
        divide="ignore"
    ):  # G = 1 is an exact boundary: log 0 is −inf there, and wanted
        never, later = np.log1p(-fraction), np.log(fraction) + family.log_sf(z)
    return np.logaddexp(never, later)


@dataclass(frozen=True)
class Schedule:
    """What the likelihood needs of the cells of J dishes, whatever the parameters.

    `start` and `end` (J, K) are log hours, `look` (J, M) those of the last looks; `seen` (J, K + M) are the seeds of each
    cell and each look, `exposed` those that it was waiting for. Cells that fill up a row are a step wide, and wait for none.
    """

    start: Array
    end: Array
    look: Array
    seen: Array
    exposed: Array

    @classmethod
    def of(cls, cells: Cells) -> Schedule:
        """Return the schedule of some cells."""
        real = cells.end_h > cells.start_h
        return cls(
            start=np.where(real, log_hours(cells.start_h), -1.0),
            end=np.where(real, log_hours(cells.end_h), 0.0),
            look=log_hours(cells.censor_h),
            seen=np.concatenate((cells.count, cells.censored), axis=-1),
            exposed=_exposed(cells),
        )


def _exposed(cells: Cells) -> Array:
    """Return how many seeds each cell and each last look was waiting for, shape (J, K + M).

    A seed lost early waits for the cells before its loss; every other one for the whole test.
    """
    lost_before = (cells.censor_h[:, None, :] < cells.end_h[:, :, None]) * cells.censored[
        :, None, :
    ]
    waiting = cells.seeds[:, None] - lost_before.sum(-1)
    waiting = np.where(cells.end_h > cells.start_h, waiting, 0.0)
    looks = cells.censored.copy()
    rows = np.arange(len(looks))
    looks[rows, cells.censor_h.argmax(-1)] += cells.germinated
    return np.concatenate((waiting, looks), axis=-1)


def dish_terms(
    cells: Cells | Schedule, log_t50: Array, log_sigma: Array, fraction: Array, family: Family
) -> DishTerms:
    """Return log likelihood, score and expected information of each dish.

    The parameters have shape (…, J) or what broadcasts to it; G in (0, 1]. At G = 1 the entries that
    belong to G are one-sided and can be very large: leave them out where G stands on its boundary.
    """
    s = cells if isinstance(cells, Schedule) else Schedule.of(cells)
    mu, sigma = np.asarray(log_t50)[..., None], np.exp(np.asarray(log_sigma))[..., None]
    G = np.asarray(fraction)[..., None]
    K = s.start.shape[-1]
    shape = np.broadcast_shapes(mu.shape, sigma.shape, G.shape, (len(s.seen), 1))[:-1]
    log_p = np.empty((*shape, s.seen.shape[-1]))
    score = np.empty((*shape, 3, s.seen.shape[-1]))
    _fill_cells(s, mu, sigma, G, family, log_p[..., :K], score[..., :K])
    _fill_looks(s, mu, sigma, G, family, log_p[..., K:], score[..., K:])
    # the score of one seed, as often as seeds were seen, and times itself as often as they are expected: one product
    often = np.empty((*shape, 4, s.seen.shape[-1]))
    np.multiply(score, (s.exposed * np.exp(log_p))[..., None, :], out=often[..., :3, :])
    often[..., 3, :] = s.seen
    both = score @ np.swapaxes(often, -1, -2)
    return DishTerms(
        loglik=np.asarray((s.seen * np.where(s.seen > 0, log_p, 0.0)).sum(-1)),
        score=np.asarray(both[..., 3]),
        information=np.asarray(both[..., :3]),
    )


def _fill_cells(
    s: Schedule, mu: Array, sigma: Array, G: Array, family: Family, log_p: Array, score: Array
) -> None:
    """Write the log probability (…, J, K) and the score (…, J, 3, K) of one seed in each cell."""
    z1, z2 = (s.start - mu) / sigma, (s.end - mu) / sigma
    inside, r1, r2 = family.cell(z1, z2)
    log_p[...] = inside + np.log(G)
    score[..., 0, :] = (r1 - r2) / sigma
    score[..., 1, :] = z1 * r1 - z2 * r2
    score[..., 2, :] = 1 / G


def _fill_looks(
    s: Schedule, mu: Array, sigma: Array, G: Array, family: Family, log_p: Array, score: Array
) -> None:
    """Write the log probability (…, J, M) and the score (…, J, 3, M) of one seed not germinated when last seen."""
    z = (s.look - mu) / sigma
    log_p[...] = log_survivor(z, G, family)
    density = G * ratio(family.log_pdf(z), log_p)
    score[..., 0, :] = density / sigma
    score[..., 1, :] = z * density
    score[..., 2, :] = -ratio(family.log_cdf(z), log_p)

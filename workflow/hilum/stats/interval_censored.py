"""The likelihood of dish counts: seeds that germinated between two inspections, and those that did not.

A seed of dish j germinates by time t with probability G·F0((ln t − ln t50)/sigma): the germinable fraction G is
a part of the seeds, and those outside it never germinate, however long one waits. A seed that germinated
between two inspections counts with G·(F0(end) − F0(start)), one that had not germinated when it was last
seen with 1 − G·F0.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hilum.stats.families import Array, Family, ratio

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


def _cell_scores(
    cells: Cells, mu: Array, sigma: Array, fraction: Array, family: Family
) -> tuple[Array, Array]:
    """Return log probability (…, J, K) and score (…, J, K, 3) of one seed in each cell."""
    filled = cells.end_h <= cells.start_h
    z2 = (log_hours(cells.end_h) - mu) / sigma
    z1 = np.where(filled, z2 - 1, (log_hours(cells.start_h) - mu) / sigma)
    log_p, r1, r2 = family.cell(z1, z2)
    by_time, by_sigma = -(r2 - r1) / sigma, -(z2 * r2 - z1 * r1)
    by_fraction = np.broadcast_to(1 / fraction, log_p.shape)
    return log_p + np.log(fraction), np.stack((by_time, by_sigma, by_fraction), axis=-1)


def _survivor_scores(
    cells: Cells, mu: Array, sigma: Array, fraction: Array, family: Family
) -> tuple[Array, Array]:
    """Return log probability (…, J, M) and score (…, J, M, 3) of one seed not germinated when last seen."""
    z = (log_hours(cells.censor_h) - mu) / sigma
    log_p = log_survivor(z, fraction, family)
    density = fraction * ratio(family.log_pdf(z), log_p)
    by_fraction = -ratio(family.log_cdf(z), log_p)
    return log_p, np.stack((density / sigma, z * density, by_fraction), axis=-1)


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
    cells: Cells, log_t50: Array, log_sigma: Array, fraction: Array, family: Family
) -> DishTerms:
    """Return log likelihood, score and expected information of each dish.

    The parameters have shape (…, J) or what broadcasts to it; G in (0, 1]. At G = 1 the entries that
    belong to G are one-sided and can be very large: leave them out where G stands on its boundary.
    """
    mu, sigma = np.asarray(log_t50)[..., None], np.exp(np.asarray(log_sigma))[..., None]
    G = np.asarray(fraction)[..., None]
    inside, outside = (
        part(cells, mu, sigma, G, family) for part in (_cell_scores, _survivor_scores)
    )
    log_p = np.concatenate((inside[0], outside[0]), axis=-1)
    score = np.concatenate((inside[1], outside[1]), axis=-2)
    seen = np.concatenate((cells.count, cells.censored), axis=-1)
    expected = _exposed(cells) * np.exp(log_p)
    return DishTerms(
        loglik=np.asarray((seen * np.where(seen > 0, log_p, 0.0)).sum(-1)),
        score=np.asarray(np.einsum("jk,...jki->...ji", seen, score)),
        information=np.asarray(np.einsum("...jk,...jki,...jkl->...jil", expected, score, score)),
    )

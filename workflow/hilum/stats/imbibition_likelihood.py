"""How likely the weighings of a seed are, for every time at which water may have got in.

A seed of mass m weighs m + e when dry, and m(1 + film + A·share) + e when soaked: e is the balance's
error, the film is what blotting leaves, A the seed's final uptake, and `share` rises from 0 at the
onset to 1. Errors that all readings of a seed share (its true mass, known only through one weighing of it
dry and its siblings' masses; its own final uptake and speed; where in its cell the onset lies) enter the
covariance as causes, so that nothing is claimed twice.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.special import log_expit

from hilum.stats import uptake
from hilum.stats.arrays import Array
from hilum.stats.low_rank import Density, density
from hilum.stats.uptake_courses import AT_ONCE, Courses

# a seed's own parameters, all logarithms but the two odds (log odds)
(
    FILM,  # the surface film, of the seed's mass
    FILM_SPREAD,  # sd of the film between readings, of the film
    BALANCE,  # sd of the balance, mg
    PLATEAU,  # final uptake, of the mass before soaking
    HALF_TIME,  # h
    PLATEAU_SPREAD,  # sd between seeds, of the plateau
    SPEED_SPREAD,  # sd between seeds, of the speed
    CLOSED,  # odds that the coat is closed when soaking begins
    LATE,  # odds that a closed coat opens before the last weighing
    LAG,  # h from soaking to the onset, where the coat is open
    MASS,  # the mean true mass before soaking, mg
    MASS_SPREAD,  # sd between seeds, of that mean
) = range(12)

LEAST_ERROR_MG = 1e-6  # of which no balance tells anything (from memory: the finest read 1e-4 mg)
_CELLS = 2**14  # numbers evaluated together: more would outgrow the processor's cache

_DROP = 3.0  # the film's sd where a drop was missed, of the usual one

# log of a speed over its siblings': more would overflow where a climb strays
_BEYOND_ANY_SEED = 100.0


@dataclass(frozen=True, kw_only=True)
class Weighings:
    """Masses of single seeds, shape (seeds, weighings), nan where there is none; the first column is dry.

    `group` (seeds,) numbers lot × treatment, `treatment` (seeds,) the treatment. `germinated_h` (seeds,) is
    when the radicle was first seen out, nan where it was not: from then on no mass is given. No balance is taken to err by
    less than `least_error_mg`, one standard deviation.
    """

    hours: Array
    mass_mg: Array
    group: np.ndarray
    treatment: np.ndarray
    germinated_h: Array
    least_error_mg: float = LEAST_ERROR_MG

    @property
    def seen_h(self) -> Array:
        """Return the hours at which each seed was seen, (seeds, k), ascending, nan at the end."""
        weighed = np.where(self.there, self.hours, np.nan)
        return np.sort(np.column_stack([weighed, self.germinated_h]), axis=1)

    @cached_property
    def there(self) -> np.ndarray:
        """Return where there is a mass, (seeds, weighings)."""
        return np.isfinite(self.mass_mg)

    @cached_property
    def is_last(self) -> np.ndarray:
        """Return which mass is the last of its seed, (seeds, weighings)."""
        return np.asarray(self.there & (self.there[:, ::-1].cumsum(1)[:, ::-1] == 1))


@dataclass(frozen=True)
class Kinds:
    """Log likelihoods of the kinds of seed, each (points, seeds), with the odds of each kind.

    `share` (points, courses) is the probability of each course, if the seed is of its kind.
    """

    never: Array
    start: Array
    late: Array
    share: Array

    @property
    def imbibed(self) -> Array:
        """Return the log likelihood of uptake, from the start or late, (points, seeds)."""
        return np.logaddexp(self.start, self.late)


def of_courses(
    weighings: Weighings, courses: Courses, own: Array, shape: uptake.Shape
) -> tuple[Array, Density]:
    """Return the log likelihood of each course, its share of its kind included, (points, courses).

    `own` holds the seeds' parameters, shape (points, seeds, 12); LAG is −inf where there is none. The density's
    last cause is the seed's speed, in sd from its siblings' mean: the curve is replaced by its tangent at
    the course's best guess of the speed, which makes all causes normal.
    """
    seed = courses.seed
    p = np.take(np.exp(np.moveaxis(own, -1, 0)), seed, axis=-1)
    deviate = courses.deviates(-own[:, seed, HALF_TIME], p[SPEED_SPREAD])
    speed = np.exp(np.minimum(p[SPEED_SPREAD] * deviate, _BEYOND_ANY_SEED)) / p[HALF_TIME]
    # (weighings, points, courses): the longest axis last, in memory too, since short rows are slow
    hours, there = _for_courses(weighings.hours, seed), _for_courses(weighings.there, seed)
    mass = np.where(there, _for_courses(weighings.mass_mg, seed), 0.0)
    between, true_mass = _true_mass(weighings, seed, p)
    x = _half_times(courses, hours, speed, p[LAG])
    share, slope = uptake.share_and_slope(x, shape)
    film = (hours > 0) * p[FILM]
    level = 1 + (film + p[PLATEAU] * share)
    sd = _reading_sd(weighings, courses, p, true_mass * film)
    weight = np.where(there, 1 / sd, 0.0)
    water = weight * (true_mass * p[PLATEAU])
    climbing = water * slope
    by_speed = climbing * x * p[SPEED_SPREAD]
    causes = (
        weight * level * between,
        water * share * p[PLATEAU_SPREAD],
        climbing * (x > 0) * (speed * courses.width_h / np.sqrt(12)),
        by_speed,
    )
    residual = weight * (mass - p[MASS] * level) + by_speed * deviate
    found = density(residual, causes)
    log_sd = np.where(there, np.log(sd), 0.0).sum(0)
    return found.log - log_sd + courses.log_share, found


def _for_courses(of_seeds: np.ndarray, seed: np.ndarray) -> np.ndarray:
    """Return values (seeds, weighings) of the courses' seeds, (weighings, 1, courses)."""
    return np.take(of_seeds.T, seed, axis=-1)[:, None]


def _half_times(courses: Courses, hours: Array, speed: Array, lag: Array) -> Array:
    """Return the half-times since the onset, (weighings, points, courses), 0 before it."""
    at_once = courses.kind == AT_ONCE
    fixed = np.where(at_once, 0.0, courses.middle_h)
    onset = np.where(at_once, lag, fixed)
    return np.asarray(np.maximum(hours - onset, 0.0) * speed)


def _reading_sd(weighings: Weighings, courses: Courses, p: Array, film_mg: Array) -> Array:
    """Return the sd of each reading about its seed's own curve: balance and film, (weighings, points, courses)."""
    wetter = 1 + (_DROP - 1) * courses.drop * _for_courses(weighings.is_last, courses.seed)
    return np.asarray(np.sqrt(p[BALANCE] ** 2 + (p[FILM_SPREAD] * film_mg * wetter) ** 2))


def _true_mass(weighings: Weighings, seed: np.ndarray, p: Array) -> tuple[Array, Array]:
    """Return the sd of true masses before soaking between seeds, mg, and the best guess of each seed's."""
    between = p[MASS] * p[MASS_SPREAD]
    known = between**2 / (between**2 + p[BALANCE] ** 2)
    return between, p[MASS] + known * (weighings.mass_mg[seed, 0] - p[MASS])


@dataclass(frozen=True)
class Seeds:
    """The likelihood of each seed, with these courses held possible, and this curve."""

    weighings: Weighings
    courses: Courses
    curve: uptake.Curve

    @property
    def moves(self) -> tuple[int, ...]:
        """Return which of a seed's parameters its likelihood depends on."""
        return tuple(k for k in range(MASS_SPREAD + 1) if k != LAG or self.curve.lag)

    def within_bounds(self, own: Array) -> Array:
        """Return the parameters (…, 12) with the least error of a weighing, and without a lag where the curve has none."""
        out = own.copy()
        out[..., BALANCE] = np.maximum(own[..., BALANCE], np.log(self.weighings.least_error_mg))
        if not self.curve.lag:
            out[..., LAG] = -np.inf
        return out

    def __call__(self, own: Array) -> Array:
        """Return the log likelihood of each seed, (points, seeds), from parameters (points, seeds, 12)."""
        own = self.within_bounds(own)
        points, place = _without_odds(own)
        blocks = (self.courses.totals(self._of_courses(block)) for block in self.blocks(points))
        totals = np.concatenate(list(blocks))
        never, start, late = self._of_kinds(totals[place], own)
        return np.logaddexp(never, np.logaddexp(start, late))

    def blocks(self, points: Array) -> list[Array]:
        """Return the points in parts that are best evaluated together."""
        cells = points.shape[0] * len(self.courses.seed) * self.weighings.mass_mg.shape[1]
        return np.array_split(points, min(len(points), 1 + cells // _CELLS))

    def kinds(self, own: Array) -> Kinds:
        """Return the log likelihoods of the three kinds of seed, and the probability of each course."""
        own = self.within_bounds(own)
        each = self._of_courses(own)
        totals = self.courses.totals(each)
        never, start, late = self._of_kinds(totals, own)
        share = np.exp(each - self.courses.of_courses(totals))
        return Kinds(never=never, start=start, late=late, share=share)

    def _of_courses(self, own: Array) -> Array:
        return of_courses(self.weighings, self.courses, own, self.curve.shape)[0]

    def _of_kinds(self, totals: Array, own: Array) -> tuple[Array, Array, Array]:
        """Return the log likelihoods of the kinds with their odds, each (points, seeds)."""
        never, start, late = np.split(totals, 3, axis=-1)
        # a seed whose radicle came out has taken up water
        sealed = np.where(np.isnan(self.weighings.germinated_h), 0.0, -np.inf)
        closed = log_expit(own[..., CLOSED])
        return (
            never + sealed + closed + log_expit(-own[..., LATE]),
            start + log_expit(-own[..., CLOSED]),
            late + closed + log_expit(own[..., LATE]),
        )

    def with_speeds(self, own: Array) -> Seeds:
        """Return the model with the best guesses of speeds at these parameters, (seeds, 12)."""
        own = self.within_bounds(own[None])
        _, found = of_courses(self.weighings, self.courses, own, self.curve.shape)
        mean, sd = -own[0, :, HALF_TIME], np.exp(own[0, :, SPEED_SPREAD])
        seed = self.courses.seed
        courses = self.courses.with_speeds(mean[seed], sd[seed], found.mean[0], found.variance[0])
        return replace(self, courses=courses)


def _without_odds(own: Array) -> tuple[Array, np.ndarray]:
    """Return the points (distinct, seeds, 12) that differ in more than odds, and which of them each point is."""
    rest = np.delete(own, (CLOSED, LATE), axis=-1)
    known: dict[bytes, int] = {}
    place = np.array([known.setdefault(point.tobytes(), len(known)) for point in rest])
    return own[np.unique(place, return_index=True)[1]], place

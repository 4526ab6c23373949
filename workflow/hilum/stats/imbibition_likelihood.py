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
from hilum.stats.families import Array
from hilum.stats.low_rank import Density, density
from hilum.stats.uptake_courses import AT_ONCE, Courses

# a seed's own parameters, all logarithms but the two odds (log odds)
(
    FILM,  # the surface film, of the seed's mass
    FILM_SPREAD,  # sd of the film between readings, of the film
    BALANCE,  # sd of the balance, mg
    PLATEAU,  # final uptake, of the dry mass
    HALF_TIME,  # h
    PLATEAU_SPREAD,  # sd between seeds, of the plateau
    SPEED_SPREAD,  # sd between seeds, of the speed
    CLOSED,  # odds that the coat is closed when soaking begins
    LATE,  # odds that a closed coat opens before the last weighing
    LAG,  # h from soaking to the onset, where the coat is open
) = range(10)

# Between seeds of one lot the sd of the mass is mostly a tenth to a quarter of it (common practice, no
# source); this many seeds' worth of that knowledge is added to what the dry masses show.
_MASS_SPREAD, _MASS_SEEDS, _LEAST_MASS_SPREAD = 0.18, 4.0, 0.05


_DROP = 3.0  # the film's sd where a drop was missed, of the usual one


@dataclass(frozen=True, kw_only=True)
class Weighings:
    """Masses of single seeds, shape (seeds, weighings), nan where there is none; the first column is dry.

    `group` (seeds,) numbers lot × treatment, `treatment` (seeds,) the treatment. `germinated_h` (seeds,) is
    when the radicle was first seen out, nan where it was not: from then on no mass is given.
    """

    hours: Array
    mass_mg: Array
    group: np.ndarray
    treatment: np.ndarray
    germinated_h: Array

    @property
    def seen_h(self) -> Array:
        """Return the hours at which each seed was seen, (seeds, k), ascending, nan at the end."""
        weighed = np.where(np.isfinite(self.mass_mg), self.hours, np.nan)
        return np.sort(np.column_stack([weighed, self.germinated_h]), axis=1)

    @cached_property
    def is_last(self) -> np.ndarray:
        """Return which mass is the last of its seed, (seeds, weighings)."""
        weighed = np.isfinite(self.mass_mg)
        return np.asarray(weighed & (weighed[:, ::-1].cumsum(1)[:, ::-1] == 1))

    @cached_property
    def siblings(self) -> tuple[Array, Array, Array]:
        """Return mean and variance of the dry masses of each seed's group, and its number of seeds."""
        dry, n = self.mass_mg[:, 0], np.bincount(self.group)
        mean = np.bincount(self.group, dry) / n
        squares = np.bincount(self.group, (dry - mean[self.group]) ** 2)
        expected = _MASS_SEEDS * (_MASS_SPREAD * mean) ** 2
        variance = (expected + squares) / (_MASS_SEEDS + n - 1)
        return mean[self.group], variance[self.group], n[self.group].astype(float)


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

    `own` holds the seeds' parameters, shape (points, seeds, 10); LAG is −inf where there is none. The density's
    last cause is the seed's speed, in sd from its siblings' mean: the curve is replaced by its tangent at
    the course's best guess of the speed, which makes all causes normal.
    """
    seed = courses.seed
    p = np.exp(np.moveaxis(own, -1, 0))[:, :, seed, None]
    deviate = courses.deviates(-own[:, seed, HALF_TIME], p[SPEED_SPREAD, ..., 0])[..., None]
    speed = np.exp(p[SPEED_SPREAD] * deviate) / p[HALF_TIME]
    hours, mass = weighings.hours[seed], weighings.mass_mg[seed]
    spread, true_mass, mean = _true_mass(weighings, seed, p[BALANCE])
    x = _half_times(courses, hours, speed, p[LAG])
    share, slope = uptake.share_and_slope(x, shape)
    film = (hours > 0) * p[FILM]
    gain = film + p[PLATEAU] * share
    sd = _reading_sd(weighings, courses, p, true_mass * film)
    weight = np.where(np.isfinite(mass), 1 / sd, 0.0)
    water = weight * true_mass * p[PLATEAU]
    by_speed = water * slope * x * p[SPEED_SPREAD]
    causes = (
        weight * np.sqrt(spread) * (1 + gain),
        water * p[PLATEAU_SPREAD] * share,
        water * slope * (x > 0) * (speed * courses.width_h[:, None] / np.sqrt(12)),
        by_speed,
    )
    residual = weight * (np.nan_to_num(mass) - mean * (1 + gain)) + by_speed * deviate
    found = density(residual, causes)
    log_sd = np.where(np.isfinite(mass), np.log(sd), 0.0).sum(-1)
    return found.log - log_sd + courses.log_share, found


def _half_times(courses: Courses, hours: Array, speed: Array, lag: Array) -> Array:
    """Return the half-times since the onset, (points, courses, weighings), 0 before it."""
    at_once = courses.kind == AT_ONCE
    fixed = np.where(at_once, 0.0, courses.middle_h)
    onset = np.where(at_once[:, None], lag, fixed[:, None])
    return np.asarray(np.maximum(hours - onset, 0.0) * speed)


def _reading_sd(weighings: Weighings, courses: Courses, p: Array, film_mg: Array) -> Array:
    """Return the sd of each reading about its seed's own curve: balance and film, (points, courses, weighings)."""
    wetter = 1 + (_DROP - 1) * courses.drop[:, None] * weighings.is_last[courses.seed]
    return np.asarray(np.sqrt(p[BALANCE] ** 2 + (p[FILM_SPREAD] * film_mg * wetter) ** 2))


def _true_mass(
    weighings: Weighings, seed: np.ndarray, balance: Array
) -> tuple[Array, Array, Array]:
    """Return the variance of true dry masses about their mean, each seed's best guess, and the mean."""
    mean, variance, n = (x[seed, None] for x in weighings.siblings)
    between = np.maximum(variance - balance**2, (_LEAST_MASS_SPREAD * mean) ** 2)
    dry = weighings.mass_mg[seed, :1]
    guess = mean + (dry - mean) * between / (between + balance**2)
    return between * (1 + 1 / n), guess, mean


@dataclass(frozen=True)
class Seeds:
    """The likelihood of each seed, with these courses held possible, and this curve."""

    weighings: Weighings
    courses: Courses
    curve: uptake.Curve

    @property
    def moves(self) -> tuple[int, ...]:
        """Return which of a seed's parameters its likelihood depends on."""
        return (*range(LAG), *([LAG] if self.curve.lag else []))

    def __call__(self, own: Array) -> Array:
        """Return the log likelihood of each seed, (points, seeds), from parameters (points, seeds, 10)."""
        kinds = self.kinds(own)
        return np.logaddexp(kinds.never, kinds.imbibed)

    def kinds(self, own: Array) -> Kinds:
        """Return the log likelihoods of the three kinds of seed, and the probability of each course."""
        own = without_lag(own, self.curve)
        each, _ = of_courses(self.weighings, self.courses, own, self.curve.shape)
        totals = self.courses.totals(each)
        never, start, late = np.split(totals, 3, axis=-1)
        # a seed whose radicle came out has taken up water
        sealed = np.where(np.isnan(self.weighings.germinated_h), 0.0, -np.inf)
        closed = log_expit(own[..., CLOSED])
        return Kinds(
            never=never + sealed + closed + log_expit(-own[..., LATE]),
            start=start + log_expit(-own[..., CLOSED]),
            late=late + closed + log_expit(own[..., LATE]),
            share=np.exp(each - self.courses.of_courses(totals)),
        )

    def with_speeds(self, own: Array) -> Seeds:
        """Return the model with the best guesses of speeds at these parameters, (seeds, 10)."""
        own = without_lag(own[None], self.curve)
        _, found = of_courses(self.weighings, self.courses, own, self.curve.shape)
        mean, sd = -own[0, :, HALF_TIME], np.exp(own[0, :, SPEED_SPREAD])
        seed = self.courses.seed
        courses = self.courses.with_speeds(mean[seed], sd[seed], found.mean[0], found.variance[0])
        return replace(self, courses=courses)


def without_lag(own: Array, curve: uptake.Curve) -> Array:
    """Return the parameters with the lag taken out where the curve has none."""
    if curve.lag:
        return own
    out = own.copy()
    out[..., LAG] = -np.inf
    return out

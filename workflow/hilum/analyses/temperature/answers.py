"""What the data hold about each cardinal temperature: a value, a bracket, or nothing.

A value is claimed only where the whole interval rests on data: two germinating temperatures surely on the
rising limb, a likelihood that is not flat, and limits that are not merely the coolest temperature tested. Else the
limits of the likelihood itself are the answer.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from hilum.analyses.estimate import Status
from hilum.analyses.temperature.candidate import regular
from hilum.analyses.temperature.choice import Certainty, Choice, dish_components
from hilum.stats import cardinal, profile, response, spread
from hilum.stats.arrays import Array
from hilum.stats.cardinal import Held, Peak
from hilum.stats.rate_there import rate_there

_NEAR = 0.01  # °C; a base this close below the coolest germinating temperature is at it, and so is a bend above
_FLAT = 0.04  # of −2 log likelihood ratio; a profile that rises less over a degree says nothing
_FAR = 15.0  # °C below the coolest germination
_STEPS = 25
_WIDEST = 3.0  # of a log rate, either way; a time known to a factor of twenty is not worth a row
_PRECISE = 1e-4  # of a standard error; finer limits would print the same


@dataclass(frozen=True, kw_only=True)
class Answer:
    """One quantity: `why` names what stands against a value, empty where it is `estimated`.

    `threshold` is what −2 log likelihood ratio may reach inside the interval.
    """

    value: float | None
    low: float | None
    high: float | None
    standard_error: float | None
    status: Status
    why: str
    threshold: float


@dataclass(frozen=True, kw_only=True)
class Answers:
    """What is known of each cardinal temperature of the chosen response.

    `bends` are the temperatures at which its curve bends, `ceiling` where it ends.
    """

    base: Answer
    thermal_time: Answer
    bends: tuple[Answer, ...]
    ceiling: Answer | None


@dataclass(frozen=True)
class Path:
    """The profile of the base: `base` (°C, (n,)), −2 log likelihood ratio `rise` (n,), `parameters` (n, p)."""

    base: Array
    rise: Array
    parameters: Array


@dataclass(frozen=True)
class Halves:
    """Hours to half at constant temperatures, (n,), with their limits, nan where one is not found; `error` on their logarithm."""

    temperature: Array
    hours: Array
    low: Array
    high: Array
    error: Array


@dataclass(frozen=True)
class _Likelihood:
    """A peak with what its intervals need."""

    peak: Peak
    choice: Choice
    intervals: spread.Intervals
    confidence: float
    regular: bool

    def threshold(self, contrast: Array) -> tuple[float, float]:
        """Return the threshold for a contrast of the parameters and its standard error.

        Where some direction has no information the dishes' average scale stands in.
        """
        dof = np.asarray(self.choice.components.dof.max())
        average = self.choice.scale * float(spread.t_squared(dof, self.confidence))
        if not self.regular:
            return average, np.nan
        found = self.intervals.threshold(contrast, confidence=self.confidence)
        if not np.isfinite(found.model_variance):
            return average, np.nan
        return float(found.value), float(np.sqrt(found.model_variance * found.scale))


def answers(choice: Choice, certainty: Certainty) -> Answers:
    """Return what is known of each cardinal temperature of the chosen response.

    Where seeds differ in their base the response is of another kind, and simulated studies showed that neither model's
    interval may be trusted alone: the base and the thermal time are brackets that hold both.
    """
    found = _answers(choice.chosen.peak, choice, certainty)
    other = choice.seeds_differ
    if other is None:
        return found
    own = _answers(other.peak, choice, certainty)
    return Answers(
        base=_either(found.base, own.base),
        thermal_time=_either(found.thermal_time, own.thermal_time),
        bends=tuple(_open_above(bend) for bend in found.bends),
        ceiling=None if found.ceiling is None else _open_above(found.ceiling),
    )


def _answers(peak: Peak, choice: Choice, certainty: Certainty) -> Answers:
    at = _likelihood(peak, choice, certainty)
    held = cardinal.profile(peak, choice.pool)
    found = _intervals(at, held, _ranges(at))
    bends = tuple(_bend(at, column, found[column]) for column in _response(peak).breaks)
    base = _base(at, bends, found[1], held)
    slope = _likelihood(cardinal.absolute(peak, choice.pool), choice, certainty)
    falls = "fall" in _response(peak).names
    return Answers(
        base=base,
        thermal_time=_thermal_time(slope, base),
        bends=bends,
        ceiling=_ceiling(at, found[len(_response(peak).names) - 1]) if falls else None,
    )


def _ranges(at: _Likelihood) -> dict[int, tuple[float, float]]:
    """Return the columns of base, bends and ceiling, and how far each may move."""
    curve = _response(at.peak)
    steepest = float(response.rise_at_base(curve, np.asarray(_top(at) - _NEAR)))
    falls = {len(curve.names) - 1: (0.0, 1 / _NEAR)} if "fall" in curve.names else {}
    return {1: (0.0, steepest), **dict.fromkeys(curve.breaks, _tested(at)), **falls}


def _top(at: _Likelihood) -> float:
    """Return the temperature that the base lies below."""
    # where seeds differ in their base some germinate below the median one
    coolest = float(cardinal.sprouting_temperatures(at.choice.pool)[0])
    return _response(at.peak).anchor if at.peak.model.own_bases else coolest


def _tested(at: _Likelihood) -> tuple[float, float]:
    """Return the temperatures between which a bend may lie."""
    warm = cardinal.sprouting_temperatures(at.choice.pool)
    return float(warm[0] + _NEAR), float(warm[-1] - _NEAR)


def halves(choice: Choice, temperature: Array, certainty: Certainty) -> Halves | None:
    """Return the time to half at each temperature (°C, (n,)) at which seeds germinated, with its profile interval.

    None for a curve that is not pinned down.
    """
    peak = choice.chosen.peak
    if not regular(peak, choice.pool):
        return None
    # the same fit spelt otherwise at each temperature: as regular as it was
    there = [rate_there(peak, float(t)) for t in temperature]
    value = np.array([float(one.parameters[0]) for one in there])
    first = _unit(peak.model.size, 0)
    known = [_likelihood(one, choice, certainty, pinned=True).threshold(first) for one in there]
    held, both = cardinal.profiles(there, choice.pool), np.tile(np.arange(len(there)), 2)
    low, high, _, error = _followed(
        lambda x: held(x, 0, both)[0],
        value,
        (value - _WIDEST, value + _WIDEST),
        np.array(known),
        together=both,
    )
    # a rate is the lower, the later half of the seeds germinate
    return Halves(temperature, np.exp(-value), np.exp(-high), np.exp(-low), error)


def rate_band(choice: Choice, temperature: Array, certainty: Certainty) -> Array | None:
    """Return how far the logarithm of the rate may lie off at each temperature (°C, (n,)), nan where it is 0.

    It is symmetric, for a chart. None for a curve that is not pinned down.
    """
    at = _likelihood(choice.chosen.peak, choice, certainty)
    if not at.regular:
        return None
    model, parameters = at.peak.model, at.peak.parameters
    found = response.rates(_response(at.peak), parameters[: model.rate_parameters], temperature)
    moving = found.value > 0
    contrasts = np.zeros((int(moving.sum()), model.size))
    contrasts[:, : model.rate_parameters] = found.gradient[moving] / found.value[moving][:, None]
    limit = at.intervals.threshold(contrasts, confidence=certainty.confidence)
    reach = np.full(len(temperature), np.nan)
    reach[moving] = np.sqrt(limit.value * limit.model_variance)
    return reach


def lowest_bend(choice: Choice, certainty: Certainty) -> float | None:
    """Return the temperature above which the rising line surely reaches, None where it is unknown.

    For a chosen straight line: the lower limit of the bend in the plateau that fits best.
    """
    flat = [c for c in choice.candidates if c.shape == "plateau"]
    if not flat:
        return None
    peak = min(flat, key=lambda c: c.aic).peak
    at = _likelihood(peak, choice, certainty)
    found = _intervals(at, cardinal.profile(peak, choice.pool), {2: _tested(at)})
    return _bend(at, 2, found[2]).low


def _response(peak: Peak) -> response.Response:
    assert peak.model.response is not None  # noqa: S101
    return peak.model.response


def _likelihood(
    peak: Peak, choice: Choice, certainty: Certainty, *, pinned: bool = False
) -> _Likelihood:
    """Return what the intervals of a peak need; it need not be looked at where it is known to be `pinned` down."""
    components, scores, _ = dish_components(peak, choice.series, certainty.correlation)
    intervals = spread.Intervals.of(scores, components)
    known = pinned or regular(peak, choice.pool)
    return _Likelihood(peak, choice, intervals, certainty.confidence, known)


def _either(one: Answer, other: Answer) -> Answer:
    """Return the bracket that holds two intervals, open where either is."""
    low = min(-np.inf if a.low is None else a.low for a in (one, other))
    high = max(np.inf if a.high is None else a.high for a in (one, other))
    return _answer(np.nan, low, high, np.nan, "seeds_differ", one.threshold)


def _open_above(answer: Answer) -> Answer:
    """Return what is left of a warm temperature: times that stop falling are also those of seeds that differ."""
    low = np.nan if answer.low is None else answer.low
    return _answer(np.nan, low, np.nan, np.nan, "seeds_differ", answer.threshold)


def _unit(size: int, column: int) -> Array:
    contrast = np.zeros(size)
    contrast[column] = 1.0
    return contrast


@dataclass(frozen=True)
class _Interval:
    low: float
    high: float
    threshold: float
    error: float


def _intervals(
    at: _Likelihood, held: Held, ranges: Mapping[int, tuple[float, float]]
) -> dict[int, _Interval]:
    """Return the profile interval of parameters, each in a range of its own, by their column; nan is an end not found.

    They are followed together, which costs hardly more than one of them.
    """
    columns = np.array(list(ranges))
    known = [at.threshold(_unit(at.peak.model.size, column)) for column in columns]
    floor, roof = np.array(list(ranges.values())).T
    both = np.tile(columns, 2)
    ends = _followed(
        lambda x: held(x, both)[0], at.peak.parameters[columns], (floor, roof), np.array(known)
    )
    rows = zip(*(end.tolist() for end in ends), strict=True)
    return {column: _Interval(*row) for column, row in zip(ranges, rows, strict=True)}


def _followed(
    rise: Callable[[Array], Array],
    value: Array,
    ends: tuple[Array, Array],
    known: Array,
    together: np.ndarray | None = None,
) -> tuple[Array, Array, Array, Array]:
    """Return lower and upper limits, thresholds and standard errors, (n,) each, of values within `ends`.

    `rise` is asked for both limits of all, (2n,); `known` (n, 2) are thresholds and standard errors.
    """
    floor, roof = ends
    threshold, error = known.T
    room = np.minimum(roof - floor, np.maximum(np.abs(value), (roof - floor) / 1000)) / 4
    step = np.where(error > 0, np.fmin(2 * error, room), room)
    edges = np.minimum(floor, value), np.maximum(roof, value)
    low, high = profile.limit(
        rise,
        np.tile(np.clip(value, floor, roof), 2),
        np.concatenate((-step, step)),
        np.tile(threshold, 2),
        edge=np.concatenate(edges),
        tolerance=_PRECISE,
        together=together,
    ).reshape(2, -1)
    return low, high, threshold, error


def _known(number: float) -> float | None:
    return None if np.isnan(number) or np.isinf(number) else float(number)


def _bend(at: _Likelihood, column: int, found: _Interval) -> Answer:
    """Return the temperature of one bend: it must lie surely inside the temperatures tested."""
    warm = cardinal.sprouting_temperatures(at.choice.pool)
    falls = "fall" in _response(at.peak).names and column == _response(at.peak).breaks[-1]
    why = _first(
        one_rising=np.isnan(found.low) or found.low <= warm[min(1, len(warm) - 1)],
        not_reached=np.isnan(found.high),
        one_falling=falls and at.choice.chosen.falling < 2,
        flat=not at.regular,
    )
    value = float(at.peak.parameters[column])
    return _answer(value, found.low, found.high, found.error, why, found.threshold)


def _first(**reasons: bool | np.bool_) -> str:
    """Return the name of the first reason that holds, empty where none does."""
    return next((name for name, holds in reasons.items() if holds), "")


def _base(at: _Likelihood, bends: tuple[Answer, ...], found: _Interval, held: Held) -> Answer:
    curve, top = _response(at.peak), _top(at)
    coolest = float(cardinal.sprouting_temperatures(at.choice.pool)[0])
    rise = float(at.peak.parameters[1])
    value, low, high = (_base_at(curve, r) for r in (rise, found.low, found.high))
    why = _first(
        one_rising=at.choice.chosen.rising < 2 or [b.why for b in bends[:1]] == ["one_rising"],
        no_rise=np.isnan(value) or np.isnan(low),
        at_coolest=np.isnan(high),
        flat=not at.regular or _is_flat(value, coolest, curve, held),
    )
    high = top if np.isnan(high) and rise > 0 else high
    error = found.error / rise**2 if rise > 0 else np.nan
    return _answer(value, low, high, error, why, found.threshold)


def _base_at(curve: response.Response, rise: float) -> float:
    return float(response.base_temperature(curve, np.array([0.0, rise]))) if rise > 0 else np.nan


def _is_flat(value: float, coolest: float, curve: response.Response, held: Held) -> bool:
    """Return whether the profile rises by next to nothing over a degree around the best base."""
    if np.isnan(value):
        return True
    around = np.array([value - 0.5, min(value + 0.5, coolest - _NEAR)])
    rise, _ = held(response.rise_at_base(curve, around), 1)
    return bool(rise.max() < _FLAT)


def path(choice: Choice, base: Answer) -> Path:
    """Return the profile of the base through its interval and a little beyond, coolest first."""
    peak = choice.chosen.peak
    curve = _response(peak)
    coolest = float(cardinal.sprouting_temperatures(choice.pool)[0])
    best = _base_at(curve, float(peak.parameters[1]))
    # an interval without a lower end is followed as far as any seed could matter
    low = base.low if base.low is not None else np.nanmin([best, coolest]) - _FAR
    high = coolest if base.high is None else base.high
    margin = 0.15 * (high - low)
    steps = np.linspace(low - margin, min(high + margin, coolest - _NEAR), _STEPS)
    steps = np.sort(np.append(steps, best)) if np.isfinite(best) else steps
    rise, parameters = cardinal.profile(peak, choice.pool)(response.rise_at_base(curve, steps), 1)
    possible = np.isfinite(rise)
    return Path(steps[possible], np.maximum(rise[possible], 0.0), parameters[possible])


def _thermal_time(at: _Likelihood, base: Answer) -> Answer:
    """Return the thermal time to half: one divided by the slope, which is a parameter here."""
    slope = float(at.peak.parameters[1])
    furthest = 1e3 * max(abs(slope), float(np.exp(at.peak.parameters[0])))
    held = cardinal.profile(at.peak, at.choice.pool)
    found = _intervals(at, held, {1: (0.0, furthest)})[1]
    low, high = (1 / s if s > 0 else np.nan for s in (found.high, found.low))
    value = 1 / slope if slope > 0 else np.nan
    error = found.error / slope**2 if slope > 0 else np.nan
    why = base.why or _first(no_rise=np.isnan(high), at_coolest=np.isnan(low))
    return _answer(value, low, high, error, why, found.threshold)


def _ceiling(at: _Likelihood, found: _Interval) -> Answer:
    curve = _response(at.peak)
    column = len(curve.names) - 1
    low, high = (curve.top + 1 / f if f > 0 else np.nan for f in (found.high, found.low))
    fall = float(at.peak.parameters[column])
    value = curve.top + 1 / fall if fall > 0 else np.nan
    why = _first(
        no_fall=np.isnan(high),
        one_falling=at.choice.chosen.falling < 2,
        flat=np.isnan(low) or not at.regular,
    )
    low = curve.top if np.isnan(low) else low
    error = found.error / fall**2 if fall > 0 else np.nan
    return _answer(value, low, high, error, why, found.threshold)


def _answer(
    value: float, low: float, high: float, error: float, why: str, threshold: float
) -> Answer:
    ends = _known(low), _known(high)
    if not why and None not in ends:
        return Answer(
            value=float(value),
            low=ends[0],
            high=ends[1],
            standard_error=_known(error),
            status="estimated",
            why="",
            threshold=threshold,
        )
    status: Status = "not_identified" if ends == (None, None) else "bracketed"
    return Answer(
        value=None,
        low=ends[0],
        high=ends[1],
        standard_error=None,
        status=status,
        why=why,
        threshold=threshold,
    )

"""Treatments against each other, twice and separately: how many germinated, and how fast."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np

from hilum.analyses.dishes import Key
from hilum.analyses.estimate import Estimate
from hilum.analyses.printer import Printer
from hilum.analyses.time_course.curves import Course
from hilum.analyses.time_course.finals import FateShares, Finals
from hilum.stats import proportions
from hilum.stats.arrays import Array

# where more than a tenth of the seeds stayed hard, a time tells when coats opened, not how fast seeds grow
MOST_HARD = 0.1
_HOW = "Newcombe's interval, both fractions widened for dish spread"
_HOW_FAST = "ratio of t50 from both profile intervals (Zou and Donner 2008)"


@dataclass(frozen=True)
class Compared:
    """What the comparisons need of an experiment."""

    keys: Sequence[Key]
    finals: Finals
    fates: FateShares
    course: Course
    margin: float
    confidence: float


def families(keys: Sequence[Key], controls: frozenset[str]) -> list[list[tuple[int, int]]]:
    """Return the pairs to compare, a list for each lot, temperature and condition.

    Untreated seeds come last in a pair: others are compared with them.
    """
    places: dict[tuple[str, ...], list[int]] = {}
    for i, (lot, _, degrees, words) in enumerate(keys):
        places.setdefault((lot, f"{degrees:g}", words), []).append(i)
    ordered = (
        sorted(members, key=lambda i: (keys[i][1] in controls, i)) for members in places.values()
    )
    return [list(combinations(members, 2)) for members in ordered if len(members) > 1]


Chance = tuple[int, int, float | None]


def compare(
    data: Compared, controls: frozenset[str]
) -> tuple[list[Estimate], list[dict[str, Any]], list[Chance]]:
    """Return the estimates of all comparisons, a row with p values for each, and the pairs with that of germination.

    `controls` are the treatments by which nothing was done.
    """
    found: list[Estimate] = []
    rows: list[dict[str, Any]] = []
    chances: list[Chance] = []
    for family in families(data.keys, controls):
        finals = _finals(data, family)
        speeds = [_speed(data, *pair) for pair in family]
        adjusted = [_adjusted([p for _, p in made]) for made in (finals, speeds)]
        for (one, other), (final, _), (speed, _), p_final, p_speed in zip(
            family, finals, speeds, *adjusted, strict=True
        ):
            found += [*final, *speed]
            rows.append(_row(data, one, other, p_final, p_speed))
            chances.append((one, other, p_final))
    return found, rows, chances


def untreated(treatments: Mapping[str, np.ndarray] | None) -> frozenset[str]:
    """Return the treatments by which nothing was done."""
    if treatments is None:
        return frozenset()
    return frozenset(str(t) for t in treatments["treatment"][treatments["method"] == "none"])


# what opens a coat; a break of dormancy or a regulator does not
_OPENS = ("chipping", "filing", "sandpaper", "acid", "hot_water", "dry_heat", "freeze_thaw")


def opening(treatments: Mapping[str, np.ndarray] | None) -> frozenset[str] | None:
    """Return the treatments by which coats were opened, None where nobody said what was done."""
    if treatments is None:
        return None
    return frozenset(treatments["treatment"][np.isin(treatments["method"], _OPENS)].tolist())


def _adjusted(p: Sequence[float | None]) -> list[float | None]:
    given = [i for i, value in enumerate(p) if value is not None]
    values = proportions.holm(np.array([p[i] for i in given], dtype=float))
    adjusted: list[float | None] = [None] * len(p)
    for i, value in zip(given, values, strict=True):
        adjusted[i] = float(value)
    return adjusted


def _row(
    data: Compared, one: int, other: int, p_final: float | None, p_speed: float | None
) -> dict[str, Any]:
    lot, treatment, degrees, words = data.keys[one]
    return {
        "lot": lot,
        "treatment": treatment,
        "versus": data.keys[other][1],
        "temperature_c": None if np.isnan(degrees) else degrees,
        "condition": words,
        "p_difference": p_final,
        "p_time_ratio": p_speed,
    }


def _differences(
    data: Compared, pairs: np.ndarray, confidence: Array | float
) -> tuple[Array, Array, Array]:
    """Return the differences of pairs (n, 2), first minus second, and their limits, (n,) each."""
    share = data.finals.germinated
    sides = []
    for side in pairs.T:
        threshold = share.spread.take(side).shared_threshold(confidence)
        hits, total = share.groups.hits[side].sum(-1), share.groups.total[side]
        sides.append((share.fraction[side], *proportions.wilson(hits, total, threshold)))
    value, low, high = zip(*sides, strict=True)
    return proportions.difference(value, low, high)


def _finals(
    data: Compared, family: Sequence[tuple[int, int]]
) -> list[tuple[list[Estimate], float | None]]:
    """Return difference and equivalence of final germination of each pair, and the p value of no difference."""
    pairs = np.array(family)
    limits = np.stack(_differences(data, pairs, data.confidence), axis=1).tolist()
    narrow = np.stack(_differences(data, pairs, 2 * data.confidence - 1), axis=1).tolist()
    told = zip(family, limits, narrow, _chances(data, pairs).tolist(), strict=True)
    return [_final(data, *one) for one in told]


def _final(
    data: Compared,
    pair: tuple[int, int],
    limits: Sequence[float],
    narrow: Sequence[float],
    chance: float,
) -> tuple[list[Estimate], float | None]:
    one, other = pair
    printer = Printer(data.keys[one], data.confidence)
    versus = {"versus": data.keys[other][1]}
    seeds = data.finals.germinated.groups.total
    if min(seeds[one], seeds[other]) <= 0:
        needs = "One of the two treatments has not been inspected yet."
        made = [
            printer.not_identified(quantity, method=_HOW, needs=needs, **versus)
            for quantity in ("difference", "equivalent")
        ]
        return made, None
    delta, low, high = limits
    difference = printer.estimated("difference", delta, low, high, method=_HOW, **versus)
    return [difference, _equivalent(data, versus["versus"], narrow, printer)], chance


def _chances(data: Compared, pairs: np.ndarray) -> Array:
    """Return the p values: 1 − the confidence at which Newcombe's interval just reaches 0."""
    low, high = np.zeros(len(pairs)), np.ones(len(pairs))
    for _ in range(40):
        confidence = (low + high) / 2
        _, down, up = _differences(data, pairs, confidence)
        reaches = (down <= 0) & (up >= 0)
        low, high = np.where(reaches, low, confidence), np.where(reaches, confidence, high)
    return np.asarray(1 - (low + high) / 2)


def _equivalent(data: Compared, versus: str, limits: Sequence[float], printer: Printer) -> Estimate:
    """Return whether two fractions surely differ by less than the margin: two one-sided tests."""
    (_, low, high), margin = limits, data.margin
    method = f"two one-sided tests, margin {margin:g}"
    if -margin < low and high < margin:
        return printer.estimated("equivalent", 1, 1, 1, method=method, versus=versus)
    if low > margin or high < -margin:
        return printer.estimated("equivalent", 0, 0, 0, method=method, versus=versus)
    needs = (
        f"The difference may be smaller or larger than the margin of {margin:g}: sow more dishes."
    )
    return printer.bracketed("equivalent", 0, 1, method=method, needs=needs, versus=versus)


def _speed(data: Compared, one: int, other: int) -> tuple[list[Estimate], float | None]:
    """Return the ratio of t50, and the p value of no difference."""
    printer, versus = Printer(data.keys[one], data.confidence), data.keys[other][1]
    needs = _no_ratio(data, one) or _no_ratio(data, other)
    if needs:
        made = printer.not_identified("time_ratio", method=_HOW_FAST, needs=needs, versus=versus)
        return [made], None
    t50 = data.course.times["t50"]
    logs = (data.course.fits.log_t50, np.log(t50.low), np.log(t50.high))
    value, low, high = ((x[one], x[other]) for x in logs)
    delta, down, up = (float(x) for x in proportions.difference(value, low, high))
    ratio = np.exp((delta, down, up))
    made = printer.estimated("time_ratio", *ratio, method=_HOW_FAST, versus=versus)
    dof = min(float(t50.threshold.dof[one]), float(t50.threshold.dof[other]))
    reach = delta - down if delta > 0 else up - delta
    p = proportions.chance_of_none(np.array(delta), np.array(reach), np.array(dof), data.confidence)
    return [made], float(p)


def _no_ratio(data: Compared, i: int) -> str:
    """Return why a group has no speed that could be compared, empty where it has."""
    treatment, t50 = data.keys[i][1], data.course.times["t50"]
    if not data.course.fits.fitted[i] or np.isnan(t50.low[i]) or np.isnan(t50.high[i]):
        return f"The t50 of {treatment} is not known well enough; see there what it needs."
    if data.fates.assessed[i] and data.fates.hard.fraction[i] > MOST_HARD:
        return (
            f"More than a tenth of the seeds of {treatment} stayed hard: its times tell when coats let water "
            "in, not how fast seeds germinate. Compare opened seeds."
        )
    if not (data.course.complete[i] or data.course.all_germinated[i]):
        return f"More seeds of {treatment} may have been to come after the last inspection."
    return ""

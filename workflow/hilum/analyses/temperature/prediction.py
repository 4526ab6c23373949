"""What to expect of the seeds: germination at any constant temperature, and how many to sow.

A prediction is offered where the base temperature is a number, between the lowest base that the data allow and the warmest
temperature tested, and no longer after sowing than the tests ran.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from hilum.analyses.temperature.answers import Answer
from hilum.analyses.temperature.choice import (
    Candidate,
    Certainty,
    Choice,
    dish_components,
    regular,
)
from hilum.analyses.temperature.series import Sown
from hilum.stats import proportions, sowing, spread
from hilum.stats.expectation import Grid, Outlook, band, outlook, thinned
from hilum.stats.families import Array
from hilum.stats.spread import Components

WANTED = (10, 50, 100)  # germinated seeds to have
SURE = 0.95  # how surely a sowing has as many
_ALIKE = 2.0  # of the AIC; families no further apart than this fit about as well
_COLDEST = 1.0  # °C; below it water in the seed may freeze
_DAYS = (0.05, 0.1, 0.25, 0.5, 1.0, 2.0, 5.0, 7.0)  # steps between days that read well
_MOST_DAYS = 30  # times on the grid
_MOST_SOWINGS = 9  # temperatures of the sowing table
_STEPS = (1.0, 2.5, 5.0, 10.0)  # °C between them
_LEVELS = np.array(
    (0, 0.002, 0.005, *np.arange(0.01, 0.1, 0.01), 0.125, 0.15, *np.arange(0.2, 1.01, 0.1))
)  # dense where a sowing falls short
_DIGITS = 4
Drawing = dict[str, Any]


@dataclass(frozen=True, kw_only=True)
class Prediction:
    """Germinated share of the seeds sown at temperatures (°C, (n,)) by days (m,), (n, m), with its limits.

    `seeds` (3, i, j) are those to sow to have `WANTED` germinated at `sown_at` (°C, (i,)) by `sown_by` (days,
    (j,)), in dishes of `dish` seeds; nan where no reasonable number is enough.
    """

    temperature: Array
    days: Array
    share: Array
    low: Array
    high: Array
    sown_at: Array
    sown_by: Array
    seeds: Array
    dish: int


def why_not(sown: Sown, choice: Choice, base: Answer) -> str:
    """Return why there is no prediction, empty where there is one."""
    if not np.isnan(sown.night).all():
        return (
            "Germination at a constant temperature is not predicted from alternating temperatures."
        )
    held = base.status == "estimated" and choice.chosen.identifiable
    if not held or not regular(choice.chosen.peak, choice.pool):
        return (
            "Germination at other temperatures is not predicted: it hangs on the base temperature, which is not "
            "pinned down."
        )
    return ""


def predict(choice: Choice, base: Answer, certainty: Certainty) -> Prediction:
    """Return the prediction of a series whose base temperature is a number."""
    series = choice.series
    temperature = _temperatures(choice, base)
    days = _days(float(series.cells.last_h.max()) / 24)
    found, _ = _outlook(choice, choice.chosen, certainty, temperature, days)
    low, high = _band(choice, certainty, temperature, days)
    sown_at, sown_by = _sowings(temperature, base), _sowing_days(days)
    dish = int(np.median(series.cells.seeds))
    return Prediction(
        temperature=temperature,
        days=days,
        share=found.best.share,
        low=low,
        high=high,
        sown_at=sown_at,
        sown_by=sown_by,
        seeds=_seeds(choice, certainty, sown_at, sown_by, dish),
        dish=dish,
    )


def _temperatures(choice: Choice, base: Answer) -> Array:
    assert base.low is not None  # noqa: S101
    warm = choice.pool.warmest
    coolest, warmest = float(warm.min()), float(warm.max())
    if choice.free:
        # each tested temperature has its own germinable fraction, known in between at most
        return np.arange(np.ceil(coolest), np.floor(warmest) + 1)
    return np.arange(max(_COLDEST, np.floor(base.low)), np.floor(warmest) + 1)


def _days(last: float) -> Array:
    """Return evenly spaced days after sowing, to the end of the longest test."""
    step = next((s for s in _DAYS if last / s <= _MOST_DAYS), last / _MOST_DAYS)
    return np.arange(1, np.floor(last / step + 1e-9) + 1) * step


def _sowings(temperature: Array, base: Answer) -> Array:
    """Return the temperatures of the sowing table: round ones above the base, not too many."""
    assert base.value is not None  # noqa: S101
    low, high = max(base.value, temperature[0]), temperature[-1]
    round_ones = (np.arange(np.floor(low / s) + 1, np.floor(high / s) + 1) * s for s in _STEPS)
    return next((t for t in round_ones if len(t) <= _MOST_SOWINGS), temperature[-1:])


def _sowing_days(days: Array) -> Array:
    """Return an eighth, a quarter, half, three quarters and all of the days, as far as the grid has them."""
    place = np.ceil(len(days) * np.array((0.125, 0.25, 0.5, 0.75, 1.0))).astype(int) - 1
    return np.asarray(days[np.unique(place)])


def _band(
    choice: Choice, certainty: Certainty, temperature: Array, days: Array
) -> tuple[Array, Array]:
    """Return the limits that hold the bands of every family of times that fits about as well as the chosen one.

    Families differ in their tails: in when the first seeds germinate.
    """
    near = [
        c
        for c in choice.candidates
        if c.shape == choice.chosen.shape and c.identifiable and c.aic <= choice.chosen.aic + _ALIKE
    ]
    lows, highs = [], []
    for candidate in near:
        found, _ = _outlook(choice, candidate, certainty, temperature, days)
        low, high = band(found)
        lows.append(_lowered(low, found, choice, certainty))
        highs.append(high)
    return np.min(lows, axis=0), np.max(highs, axis=0)


def _outlook(
    choice: Choice, candidate: Candidate, certainty: Certainty, temperature: Array, days: Array
) -> tuple[Outlook, Components]:
    peak = candidate.peak
    components, scores, _ = dish_components(peak, choice.series, certainty.correlation)
    grid = Grid(temperature, days * 24, _mixing(choice, temperature))
    found = outlook(
        peak.model,
        peak.parameters,
        grid,
        scores=scores,
        components=components,
        confidence=certainty.confidence,
    )
    return found, components


def _mixing(choice: Choice, temperature: Array) -> Array:
    """Return the share of each germinable fraction at each temperature: on straight lines between tested ones."""
    fractions = choice.chosen.peak.model.fractions
    tested = choice.pool.mean_temperature
    shared = np.array(choice.chosen.peak.model.shared)[:, None] == np.arange(fractions)
    each = [np.interp(temperature, tested, own) for own in shared.T.astype(float)]
    return np.stack(each, axis=1)


def _full(choice: Choice, found: Outlook) -> tuple[np.ndarray, Array]:
    """Return which germinable fractions are 1, all seeds having germinated, and the seeds that say so."""
    model, parameters = found.model, found.parameters
    number, pool = np.array(model.shared), choice.pool
    # at a temperature without germination seeds tell nothing of those that can
    seeds = np.bincount(number, pool.seeds * (pool.germinated > 0), model.fractions)
    return parameters[model.rate_parameters + 1 :] >= 1, seeds.astype(float)


def _lowered(low: Array, found: Outlook, choice: Choice, certainty: Certainty) -> Array:
    """Return lower limits that allow for fractions of 1, about which the likelihood is silent.

    Wilson's limit of the fraction, its seeds divided by the design effect of an assumed correlation, comes in as the
    square of its distance, as does that of the rest.
    """
    full, seeds = _full(choice, found)
    dish = float(np.median(choice.series.cells.seeds))
    alike = seeds / (1 + (dish - 1) * certainty.correlation)
    z2 = spread.t_squared(np.array(spread.MOST_DEGREES_OF_FREEDOM), certainty.confidence)
    least, _ = proportions.wilson(alike, alike, z2)
    missing = found.grid.mixing @ np.where(full, 1 - least, 0.0)
    best = found.best.share
    # Zou and Donner (2008): limits of a product from those of its factors, distances added as squares
    return np.asarray(best - np.hypot(best - low, best * missing[:, None]))


def _seeds(choice: Choice, certainty: Certainty, at: Array, by: Array, dish: int) -> Array:
    found, components = _outlook(choice, choice.chosen, certainty, at, by)
    full, seeds = _full(choice, found)
    given = found.parameters[found.model.rate_parameters + 1 :]
    # Laplace's rule: after n of n the next does so with (n + 1)/(n + 2)
    likely = thinned(found, np.where(full, (seeds + 1) / (seeds + 2), given))
    nodes = [likely.at(level) for level in (_LEVELS[1:] + _LEVELS[:-1]) / 2]
    chances = sowing.Chances(
        share=np.stack([node.share for node in nodes]),
        correlation=np.stack([node.correlation(components) for node in nodes]),
        weight=np.diff(_LEVELS),
    )
    return np.stack([sowing.needed(k, chances, dish=dish, confidence=SURE) for k in WANTED])


def drawn(sown: Sown, choice: Choice, base: Answer, certainty: Certainty) -> Drawing:
    """Return what charts and pages need of a prediction, or the sentence why there is none."""
    reason = why_not(sown, choice, base)
    found = None if reason else _compact(predict(choice, base, certainty))
    return {"prediction": found, "no_prediction": reason}


def _compact(prediction: Prediction) -> Drawing:
    return {
        "temperatures": prediction.temperature.tolist(),
        "days": prediction.days.tolist(),
        "germinated": np.round(prediction.share, _DIGITS).tolist(),
        "low": np.round(prediction.low, _DIGITS).tolist(),
        "high": np.round(prediction.high, _DIGITS).tolist(),
        "sowing": {
            "temperatures": prediction.sown_at.tolist(),
            "days": prediction.sown_by.tolist(),
            "wanted": list(WANTED),
            "seeds": [[list(map(_whole, row)) for row in table] for table in prediction.seeds],
            "dish": prediction.dish,
            "sure": SURE,
            "most_per_seed": sowing.MOST_PER_SEED,
        },
    }


def _whole(seeds: float) -> int | None:
    return None if np.isnan(seeds) else int(seeds)


def _of(group: Mapping[str, Any]) -> Drawing:
    return {name: group[name] for name in ("lot", "treatment", "condition")}


def rows(groups: Sequence[Mapping[str, Any]]) -> list[Drawing]:
    """Return the predictions of all series as rows of a table."""
    return [
        _of(group)
        | {"temperature_c": t, "elapsed_d": d, "germinated": share, "low": low, "high": high}
        for group in groups
        if (found := group.get("prediction"))
        for t, *curves in zip(
            *(found[name] for name in ("temperatures", "germinated", "low", "high")), strict=True
        )
        for d, share, low, high in zip(found["days"], *curves, strict=True)
    ]


def rows_of_sowing(groups: Sequence[Mapping[str, Any]]) -> list[Drawing]:
    """Return the seeds to sow of all series as rows of a table, empty where no reasonable number is enough."""
    return [
        _of(group)
        | {"temperature_c": t, "elapsed_d": d, "wanted": k, "sure": found["sure"], "seeds": seeds}
        for group in groups
        if (found := (group.get("prediction") or {}).get("sowing"))
        for k, table in zip(found["wanted"], found["seeds"], strict=True)
        for t, row in zip(found["temperatures"], table, strict=True)
        for d, seeds in zip(found["days"], row, strict=True)
    ]

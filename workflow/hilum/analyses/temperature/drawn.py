"""What the charts and the page of this analysis are made from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from hilum.analyses import dish_fit
from hilum.analyses.temperature import answers, classical, words
from hilum.analyses.temperature.advice import Advice
from hilum.analyses.temperature.answers import Answer, Answers, Path
from hilum.analyses.temperature.candidate import Candidate
from hilum.analyses.temperature.choice import Certainty, Choice
from hilum.analyses.temperature.classical import Percentile
from hilum.analyses.temperature.logged import Log
from hilum.analyses.temperature.series import Sown
from hilum.stats import cardinal, thermal
from hilum.stats import response as curves
from hilum.stats.arrays import Array
from hilum.stats.residuals import Leverage
from hilum.stats.thermal import Series

SHARES = (0.1, 0.5, 0.9)
_POINTS = 61
Drawing = dict[str, Any]


def named(sown: Sown) -> Drawing:
    """Return which seeds a series is of, and what holds for it whatever the fit says."""
    return {
        "lot": sown.lot,
        "treatment": sown.treatment,
        "temperature_c": None,
        "condition": sown.condition,
        "chambers": sown.chambers,
        "half_day_assumed": sown.half_day_assumed,
        "hard": sown.hard,
        "hard_reason": words.hard(sown),
        "regimes": _regimes(sown),
        "alternating": bool((~np.isnan(sown.night)).any()),
    }


def _regimes(sown: Sown) -> list[Drawing]:
    series = sown.series
    dishes = np.bincount(series.regime, minlength=series.regimes)
    last = [float(series.cells.last_h[series.regime == r].max()) for r in range(series.regimes)]
    return [
        {
            "label": label,
            "temperature": float(degrees),
            "seeds": float(seeds),
            "germinated": float(germinated),
            "dishes": int(n),
            "last_h": end,
        }
        for label, degrees, seeds, germinated, n, end in zip(
            words.labels(sown),
            series.mean_temperature,
            series.seeds,
            series.germinated,
            dishes,
            last,
            strict=True,
        )
    ]


def at_set_points(sown: Sown, log: Log, base: Answer) -> Drawing:
    """Return what the chambers were logged at, and the base that their set points alone would give."""
    rows: dict[tuple[str, float], Drawing] = {}
    for dish, course in enumerate(log.courses):
        key = str(sown.chamber[dish]), float(sown.temperature[dish])
        if course is not None and key not in rows:
            rows[key] = {
                "chamber": key[0],
                "set_point": key[1],
                "mean": course.mean,
                "low": float(course.temperature.min()),
                "high": float(course.temperature.max()),
            }
    return {
        "log": list(rows.values()),
        "log_complete": log.complete,
        "at_set_points": _answer(base),
    }


def fitted(
    sown: Sown,
    choice: Choice,
    known: Answers,
    path: Path,
    advice: Advice | None,
    lines: Sequence[Percentile],
    certainty: Certainty,
) -> Drawing:
    """Return the fit as the charts need it, and the sentences that explain it."""
    return {
        "base": _nothing() if words.hard(sown) else _answer(known.base),
        "bends": [_answer(bend) for bend in known.bends],
        "shape": choice.chosen.shape,
        "family": choice.chosen.peak.model.family.label,
        "free_fractions": choice.free,
        "spread_assumed": choice.spread_assumed,
        "seeds_differ": choice.seeds_differ is not None,
        "left_out": choice.left_out,
        "absent": _none_in_the_cold(choice.pool),
        "reasons": [told for told in _reasons(choice) if told],
        "candidates": [_candidate(c, choice) for c in _sorted(choice)],
        "curve": _curve(choice, certainty),
        "rates": _rates(lines),
        "classical": [_line(p) for p in lines if p.line is not None],
        "profile": _profile(path, known.base),
        "advice": _advice(advice),
        "narrower": words.narrower(advice) if known.base.status == "estimated" else "",
        "coolest": float(_drawn_temperatures(choice)[0]),
        "germination": _germination(sown, choice),
        "dishes": _dishes(sown, choice),
        "thermal_time": _thermal_time(sown, choice),
    }


def _none_in_the_cold(pool: Series) -> bool:
    """Return whether no seed germinated at a temperature below the coolest at which some did."""
    coolest = cardinal.sprouting_temperatures(pool)[0]
    return bool((pool.warmest[pool.germinated == 0] < coolest).any())


def _reasons(choice: Choice) -> tuple[str, ...]:
    sentences = (
        words.reason,
        words.own_bases_reason,
        words.fractions_reason,
        words.lost_reason,
        words.fit_reason,
    )
    return tuple(sentence(choice) for sentence in sentences)


def _answer(answer: Answer) -> Drawing:
    return {"value": answer.value, "low": answer.low, "high": answer.high, "status": answer.status}


def log_matters(group: Mapping[str, Any]) -> bool:
    """Return whether set points would have put the base outside its interval."""
    other, base = group.get("at_set_points"), group["base"]
    if other is None or "estimated" not in (other["status"], base["status"]):
        return False
    if other["value"] is None or base["value"] is None:
        return True
    return not base["low"] <= other["value"] <= base["high"]


def _nothing() -> Drawing:
    return {"value": None, "low": None, "high": None, "status": "not_identified"}


def _sorted(choice: Choice) -> list[Candidate]:
    return sorted((*choice.candidates, *choice.own_bases), key=lambda c: c.aic)


def _candidate(candidate: Candidate, choice: Choice) -> Drawing:
    model = candidate.peak.model
    assert model.response is not None  # noqa: S101
    rate_parameters = candidate.peak.parameters[: model.rate_parameters]
    base = float(curves.base_temperature(model.response, rate_parameters))
    return {
        "shape": candidate.shape,
        "name": words.name(candidate),
        "family": model.family.label,
        "parameters": model.size,
        "loglik": candidate.peak.loglik,
        "aic_difference": candidate.aic - _sorted(choice)[0].aic,
        "base": base if np.isfinite(base) and candidate.identifiable else None,
        "identifiable": candidate.identifiable,
        "chosen": candidate is choice.chosen,
    }


def _curve(choice: Choice, certainty: Certainty) -> list[Drawing]:
    """Return the rate curve, 1/h, of a tenth, half and nine tenths of the germinable seeds."""
    model, parameters = choice.chosen.peak.model, choice.chosen.peak.parameters
    assert model.response is not None  # noqa: S101
    temperature = _drawn_temperatures(choice)
    rate = curves.rates(model.response, parameters[: model.rate_parameters], temperature).value
    band = answers.rate_band(choice, temperature, certainty)
    reach = np.full(len(rate), np.nan)
    if band is not None:
        reach = np.minimum(band, 5.0)
        # towards the base the rate goes to 0 and its relative error to infinity: no band is drawn there
        reach[temperature < choice.pool.warmest[choice.pool.germinated > 0].min()] = np.nan
    return [
        {
            "temperature": float(t),
            "share": share,
            "rate": float(r * np.exp(-_delay(choice, share))),
            "low": None if share != 0.5 or np.isnan(w) else float(r * np.exp(-w)),
            "high": None if share != 0.5 or np.isnan(w) else float(r * np.exp(w)),
        }
        for share in SHARES
        for t, r, w in zip(temperature, rate, reach, strict=True)
    ]


def _drawn_temperatures(choice: Choice) -> Array:
    """Return temperatures a little beyond the tested ones, with every bend of the curve among them."""
    model, parameters = choice.chosen.peak.model, choice.chosen.peak.parameters
    assert model.response is not None  # noqa: S101
    warm = choice.pool.warmest
    base = _base(choice, float(warm.min()))
    even = np.linspace(min(warm.min(), base) - 1, warm.max() + 1, _POINTS)
    bends = parameters[list(model.response.breaks)]
    return np.unique(np.concatenate((even, bends, [base + 1e-3])))


def _base(choice: Choice, otherwise: float) -> float:
    model, parameters = choice.chosen.peak.model, choice.chosen.peak.parameters
    assert model.response is not None  # noqa: S101
    base = float(curves.base_temperature(model.response, parameters[: model.rate_parameters]))
    # a base far below anything tested would squeeze the chart
    return base if base > otherwise - 15 else otherwise


def _delay(choice: Choice, share: float) -> float:
    """Return by how much the log time of a share lies above that of half."""
    model, parameters = choice.chosen.peak.model, choice.chosen.peak.parameters
    sigma = np.exp(parameters[model.rate_parameters])
    return float(sigma * model.family.quantile(np.array(share)))


def _rates(lines: Sequence[Percentile]) -> list[Drawing]:
    return [
        {"temperature": float(t), "share": line.share, "rate": float(r)}
        for line in lines
        if line.share in SHARES
        for t, r in zip(line.temperature, line.rate, strict=True)
    ]


def _line(percentile: Percentile) -> Drawing:
    line = percentile.line
    assert line is not None  # noqa: S101
    return {
        "share": percentile.share,
        "points": line.points,
        "base": line.base,
        "base_error": line.base_error,
        "low": line.low,
        "high": line.high,
        "region": line.region,
        "thermal_time": line.thermal_time,
        "r_squared": line.r_squared,
        "doubts": list(percentile.doubts),
    }


def _profile(path: Path, base: Answer) -> list[Drawing]:
    return [
        {"base": float(b), "rise": float(r), "threshold": base.threshold}
        for b, r in zip(path.base, path.rise, strict=True)
    ]


def _advice(advice: Advice | None) -> Drawing | None:
    if advice is None:
        return None
    return {
        "temperature": advice.temperature,
        "now": advice.now,
        "then": advice.then,
        "seeds": advice.seeds,
        "widths": [
            {"temperature": float(t), "width": float(w)}
            for t, w in zip(advice.temperatures, advice.widths, strict=True)
        ],
    }


def _germination(sown: Sown, choice: Choice) -> list[Drawing]:
    """Return what germinated by each inspection at each temperature, and the fitted curve."""
    series = sown.series
    fraction = classical.fractions(choice, series)
    log_rate = _log_rate(choice, series)
    rows: list[Drawing] = []
    for regime, label in enumerate(words.labels(sown)):
        hours, share = _seen(series, regime)
        drawn = np.linspace(0, hours[-1], 49)
        curve = fraction[regime] * _reached(choice, log_rate[regime], drawn)
        rows += _points("seen", label, hours, share)
        rows += _points("fitted", label, drawn, curve)
    return rows


def _dishes(sown: Sown, choice: Choice) -> list[Drawing]:
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
    return [
        row | {"temperature_c": float(degrees)}
        for row, degrees in zip(rows, sown.temperature, strict=True)
    ]


def _points(kind: str, label: str, hours: Array, share: Array) -> list[Drawing]:
    return [
        {"kind": kind, "regime": label, "hours": float(h), "germinated": float(y)}
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


def _thermal_time(sown: Sown, choice: Choice) -> list[Drawing]:
    """Return germination of the germinable seeds over thermal time: one curve for all temperatures."""
    model, parameters = choice.chosen.peak.model, choice.chosen.peak.parameters
    assert model.response is not None  # noqa: S101
    theta = float(curves.thermal_time(model.response, parameters[: model.rate_parameters]))
    if not np.isfinite(theta):
        return []
    series, fraction = sown.series, classical.fractions(choice, sown.series)
    log_rate = _log_rate(choice, series)
    rows: list[Drawing] = []
    for regime, label in enumerate(words.labels(sown)):
        hours, share = _seen(series, regime)
        if np.isfinite(log_rate[regime]) and fraction[regime] > 0:
            x = hours * np.exp(log_rate[regime]) * theta
            rows += _collapsed("seen", label, x, share / fraction[regime])
    # beyond three times the need of half the seeds nothing happens that a reader looks for
    rows = [row for row in rows if row["thermal_time"] <= 3 * theta]
    drawn = np.linspace(0, 3 * theta, 91)
    return rows + _collapsed("fitted", "", drawn, _reached(choice, -np.log(theta), drawn))


def _collapsed(kind: str, label: str, x: Array, share: Array) -> list[Drawing]:
    return [
        {"kind": kind, "regime": label, "thermal_time": float(t), "germinated": float(y)}
        for t, y in zip(x, share, strict=True)
    ]


def rows_of_lines(groups: Sequence[Mapping[str, Any]]) -> list[Drawing]:
    """Return the classical lines of all series as rows of a table."""
    return [
        {
            "lot": group["lot"],
            "treatment": group["treatment"],
            "condition": group["condition"],
            "germinated_share": line["share"],
            "dishes": line["points"],
            "base_c": line["base"],
            "standard_error_c": line["base_error"],
            "fieller_low_c": line["low"],
            "fieller_high_c": line["high"],
            "fieller": line["region"],
            "thermal_time_c_h": line["thermal_time"],
            "r_squared": line["r_squared"],
            "doubts": " ".join(line["doubts"]),
        }
        for group in groups
        for line in group.get("classical", ())
    ]

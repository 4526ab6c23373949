"""Seeds that differ in their base temperature: the likelihood as written down, and what is told of them."""

import numpy as np
import pytest
from scipy.stats import logistic, norm

from hilum.analyses.temperature import answers, choice, words
from hilum.analyses.temperature.choice import Certainty
from hilum.stats import cardinal, own_base, thermal
from hilum.stats.families import LOG_LOGISTIC, LOG_NORMAL
from hilum.stats.response import Response
from hilum.stats.thermal import Model
from tests import warmth

TEMPERATURES = (10.0, 12.5, 15.0, 20.0, 25.0)
CERTAINTY = Certainty(confidence=0.95, correlation=0.05)
BASE = 8.0


def _studies(seed, number, *, sd_c, **truth):
    above = tuple(t - BASE for t in TEMPERATURES)
    kwargs = {"base_sd_c": sd_c, "above_base_c": above} if sd_c else {}
    given = {"times": "lognormal", "base": BASE, "number": number, **kwargs, **truth}
    return warmth.studies(TEMPERATURES, rng=np.random.default_rng(seed), **given)


def _plain_loglik(series, base, time, spread, G, cdf):
    """Return the log likelihood from the share of seeds whose base is low enough, cell by cell."""
    cells, total = series.cells, 0.0
    for j, degrees in enumerate(series.temperature[:, 0]):
        highest = degrees - time / np.maximum(cells.end_h[j], 1e-9)
        reached = G * cdf((highest - base) / spread)
        steps = np.diff(reached, prepend=0.0)
        seen = cells.count[j] > 0
        total += (cells.count[j][seen] * np.log(steps[seen])).sum()
        total += cells.censored[j, 0] * np.log(1 - reached[-1])
    return total


def _model(series, family):
    response = Response(shape="linear", anchor=20, top=25)
    return Model(family, response, thermal.one_for_all(series), own_bases=True)


def _parameters(base):
    sigma = 1.2 / 1500 * own_base.UNIT_H
    return np.array([np.log((20 - base) / 1500), 1 / (20 - base), np.log(sigma), 0.8])


@pytest.mark.parametrize("base", [BASE, 11.0])
@pytest.mark.parametrize(("family", "cdf"), [(LOG_LOGISTIC, logistic.cdf), (LOG_NORMAL, norm.cdf)])
def test_the_likelihood_is_the_one_written_down(family, cdf, base):
    (series,) = _studies(1, 1, sd_c=1.0, sd_log=0.02)
    found = thermal.surface(_model(series, family), series)(_parameters(base)[None]).value[0]
    assert found == pytest.approx(_plain_loglik(series, base, 1500, 1.2, 0.8, cdf), rel=1e-10)


def test_the_gradient_agrees_with_differences_below_the_median_base_too():
    (series,) = _studies(2, 1, sd_c=1.0, sd_log=0.02)
    at, values = thermal.surface(_model(series, LOG_NORMAL), series), _parameters(11.0)
    gradient = at(values[None]).gradient[0]
    for i in range(len(values)):
        step = np.zeros(len(values))
        step[i] = 1e-6 * abs(values[i])
        up, down = (at((values + s * step)[None]).value[0] for s in (1, -1))
        assert gradient[i] == pytest.approx((up - down) / (2 * step[i]), rel=1e-4, abs=1e-3)


def test_the_fit_finds_the_median_base_and_the_spread_of_the_bases():
    found = []
    for series in _studies(3, 6, sd_c=1.0, sd_log=0.01):
        shared = thermal.one_for_all(series)
        peak = cardinal.fitted(LOG_NORMAL, "linear", series, shared, own_bases=True)
        base = peak.model.response.anchor - 1 / peak.parameters[1]
        time = 1 / (np.exp(peak.parameters[0]) * peak.parameters[1])
        found.append((base, time, np.exp(peak.parameters[2]) * time / own_base.UNIT_H))
    assert np.median(found, axis=0) == pytest.approx([BASE, 1500, 1.0], rel=0.06)


def test_seeds_that_differ_in_their_base_are_told_and_both_models_lie_in_the_bracket():
    told = held = 0
    for series in _studies(4, 8, sd_c=1.5, sd_log=0.02, dish_sd_log_time=0.05):
        chosen = choice.choose(series, CERTAINTY, families=(LOG_NORMAL,))
        if not chosen.seeds_differ:
            continue
        found = answers.answers(chosen, CERTAINTY)
        told += 1
        held += found.base.low <= BASE <= found.base.high
        assert (found.base.status, found.thermal_time.status) == ("bracketed", "bracketed")
        assert "differ in their base" in words.needs(found.base, None, 25)
        assert "lower" in words.own_bases_reason(chosen)
    assert told >= 6
    assert held >= told - 1


def test_seeds_that_differ_in_their_thermal_time_are_not_told_to_differ_in_their_base():
    for series in _studies(5, 6, sd_c=0, sd_log=0.3, dish_sd_log_time=0.1):
        chosen = choice.choose(series, CERTAINTY, families=(LOG_NORMAL,))
        assert chosen.own_bases
        assert chosen.seeds_differ is None
        assert "no better" in words.own_bases_reason(chosen)


def test_no_base_of_their_own_is_asked_of_seeds_under_alternating_temperatures():
    (series,) = _studies(6, 1, sd_c=0)
    nights = thermal.Series(
        series.cells,
        np.hstack((series.temperature, series.temperature - 5)),
        np.full((len(series.regime), 2), 0.5),
        series.regime,
    )
    assert choice.choose(nights, CERTAINTY, families=(LOG_NORMAL,)).own_bases == ()

"""A straight line through a plateau is warned of, and hardly ever where the rate does rise in a straight line."""

from dataclasses import replace

import numpy as np
import pytest

from hilum.analyses.temperature import answers, choice, levelling
from hilum.analyses.temperature.choice import Certainty
from hilum.stats import response, thermal
from hilum.stats.cardinal import fitted
from hilum.stats.families import LOG_LOGISTIC
from hilum.stats.rate_there import rate_there
from tests import warmth

CERTAINTY = Certainty(confidence=0.95, correlation=0.05)
SPREAD = {"dish_correlation": 0.05, "dish_sd_log_time": 0.1}


def _chosen(temperatures, *, number, seed, shapes=("linear", "plateau"), **truth):
    drawn = warmth.studies(
        temperatures, number=number, rng=np.random.default_rng(seed), **SPREAD, **truth
    )
    return [choice.choose(s, CERTAINTY, families=(LOG_LOGISTIC,), shapes=shapes) for s in drawn]


def _said(found):
    line = found.chosen.shape == "linear"
    bend = answers.lowest_bend(found, CERTAINTY) if line else None
    return levelling.warning(found, answers.answers(found, CERTAINTY).base, bend)


@pytest.mark.parametrize("temperatures", [(10, 20, 25, 30), (10, 12.5, 15, 20, 25, 30)])
def test_a_plateau_is_seen_and_the_straight_line_through_it_called_wrong(temperatures):
    for found in _chosen(temperatures, number=6, seed=1, optimum=22.0):
        told = _said(found)
        assert "at 25 and 30 °C seeds were no faster than at about 2" in told
        assert "base temperature at" in told
        assert "too low, and the thermal time too long" in told
        assert levelling.levelling(found).base < 8.0


def test_a_straight_line_that_was_drawn_all_the_same_warns_of_itself():
    (found,) = _chosen((10, 20, 25, 30), number=1, seed=2, optimum=22.0)
    line = next(c for c in found.candidates if c.shape == "linear")
    drawn = replace(found, chosen=line)
    told = _said(drawn)
    assert "Germination seems to level off: at 25 and 30 °C" in told
    assert "the base temperature is then too low and the thermal time too long" in told
    assert "Add cooler temperatures" in told


def test_straight_lines_are_hardly_ever_accused():
    found = _chosen((10, 15, 20, 25, 30), number=24, seed=3, base=6.0, time=1600.0)
    accused = sum(levelling.levelling(one).seen for one in found)
    # 5 % of 24, and two standard errors of such a count
    assert accused <= 1.2 + 2 * np.sqrt(24 * 0.05 * 0.95)
    straight = [one for one in found if one.chosen.shape == "linear"]
    assert len(straight) > 12
    assert {_said(one) for one in straight[:5]} == {""}


def test_with_fewer_than_four_germinating_temperatures_nobody_can_tell():
    (found,) = _chosen((15, 20, 25), number=1, seed=4, shapes=("linear",))
    assert levelling.levelling(found) is None
    told = _said(found)
    assert told.startswith("Seeds germinated at 15, 20 and 25 °C only.")
    assert "nobody can tell" in told
    assert "too low" in told


def test_a_series_that_lies_wholly_on_a_plateau_says_so():
    found = _chosen((20, 24, 27, 30), number=4, seed=5, optimum=18.0)
    for one in found:
        told = _said(one)
        assert told.startswith("From 20 °C to 30 °C germination hardly gets faster")
        assert "a base far too low, or none" in told


def test_a_fit_spelt_by_the_rate_at_a_temperature_is_the_same_fit():
    """On either side of both bends; the gradient against differences of the rate itself."""
    (study,) = warmth.studies(
        (10, 15, 20, 25, 30), number=1, rng=np.random.default_rng(6), **SPREAD
    )
    pool = thermal.pooled(study)
    for shape in ("linear", "plateau", "triangle", "trapezoid"):
        peak = fitted(LOG_LOGISTIC, shape, pool, thermal.one_for_all(pool))
        for degrees in (10.0, 18.0, 30.0):
            spelt = rate_there(peak, degrees)
            curve, q = spelt.model.response, spelt.parameters[: spelt.model.rate_parameters]
            warm = np.array([12.0, 17.0, 29.0, degrees])
            same = response.rates(peak.model.response, peak.parameters[: len(q)], warm).value
            found = response.rates(curve, q, warm)
            assert found.value == pytest.approx(same, rel=1e-9)
            assert found.value[-1] == pytest.approx(np.exp(q[0]))
            value = thermal.surface(spelt.model, pool)(spelt.parameters[None]).value[0]
            assert value == pytest.approx(peak.loglik, abs=1e-6)
            for column in range(len(q)):
                step = np.zeros(len(q))
                step[column] = 1e-6
                ahead, behind = (response.rates(curve, q + s, warm).value for s in (step, -step))
                slope = (ahead - behind) / 2e-6
                assert found.gradient[:, column] == pytest.approx(slope, rel=1e-4, abs=1e-8)


def test_the_time_to_half_has_the_profile_of_its_own_rate():
    """Of a straight line re-anchored at the temperature the first parameter is that rate already."""
    (found,) = _chosen((10, 15, 20, 25, 30), number=1, seed=7, shapes=("linear",), base=6.0)
    halves = answers.halves(found, np.array([10.0, 25.0]), CERTAINTY)
    assert (halves.low < halves.hours).all()
    assert (halves.hours < halves.high).all()
    # far in the cold the later limit lies farther away, on the logarithm too
    away = np.log(halves.high / halves.hours) - np.log(halves.hours / halves.low)
    assert away[0] > away[1]

"""Factors that dishes cross are tested as factors: effects that are there are found, absent ones are not."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.stats import f as f_distribution

from hilum import analyses
from hilum.analyses.time_course.model import TrueCourse
from hilum.stats import factorial
from tests.test_dish_counts import SURFACE
from tests.test_report_analyses import _page as page
from tests.test_report_analyses import _result as fitted_result
from tests.test_time_course import SETTINGS, fitted, simulated

COMBINATIONS = [(a, b) for a in range(2) for b in range(3)]


def drawn(rng, chances, *, dishes, rho, seeds=25):
    """Return hits, seeds and levels of dishes over 2 × 3 combinations, beta-binomial of correlation rho."""
    levels = np.repeat(COMBINATIONS, dishes, axis=0)
    p = np.repeat(chances, dishes)
    if rho:
        total = (1 - rho) / rho
        p = rng.beta(p * total, (1 - p) * total)
    return rng.binomial(seeds, p).astype(float), np.full(len(p), float(seeds)), levels


def test_the_germination_surface_has_its_published_deviances():
    """Find temperature, concentration and their interaction.

    Mead, Curnow and Hasted 2002, Statistical Methods in Agriculture and Experimental Biology, 3rd ed.,
    p. 350: residual deviances 430.11, 980.10, 148.11 and 55.64.
    """
    hits = np.array(SURFACE, dtype=float)
    place = np.indices(hits.shape)
    levels = np.stack((place[0].ravel(), place[2].ravel()), axis=1)
    heat, dose, both = factorial.analysis_of_deviance(hits.ravel(), np.full(64, 50.0), levels)
    assert (heat.term, dose.term, both.term) == ((0,), (1,), (0, 1))
    assert heat.deviance == pytest.approx(980.10 - 148.11, abs=0.02)
    assert dose.deviance == pytest.approx(430.11 - 148.11, abs=0.02)
    assert both.deviance == pytest.approx(148.11 - 55.64, abs=0.02)
    assert (heat.dof, dose.dof, both.dof, both.dishes_dof) == (3, 3, 9, 48)
    f = (148.11 - 55.64) / 9 / (55.64 / 48)
    assert both.f == pytest.approx(f, rel=1e-3)
    assert both.p == pytest.approx(f_distribution.sf(f, 9, 48), rel=0.02)


def test_deviances_agree_with_another_library():
    rng = np.random.default_rng(5)
    hits, seeds, levels = drawn(rng, [0.2, 0.4, 0.5, 0.6, 0.5, 0.3], dishes=3, rho=0.05)
    a, b = np.eye(2)[levels[:, 0]][:, 1:], np.eye(3)[levels[:, 1]][:, 1:]
    one = np.ones((len(hits), 1))

    def deviance(*parts):
        both = np.stack((hits, seeds - hits), axis=1)
        return sm.GLM(both, np.hstack((one, *parts)), family=sm.families.Binomial()).fit().deviance

    first, second, both = factorial.analysis_of_deviance(hits, seeds, levels)
    assert first.deviance == pytest.approx(deviance(b) - deviance(a, b), abs=1e-6)
    assert second.deviance == pytest.approx(deviance(a) - deviance(a, b), abs=1e-6)
    assert both.deviance == pytest.approx(deviance(a, b) - deviance(a, b, a * b), abs=1e-6)


@pytest.mark.parametrize(("rho", "dishes"), [(0.0, 3), (0.05, 2), (0.05, 4), (0.2, 3)])
def test_an_absent_interaction_is_found_in_about_five_of_a_hundred(rho, dishes):
    rng, times = np.random.default_rng(17), 300
    logit = np.array([-0.6, 0, 0.6] * 2) + np.repeat([-0.3, 0.3], 3)
    chances = 1 / (1 + np.exp(-logit))
    found = [
        factorial.analysis_of_deviance(*drawn(rng, chances, dishes=dishes, rho=rho))[2].p < 0.05
        for _ in range(times)
    ]
    # 3 to 7 % was wanted; two Monte-Carlo errors of 300 are allowed beside it
    assert 0.03 - 0.02 < np.mean(found) < 0.07 + 0.03


def test_a_strong_interaction_is_found():
    rng = np.random.default_rng(3)
    found = factorial.analysis_of_deviance(
        *drawn(rng, [0.1, 0.5, 0.9, 0.9, 0.5, 0.1], dishes=4, rho=0.05)
    )
    assert found[2].p < 1e-4


def test_dishes_that_show_no_spread_test_nothing():
    levels = np.repeat(COMBINATIONS, 2, axis=0)
    none = np.zeros(len(levels))
    assert factorial.analysis_of_deviance(none, none + 25, levels) == ()
    one_each = np.array(COMBINATIONS)
    hits = np.array([3.0, 5, 7, 9, 11, 13])
    assert factorial.analysis_of_deviance(hits, np.full(6, 25.0), one_each) == ()


def crossed(shares, **changes):
    return [
        TrueCourse(treatment=t, temperature_c=c, germinable=g, **changes)
        for (t, c), g in zip([(t, c) for t in "ab" for c in (10.0, 20.0)], shares, strict=True)
    ]


def test_a_crossed_experiment_gets_a_table():
    courses = crossed([0.2, 0.9, 0.9, 0.2], t50_h=72, hard=0.0)
    rows = fitted(simulated(courses=tuple(courses), dishes=4)).rows["factors"]
    assert list(rows[0]) == list(analyses.describe("time_course").tables["factors"].columns)
    assert [row["term"] for row in rows] == [
        "treatment",
        "temperature",
        "treatment × temperature",
    ]
    assert rows[2]["p"] < 0.001
    assert rows[2]["dish_degrees_of_freedom"] == 12


def test_an_experiment_with_a_gap_has_no_table():
    courses = crossed([0.4, 0.6, 0.5, 0.7])[:3]
    assert "factors" not in fitted(simulated(courses=tuple(courses), dishes=4)).rows


@pytest.mark.parametrize(
    ("shares", "words"),
    [
        ([0.2, 0.9, 0.9, 0.2], "compare treatments at each temperature apart"),
        ([0.3, 0.5, 0.5, 0.7], "No sign that treatment and temperature act together"),
    ],
)
def test_the_page_says_whether_factors_act_together(shares, words):
    courses = tuple(crossed(shares, t50_h=72, hard=0.0))
    tables = simulated(courses=courses, dishes=4)
    made = page(fitted_result("time_course", tables, SETTINGS))
    assert words in made
    assert "treatment × temperature" in made

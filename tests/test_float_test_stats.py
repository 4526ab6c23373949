"""Turnbull's distribution and the measures of a test: closed forms, scipy, and published arithmetic."""

import numpy as np
import pytest
from scipy import stats

from hilum.stats import float_test, proportions, turnbull
from hilum.stats.float_test import Calls

Z2 = stats.norm.ppf(0.975) ** 2
INF = np.inf


def test_events_seen_at_common_looks_have_their_empirical_distribution():
    left = np.array([-INF, -INF, 1, 1, 1, 3, 6, 6])
    right = np.array([1, 1, 3, 3, 3, 6, INF, INF])
    found = turnbull.distribution(left, right)
    assert found.hours == pytest.approx([1, 3, 6])
    assert found.share == pytest.approx([2 / 8, 5 / 8, 6 / 8])
    # a third of the way from 2/8 at 1 h … 4/8 of all lies two thirds up the step of 3/8
    assert found.quantile(0.5) == pytest.approx(1 + 2 * 2 / 3)
    assert np.isnan(found.quantile(0.8))


def test_right_censored_events_have_the_product_limit_of_kaplan_and_meier():
    """Exact times are tiny intervals: 6, 6, 6, 6+, 7, 9+, 10, 10+ days, by hand 5/8, × 3/4, × 1/2."""
    times = np.array([6.0, 6, 6, 6, 7, 9, 10, 10])
    censored = np.array([0, 0, 0, 1, 0, 1, 0, 1], dtype=bool)
    left = np.where(censored, times, times - 0.001)
    found = turnbull.distribution(left, np.where(censored, INF, times))
    at = {hour: 1 - share for hour, share in zip(found.hours, found.share, strict=True)}
    assert at[6.0] == pytest.approx(5 / 8, abs=1e-6)
    assert at[7.0] == pytest.approx(5 / 8 * 3 / 4, abs=1e-6)
    assert at[10.0] == pytest.approx(5 / 8 * 3 / 4 * 1 / 2, abs=1e-6)


def test_overlapping_intervals_reach_the_maximum_of_the_likelihood():
    rng = np.random.default_rng(3)
    times, width = rng.exponential(20, 60), rng.uniform(1, 20, 60)
    left, right = np.floor(times / width) * width, np.ceil(times / width) * width
    found = turnbull.distribution(left, right)
    starts, stops = np.append(-INF, found.hours), np.append(found.hours, INF)
    mass = np.diff(np.concatenate(([0.0], found.share, [1.0])))
    possible = (left[:, None] <= starts) & (right[:, None] >= stops)
    # at the maximum no cell gains by more mass (Karush, Kuhn and Tucker)
    gain = (possible / (possible @ mass)[:, None]).mean(0)
    assert gain.max() < 1 + 1e-3
    assert gain[mass > 1e-3] == pytest.approx(1, abs=1e-3)


def test_without_events_there_is_no_quantile():
    found = turnbull.distribution(np.array([-INF]), np.array([INF]))
    assert np.isnan(found.quantile(0.5))


def test_an_event_at_the_start_counts_from_there():
    found = turnbull.distribution(np.array([-INF, -INF, 0.0]), np.array([0.0, 0.0, 8.0]))
    assert found.quantile(0.5) == 0.0
    assert found.quantile(0.75) == pytest.approx((0.75 - 2 / 3) * 3 * 8)


def test_limits_of_a_quantile_are_looks_at_which_the_share_is_surely_on_either_side():
    hours = np.array([1.0, 3.0, 6.0, 12.0])
    low, high = np.array([0.1, 0.3, 0.55, 0.8]), np.array([0.4, 0.7, 0.9, 1.0])
    assert turnbull.quantile_limits(hours, low, high, 0.5) == (1.0, 6.0)
    nothing = turnbull.quantile_limits(hours, 0 * low, 1 + 0 * high, 0.5)
    assert nothing[0] == 0
    assert np.isnan(nothing[1])


def test_a_seed_that_may_have_sunk_is_neither_sunk_nor_not():
    hours = np.array([2.0, 5.0, 9.0])
    assert turnbull.happened(np.array([6.0]), hours).tolist() == [[False, False, True]]
    assert turnbull.not_yet(np.array([3.0]), hours).tolist() == [[True, False, False]]


def _one_dish(a, b, c, d):
    return Calls(*(np.array([[float(n)]]) for n in (a, b, c, d)))


def test_measures_by_hand():
    """30 bad seeds of which 24 float, 70 good ones of which 14 float."""
    found = float_test.measures(_one_dish(24, 14, 6, 56), confidence=0.95, unknown=0.05)
    value = {name: share.value[0] for name, share in found.items()}
    assert value == pytest.approx(
        {
            "sensitivity": 24 / 30,
            "specificity": 56 / 70,
            "predictive_value_bad": 24 / 38,
            "predictive_value_good": 56 / 62,
            "good_called_bad": 14 / 70,
        }
    )
    index = float_test.youden(found["sensitivity"], found["good_called_bad"])
    assert index.value[0] == pytest.approx(24 / 30 + 56 / 70 - 1)
    # Wilson's limits from scipy, combined as in method 10 of Newcombe (1998)
    (a, b), (c, d) = (
        stats.binomtest(k, n).proportion_ci(method="wilson") for k, n in ((24, 30), (14, 70))
    )
    assert found["sensitivity"].low[0] == pytest.approx(a)
    assert found["good_called_bad"].high[0] == pytest.approx(d)
    assert index.low[0] == pytest.approx(0.6 - np.hypot(0.8 - a, d - 0.2))
    assert index.high[0] == pytest.approx(0.6 + np.hypot(b - 0.8, 0.2 - c))


def test_dishes_that_differ_widen_the_limits_and_like_ones_do_not_narrow_them():
    hits, seeds = np.array([[18.0, 2, 17, 3]]), np.full((1, 4), 20.0)
    found = float_test.shares(hits, seeds, confidence=0.95, unknown=0.05)
    alike = float_test.shares(0 * hits + 10, seeds, confidence=0.95, unknown=0.05)
    low, high = proportions.wilson(np.array([40.0]), np.array([80.0]), np.array([Z2]))
    assert found.high[0] - found.low[0] > 2 * (high[0] - low[0])
    assert alike.high[0] - alike.low[0] >= high[0] - low[0]


def test_a_share_of_one_seed_reaches_down_to_what_a_poisson_count_allows():
    """1 of 18: a mean of −ln 0.95 gives none at all in 95 of 100 counts; mirrored for 17 of 18."""
    hits, seeds = np.array([[1.0], [17.0], [9.0]]), np.full((3, 1), 18.0)
    found = float_test.shares(hits, seeds, confidence=0.95, unknown=0.05)
    wilson = proportions.wilson(hits[:, 0], seeds[:, 0], np.array([Z2]))
    assert found.low[0] == pytest.approx(-np.log(0.95) / 18)
    assert found.high[1] == pytest.approx(1 + np.log(0.95) / 18)
    assert (found.low[2], found.high[2]) == (wilson[0][2], wilson[1][2])


def test_no_seeds_have_no_share():
    found = float_test.shares(np.zeros((1, 1)), np.zeros((1, 1)), confidence=0.95, unknown=0.05)
    assert (found.value[0], found.low[0], found.high[0]) == (0, 0, 1)


@pytest.mark.parametrize("cells", [(1, 0, 2, 57), (5, 3, 4, 20), (0, 5, 3, 3), (3, 0, 0, 0)])
def test_chances_are_those_of_fishers_exact_test(cells):
    a, b, c, d = cells
    known = [
        stats.fisher_exact([[a, b], [c, d]], alternative=side)[1] for side in ("greater", "less")
    ]
    assert float_test.chance(a, a + c, a + b, a + b + c + d) == pytest.approx(known, abs=1e-9)


def test_as_many_seeds_as_wanted_show_the_difference_in_four_studies_of_five():
    """Half of the seeds bad, of which 0.6 are called so, and 0.4 of the good ones."""
    wanted = float_test.seeds_wanted((600, 400), (1000, 1000), confidence=0.95, power=0.8)
    each = int(wanted / 2)
    rng = np.random.default_rng(1)
    bad, good = rng.binomial(each, 0.6, 4000) / each, rng.binomial(each, 0.4, 4000) / each
    error = np.sqrt((bad * (1 - bad) + good * (1 - good)) / each)
    assert np.mean((bad - good) / error > np.sqrt(Z2)) == pytest.approx(0.8, abs=0.03)


def test_no_number_of_seeds_shows_a_difference_that_is_not_there():
    assert float_test.seeds_wanted((5, 10), (20, 20), confidence=0.95, power=0.8) == INF

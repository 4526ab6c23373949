"""Specimens against a published range: exact limits, what few specimens can tell, and how often a true taxon is accused."""

import numpy as np
import pytest
from scipy.stats import beta, binom, lognorm

from hilum.stats import ranges


@pytest.mark.parametrize(
    # Newcombe (1998), Statistics in Medicine 17:857-872, table of examples, method 5, from memory
    ("hits", "seeds", "low", "high"),
    [
        (81, 263, 0.2527, 0.3676),
        (15, 148, 0.0578, 0.1617),
        (0, 20, 0, 0.1684),
        (1, 29, 0.0009, 0.1776),
    ],
)
def test_the_limits_are_the_published_ones(hits, seeds, low, high):
    found = ranges.clopper_pearson(hits, seeds, confidence=0.95)
    np.testing.assert_allclose(found, (low, high), atol=5e-5)


def test_the_limits_end_at_nothing_and_at_all():
    low, high = ranges.clopper_pearson([0, 7, 0], [7, 7, 0], confidence=0.95)
    assert (low[0], high[1]) == (0, 1)
    assert (low[2], high[2]) == (0, 1)
    # with all 7 of 7, the limit is the share whose seventh power is 0.025
    assert low[1] == pytest.approx(0.025 ** (1 / 7))


def test_the_chance_of_so_many_outside_is_that_of_a_binomial():
    k, n = np.arange(13), 12
    np.testing.assert_allclose(ranges.chance(k, n, allowed=0.1), binom.sf(k - 1, n, 0.1))
    assert ranges.chance(1, 1, allowed=0.1) == pytest.approx(0.1)


def test_the_one_sided_limit_turns_where_the_test_does():
    for outside, specimens in ((3, 8), (5, 40), (12, 30)):
        level = float(ranges.chance(outside, specimens, allowed=0.1))
        assert ranges.least_outside(outside, specimens, level=level) == pytest.approx(0.1)
    assert ranges.least_outside(0, 9, level=0.05) == 0


def test_93_specimens_hold_between_them_95_percent_of_the_lot():
    # Wilks (1941): 93 specimens for 95 % with 95 % confidence, from memory
    assert (
        ranges.least_between(92, confidence=0.95)
        < 0.95
        <= ranges.least_between(93, confidence=0.95)
    )
    b, n = ranges.least_between(20, confidence=0.9), 20
    assert n * b ** (n - 1) - (n - 1) * b**n == pytest.approx(0.1)
    assert b == pytest.approx(beta.ppf(0.1, n - 1, 2))
    assert ranges.least_between(1, confidence=0.95) == 0


def test_what_lies_between_the_smallest_and_the_largest_holds_for_any_distribution():
    rng, n = np.random.default_rng(1), 12
    drawn = rng.lognormal(sigma=1.5, size=(4000, n))
    share = np.ptp(lognorm.cdf(np.stack([drawn.min(1), drawn.max(1)]), 1.5), axis=0)
    held = (share >= ranges.least_between(n, confidence=0.95)).mean()
    assert abs(held - 0.95) < 3 * np.sqrt(0.95 * 0.05 / 4000)


def test_how_many_must_lie_outside_is_the_first_number_that_chance_does_not_explain():
    for n in (1, 2, 3, 10, 57, 400):
        chances = ranges.chance(np.arange(n + 2), n, allowed=0.1)
        first = next((k for k in range(n + 1) if chances[k] <= 0.05), n + 1)
        assert int(ranges.fewest_outside(n, allowed=0.1, level=0.05)) == first
    # two of two: 0.1² = 0.01, to the last digit
    assert int(ranges.fewest_outside(2, allowed=1 - 0.9, level=0.01)) == 2


def test_power_is_the_share_of_samples_that_speak_against_a_taxon():
    rng = np.random.default_rng(2)
    n, level = 30, 0.025
    outside = rng.binomial(n, 0.3, size=20_000)
    found = ranges.power(0.3, n, allowed=0.1, level=level)
    counted = (ranges.chance(outside, n, allowed=0.1) <= level).mean()
    assert found == pytest.approx(counted, abs=0.012)
    assert ranges.power(1.0, 1, allowed=0.1, level=level) == 0


def test_the_specimens_wanted_keep_the_power_from_there_on():
    wanted = ranges.specimens_wanted(0.3, allowed=0.1, level=0.05, power_wanted=0.8)
    more = np.arange(wanted, wanted + 200)
    assert (ranges.power(0.3, more, allowed=0.1, level=0.05) >= 0.8).all()
    assert ranges.power(0.3, wanted - 1, allowed=0.1, level=0.05) < 0.8
    assert ranges.specimens_wanted(0.1, allowed=0.1, level=0.05, power_wanted=0.8) == np.inf


@pytest.mark.parametrize(
    ("of", "other", "share"),
    [
        ((4, 8), (6, 12), 0.5),
        ((4, 8), (9, 12), 1),
        ((5, 6), (4, 8), 0),
        ((4, 8), (5, 6), 0.75),
        ((5, 5), (4, 8), 0),
        ((3, 3), (4, 8), 1),
    ],
)
def test_the_share_of_a_range_beyond_another(of, other, share):
    assert ranges.share_beyond(of, other) == pytest.approx(share)

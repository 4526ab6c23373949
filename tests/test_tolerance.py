"""Tolerances between replicates: the published table and the theory behind it."""

import pytest

from hilum.stats import tolerance


@pytest.mark.parametrize(
    # 7 CFR 201.55(a): mean %, tolerated range of four and of two replicates of 100 seeds
    ("mean", "four", "two"),
    [
        (99, 5, None),
        (97, 7, 6),
        (91, 11, 9),
        (90, 12, 9),
        (83, 15, 12),
        (80, 16, 13),
        (71, 18, 14),
    ],
)
def test_the_table_is_the_published_one(mean, four, two):
    mirrored = 101 - mean  # the table names 2 % beside 99 %
    for percent in (mean, mirrored):
        found = tolerance.tolerated(percent / 100, 4, 100)
        assert (round(100 * found.largest), found.published) == (four, True)
        if two is not None:
            assert round(100 * tolerance.tolerated(percent / 100, 2, 100).largest) == two


@pytest.mark.parametrize("replicates", [2, 4])
def test_theory_agrees_with_the_table_to_one_point(replicates):
    for percent in range(71, 98):
        table = tolerance.tolerated(percent / 100, replicates, 100)
        assert table.published
        theory = 100 * tolerance.theory(percent / 100, replicates, 100)
        assert abs(theory - 100 * table.largest) <= 1


@pytest.mark.parametrize(
    # Miles 1963: quantiles 97.5 % of the range of standard normal values
    ("replicates", "quantile"),
    [(2, 3.1698), (4, 3.9840)],
)
def test_the_range_has_its_known_quantiles(replicates, quantile):
    assert tolerance.range_quantile(replicates) == pytest.approx(quantile, abs=5e-5)


def test_other_numbers_of_seeds_take_theory():
    found = tolerance.tolerated(0.8, 4, 25)
    assert not found.published
    assert found.largest == pytest.approx(3.9840 * (0.8 * 0.2 / 25) ** 0.5, abs=1e-4)
    assert tolerance.tolerated(0.8, 3, 100).published is False

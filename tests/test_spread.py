"""Dish spread: closed forms, and components recovered from simulated dishes."""

import numpy as np
import pytest

from hilum.stats import spread
from hilum.stats.spread import Components, DishScores


def one_parameter(score, information):
    """Return dishes that only inform about log t50, one global parameter: everything can be done by hand."""
    score, information = (np.asarray(x, dtype=float) for x in (score, information))
    J = score.shape[-1]
    u, M = np.zeros((*score.shape, 3)), np.zeros((*score.shape, 3, 3))
    u[..., 0], M[..., 0, 0] = score, information
    jacobian = np.zeros((*score.shape, 3, 1))
    jacobian[..., 0, 0] = 1
    return DishScores(
        u, M, jacobian, np.full((*score.shape[:-1], J), 0.8), np.zeros(score.shape, dtype=bool)
    )


def test_equal_dishes_have_the_moments_of_a_variance():
    # scores at the maximum sum to 0; M = 10 each, so Σ s²/M = (9 + 1 + 4 + 0)/10 with mean 4 − 1
    found = spread.moments(one_parameter([3.0, -1, -2, 0], [10.0] * 4))
    assert found.seen[0] == pytest.approx(1.4)
    assert found.expected[0] == pytest.approx(3)
    # Σ_jk (R_jk·10)²/10 with R = 1 − 1/4: trace of a projection of rank 3, times 10
    assert found.gain[0, 0] == pytest.approx(30)
    assert found.seen[1] == found.expected[1] == 0
    assert spread.components(found).dof[0] == pytest.approx(3)
    assert spread.components(found).variance.tolist() == [0, 0]


def test_a_component_solves_its_moment_equation():
    found = spread.components(spread.moments(one_parameter([12.0, -8, -9, 5], [10.0] * 4)))
    # (Σ s² / 10 − 3)/30
    assert found.variance[0] == pytest.approx((31.4 - 3) / 30)


def test_models_that_share_components_are_pooled_by_their_sums():
    two = one_parameter([[12.0, -8, -9, 5], [3, -1, -2, 0]], np.full((2, 4), 10.0))
    found = spread.components(spread.moments(two).pooled())
    assert found.variance[0] == pytest.approx((31.4 + 1.4 - 6) / 60)
    assert found.dof[0] == pytest.approx(6)


def test_cr2_of_equal_dishes_is_the_variance_of_their_mean_with_its_degrees_of_freedom():
    """beta_hat − beta is the mean of u_j/M_j, whose variance is Σ (u/M)²/(J(J − 1)), with J − 1 df."""
    scores = np.array([12.0, -8, -9, 5])
    none = Components(np.zeros(2), np.full(2, 3.0))
    found = spread.threshold(one_parameter(scores, [10.0] * 4), none, np.ones(1), confidence=0.95)
    assert found.model_variance == pytest.approx(1 / 40)
    variance = ((scores / 10) ** 2).sum() / (4 * 3)
    assert found.scale == pytest.approx(variance * 40)
    assert found.dof == pytest.approx(3)
    # t(3) at 97.5 %: 3.182446
    assert found.value == pytest.approx(variance * 40 * 3.182446**2, rel=1e-6)
    assert found.value == found.robust > found.pooled


def test_pooled_variance_follows_its_formula():
    alike = one_parameter([0.0, 0, 0, 0], [10.0] * 4)
    found = spread.threshold(
        alike,
        Components(np.array([0.05, 0.0]), np.array([12.0, 12.0])),
        np.ones(1),
        confidence=0.95,
    )
    # V = 1/40 + Σ 10²·0.05/40² = 0.025 + 0.0125
    assert found.scale == pytest.approx(1.5)
    # nu_S = min(12/(1 − 1/1.5)², 60) = 60, nu = √(12·60)
    assert found.dof == pytest.approx(np.sqrt(720))
    assert found.value == found.pooled


@pytest.mark.parametrize(
    ("scale", "nu_pool", "expected"),
    [(1.0, 15.0, 30.0), (2.0, 3.0, 6.0), (50.0, 12.0, 12.2449), (1.0, 90.0, 90.0)],
)
def test_degrees_of_freedom_by_hand(scale, nu_pool, expected):
    # √(15·60); √(3·min(3/0.25, 60)); 12/(1 − 1/50); never below nu_pool
    assert spread.satterthwaite(np.array(scale), np.array(nu_pool)) == pytest.approx(
        expected, rel=1e-4
    )


def test_the_model_alone_is_never_made_narrower():
    rng = np.random.default_rng(2)
    for _ in range(20):
        scores = rng.normal(size=5)
        dishes = one_parameter(scores - scores.mean(), [10.0] * 5)
        found = spread.threshold(
            dishes, spread.components(spread.moments(dishes)), np.ones(1), confidence=0.95
        )
        assert found.value >= 1.959964**2


def test_a_fraction_on_its_boundary_drops_out():
    """A huge one-sided information of G must change nothing once G is fixed."""
    rng = np.random.default_rng(4)
    root = rng.normal(size=(4, 3, 3))
    information = root @ root.transpose(0, 2, 1) + np.eye(3)
    score = rng.normal(size=(4, 3))
    score -= score.mean(0)
    jacobian = np.tile(np.diag([1.0, 1.0, 0.0]), (4, 1, 1))
    huge = information.copy()
    huge[:, 2, 2], huge[:, 0, 2], huge[:, 2, 0] = 1e120, 1e50, 1e50
    answers = []
    for M in (information, huge):
        dishes = DishScores(score, M, jacobian, np.ones(4), np.zeros(4, dtype=bool))
        shared = spread.components(spread.moments(dishes))
        assert shared.dof[1] == 0
        contrast = np.array([1.0, 0.5, 0.0])
        answers.append(spread.threshold(dishes, shared, contrast, confidence=0.95).value)
    assert answers[0] == pytest.approx(answers[1], rel=1e-10)


def test_dishes_that_fill_up_an_array_change_nothing():
    scores, information = [12.0, -8, -9, 5], [10.0, 12, 9, 11]
    plain, filled = (
        one_parameter(scores, information),
        one_parameter([*scores, 0], [*information, 0]),
    )
    shared = [spread.components(spread.moments(dishes)) for dishes in (plain, filled)]
    np.testing.assert_allclose(shared[0].variance, shared[1].variance, rtol=1e-12)
    np.testing.assert_allclose(shared[0].dof, shared[1].dof, rtol=1e-12)
    one, other = (
        spread.threshold(dishes, shared[0], np.ones(1), confidence=0.95)
        for dishes in (plain, filled)
    )
    assert one.value == pytest.approx(other.value, rel=1e-12)


def test_a_dish_alone_shows_no_spread():
    alone = spread.components(spread.moments(one_parameter([0.0], [10.0])))
    assert alone.variance.tolist() == [0, 0]
    assert alone.dof.tolist() == [0, 0]


def test_both_components_are_recovered_from_many_dishes():
    """Scores drawn from the very model of the moments: u = I·B·b + noise of variance I."""
    rng = np.random.default_rng(8)
    J, G = 4000, 0.7
    information = np.array([[400.0, -30, 20], [-30, 60, 5], [20, 5, 120]])
    effects = rng.normal(size=(J, 2)) * [0.1, 0.5]
    local = np.stack([effects[:, 0], np.zeros(J), G * (1 - G) * effects[:, 1]], axis=-1)
    score = local @ information + rng.multivariate_normal(np.zeros(3), information, size=J)
    groups = score.reshape(J // 4, 4, 3)
    groups = groups - groups.mean(1, keepdims=True)  # each group of four dishes at its own maximum
    many = DishScores(
        groups,
        np.tile(information, (J // 4, 4, 1, 1)),
        np.tile(np.eye(3), (J // 4, 4, 1, 1)),
        np.full((J // 4, 4), G),
        np.zeros((J // 4, 4), dtype=bool),
    )
    found = spread.components(spread.moments(many).pooled())
    np.testing.assert_allclose(found.variance, [0.01, 0.25], rtol=0.12)


def test_an_assumed_correlation_is_the_share_of_a_seeds_variance():
    found = spread.assumed(0.1, np.array(0.6), np.array(0.5))
    # T_1/(T_1 + 0.6²) = 2.5·0.1 and T_2·(G(1 − G))² = 0.1·G(1 − G)
    assert found.variance[0] / (found.variance[0] + 0.36) == pytest.approx(0.25)
    assert found.variance[1] * 0.25**2 == pytest.approx(0.1 * 0.25)
    assert spread.assumed(0.1, np.array(0.6), np.array(1.0)).variance[1] == 0


def test_seeds_of_a_dish_are_assumed_to_be_at_most_half_alike_in_speed():
    found = [spread.assumed(rho, np.array(0.3), np.array(0.8)).variance[0] for rho in (0.3, 0.9)]
    np.testing.assert_allclose(found, 0.09)
    assert spread.assumed(0.0, np.array(0.3), np.array(0.8)).variance.max() == 0


def test_the_mean_scale_is_one_without_spread():
    dishes = one_parameter([3.0, -1, -2, 0], [10.0] * 4)
    assert spread.mean_scale(dishes, Components(np.zeros(2), np.ones(2))) == pytest.approx(1)
    assert spread.mean_scale(dishes, Components(np.array([0.05, 0]), np.ones(2))) == pytest.approx(
        1.5
    )


def test_a_contrast_that_dish_effects_do_not_touch_has_steady_degrees_of_freedom():
    # the share of rounding errors once decided them, and moved a limit in its fourth digit
    # between two builds of numpy: effects on time do not move a contrast of sigma alone
    rng = np.random.default_rng(3)
    information = np.tile(np.diag([50.0, 80.0, 0.0]), (4, 1, 1))
    jacobian = np.tile(np.diag([1.0, 1.0, 0.0])[:, :2], (4, 1, 1))
    score = np.column_stack((rng.normal(0, 7, (4, 2)), np.zeros(4)))
    pooled = spread.Components(variance=np.array([0.01, 0.2]), dof=np.array([3.0, 9.0]))
    found = []
    for tilt in (0.0, 1e-16, -1e-16):
        tilted = information.copy()
        tilted[:, 0, 1] = tilted[:, 1, 0] = tilt
        dishes = spread.DishScores(
            score, tilted, jacobian, np.full(4, 0.8), np.zeros(4, dtype=bool)
        )
        limit = spread.threshold(dishes, pooled, np.array([0.0, 1.0]), confidence=0.95)
        found.append(float(limit.pooled))
    assert found[1] == pytest.approx(found[0], rel=1e-12)
    assert found[2] == pytest.approx(found[0], rel=1e-12)


def test_a_parameter_without_information_has_a_variance_of_exactly_0():
    # its rounding error was counted as a free parameter, and moved the scale of the AIC by a tenth
    rng = np.random.default_rng(4)
    root = rng.normal(size=(200, 11, 11))
    information = root @ np.swapaxes(root, -1, -2)
    gone = [7, 9]
    information[:, gone] = 0.0
    information[:, :, gone] = 0.0
    variance = np.einsum("...ii->...i", spread.inverse_information(information))
    assert (variance[:, gone] == 0).all()
    assert (np.delete(variance, gone, axis=1) > 0).all()

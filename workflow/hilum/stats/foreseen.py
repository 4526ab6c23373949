"""How wide an interval is expected to be before there are data, dish spread included.

At the truth beta the dish scores are u_j = I_jB_je_j + noise, with variance C_j = I_j + I_jB_j T B_j'I_j in the notation of
`spread`; at the maximum one sees u_hat_j = u_j − I_jA_jI⁻¹ Σ A_k'u_k. Scores drawn so are handed to `spread`, as those of real
dishes would be, so that what is expected of a threshold allows for spread that is estimated from few dishes, and
for the wider of two methods being taken.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hilum.stats import spread
from hilum.stats.arrays import Array
from hilum.stats.spread import Components, DishScores, Moments, Threshold

# as many know the middle of a half-width to a few parts in a hundred
DRAWS = 1000


@dataclass(frozen=True)
class Shared:
    """Effects that dishes of one group have in common: the `group` of each dish, (J,), -1 for none, and their `sd`."""

    group: np.ndarray
    sd: float


def information(dishes: DishScores) -> Array:
    """Return the information of the parameters, Σ A'I_jA, shape (p, p)."""
    A = dishes.jacobian
    return np.asarray(np.einsum("jap,jab,jbq->pq", A, dishes.information, A))


def drawn_scores(
    dishes: DishScores,
    components: Components,
    *,
    draws: int,
    rng: np.random.Generator,
    shared: Shared | None = None,
) -> DishScores:
    """Return `dishes` (J, …) with residual scores drawn at the truth, (draws, J, 3); the rest has a leading axis of 1.

    `components` are the true ones, with a variance of shape (2,), or (J, 1, 2) where dishes have effects of different size;
    `shared` ones come on top. The scores that `dishes` hold are not looked at.
    """
    towards = dishes.information @ _effects(dishes)
    J = len(dishes.fraction)
    by_seed = np.einsum("jab,djb->dja", _root(dishes.information), rng.normal(size=(draws, J, 3)))
    own = towards * np.sqrt(components.variance)
    score = by_seed + np.einsum("jae,dje->dja", own, rng.normal(size=(draws, J, 2)))
    if shared is not None:
        drawn = shared.sd * rng.normal(size=(draws, shared.group.max() + 1, 2))
        together = np.where(shared.group[:, None] >= 0, drawn[:, shared.group], 0.0)
        score = score + np.einsum("jae,dje->dja", towards, together)
    moved = np.einsum("dja,jap->dp", score, dishes.jacobian)
    moved = moved @ spread.inverse_information(information(dishes))
    pulled = np.einsum("jab,jbp,dp->dja", dishes.information, dishes.jacobian, moved)
    return DishScores(
        score - pulled,
        dishes.information[None],
        dishes.jacobian[None],
        dishes.fraction[None],
        dishes.single[None],
    )


def _effects(dishes: DishScores) -> Array:
    """Return how a dish's effects on log time and on logit G move its parameters, (J, 3, 2)."""
    effect = np.zeros((*dishes.fraction.shape, 3, 2))
    effect[..., 0, 0] = 1.0
    effect[..., 2, 1] = dishes.fraction * (1 - dishes.fraction)
    return effect


def _root(matrix: Array) -> Array:
    """Return a root of each symmetric matrix without negative directions, (…, n, n)."""
    values, vectors = np.linalg.eigh(matrix)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0))[..., None, :])


def by_dish(dishes: DishScores, components: Components) -> tuple[Array, Array]:
    """Return what each dish adds to I, and to what dish effects do to the scores, (J, p, p) each.

    With n_j dishes like dish j the variance is V = I⁻¹(I + M)I⁻¹, I = Σ n_j I_j and M = Σ n_j M_j.
    """
    A = dishes.jacobian
    own = np.einsum("jap,jab,jbq->jpq", A, dishes.information, A)
    towards = dishes.information @ _effects(dishes) * np.sqrt(components.variance)
    reach = np.einsum("jap,jae->jpe", A, towards)
    return own, np.einsum("jpe,jqe->jpq", reach, reach)


def found(moments: Sequence[Moments], assumed: Components, *, fewest: float) -> Components:
    """Return the components that models estimate together from drawn scores, (draws, 2).

    Those `assumed` stand in where the dishes of all models have fewer than `fewest` degrees of freedom.
    """
    parts = ("seen", "expected", "gain", "weight", "squared_weight")
    pooled = Moments(*(np.sum([getattr(m, part) for m in moments], axis=0) for part in parts))
    seen = spread.components(pooled)
    known = seen.dof >= fewest
    return Components(
        np.where(known, seen.variance, assumed.variance), np.where(known, seen.dof, assumed.dof)
    )


def reach(threshold: Threshold) -> Array:
    """Return how far the limits lie from the estimate, one for each draw."""
    return np.asarray(np.sqrt(threshold.value * threshold.model_variance))

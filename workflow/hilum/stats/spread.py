"""Dishes vary more than a binomial: what that does to intervals.

At the maximum of the likelihood each dish j has a local score u_j and an expected information I_j with
respect to its own (log t50, log sigma, G); A_j is the Jacobian of these three in the p global parameters
beta. The information of beta is I = Σ A'I_jA, the model's variance I⁻¹.

*Residual scores.* To first order beta_hat − beta = I⁻¹ Σ A_k'u_k, so the scores that one sees at the maximum are
u_hat_j = Σ_k R_jk u_k with R_jk = delta_jk − I_j A_j I⁻¹ A_k'.

*Pooled dish components.* A dish shifts its log time by e ~ (0, T_1) and its logit G by h ~ (0, T_2). With
B_j = d(log t50, log sigma, G)/d(e, h), whose columns are (1, 0, 0) and (0, 0, G(1 − G)), the true scores have
variance I_j + I_j B_j T B_j' I_j, and so the beta's variance is V = I⁻¹(I + Σ A'I_jB_j T B_j'I_jA)I⁻¹.
The components come from the moments of the dish scores s_j = B_j'u_hat_j: with M_j = B_j'I_jB_j,

    Σ_j s_ja²/M_jaa  has the mean  Σ_j [B_j'(I_j − I_jA_jI⁻¹A_j'I_j)B_j]_aa/M_jaa + Σ_b T_b Σ_jk [B_j'R_jkI_kB_k]_ab²/M_jaa,

two linear equations, summed over all dishes that share the components, solved and cut at 0.

*Cluster-robust.* With H_jk = I_j^½ A_j I⁻¹ A_k' I_k^½, standardised residual scores have the working variance
1 − H_jj. CR2 divides by its root, and V_CR2 = Σ_j (l'I⁻¹A_j'I_j^½(1 − H_jj)^-½ I_j^-½ u_hat_j)² for a contrast l. Bell and
McCaffrey (2002, Survey Methodology 28:169–181) give its degrees of freedom: V_CR2 = Σ q_j² with
cov(q)_jk = P_jk = c_j'(delta_jk − H_jk)c_k, c_j = (1 − H_jj)^-½ I_j^½ A_j I⁻¹ l; nu = (Σ P_jj)²/Σ P_jk².

A G on its boundary 1 is no free parameter: its row of A_j is 0, and it drops out of everything here.

A dish with a single seed has no others that could be like it: no dish effect moves it, and where all dishes of a fit are
such, the seeds are independent and the model's own variance is the variance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from hilum.stats.arrays import Array

# no interval claims to know its variance better than from this many dishes (statistics: nu_S ≤ 60)
MOST_DEGREES_OF_FREEDOM = 60.0
# below this CR2 knows its own variance so badly that its limits say nothing (two dishes have 1)
FEWEST_DEGREES_OF_FREEDOM = 1.5
# with fewer residual dishes than this (one pair has 1) their looking alike is no evidence: the assumed
# correlation is the least that is used
FEW_DISHES = 1.5
# seeds of a dish share its warmth and water: they are taken to be more alike in speed than in fate, so that dishes of seeds
# that differ by 27 % differ by 10 % where fates are correlated by 0.05 (common practice, no source)
_AS_ALIKE_IN_SPEED = 2.5
_MOST_ALIKE = 0.5
_SMALL = 1e-9


@dataclass(frozen=True)
class DishScores:
    """What the dishes say at the maximum, over any leading axes.

    `score` (…, J, 3), `information` (…, J, 3, 3), `jacobian` (…, J, 3, p), `fraction` (…, J); `single` (…, J) marks dishes
    of one seed. Dishes that fill up an array have zeros everywhere.
    """

    score: Array
    information: Array
    jacobian: Array
    fraction: Array
    single: NDArray[np.bool_]


@dataclass(frozen=True)
class Moments:
    """The two moment equations of one model, shapes (…, 2), (…, 2), (…, 2, 2), and the weights of its dishes.

    Models that share their components are pooled by summing.
    """

    seen: Array
    expected: Array
    gain: Array
    weight: Array
    squared_weight: Array

    def pooled(self, axis: int = 0) -> Moments:
        """Return the equations of several models that share their components."""
        return Moments(
            self.seen.sum(axis),
            self.expected.sum(axis),
            self.gain.sum(axis),
            self.weight.sum(axis),
            self.squared_weight.sum(axis),
        )


@dataclass(frozen=True)
class Components:
    """Variance of the dish effects on log time and on logit G, and their degrees of freedom, (…, 2) each."""

    variance: Array
    dof: Array


@dataclass(frozen=True)
class Threshold:
    """How far −2 log likelihood ratio may rise inside the interval of one contrast.

    `value` = scale·t²(dof) of the wider method; `scale` = variance / model variance; `model_variance`
    from the likelihood alone; `pooled` and `robust` the thresholds of the two methods. All of shape (…).
    """

    value: Array
    scale: Array
    dof: Array
    model_variance: Array
    pooled: Array
    robust: Array


@dataclass(frozen=True)
class _Geometry:
    """The matrices that both methods share; `effect` is B_j, `independent` (…) where no dish holds two seeds."""

    score: Array
    information: Array
    jacobian: Array
    inverse: Array
    effect: Array
    independent: NDArray[np.bool_]


def _geometry(dishes: DishScores) -> _Geometry:
    moved = (dishes.jacobian != 0).any(-1)
    score = np.where(moved, dishes.score, 0.0)
    information = np.where(moved[..., :, None] & moved[..., None, :], dishes.information, 0.0)
    total = np.einsum("...jap,...jab,...jbq->...pq", dishes.jacobian, information, dishes.jacobian)
    effect = np.zeros((*moved.shape, 2))
    effect[..., 0, 0] = moved[..., 0]
    effect[..., 2, 1] = moved[..., 2] * dishes.fraction * (1 - dishes.fraction)
    effect = np.where(dishes.single[..., None, None], 0.0, effect)
    independent = (dishes.single | ~moved.any(-1)).all(-1)
    inverse = inverse_information(total)
    return _Geometry(score, information, dishes.jacobian, inverse, effect, independent)


def inverse_information(information: Array) -> Array:
    """Return the inverse, shape (…, p, p), of an information in which some parameters may be absent.

    A parameter without any information (its row is 0) keeps a variance of 0.
    """
    absent = np.einsum("...ii->...i", information) <= 0
    scale = np.sqrt(np.where(absent, 1.0, np.einsum("...ii->...i", information)))
    unit = information / (scale[..., :, None] * scale[..., None, :])
    inverse = np.linalg.pinv(unit, rcond=1e-12, hermitian=True)
    # exactly 0: whoever counts the parameters that have a variance must not count a rounding error
    inverse = np.where(absent[..., :, None] | absent[..., None, :], 0.0, inverse)
    return np.asarray(inverse / (scale[..., :, None] * scale[..., None, :]))


def moments(dishes: DishScores) -> Moments:
    """Return the moment equations of the two dish effects (see the head of this file)."""
    g = _geometry(dishes)
    s = np.einsum("...jia,...ji->...ja", g.effect, g.score)
    towards = np.einsum("...jia,...jik->...jak", g.effect, g.information)  # B'I
    own = np.einsum("...jak,...jkb->...jab", towards, g.effect)  # M
    towards_global = np.einsum("...jak,...jkp->...jap", towards, g.jacobian)  # B'IA
    lever = towards_global @ g.inverse[..., None, :, :] @ np.swapaxes(towards_global, -1, -2)
    m = np.einsum("...jaa->...ja", own)
    weight = np.where(m > _SMALL, 1 / np.where(m > _SMALL, m, 1.0), 0.0)
    residual = np.einsum("...jaa->...ja", own - lever) * weight  # 1 − leverage
    residual = np.where(residual > 1e-6, residual, 0.0)  # a dish alone has none
    return Moments(
        seen=(weight * s**2).sum(-2),
        expected=residual.sum(-2),
        gain=_gain(weight, own, lever, towards_global, g.inverse),
        weight=(residual * m).sum(-2),
        squared_weight=(residual * m**2).sum(-2),
    )


def _gain(weight: Array, own: Array, lever: Array, reach: Array, inverse: Array) -> Array:
    """Return Σ_jk [delta_jk M_j − L_jk]_ab²/M_jaa, with L_jk = reach_j I⁻¹ reach_k', the `lever` where j = k; shape (…, 2, 2).

    Sums over pairs of dishes are products of sums over dishes, Σ_jk w_j L_jkab² = tr(Σ_j w_j r_ja r_ja' I⁻¹ Σ_k r_kb r_kb' I⁻¹):
    as many pairs as ten thousand dishes have would fill any memory.
    """
    alone = np.einsum("...ja,...jab->...ab", weight, own * (own - 2 * lever))
    weighted = np.einsum("...ja,...jap,...jaq->...apq", weight, reach, reach)
    plain = np.einsum("...jbp,...jbq->...bpq", reach, reach)
    along, back = (part @ inverse[..., None, :, :] for part in (weighted, plain))
    # a sum of squares: below 0 is a rounding error
    return np.asarray(np.maximum(alone + np.einsum("...apq,...bqp->...ab", along, back), 0.0))


def components(pooled: Moments) -> Components:
    """Return the dish components: the solution of the moment equations, cut at 0."""
    surplus, gain = pooled.seen - pooled.expected, pooled.gain
    determinant = gain[..., 0, 0] * gain[..., 1, 1] - gain[..., 0, 1] * gain[..., 1, 0]
    diagonal = np.einsum("...aa->...a", gain)
    alone = np.where(diagonal > _SMALL, surplus / np.where(diagonal > _SMALL, diagonal, 1.0), 0.0)
    regular = determinant > 1e-6 * diagonal.prod(-1)
    safe = np.where(regular, determinant, 1.0)
    first = (gain[..., 1, 1] * surplus[..., 0] - gain[..., 0, 1] * surplus[..., 1]) / safe
    second = (gain[..., 0, 0] * surplus[..., 1] - gain[..., 1, 0] * surplus[..., 0]) / safe
    both = np.stack((first, second), axis=-1)
    # where one component would be negative it is 0, and the other has its own equation
    other_negative = np.stack((second < 0, first < 0), axis=-1) | ~regular[..., None]
    variance = np.maximum(np.where(other_negative, alone, both), 0.0)
    squared = pooled.squared_weight
    dof = np.where(squared > _SMALL, pooled.weight**2 / np.where(squared > _SMALL, squared, 1.0), 0)
    return Components(variance=np.where(dof > 0, variance, 0.0), dof=dof)


def assumed(correlation: float, log_time_sd: Array, fraction: Array) -> Components:
    """Return the components of an assumed intra-dish correlation rho, where one dish cannot show its own.

    rho is the share of a seed's variance that its dish explains, r = 2.5·rho, at most a half, that of its log time:
    T_1 = r/(1 − r)·var(log time) and T_2 = rho/(G(1 − G)), since a dish's G varies by rho·G(1 − G). `log_time_sd` and
    `fraction` of shape (…).
    """
    speed = min(_AS_ALIKE_IN_SPEED * correlation, _MOST_ALIKE)
    varied = fraction * (1 - fraction)
    on_time = speed / (1 - speed) * log_time_sd**2
    on_fraction = np.where(varied > _SMALL, correlation / np.where(varied > _SMALL, varied, 1.0), 0)
    variance = np.stack(np.broadcast_arrays(on_time, on_fraction), axis=-1)
    return Components(variance=variance, dof=np.full_like(variance, MOST_DEGREES_OF_FREEDOM))


def satterthwaite(scale: Array, nu_pool: Array) -> Array:
    """Return the degrees of freedom of a variance of which only the share 1 − 1/scale was estimated.

    nu = √(nu_pool·nu_S), not below nu_pool, with Satterthwaite's nu_S = min(nu_pool/(1 − 1/scale)², 60).
    """
    share = np.maximum(1 - 1 / scale, 1e-6)
    nu_s = np.minimum(nu_pool / share**2, MOST_DEGREES_OF_FREEDOM)
    return np.asarray(np.maximum(np.sqrt(nu_pool * nu_s), nu_pool))


def t_squared(dof: Array, confidence: Array | float) -> Array:
    """Return the squared two-sided quantile of Student's t; `dof` below 1 says as little as 1."""
    return np.asarray(stdtrit(np.maximum(dof, 1.0), 0.5 + confidence / 2) ** 2)


@dataclass(frozen=True)
class Intervals:
    """What dishes and their components say of every contrast, worked out once.

    `reach` (…, J, 2, p) is B'I_jA_j; with D_j = (1 − H_jj)^-½ I_j^½ A_j, which takes I⁻¹l to c_j, `to_contrast`
    (…, J, 3, p) is D_j, `seen` (…, J, p) takes it to q_j and `to_global` (…, J, p, p) to c_j'I_j^½A_j.
    """

    inverse: Array
    pooled: Components
    reach: Array
    to_contrast: Array
    seen: Array
    to_global: Array
    independent: NDArray[np.bool_]

    @classmethod
    def of(cls, dishes: DishScores, pooled: Components) -> Intervals:
        """Return what the dishes of a fit say, with their components."""
        g = _geometry(dishes)
        values, vectors = np.linalg.eigh(g.information)
        root, back = (_power(values, vectors, power) for power in (0.5, -0.5))
        standard = root @ g.jacobian
        hat = standard @ g.inverse[..., None, :, :] @ np.swapaxes(standard, -1, -2)
        to_contrast = _symmetric_power_of_residual(np.eye(3) - hat) @ standard
        return cls(
            inverse=g.inverse,
            pooled=pooled,
            reach=np.swapaxes(g.effect, -1, -2) @ g.information @ g.jacobian,
            to_contrast=to_contrast,
            seen=((g.score[..., None, :] @ back) @ to_contrast)[..., 0, :],
            to_global=np.swapaxes(standard, -1, -2) @ to_contrast,
            independent=g.independent,
        )

    def threshold(self, contrast: Array, *, confidence: float) -> Threshold:
        """Return the threshold of the interval of contrast·beta: the wider of pooled components and CR2.

        `contrast` is the gradient of the wanted quantity in beta, shape (…, p). The profile likelihood interval
        holds every value at which −2 log likelihood ratio is at most `value`.
        """
        along = (self.inverse @ contrast[..., None])[..., 0]
        model = (along * contrast).sum(-1)
        model = np.where(model > 0, model, np.inf)
        robust = self._robust(along, model, confidence)
        checked = robust[1] >= FEWEST_DEGREES_OF_FREEDOM
        from_pool = self._from_pool(along, model, checked, confidence)
        wider = robust[2] > from_pool[2]
        scale, dof, value = (np.where(wider, r, p) for r, p in zip(robust, from_pool, strict=True))
        return Threshold(value, scale, dof, model, from_pool[2], robust[2])

    def _from_pool(
        self, along: Array, model: Array, checked: NDArray[np.bool_], confidence: float
    ) -> tuple[Array, Array, Array]:
        """Return scale, degrees of freedom and threshold of the pooled components.

        Where CR2 cannot be asked (not `checked`) nothing stands behind a pool that came out too small by chance:
        the degrees of freedom are then those of the pool alone.
        """
        sensitivity = (_of_each(self.reach, along) ** 2).sum(-2)
        extra = (sensitivity * self.pooled.variance).sum(-1)
        scale = 1 + extra / model
        total = sensitivity.sum(-1)
        # a contrast that dish effects do not touch has only rounding errors to share out among them
        touched = np.isfinite(model) & (total > _SMALL * model)
        share = sensitivity / np.where(touched, total, 1.0)[..., None]
        nu_pool = (share * self.pooled.dof).sum(-1)
        nu_pool = np.where(touched, nu_pool, MOST_DEGREES_OF_FREEDOM)
        dof = np.where(checked, satterthwaite(scale, nu_pool), nu_pool)
        return scale, dof, scale * t_squared(dof, confidence)

    def _robust(self, along: Array, model: Array, confidence: float) -> tuple[Array, Array, Array]:
        """Return scale, Bell–McCaffrey degrees of freedom and threshold of the cluster-robust CR2."""
        own = (_of_each(self.to_contrast, along) ** 2).sum(-1)
        q = _of_each(self.seen[..., None, :], along)[..., 0]
        to_global = _of_each(self.to_global, along)
        moved = to_global @ self.inverse
        lever = (moved * to_global).sum(-1)
        # P = diag(own) − CMC' has as many rows as there are dishes, C'C has as many as there are parameters
        squared = np.swapaxes(to_global, -1, -2) @ moved
        crossed = (squared * np.swapaxes(squared, -1, -2)).sum((-2, -1))
        squares = (own**2 - 2 * own * lever).sum(-1) + crossed
        trace = (own - lever).sum(-1)
        known = squares > (1e-7 * model) ** 2
        dof = np.where(known, trace**2 / np.where(known, squares, 1.0), 0.0)
        scale = (q**2).sum(-1) / model
        dof = np.where(self.independent, 0.0, dof)
        usable = dof >= FEWEST_DEGREES_OF_FREEDOM
        return scale, dof, np.where(usable, scale * t_squared(dof, confidence), 0.0)


def _of_each(matrix: Array, vector: Array) -> Array:
    """Return the product of each dish's matrix (…, J, a, p) with a vector (…, p), shape (…, J, a)."""
    J, a, p = matrix.shape[-3:]
    all_rows = matrix.reshape(*matrix.shape[:-3], J * a, p)
    product = (all_rows @ vector[..., None])[..., 0]
    return np.asarray(product.reshape(*product.shape[:-1], J, a))


def _power(values: Array, vectors: Array, power: float) -> Array:
    """Return the power of symmetric matrices from their eigenvalues and vectors, on the space where they are not 0."""
    kept = values > 1e-10 * np.maximum(values.max(-1, keepdims=True), 0)
    powered = np.where(kept, np.where(kept, values, 1.0) ** power, 0.0)
    return np.asarray((vectors * powered[..., None, :]) @ np.swapaxes(vectors, -1, -2))


def _symmetric_power_of_residual(matrix: Array) -> Array:
    """Return (1 − H)^-½ where 1 − H is not 0: a dish alone in its group has no residual there."""
    values, vectors = np.linalg.eigh(matrix)
    kept = values > 1e-6
    powered = np.where(kept, np.where(kept, values, 1.0) ** -0.5, 0.0)
    return np.asarray((vectors * powered[..., None, :]) @ np.swapaxes(vectors, -1, -2))


def mean_scale(dishes: DishScores, pooled: Components) -> Array:
    """Return how much larger dish spread makes the variance, averaged over the parameters, shape (…).

    tr(I⁻¹ Σ A'I_jB_j T B_j'I_jA)/p + 1; −2 log likelihood is divided by it where models are compared.
    """
    g = _geometry(dishes)
    reach = np.einsum("...jia,...jik,...jkp->...jap", g.effect, g.information, g.jacobian)
    extra = np.einsum("...jap,...pq,...jaq->...a", reach, g.inverse, reach)
    free = np.maximum((np.einsum("...pp->...p", g.inverse) > 0).sum(-1), 1)
    return np.asarray(1 + (extra * pooled.variance).sum(-1) / free)


def threshold(
    dishes: DishScores, pooled: Components, contrast: Array, *, confidence: float
) -> Threshold:
    """Return the threshold of the interval of one contrast of each fit: see `Intervals.threshold`."""
    return Intervals.of(dishes, pooled).threshold(contrast, confidence=confidence)


def variances(dishes: DishScores, pooled: Components) -> tuple[Array, Array]:
    """Return the variance of beta from the likelihood alone, and with the dish components, (…, p, p) each."""
    g = _geometry(dishes)
    reach = np.einsum("...jia,...jik,...jkp->...jap", g.effect, g.information, g.jacobian)
    extra = np.einsum("...jap,...a,...jaq->...pq", reach, pooled.variance, reach)
    return g.inverse, g.inverse + g.inverse @ extra @ g.inverse

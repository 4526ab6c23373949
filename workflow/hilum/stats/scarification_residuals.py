"""Residuals of the units of a dose series: whether each has as many seeds open, and as many grown, as the curves say."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hilum.stats import residuals
from hilum.stats.arrays import Array
from hilum.stats.scarification import DoseFit
from hilum.stats.scarification_curves import curves


@dataclass(frozen=True)
class UnitResiduals:
    """Fitted shares of the seeds sown and standardised residuals of J units, shape (J,).

    `not_hard` and `germinated` are above 0 where more seeds took up water, and more germinated normally, than fitted; nan
    where the curve says nothing of a unit: how many seeds opened by hand are hard is no part of it.
    """

    fitted_not_hard: Array
    fitted_germinated: Array
    not_hard: Array
    germinated: Array


def of_units(fitted: DoseFit) -> UnitResiduals:
    """Return the residuals of the units that a dose curve was fitted to.

    Each is the quantile residual of `residuals.of_numbers`, with the unit's part of the curve taken from the expected
    information: h = w·d'·I⁻¹·d, where d is the gradient of the share s by the parameters and w = n/(s(1 − s)) (the hat
    matrix of a generalised linear model: McCullagh P., Nelder J.A. (1989), Generalized Linear Models, section 12.7; from
    memory).
    """
    units = fitted.units
    found = curves(fitted.parameters, units.log_dose, units.opened)
    p, q = found.permeable, found.germinated
    on_p = found.on_logit * (p * (1 - p))[:, None]
    # the share of seeds sown that germinate is p·q; of seeds opened by hand, q of those that took up water
    share = np.where(units.opened, q, p * q)
    on_share = found.on_germinated * np.where(units.opened, 1.0, p)[:, None]
    on_share = on_share + np.where(units.opened, 0.0, q)[:, None] * on_p
    seeds = np.where(units.opened, units.permeable, units.sown)
    closed = np.where(units.opened, 0.0, units.sown)
    return UnitResiduals(
        np.where(units.opened, np.nan, p),
        share,
        residuals.of_numbers(units.permeable, closed, p, _part(fitted, closed, p, on_p)),
        residuals.of_numbers(units.germinated, seeds, share, _part(fitted, seeds, share, on_share)),
    )


def _part(fitted: DoseFit, seeds: Array, share: Array, slope: Array) -> Array:
    weight = seeds / np.maximum(share * (1 - share), 1e-12)
    return np.asarray(weight * np.einsum("jp,pq,jq->j", slope, fitted.inverse, slope))

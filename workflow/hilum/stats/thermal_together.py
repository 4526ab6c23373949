"""The likelihoods of several models of one series, evaluated at once: families, responses, who shares a fraction.

One evaluation of a small likelihood is mostly the calls that it makes. Models that differ in their family alone see the same
rates, and those of one family have the same cells, so that a batch of all costs little more than the largest of them.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np

from hilum.stats.arrays import Array
from hilum.stats.ascent import Surface
from hilum.stats.interval_censored import DishTerms, dish_terms
from hilum.stats.thermal import Dishes, Model, Series, added_up, standing

_DISHES = 300  # at a time
_SOMEWHERE = 0.0  # °C, in the place of any temperature
_Key = TypeVar("_Key", bound=Hashable)


def surfaces(models: Sequence[Model], series: Series) -> Callable[[Array], Surface]:
    """Return the likelihood surfaces of several models as one, ready to be climbed.

    The first column of a point (b, 1 + p) is the number of its model, p the most parameters that a model has: one with
    fewer does not use the last ones. Columns that are no parameters have neither gradient nor information.
    """
    kinds = [_seen_alike(model, models[0]) for model in models]
    # where the rate is that at a temperature of the model's own, nan where it is that at the anchor
    there = np.array([getattr(model.response, "at", None) for model in models], dtype=float)
    seen_alike = [(Dishes.of(kind, series), number) for kind, number in _numbered(kinds)]
    clocks = {dishes.model.own_bases: dishes.schedule for dishes, _ in seen_alike}
    timed_alike = _numbered([(model.family, model.own_bases) for model in models])
    still, J, most = standing(series), len(series.regime), max(model.size for model in models)

    def at(points: Array) -> Surface:
        number, b = points[:, 0].astype(int), len(points)
        alive, own = np.empty((b, J), dtype=bool), np.empty((3, b, J))
        jacobian = np.zeros((b, J, 3, 1 + most))
        for dishes, which in seen_alike:
            rows, used = np.flatnonzero(which[number]), slice(1, 1 + dishes.model.size)
            if not len(rows):
                continue
            own_rate = there[number[rows]]
            local = dishes.local(points[rows, used], None if np.isnan(own_rate).any() else own_rate)
            alive[rows], jacobian[rows, :, :, used] = local.alive, local.jacobian
            own[0, rows], own[1, rows], own[2, rows] = (
                local.log_t50,
                local.log_sigma,
                local.fraction,
            )
        terms = DishTerms(np.empty((b, J)), np.empty((b, J, 3)), np.empty((b, J, 3, 3)))
        for (family, own_bases), which in timed_alike:
            for rows in _in_parts(np.flatnonzero(which[number]), still.size):
                log_t50, log_sigma, fraction = own[:, rows]
                found = dish_terms(clocks[own_bases], log_t50, log_sigma, fraction, family)
                terms.loglik[rows], terms.score[rows] = found.loglik, found.score
                terms.information[rows] = found.information
        return added_up(alive, still, terms, jacobian)

    return at


def _in_parts(rows: np.ndarray, dishes: int) -> list[np.ndarray]:
    """Return the rows in parts whose arrays stay in the cache, none where there are no rows."""
    return np.array_split(rows, -(-len(rows) * dishes // _DISHES)) if len(rows) else []


def _seen_alike(model: Model, first: Model) -> Model:
    """Return what two models have in common that see the same rates: neither the family nor where the rate is asked for."""
    response = model.response
    if response is not None and response.at is not None:
        response = replace(response, at=_SOMEWHERE)
    return replace(model, family=first.family, response=response)


def _numbered(kinds: Sequence[_Key]) -> list[tuple[_Key, np.ndarray]]:
    """Return each different kind, and a mark (n,) for those that are of it."""
    return [(one, np.array([kind == one for kind in kinds])) for one in dict.fromkeys(kinds)]

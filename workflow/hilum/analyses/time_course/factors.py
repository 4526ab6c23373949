"""Two factors tested as two factors, where the dishes of an experiment cross them completely."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from hilum.analyses.dishes import Key
from hilum.analyses.time_course.finals import Finals
from hilum.stats import factorial

_FACTORS = ("lot", "treatment", "temperature", "condition")  # in the order of a key


def tested(keys: Sequence[Key], found: Finals) -> list[dict[str, Any]]:
    """Return the analysis of deviance of final germination, a row for each main effect and interaction.

    Empty where fewer than two factors have two levels, a combination is missing, or dishes do not show their spread.
    """
    crossed = _crossed(keys)
    if crossed is None:
        return []
    places, levels = crossed
    groups = found.germinated.groups
    there = groups.seeds > 0
    if not there.any(axis=1).all():
        return []
    of_dish = levels[np.nonzero(there)[0]]
    terms = factorial.analysis_of_deviance(groups.hits[there], groups.seeds[there], of_dish)
    return [_row(one, places) for one in terms]


def _crossed(keys: Sequence[Key]) -> tuple[list[int], np.ndarray] | None:
    """Return the places in a key that vary, and the level of each there, (C, F); None unless all are crossed."""
    columns = [[f"{value}" for value in column] for column in zip(*keys, strict=True)]
    places = [i for i, column in enumerate(columns) if len(set(column)) > 1]
    if len(places) < 2:
        return None
    levels = np.stack(
        [np.unique(np.array(columns[i]), return_inverse=True)[1] for i in places], axis=1
    )
    if np.prod(levels.max(axis=0) + 1) != len(keys):
        return None
    return places, levels


def _row(one: factorial.Tested, places: Sequence[int]) -> dict[str, Any]:
    names = [_FACTORS[places[i]] for i in one.term]
    return {
        "term": " × ".join(names),
        "factors": len(names),
        "deviance": one.deviance,
        "degrees_of_freedom": one.dof,
        "f": one.f,
        "dish_degrees_of_freedom": one.dishes_dof,
        "p": one.p,
    }
